//! Connecting, order and groups: steps that stand where they cannot.

use super::case::{Case, act, after, bad, before, moved, no_insulation, of_job, only, out, parts, remove, set, words};

const TESTED: &str = "rule `tested-before-energising`";
const READ: &str = "rule `read-before-energising`";
const CLASSIFIED: &str = "rule `classified-before-connecting`";
const FORWARD: &str = "rule `stages-forward`";
const CABLE: &str = "stat-cable";
const PAIR: &str = "extra-low-pair";
const VALVE: &str = "zone-valve";
const SPUR: &str = "fused-spur";

pub fn connecting() -> Vec<Case> {
    vec![
        bad(
            "the near end never connected",
            CABLE,
            READ,
            vec![remove("connect-near")],
        ),
        bad("the far end never connected", VALVE, READ, vec![remove("connect-far")]),
        bad(
            "nothing connected",
            PAIR,
            READ,
            vec![out("parts/connect.ron")],
        ),
        bad(
            "the near end connected twice",
            SPUR,
            READ,
            vec![set("connect-far", "end", "Near")],
        ),
        bad(
            "connected before the tests",
            CABLE,
            FORWARD,
            vec![moved("connect-near", "lead-null")],
        ),
        bad(
            "tested after connecting",
            CABLE,
            FORWARD,
            [
                no_insulation(),
                vec![after(
                    "connect-far",
                    "Insulation(id: \"insulation-late\", between: EachPair, window: InsulationMinimum, say: \"{first}, {second}.\"),",
                )],
            ]
            .concat(),
        ),
        bad(
            "energised before connecting",
            VALVE,
            FORWARD,
            vec![
                out("parts/connect.ron"),
                out("parts/as-left.ron"),
                before("calls-off", "Include(\"parts/connect.ron\"),"),
                moved("energise", "connect-near"),
            ],
        ),
        bad(
            "energised while connecting",
            CABLE,
            "rule `acts-in-their-stage`",
            vec![set("energise", "stage", "Connect")],
        ),
        bad(
            "energised among the dead tests",
            SPUR,
            "rule `acts-in-their-stage`",
            vec![after("discharge", act("early", "Test", "Energise"))],
        ),
        bad(
            "energised at hand-over",
            CABLE,
            "rule `acts-in-their-stage`",
            vec![set("energise", "stage", "HandOver")],
        ),
        bad("a pair that nobody classified", PAIR, CLASSIFIED, vec![remove("pair")]),
        bad(
            "a boiler's pair that nobody classified",
            "boiler-call-volt-free",
            CLASSIFIED,
            vec![remove("pair")],
        ),
        bad(
            "a pair classified after it is isolated",
            PAIR,
            FORWARD,
            vec![moved("pair", "indicator-first")],
        ),
        bad(
            "a pair classified where the box looked bad",
            PAIR,
            CLASSIFIED,
            vec![only("pair", "Failed(\"sound-near\")")],
        ),
        bad(
            "a pair that is mains at one end",
            PAIR,
            "mains",
            vec![of_job("far: VoltFree,", "far: Mains,")],
        ),
        bad(
            "a pair that is none",
            CABLE,
            "pair",
            vec![before(
                "earth-near",
                "Classify(id: \"pair\", say: \"What is it?\", open: \"{first}, {second}.\", closed: \"{first}, {second}.\"),",
            )],
        ),
        bad(
            "dead tests and the supply, nothing between",
            CABLE,
            READ,
            vec![parts(&["isolate", "dead-tests", "energise"])],
        ),
        bad(
            "isolation and the supply, nothing between",
            SPUR,
            TESTED,
            vec![parts(&["isolate", "connect", "energise"])],
        ),
        bad(
            "tugged before it is connected",
            SPUR,
            "core brown is in no terminal at the workshop socket yet",
            vec![moved("tug-near", "connect-near")],
        ),
        bad(
            "polarity read before it is connected",
            SPUR,
            "core brown is in no terminal at the fused connection unit yet",
            vec![moved("polarity-far", "connect-near")],
        ),
    ]
}

