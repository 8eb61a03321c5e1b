//! Tests to the earth of the building that could not have failed, and an earth that nobody read as it is left.

use super::case::{Case, act, after, bad, before, good, moved, of_job, only, remove, set, stated};

const CLIPPED: &str = "rule `to-the-building`";
const STILL: &str = "rule `clip-read-again`";
const LEFT: &str = "rule `earthed-as-left`";
const TESTED: &str = "rule `tested-before-energising`";
/// What neither reading leaves to the author.
const FIXED: &str = "unexpected field named `window`";
const SOUND: &str = "rule `sound-passes`";
const CLEARED: &str = "rule `clear-before-terminals`";
const AS_LEFT: &str = "rule `could-have-failed`";
const CABLE: &str = "stat-cable";
const PAIR: &str = "extra-low-pair";
const VALVE: &str = "zone-valve";
const SPUR: &str = "fused-spur";

pub fn to_the_building() -> Vec<Case> {
    vec![
        bad("a clip that nobody read", CABLE, CLIPPED, vec![remove("clip-bites")]),
        bad(
            "a clip read before it was put on",
            VALVE,
            CLIPPED,
            vec![moved("clip-bites", "clip")],
        ),
        bad(
            "a clip read with an edge of 100 ohm",
            CABLE,
            FIXED,
            vec![stated("clip-bites", "high: \"100 ohm\"")],
        ),
        bad(
            "a clip that may read open",
            SPUR,
            FIXED,
            vec![stated("clip-bites", "low: \"0 ohm\"")],
        ),
        bad(
            "a clip not read again",
            "mid-position-valve",
            STILL,
            vec![remove("clip-still-bites")],
        ),
        bad(
            "a clip read again before each insulation and never after",
            CABLE,
            STILL,
            vec![moved("clip-still-bites", "join-rest")],
        ),
        bad(
            "a clip read again once it is off",
            SPUR,
            STILL,
            vec![moved("unclip", "clip-still-bites")],
        ),
        bad(
            "a clip left on while connecting",
            CABLE,
            "rule `clear-before-terminals`",
            vec![remove("unclip")],
        ),
        bad(
            "clipped last of all the dead tests",
            VALVE,
            TESTED,
            vec![
                moved("clip", "discharge"),
                moved("clip-bites", "discharge"),
                remove("unclip"),
                after("discharge", act("unclip", "Test", "PartEarth")),
            ],
        ),
        bad(
            "clipped once the supply is on",
            CABLE,
            "rule `acts-in-their-stage`",
            vec![after("energise", act("clip-late", "Live", "JoinEarth"))],
        ),
        bad(
            "clipped with the cores in their terminals",
            CABLE,
            "rule `stages-forward`",
            vec![moved("clip", "off-near")],
        ),
        bad(
            "clipped to an earth that nobody lit",
            CABLE,
            CLIPPED,
            vec![remove("earth-near")],
        ),
        bad(
            "a pair to an earth that nobody lit",
            PAIR,
            CLIPPED,
            vec![remove("earth-near")],
        ),
        bad(
            "clipped where the length is not known",
            CABLE,
            TESTED,
            vec![only("clip", "Not(HasLength)")],
        ),
        bad(
            "the rest joined by nobody",
            VALVE,
            TESTED,
            vec![remove("join-rest"), remove("part-rest")],
        ),
        bad(
            "the rest still joined while connecting",
            SPUR,
            "rule `clear-before-terminals`",
            vec![remove("part-rest")],
        ),
    ]
}

