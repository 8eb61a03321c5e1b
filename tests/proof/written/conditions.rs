//! Conditions that leave a needed step out, times from nowhere, and two slips at once.

use super::case::{Case, act, after, bad, before, moved, of_job, only, remove, set, stated, volts};

const TESTED: &str = "rule `tested-before-energising`";
const READ: &str = "rule `read-before-energising`";
const REACHED: &str = "rule `every-step-reached`";
const CABLE: &str = "stat-cable";
const PAIR: &str = "extra-low-pair";
const VALVE: &str = "zone-valve";
const SPUR: &str = "fused-spur";

pub fn conditions() -> Vec<Case> {
    vec![
        bad(
            "continuity where the length is not known",
            CABLE,
            TESTED,
            vec![only("continuity", "Not(HasLength)")],
        ),
        bad(
            "insulation where it is extra-low",
            VALVE,
            TESTED,
            vec![only("insulation", "IsExtraLow")],
        ),
        bad(
            "locked off where there are zones",
            CABLE,
            "rule `locked-before-proving`",
            vec![only("lock-off", "HasZones")],
        ),
        bad(
            "far end dead where there is a pair",
            SPUR,
            "rule `dead-before-hands`",
            vec![only("dead-far", "HasControlPair")],
        ),
        bad(
            "connected where there is a device",
            CABLE,
            READ,
            vec![only("connect-far", "HasResidualDevice")],
        ),
        bad(
            "guarded where something failed",
            CABLE,
            "rule `guarded-before-voltage`",
            vec![only("guard", "Failed(\"off-far\")")],
        ),
        bad(
            "insulation where the box looked bad",
            VALVE,
            TESTED,
            vec![only("insulation", "Failed(\"sound-near\")")],
        ),
        bad(
            "indicator proved again where a point was lit",
            PAIR,
            "rule `indicator-after`",
            vec![only("indicator-second", "Failed(\"sound-far\")")],
        ),
        bad(
            "a step that nothing leads to",
            CABLE,
            REACHED,
            vec![only("feed-earth", "Failed(\"supply\")")],
        ),
        bad(
            "a condition and its opposite",
            CABLE,
            REACHED,
            vec![only("feed-earth", "Not(Passed(\"supply\"))")],
        ),
        bad(
            "an answer that is none",
            PAIR,
            REACHED,
            vec![only("insulation-building", "Saw(\"sound-near\", \"purple\")")],
        ),
        bad(
            "a condition on a later step",
            CABLE,
            "does not come before",
            vec![only("supply", "Passed(\"feed\")")],
        ),
        bad(
            "a condition on a step that is not there",
            CABLE,
            "no step is called",
            vec![only("supply", "Passed(\"breakfast\")")],
        ),
        bad(
            "a condition on a core of no kind",
            CABLE,
            "is not what a terminal can be for",
            vec![only("supply", "HasCore(\"purple\")")],
        ),
        bad(
            "back to a later step",
            CABLE,
            "does not come before",
            vec![set("continuity", "after_failure", "[RepairFrom(\"feed\")]")],
        ),
        bad(
            "back into the survey",
            PAIR,
            "rule `outcomes-lead-on`",
            vec![set("continuity", "after_failure", "[RepairFrom(\"sound-near\")]")],
        ),
    ]
}