pub fn order_and_groups() -> Vec<Case> {
    let note = |stage: &str| format!("Note(id: \"late\", stage: {stage}, say: \"A line.\"),");
    vec![
        bad(
            "tests before isolation",
            CABLE,
            FORWARD,
            vec![parts(&["dead-tests", "isolate"])],
        ),
        bad(
            "the survey after the tests",
            PAIR,
            FORWARD,
            vec![parts(&["isolate", "dead-tests", "as-found"])],
        ),
        bad(
            "hand-over before the supply",
            VALVE,
            FORWARD,
            vec![
                out("parts/leave.ron"),
                before("calls-off", "Include(\"parts/leave.ron\"),"),
            ],
        ),
        bad(
            "tugged before connected",
            SPUR,
            READ,
            vec![remove("connect-near"), remove("connect-far")],
        ),
        bad(
            "a note of the survey while live",
            CABLE,
            FORWARD,
            vec![after("call", note("Survey"))],
        ),
        bad(
            "a live reading before the supply is on",
            CABLE,
            "rule `on-before-live-tests`",
            vec![moved("supply", "energise")],
        ),
        bad(
            "a live reading in another stage",
            CABLE,
            FORWARD,
            vec![moved("supply", "connect-near")],
        ),
        bad(
            "a link of no core",
            CABLE,
            "speaks of one core",
            vec![before("lead-null", act("link-too", "Test", "LinkToEarth"))],
        ),
        bad(
            "other cores of no core",
            VALVE,
            "which only `EachCore` gives",
            vec![after(
                "lead-null",
                "OthersOpen(id: \"x\", window: OpenCircuit, say: \"{first}.\"),",
            )],
        ),
        bad(
            "which core of no core",
            VALVE,
            "which only `EachCore` gives",
            vec![after("lead-null", "Identify(id: \"x\", say: \"Which?\"),")],
        ),
        bad(
            "a zone map of no zone",
            CABLE,
            "which only `EachZone` gives",
            vec![after("call", "ZoneMap(id: \"x\", say: \"Which?\"),")],
        ),
        bad(
            "zones where there are none",
            CABLE,
            "the job has none",
            vec![after(
                "call",
                format!("EachZone([{}]),", act("x", "Live", "Call(\"{control}\")")),
            )],
        ),
        bad(
            "this pair of no pair",
            CABLE,
            "which only `EachPair` gives",
            vec![set("insulation", "between", "ThisPair")],
        ),
        bad(
            "cores in cores",
            CABLE,
            "stands inside",
            vec![before(
                "link",
                "EachCore([Note(id: \"x\", stage: Test, say: \"A line.\")]),",
            )],
        ),
        bad(
            "supplies in cores",
            CABLE,
            "stands inside",
            vec![before(
                "link",
                format!("EachSupply([{}]),", act("x", "Test", "SwitchOff")),
            )],
        ),
        bad(
            "a part that is not there",
            CABLE,
            "there is no file",
            vec![before("energise", "Include(\"parts/breakfast.ron\"),")],
        ),
        bad(
            "a part in itself",
            CABLE,
            "includes itself",
            vec![before("connect-near", "Include(\"parts/connect.ron\"),")],
        ),
        bad(
            "a part twice",
            CABLE,
            "two steps are called",
            vec![before("energise", "Include(\"parts/connect.ron\"),")],
        ),
        bad(
            "a valve that is not there",
            VALVE,
            "breakfast",
            vec![set("lever-open", "motor", "\"breakfast\"")],
        ),
        bad(
            "a load that is not there",
            VALVE,
            "breakfast",
            vec![set("boiler-called", "load", "\"breakfast\"")],
        ),
        bad(
            "a terminal that is not there",
            CABLE,
            "has no terminal for",
            vec![set("feed", "between", "(\"programmed live\", \"neutral\")")],
        ),
        bad(
            "a contact that is not there",
            "cylinder-cut-out",
            "breakfast",
            vec![set("cut-out-closed", "contact", "\"breakfast\"")],
        ),
        bad(
            "a lever that is neither",
            VALVE,
            "is none of",
            vec![set("lever-open", "expect", "\"soft\"")],
        ),
        bad(
            "a lever that is slack at rest",
            VALVE,
            "rule `sound-passes`",
            vec![set("lever-at-rest", "expect", "\"slack\"")],
        ),
        bad(
            "a promise of nothing",
            CABLE,
            "no kind of fault",
            vec![words("promises: [", "promises: [\"breakfast\", ")],
        ),
    ]
}
