//! Faults that eyes find before anything is switched: how a look may be written, and what nobody may rest on it.

use super::case::{Case, act, after, bad, before, good, parts, remove, set};

const PLACED: &str = "rule `acts-in-their-stage`";
const LEADS_ON: &str = "rule `outcomes-lead-on`";
const REACHED: &str = "rule `every-step-reached`";
const DEAD: &str = "rule `dead-before-hands`";
const CABLE: &str = "stat-cable";
const PAIR: &str = "extra-low-pair";
const VALVE: &str = "zone-valve";
const SPUR: &str = "fused-spur";
const FLOOR: &str = "underfloor-zones";
const VOLT_FREE: &str = "stat-volt-free";

/// A look as found, with what more there is to it.
fn look(id: &str, more: &str) -> String {
    format!("Inspect(id: \"{id}\", stage: Survey, thing: \"what eyes see\", say: \"Sound?\"{more}),")
}

fn note(id: &str) -> String {
    format!("Note(id: \"{id}\", stage: Survey, say: \"What is to be said of it?\"),")
}

/// What is done only where a look came to this.
fn only(condition: &str, steps: &str) -> String {
    format!("If({condition}, [{steps}]),")
}

pub fn sane() -> Vec<Case> {
    vec![
        good(
            "a look at each end, repaired as usual",
            CABLE,
            vec![before(
                "earth-near",
                look("eye-near", ", end: Near") + &look("eye-far", ", end: Far"),
            )],
        ),
        good(
            "a look at neither end",
            VALVE,
            vec![before("earth-near", look("eye", ""))],
        ),
        good(
            "a look that is only ever repaired",
            CABLE,
            vec![before(
                "earth-near",
                look("eye", ", end: Near, after_failure: [Repair]"),
            )],
        ),
        good(
            "a look that is never repaired here",
            SPUR,
            vec![before(
                "earth-near",
                look("eye", ", end: Far, after_failure: [Again, Leave]"),
            )],
        ),
        good(
            "looks that one answer stands for",
            FLOOR,
            vec![before(
                "earth-near",
                format!(
                    "Together([{}{}]),",
                    look("eye-near", ", end: Near"),
                    look("eye-far", ", end: Far")
                ),
            )],
        ),
        good(
            "a line only where a look failed",
            CABLE,
            vec![before(
                "earth-near",
                look("eye", ", end: Near") + &only("Failed(\"eye\")", &note("more")),
            )],
        ),
        good(
            "a second look only where the first failed",
            VALVE,
            vec![before(
                "earth-near",
                look("eye", ", end: Near") + &only("Failed(\"eye\")", &look("closer", ", end: Near")),
            )],
        ),
        good(
            "a look once the earths are shown lit",
            CABLE,
            vec![after("lead", look("eye", ", end: Far"))],
        ),
        good(
            "a look before the pair is read",
            PAIR,
            vec![before("pair", look("eye", ", end: Near"))],
        ),
        good(
            "a look where nothing but isolation follows",
            CABLE,
            vec![parts(&["as-found", "isolate"])],
        ),
    ]
}

pub fn bad_ones() -> Vec<Case> {
    let eye = || look("eye", ", end: Near");
    let from = |to: &str| {
        let after = format!(", end: Near, after_failure: [RepairFrom(\"{to}\"), Leave]");
        look("eye", &after)
    };
    vec![
        bad(
            "a repair of what was seen that reads the pair again, dead",
            PAIR,
            LEADS_ON,
            vec![before("earth-near", from("pair"))],
        ),
        bad(
            "a repair of what was seen that looks elsewhere again",
            VALVE,
            LEADS_ON,
            vec![before("earth-near", look("first", "") + &from("first"))],
        ),
        bad(
            "a repair of what was seen that shows the earth lit again",
            CABLE,
            LEADS_ON,
            vec![after("lead", from("earth-near"))],
        ),
        bad(
            "a dead test that goes back to what was seen",
            CABLE,
            LEADS_ON,
            vec![
                before("earth-near", eye()),
                set("continuity", "after_failure", "[RepairFrom(\"eye\")]"),
            ],
        ),
        bad(
            "the earth shown lit only where a look passed",
            CABLE,
            REACHED,
            vec![before(
                "earth-near",
                eye()
                    + &only(
                        "Passed(\"eye\")",
                        "ProveEarth(id: \"earth-seen\", end: Far, say: \"{first}, {second}.\"),",
                    ),
            )],
        ),
        bad(
            "the pair read only where a look passed",
            PAIR,
            REACHED,
            vec![
                remove("pair"),
                before(
                    "earth-near",
                    eye()
                        + &only(
                            "Passed(\"eye\")",
                            "Classify(id: \"pair\", say: \"The plate at the {end}?\", open: \"Open: {first}, {second}.\", closed: \"Closed: {first}, {second}.\"),",
                        ),
                ),
            ],
        ),
        bad(
            "live readings only where a look failed",
            CABLE,
            REACHED,
            vec![after(
                "lead",
                "LiveReasons(id: \"why\", say: \"Still on.\"),".to_owned()
                    + &eye()
                    + &only(
                        "Failed(\"eye\")",
                        "Voltage(id: \"found-feed\", end: Near, between: (\"permanent live\", \"neutral\"), window: LoadVoltage, stage: FaultFinding, say: \"{first}, {second}.\"),",
                    ),
            )],
        ),
        bad(
            "a core taken off where eyes found it loose",
            CABLE,
            PLACED,
            vec![before("earth-near", eye() + &act("hands", "Survey", "DisconnectNear"))],
        ),
        bad(
            "the link of the boiler taken out as found",
            VOLT_FREE,
            PLACED,
            vec![before("earth-near", eye() + &act("hands", "Survey", "RemoveEveryLink"))],
        ),
        bad(
            "a clamp tugged where it looks loose, before isolation",
            VALVE,
            "stage",
            vec![before(
                "earth-near",
                "Tug(id: \"pull\", end: Near, stage: Survey, say: \"Tug {core}.\"),",
            )],
        ),
        bad(
            "switched off among what is looked at",
            SPUR,
            PLACED,
            vec![before("earth-near", eye() + &act("hands", "Survey", "SwitchOff"))],
        ),
        bad(
            "hands in what was seen with one end not shown dark",
            CABLE,
            DEAD,
            vec![before("earth-near", look("eye", ", end: Far")), remove("dead-far")],
        ),
        bad(
            "hands in what was seen with the lock left out",
            VALVE,
            "rule `locked-before-proving`",
            vec![before("earth-near", eye()), remove("lock-off")],
        ),
        bad(
            "hands in what was seen with the indicator not proved again",
            CABLE,
            "rule `indicator-after`",
            vec![before("earth-near", eye()), remove("indicator-second")],
        ),
        bad(
            "a look as found once it is isolated",
            CABLE,
            "rule `stages-forward`",
            vec![after("indicator-second", eye())],
        ),
        bad(
            "a look as found among the dead tests",
            FLOOR,
            "rule `stages-forward`",
            vec![before("links-off", eye())],
        ),
        bad(
            "a repair that goes back to the look itself",
            CABLE,
            "does not come before this one",
            vec![before("earth-near", from("eye"))],
        ),
    ]
}