pub fn times() -> Vec<Case> {
    let stated = |time: &str, source: &str| format!("(\"call\", Stated(time: \"{time}\", source: \"{source}\"))");
    vec![
        bad(
            "a time from nowhere",
            VALVE,
            "no step is called",
            vec![set("end-switch-on", "within", "(\"breakfast\", ValveOpens)")],
        ),
        bad(
            "a time from a later step",
            VALVE,
            "does not come before",
            vec![set("end-switch-on", "within", "(\"satisfy\", ValveOpens)")],
        ),
        bad(
            "a time from itself",
            VALVE,
            "does not come before",
            vec![set("end-switch-on", "within", "(\"end-switch-on\", ValveOpens)")],
        ),
        bad(
            "a time from the survey",
            VALVE,
            "rule `time-from-before`",
            vec![set("end-switch-on", "within", "(\"sound-near\", ValveOpens)")],
        ),
        bad(
            "within and after",
            VALVE,
            "not both",
            vec![set("end-switch-on", "after", "(\"call\", ValveOpens)")],
        ),
        bad(
            "a time in volts",
            VALVE,
            "a time is needed",
            vec![set("end-switch-on", "within", &stated("5 V", "x"))],
        ),
        bad(
            "a time without a source",
            VALVE,
            "without a source",
            vec![set("end-switch-on", "within", &stated("30 s", " "))],
        ),
        bad(
            "a time that the valve cannot keep",
            VALVE,
            "rule `sound-passes`",
            vec![set("end-switch-on", "within", &stated("1 s", "x"))],
        ),
        bad(
            "a time of a figure that the job does not give",
            "boiler-interlock",
            "run back",
            vec![set(
                "zone-ends",
                "after",
                "(\"zone-satisfy\", Worked(time: \"parameter.run back\", source: \"x\"))",
            )],
        ),
        bad(
            "a figure that the sequence needs and the job lacks",
            "boiler-interlock",
            "gives no `run on`",
            vec![of_job("parameters: {\"run on\": \"180 s\"},", "")],
        ),
        bad(
            "a figure in the wrong unit",
            "boiler-interlock",
            "is needed",
            vec![of_job("\"180 s\"", "\"180 V\"")],
        ),
        bad(
            "a run-on that is over before it is over",
            "boiler-interlock",
            "rule `sound-passes`",
            vec![
                set(
                    "zone-ends",
                    "after",
                    "(\"zone-satisfy\", Stated(time: \"1 s\", source: \"x\"))",
                ),
                set(
                    "zone-lets-go",
                    "after",
                    "(\"zone-satisfy\", Stated(time: \"1 s\", source: \"x\"))",
                ),
            ],
        ),
    ]
}

pub fn two_slips() -> Vec<Case> {
    vec![
        bad(
            "no lock and insulation from nothing",
            CABLE,
            "below",
            vec![remove("lock-off"), stated("insulation", "low: \"0 ohm\"")],
        ),
        bad(
            "no earth lit and no indicator",
            PAIR,
            "rule `earth-before-dead`",
            vec![remove("earth-near"), remove("indicator-first")],
        ),
        bad(
            "presence from nothing and absence up to 300 V",
            VALVE,
            "rule `could-have-failed`",
            vec![
                stated("end-switch-on", "high: \"253 V\""),
                stated("end-switch-off", "high: \"300 V\""),
            ],
        ),
        bad(
            "no continuity and no other core open",
            CABLE,
            TESTED,
            vec![remove("continuity"), remove("others-open")],
        ),
        bad(
            "continuity and open changed over",
            CABLE,
            TESTED,
            vec![
                set("continuity", "window", "OpenCircuit"),
                set("others-open", "window", "Cable"),
            ],
        ),
        bad(
            "insulation of one core once the others are parted",
            CABLE,
            TESTED,
            vec![moved("part-rest", "insulation")],
        ),
        bad(
            "no guard, and a link left",
            VALVE,
            "rule `guarded-before-voltage`",
            vec![remove("guard"), remove("links-off")],
        ),
        bad(
            "one bracket, and the far end on its own earth",
            SPUR,
            "rule `earth-before-dead`",
            vec![remove("indicator-between"), set("dead-far", "reference", "OwnEarth")],
        ),
        bad(
            "the loop lax and the trip lax",
            SPUR,
            "above",
            vec![
                stated("loop-behind-device", "high: \"100 ohm\""),
                stated("rated-current", "high: \"2 s\""),
            ],
        ),
        bad(
            "a conditional proof of dead and a conditional gate",
            PAIR,
            "rule `dead-before-hands`",
            vec![
                only("dead-near", "Failed(\"sound-near\")"),
                only("all-dead-tests-passed", "Failed(\"sound-near\")"),
            ],
        ),
        bad(
            "read at the wrong end, and once",
            CABLE,
            "rule `line-at-each-place`",
            vec![set("feed", "end", "Near"), remove("feed-earth")],
        ),
        bad(
            "never switched off, and the device reset",
            SPUR,
            "rule `acts-in-their-stage`",
            vec![
                remove("switch-off"),
                before("dead-near", act("reset", "Isolate", "ResetDevice")),
            ],
        ),
        bad(
            "a call that is read where it is always live",
            VALVE,
            "rule `driven-by-its-control`",
            vec![
                remove("motor-on"),
                remove("end-switch-on"),
                remove("lever-open"),
                remove("boiler-called"),
                after(
                    "call",
                    volts("always", "Near", ["permanent live", "earth"], "LoadVoltage"),
                ),
            ],
        ),
    ]
}