pub fn as_left() -> Vec<Case> {
    let wide = |id, edges| vec![stated(id, edges)];
    vec![
        bad(
            "the earth as left never read",
            CABLE,
            LEFT,
            vec![remove("earthed-near"), remove("earthed-far")],
        ),
        bad("the near earth never read", VALVE, LEFT, vec![remove("earthed-near")]),
        bad(
            "the far earth never read",
            "mid-position-valve",
            LEFT,
            vec![remove("earthed-far")],
        ),
        bad(
            "the near earth read twice, the far one never",
            CABLE,
            LEFT,
            vec![set("earthed-far", "end", "Near")],
        ),
        bad(
            "the earth read to 30 ohm",
            CABLE,
            FIXED,
            wide("earthed-far", "high: \"30 ohm\""),
        ),
        bad(
            "the earth read to 5 ohm",
            SPUR,
            FIXED,
            wide("earthed-near", "high: \"5 ohm\""),
        ),
        bad(
            "the earth that may read open",
            VALVE,
            FIXED,
            wide("earthed-near", "low: \"0 ohm\""),
        ),
        bad(
            "the earth read before the clamps were closed",
            CABLE,
            LEFT,
            vec![
                remove("earthed-near"),
                remove("earthed-far"),
                before(
                    "connect-near",
                    "EarthContinuity(id: \"early-near\", end: Near, say: \"{first}, {second}.\"), EarthContinuity(id: \"early-far\", end: Far, say: \"{first}, {second}.\"),",
                ),
            ],
        ),
        bad(
            "the earth read by a long lead whose ohms nobody read",
            CABLE,
            "long lead",
            vec![remove("long-lead-null")],
        ),
        bad(
            "the earth read where there is a control pair",
            CABLE,
            LEFT,
            vec![only("earthed-far", "HasControlPair")],
        ),
        bad(
            "a loop by the fuse alone in place of the earth",
            SPUR,
            LEFT,
            vec![
                remove("earthed-near"),
                remove("earthed-far"),
                set("loop-behind-device", "window", "LoopMaximum"),
                set("loop", "window", "LoopMaximum"),
            ],
        ),
        bad(
            "a loop at the near end in place of the far earth",
            SPUR,
            LEFT,
            vec![
                remove("earthed-far"),
                set("loop-behind-device", "end", "Near"),
                set("loop", "end", "Near"),
            ],
        ),
        good(
            "everything insulated with the neutral still on, where the isolator parts it",
            CABLE,
            vec![
                remove("neutral-parted"),
                remove("parted-supply"),
                remove("neutral-back"),
            ],
        ),
        bad(
            "everything insulated with no terminal joined",
            VALVE,
            AS_LEFT,
            vec![remove("terminals-joined")],
        ),
        bad(
            "terminals left joined and energised",
            CABLE,
            CLEARED,
            vec![remove("terminals-parted")],
        ),
        bad(
            "the neutral left off and energised",
            SPUR,
            CLEARED,
            vec![remove("neutral-back")],
        ),
        bad(
            "everything insulated with somebody at the far end",
            CABLE,
            "rule `guarded-before-voltage`",
            vec![remove("covered-far")],
        ),
        bad(
            "everything insulated while the supply is on",
            VALVE,
            "rule `stages-forward`",
            vec![moved("connected", "calls-off"), moved("energise", "neutral-parted")],
        ),
        bad(
            "clamps read before the cores are in them",
            CABLE,
            SOUND,
            vec![moved("clamp-near", "connect-near")],
        ),
        bad(
            "clamps read by leads that nobody saw closed",
            SPUR,
            "sees the leads",
            vec![remove("lead-null")],
        ),
        bad(
            "clamps read to ten ohm",
            CABLE,
            FIXED,
            vec![stated("clamp-far", "high: \"10 ohm\"")],
        ),
        good(
            "clamps read again at the end",
            CABLE,
            vec![after(
                "neutral-back",
                "ClampContact(id: \"clamp-again\", end: Near, say: \"{first}, {second}.\"),",
            )],
        ),
        good(
            "no insulation of what is connected",
            VALVE,
            [
                "covered-far",
                "neutral-parted",
                "parted-supply",
                "terminals-joined",
                "connected",
                "terminals-parted",
                "neutral-back",
            ]
            .map(remove)
            .to_vec(),
        ),
        good(
            "a loop foretold in place of the far earth",
            SPUR,
            vec![remove("earthed-far")],
        ),
        good(
            "the far earth read first",
            VALVE,
            vec![moved("earthed-far", "earthed-near")],
        ),
        good(
            "clip read three times",
            CABLE,
            vec![before(
                "discharge",
                "ReadJoin(id: \"clip-between\", say: \"{first}, {second}.\"),",
            )],
        ),
        good(
            "an upstream conductor of unknown length",
            CABLE,
            vec![of_job("upstream: (length: \"9 m\", earth: \"1.5 mm2\"),", "")],
        ),
    ]
}
