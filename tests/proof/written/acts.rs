//! Acts where they have no place, and what is left on at the end.

use super::case::{Case, act, after, bad, before, moved, parts, remove, set};

const LOCKED: &str = "rule `locked-before-proving`";
const CABLE: &str = "stat-cable";
const PAIR: &str = "extra-low-pair";

pub fn acts() -> Vec<Case> {
    let placed = "rule `acts-in-their-stage`";
    let clear = "rule `clear-before-terminals`";
    let dead_only = || parts(&["isolate", "dead-tests"]);
    let reset = |stage| act("reset", stage, "ResetDevice");
    vec![
        bad(
            "device on again while it is isolated",
            "fused-spur",
            placed,
            vec![before("indicator-first", reset("Isolate"))],
        ),
        bad(
            "device on again among the dead tests",
            "fused-spur",
            placed,
            vec![after("discharge", reset("Test"))],
        ),
        bad(
            "device on again while connecting",
            "fused-spur",
            placed,
            vec![before("connect-near", reset("Connect"))],
        ),
        bad(
            "device on again before the supply",
            "fused-spur",
            "rule `on-before-live-tests`",
            vec![before("calls-off", reset("Live"))],
        ),
        bad(
            "device on again at hand-over",
            "fused-spur",
            placed,
            vec![after("test-button", reset("HandOver"))],
        ),
        bad(
            "device on again after switching off",
            "fused-spur",
            "rule `on-before-live-tests`",
            vec![after(
                "test-button",
                format!("{} {}", act("off-again", "Live", "SwitchOff"), reset("Live")),
            )],
        ),
        bad(
            "links left where the run stops",
            CABLE,
            clear,
            vec![dead_only(), remove("links-off")],
        ),
        bad(
            "a link left on and energised",
            "zone-valve",
            clear,
            vec![remove("links-off"), remove("all-open")],
        ),
        bad(
            "the earth core left clipped where the run stops",
            CABLE,
            clear,
            vec![dead_only(), remove("unclip")],
        ),
        bad(
            "charge left where the run stops",
            "zone-valve",
            clear,
            vec![dead_only(), remove("discharge")],
        ),
        bad(
            "charge left where the run stops, of many cores",
            "underfloor-zones",
            clear,
            vec![dead_only(), remove("discharge")],
        ),
        bad(
            "linked once more at the end",
            CABLE,
            "speaks of one core",
            vec![after("discharge", act("link-again", "Test", "LinkToEarth"))],
        ),
        bad(
            "linked once more in a group of its own",
            CABLE,
            clear,
            vec![
                dead_only(),
                after(
                    "discharge",
                    format!("EachCore([{}]),", act("link-again", "Test", "LinkToEarth")),
                ),
            ],
        ),
        bad(
            "joined once more at the end",
            "mid-position-valve",
            clear,
            vec![after("discharge", act("join-again", "Test", "JoinLiveCores"))],
        ),
        bad(
            "joined while live",
            CABLE,
            placed,
            vec![after("call", act("join-live", "Live", "JoinLiveCores"))],
        ),
        bad(
            "taken off while live",
            "zone-valve",
            placed,
            vec![after("call", act("off-live", "Live", "DisconnectFar"))],
        ),
        bad(
            "discharged in the survey",
            PAIR,
            placed,
            vec![before("picture", act("early", "Survey", "Discharge"))],
        ),
        bad(
            "off and on again, never locked at the end",
            CABLE,
            "rule `ends-safe`",
            vec![after("end-switch-off", act("off-last", "Live", "SwitchOff"))],
        ),
        bad(
            "left off without a lock",
            "cylinder-cut-out",
            "rule `ends-safe`",
            vec![remove("lock-again")],
        ),
        bad(
            "locked before it is switched off at the end",
            "cylinder-cut-out",
            "rule `ends-safe`",
            vec![moved("lock-again", "off-again")],
        ),
        bad(
            "the cut-out's conductor off and the supply on",
            "cylinder-cut-out",
            "rule `ends-safe`",
            vec![
                remove("off-again"),
                remove("lock-again"),
                remove("key-again"),
                remove("notice-again"),
            ],
        ),
        bad(
            "isolated and never locked",
            PAIR,
            LOCKED,
            vec![parts(&["isolate"]), remove("lock-off")],
        ),
        bad(
            "switched off and left so",
            CABLE,
            "rule `ends-safe`",
            vec![
                parts(&["as-found"]),
                remove("sound-near"),
                remove("sound-far"),
                after("picture", act("off", "Isolate", "SwitchOff")),
            ],
        ),
        bad(
            "energised from the bench",
            CABLE,
            "rule `tested-before-energising`",
            vec![parts(&["as-found", "energise"])],
        ),
        bad(
            "linked while connecting",
            CABLE,
            clear,
            vec![after(
                "connect-far",
                format!("EachCore([{}]),", act("link-late", "Connect", "LinkToEarth")),
            )],
        ),
        bad(
            "joined while connecting",
            "zone-valve",
            clear,
            vec![after("connect-far", act("join-late", "Connect", "JoinLiveCores"))],
        ),
        bad(
            "guarded in the survey",
            PAIR,
            placed,
            vec![set("guard", "stage", "Survey"), moved("guard", "picture")],
        ),
        bad(
            "electronics out in the survey",
            PAIR,
            placed,
            vec![
                set("electronics-out", "stage", "Survey"),
                moved("electronics-out", "picture"),
            ],
        ),
    ]
}
