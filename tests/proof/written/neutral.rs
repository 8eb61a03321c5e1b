//! The supply's neutral, parted for the test as left: hands at the terminal that it left before that was tried, or tried by what shows nothing.

use super::case::{Case, act, after, bad, before, good, moved, of_job, only, remove, set, words};

const PARTED: &str = "rule `neutral-dark-once-parted`";
const FIRST: &str = "rule `indicator-before`";
const LAST: &str = "rule `indicator-after`";
const NONE_OFF: &str = "no neutral is off at the wiring centre here";
const CABLE: &str = "stat-cable";
const VALVE: &str = "zone-valve";
const SPUR: &str = "fused-spur";
const BOILER: &str = "boiler-call-live";

fn tried(id: &str) -> String {
    format!("ProveParted(id: \"{id}\", end: Near, reference: OwnEarth, say: \"{{first}}, {{second}}. Lit?\"),")
}

fn lit(id: &str) -> String {
    format!("ProveIndicator(id: \"{id}\", stage: Connect, say: \"Does it light?\"),")
}

pub fn hands_too_early() -> Vec<Case> {
    vec![
        bad(
            "parted and joined, never tried",
            CABLE,
            PARTED,
            vec![remove("parted-supply")],
        ),
        bad(
            "the same at a boiler, and the step that is missing",
            BOILER,
            "`ProveParted` of that end after `PartNeutral`",
            vec![remove("parted-supply")],
        ),
        bad(
            "joined before it is tried",
            VALVE,
            PARTED,
            vec![moved("terminals-joined", "parted-supply")],
        ),
        bad(
            "tried before it is parted",
            CABLE,
            NONE_OFF,
            vec![moved("parted-supply", "neutral-parted")],
        ),
        bad(
            "tried though nothing was parted",
            VALVE,
            NONE_OFF,
            vec![remove("neutral-parted")],
        ),
        bad(
            "tried once the supply's neutral is back",
            CABLE,
            NONE_OFF,
            vec![moved("neutral-back", "parted-supply")],
        ),
        bad(
            "tried once everything is measured",
            SPUR,
            PARTED,
            vec![
                moved("parted-supply", "terminals-parted"),
                moved("indicator-fourth", "terminals-parted"),
            ],
        ),
        bad(
            "clamps read before it is tried",
            CABLE,
            PARTED,
            vec![moved("clamp-near", "parted-supply")],
        ),
        bad(
            "a core tugged before it is tried",
            VALVE,
            PARTED,
            vec![before(
                "parted-supply",
                "Tug(id: \"tug-again\", end: Near, say: \"Tighten {terminal}, tug core {core}.\"),",
            )],
        ),
        bad(
            "the earth that comes in taken off before it is tried",
            BOILER,
            PARTED,
            vec![
                of_job(
                    "        name: \"wiring centre\",",
                    "        name: \"wiring centre\", metalwork: \"copper pipe to the pump\",",
                ),
                before("parted-supply", act("off-again", "Connect", "EarthOffNear")),
                after("parted-supply", act("back-again", "Connect", "EarthBackNear")),
            ],
        ),
        bad(
            "parted once more, joined, and tried the first time alone",
            CABLE,
            PARTED,
            vec![after(
                "neutral-back",
                [
                    ("part-again", "PartNeutral"),
                    ("join-again", "JoinTerminals"),
                    ("off-again", "PartTerminals"),
                    ("back-again", "RestoreNeutral"),
                ]
                .map(|(id, does)| act(id, "Connect", does))
                .concat(),
            )],
        ),
    ]
}

pub fn shows_nothing() -> Vec<Case> {
    vec![
        bad(
            "the parted neutral of the far end tried in its place",
            CABLE,
            "no neutral is off at the sail loft thermostat here",
            vec![set("parted-supply", "end", "Far")],
        ),
        bad(
            "everything proved dead once more before it is parted, in its place",
            CABLE,
            PARTED,
            vec![
                remove("parted-supply"),
                before(
                    "off-far",
                    "ProveDead(id: \"dead-again\", end: Near, reference: OwnEarth, say: \"{first}, {second}.\"),",
                ),
            ],
        ),
        bad(
            "tried only where the clamps of the far end were left",
            CABLE,
            PARTED,
            vec![only("parted-supply", "Failed(\"clamp-far\")")],
        ),
        bad(
            "tried only where there is a control pair",
            VALVE,
            PARTED,
            vec![only("parted-supply", "HasControlPair")],
        ),
        bad(
            "tried against a lead that comes from the same terminal",
            CABLE,
            PARTED,
            vec![set("parted-supply", "reference", "LongLead")],
        ),
        bad(
            "the indicator not proved since isolation",
            CABLE,
            FIRST,
            vec![remove("indicator-third")],
        ),
        bad(
            "the indicator proved before anything was connected",
            SPUR,
            FIRST,
            vec![moved("indicator-third", "connect-near")],
        ),
        bad(
            "the indicator proved among the first parted neutrals",
            VALVE,
            FIRST,
            vec![
                moved("indicator-third", "indicator-parted"),
                set("indicator-third", "stage", "Disconnect"),
            ],
        ),
        bad(
            "the indicator not proved again",
            CABLE,
            LAST,
            vec![remove("indicator-fourth")],
        ),
        bad(
            "the indicator proved again once the terminals are joined",
            BOILER,
            LAST,
            vec![moved("terminals-joined", "indicator-fourth")],
        ),
        bad(
            "the indicator proved twice before and never after",
            SPUR,
            LAST,
            vec![moved("indicator-fourth", "parted-supply")],
        ),
    ]
}

pub fn sane() -> Vec<Case> {
    vec![
        good(
            "tried twice over",
            CABLE,
            vec![after("parted-supply", tried("tried-again"))],
        ),
        good(
            "the indicator proved once the neutral is off, in place of before",
            VALVE,
            vec![moved("neutral-parted", "indicator-third")],
        ),
        good(
            "the indicator proved between the pairs as well",
            SPUR,
            vec![after("parted-supply", lit("lit-between") + &tried("tried-again"))],
        ),
        good(
            "parted, tried, put back and all of it once more",
            CABLE,
            vec![after(
                "neutral-back",
                act("part-again", "Connect", "PartNeutral")
                    + &tried("tried-again")
                    + &lit("lit-again")
                    + &act("back-again", "Connect", "RestoreNeutral"),
            )],
        ),
        good(
            "clamps read before the neutral is parted",
            BOILER,
            vec![moved("clamp-near", "indicator-third")],
        ),
        good(
            "a second bar for neutrals in the same box",
            CABLE,
            vec![of_job(
                "(name: \"4\", takes: EndSwitch),",
                "(name: \"4\", takes: EndSwitch), (name: \"N2\", takes: Neutral),",
            )],
        ),
        good(
            "no test of what is connected, and no neutral parted",
            CABLE,
            vec![
                remove("neutral-parted"),
                remove("parted-supply"),
                remove("terminals-joined"),
                remove("connected"),
                remove("terminals-parted"),
                remove("neutral-back"),
                words("promises: [", "promises: [/* */"),
            ],
        ),
    ]
}
