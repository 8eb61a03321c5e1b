//! Dead tests that could not have failed, or that are left out.

use super::case::{
    Case, act, after, bad, before, good, moved, no_insulation, of_job, only, remove, set, stated, words,
};

const TESTED: &str = "rule `tested-before-energising`";
const CABLE: &str = "stat-cable";
const PAIR: &str = "extra-low-pair";
const VALVE: &str = "zone-valve";
const SPUR: &str = "fused-spur";

/// A pair against the mains that stands in the same box.
pub fn against_mains() -> Vec<Case> {
    let measured = |edges| vec![stated("insulation-mains", edges)];
    let call = "boiler-call-volt-free";
    vec![
        bad(
            "a pair that nobody tries against the mains",
            PAIR,
            TESTED,
            vec![remove("insulation-mains")],
        ),
        bad(
            "the same at a boiler",
            "stat-volt-free",
            TESTED,
            vec![remove("insulation-mains")],
        ),
        bad(
            "a pair against mains that is not joined",
            PAIR,
            TESTED,
            vec![remove("mains-joined"), remove("mains-parted")],
        ),
        bad(
            "a pair against mains that is joined after it",
            call,
            TESTED,
            vec![moved("insulation-mains", "mains-joined")],
        ),
        bad(
            "mains terminals that stay joined",
            PAIR,
            "rule `clear-before-terminals`",
            vec![remove("mains-parted")],
        ),
        bad(
            "a pair against mains by the least of a pair",
            PAIR,
            "below",
            measured("low: \"0.6 Mohm\""),
        ),
        bad(
            "a pair against mains with an upper edge only",
            PAIR,
            TESTED,
            measured("high: \"400 ohm\""),
        ),
        bad(
            "a pair against mains with the boiler's board on it",
            call,
            "rule `guarded-before-voltage`",
            vec![remove("electronics-out")],
        ),
        bad(
            "a pair against mains before it is off",
            PAIR,
            "rule `stages-forward`",
            vec![moved("insulation-mains", "off-near")],
        ),
        bad(
            "a pair against mains where it is read only if it was low before",
            PAIR,
            TESTED,
            vec![only("insulation-mains", "Failed(\"insulation-return\")")],
        ),
        good(
            "a pair against mains by a stricter figure",
            PAIR,
            measured("low: \"5 Mohm\""),
        ),
        good(
            "a pair against mains before it is tried against the building",
            PAIR,
            vec![moved("insulation-building", "discharge")],
        ),
        // what stays connected takes no such voltage: said in the record, and not asked for
        good(
            "a pair with something that stays on it",
            PAIR,
            vec![of_job(
                "    near: (\n",
                "    stays_connected: \"the receiver\",\n    near: (\n",
            )],
        ),
    ]
}

pub fn insulation() -> Vec<Case> {
    let cores = |edges| vec![stated("insulation", edges)];
    let building = |edges| vec![stated("insulation-building", edges)];
    vec![
        bad(
            "insulation to the others with an upper edge only",
            CABLE,
            TESTED,
            cores("high: \"400 ohm\""),
        ),
        bad(
            "insulation to earth with an upper edge only",
            VALVE,
            TESTED,
            cores("high: \"400 ohm\""),
        ),
        bad(
            "insulation of a pair with an upper edge only",
            PAIR,
            TESTED,
            building("high: \"1 kohm\""),
        ),
        bad(
            "insulation with an upper edge of megohms",
            CABLE,
            "above",
            cores("high: \"2 Mohm\""),
        ),
        bad("insulation below the least", CABLE, "below", cores("low: \"0.5 Mohm\"")),
        bad("insulation from nothing", SPUR, "below", cores("low: \"0 ohm\"")),
        bad(
            "insulation from below nothing",
            CABLE,
            "below",
            cores("low: \"-1 Mohm\""),
        ),
        bad(
            "insulation of a pair below the least",
            PAIR,
            "below",
            building("low: \"0.2 Mohm\""),
        ),
        bad(
            "insulation between two edges that a short meets",
            CABLE,
            "below",
            cores("low: \"0 ohm\", high: \"1 kohm\""),
        ),
        bad(
            "insulation worked out of the loop",
            CABLE,
            "below",
            vec![set(
                "insulation",
                "window",
                "Worked(low: \"supply.ze * 10\", source: \"my own figures\")",
            )],
        ),
        bad(
            "insulation with the window of an open core",
            CABLE,
            "below",
            vec![set("insulation", "window", "OpenCore")],
        ),
        bad(
            "insulation with the window of the leads",
            CABLE,
            TESTED,
            vec![set("insulation", "window", "LeadResistance")],
        ),
        bad(
            "insulation with the window of open continuity",
            VALVE,
            "window",
            vec![set("insulation", "window", "OpenCircuit")],
        ),
        bad("insulation left out", CABLE, TESTED, no_insulation()),
        bad(
            "insulation to an earth core that nobody clipped",
            "mid-position-valve",
            TESTED,
            vec![
                remove("clip"),
                remove("clip-bites"),
                remove("clip-still-bites"),
                remove("unclip"),
            ],
        ),
        bad(
            "insulation of a pair left out",
            PAIR,
            TESTED,
            vec![remove("insulation-return")],
        ),
        bad(
            "insulation of a pair to the building left out",
            PAIR,
            TESTED,
            vec![remove("insulation-building")],
        ),
        bad(
            "insulation to earth twice, between cores never",
            CABLE,
            TESTED,
            vec![set("insulation", "between", "JoinedAndEarth")],
        ),
        bad(
            "insulation to earth of cores that nobody joined",
            CABLE,
            TESTED,
            vec![remove("join-rest"), remove("part-rest")],
        ),
        bad(
            "insulation before continuity",
            CABLE,
            "rule `continuity-before-insulation`",
            vec![before(
                "lead-null",
                "Insulation(id: \"early\", between: EachPair, window: InsulationMinimum, say: \"{first}, {second}.\"),",
            )],
        ),
        bad(
            "insulation with electronics on",
            CABLE,
            "rule `guarded-before-voltage`",
            vec![remove("electronics-out")],
        ),
        bad(
            "insulation with nobody at the far end",
            VALVE,
            "rule `guarded-before-voltage`",
            vec![remove("guard")],
        ),
        bad(
            "insulation guarded afterwards",
            SPUR,
            "rule `guarded-before-voltage`",
            vec![remove("guard"), after("unclip", act("guard", "Test", "GuardFarEnd"))],
        ),
        bad(
            "insulation with the near end on",
            CABLE,
            "rule `apart-at-both-ends`",
            vec![remove("off-near"), remove("parted-near")],
        ),
        bad(
            "insulation with the far end on",
            PAIR,
            "rule `apart-at-both-ends`",
            vec![remove("off-far")],
        ),
    ]
}

pub fn open_cores() -> Vec<Case> {
    // insulation between the cores is not measured then, so each is tried open
    let stays = || {
        of_job(
            "equipment: [",
            "stays_connected: \"the frost thermostat\",\n    equipment: [",
        )
    };
    let others = |edges| vec![stays(), stated("others-open", edges)];
    let all = |edges| vec![stated("all-open", edges)];
    vec![
        bad(
            "other cores open at half an ohm",
            CABLE,
            "below",
            others("low: \"0.5 ohm\""),
        ),
        bad(
            "other cores open at ten ohm",
            "mid-position-valve",
            "below",
            others("low: \"10 ohm\""),
        ),
        bad(
            "other cores open from nothing",
            VALVE,
            "below",
            others("low: \"0 ohm\""),
        ),
        bad(
            "other cores open up to a kilohm",
            CABLE,
            TESTED,
            others("high: \"1 kohm\""),
        ),
        bad(
            "other cores open between nothing and a kilohm",
            CABLE,
            TESTED,
            others("low: \"0 ohm\", high: \"1 kohm\""),
        ),
        bad(
            "other cores open without an edge",
            CABLE,
            "no edges",
            vec![stays(), set("others-open", "window", "Stated(source: \"x\")")],
        ),
        bad("every core open at one ohm", PAIR, "below", all("low: \"1 ohm\"")),
        bad(
            "every core open at 99 ohm",
            "boiler-interlock",
            "below",
            all("low: \"99 ohm\""),
        ),
        bad(
            "other cores never tried",
            CABLE,
            TESTED,
            vec![stays(), remove("others-open")],
        ),
        bad(
            "other cores tried once the link is off",
            CABLE,
            TESTED,
            vec![stays(), before("others-open", act("off", "Test", "RemoveEveryLink"))],
        ),
        bad(
            "other cores tried before the link",
            VALVE,
            "rule `sound-passes`",
            vec![stays(), moved("others-open", "link")],
        ),
        bad(
            "other cores with the window of the cable",
            CABLE,
            TESTED,
            vec![stays(), set("others-open", "window", "Cable")],
        ),
        bad(
            "other cores open by a range that ends before",
            CABLE,
            "cannot show",
            vec![of_job(
                "Continuity(ceiling: \"1999 ohm\"",
                "Continuity(ceiling: \"20 ohm\"",
            )],
        ),
    ]
}

pub fn leads_and_continuity() -> Vec<Case> {
    let null = |edges| vec![stated("lead-null", edges)];
    let continuity = |edges| vec![stated("continuity", edges)];
    vec![
        bad(
            "leads from a kilohm up",
            CABLE,
            "no upper edge",
            null("low: \"1 kohm\""),
        ),
        bad("leads from nothing up", VALVE, "below", null("low: \"0 ohm\"")),
        bad("leads up to ten ohm", CABLE, "above", null("high: \"10 ohm\"")),
        bad("leads up to 0.51 ohm", PAIR, "above", null("high: \"0.51 ohm\"")),
        bad(
            "leads that are open",
            SPUR,
            "no upper edge",
            vec![set("lead-null", "window", "OpenCircuit")],
        ),
        bad("leads in volts", SPUR, "this step measures", null("high: \"0.5 V\"")),
        bad(
            "continuity up to a kilohm",
            CABLE,
            TESTED,
            continuity("high: \"1 kohm\""),
        ),
        bad(
            "continuity up to 100 ohm",
            VALVE,
            TESTED,
            continuity("high: \"100 ohm\""),
        ),
        bad(
            "continuity of a pair up to a kilohm",
            PAIR,
            TESTED,
            continuity("high: \"1 kohm\""),
        ),
        bad("continuity up to 35 ohm", SPUR, TESTED, continuity("high: \"35 ohm\"")),
        bad(
            "continuity up to 20 ohm of a known length",
            CABLE,
            "above",
            continuity("high: \"20 ohm\""),
        ),
        bad(
            "continuity up to 5 ohm of a known length",
            SPUR,
            "above",
            continuity("high: \"5 ohm\""),
        ),
        bad(
            "continuity worked out too wide",
            VALVE,
            "above",
            vec![set(
                "continuity",
                "window",
                "Worked(high: \"supply.ze * 20\", source: \"my own figures\")",
            )],
        ),
        bad(
            "continuity that an open core passes",
            CABLE,
            TESTED,
            continuity("low: \"99.9 ohm\""),
        ),
        bad(
            "continuity with the window of an open core",
            CABLE,
            TESTED,
            vec![set("continuity", "window", "OpenCore")],
        ),
        bad(
            "continuity beyond a kilohm",
            CABLE,
            "above",
            continuity("high: \"2 kohm\""),
        ),
        bad(
            "continuity left out",
            "boiler-interlock",
            TESTED,
            vec![remove("continuity")],
        ),
        bad(
            "continuity of a pair left out",
            PAIR,
            TESTED,
            vec![remove("continuity")],
        ),
        bad(
            "continuity before the link",
            CABLE,
            TESTED,
            vec![moved("continuity", "link")],
        ),
        bad(
            "continuity once the link is off",
            "stat-needs-neutral",
            TESTED,
            vec![before("continuity", act("off", "Test", "RemoveEveryLink"))],
        ),
        bad(
            "continuity with no link at all",
            CABLE,
            TESTED,
            vec![remove("link-first"), remove("link")],
        ),
        bad(
            "continuity through one link that is never changed",
            CABLE,
            TESTED,
            vec![remove("link")],
        ),
        bad(
            "continuity with every core linked at once",
            CABLE,
            TESTED,
            vec![
                remove("link-first"),
                remove("link"),
                before(
                    "lead-null",
                    "EachCore([Do(id: \"on\", stage: Test, act: LinkToEarth, say: \"Link it.\")]),",
                ),
            ],
        ),
        bad(
            "continuity of one core for all",
            CABLE,
            "given twice",
            vec![set("continuity", "core", "\"switched live\"")],
        ),
        bad(
            "continuity with a core still in its terminal",
            VALVE,
            "rule `apart-at-both-ends`",
            vec![remove("off-far"), remove("parted-far")],
        ),
        bad(
            "a short with the window of a short: continuity, open and insulation are one reading",
            CABLE,
            "no core to work the window out for",
            vec![
                words("window: OpenCircuit", "window: Cable"),
                words("window: InsulationMinimum", "window: Cable"),
            ],
        ),
        bad(
            "continuity up to 20 ohm of an unknown length",
            CABLE,
            "the upper edge `20 ohm` is above 7.25 ohm, the most that core brown and back may have: this test could not fail",
            vec![
                of_job("length: \"18 m\",", ""),
                stated("continuity", "high: \"20 ohm\""),
                remove("link-pair"),
                remove("solve"),
            ],
        ),
        bad(
            "a cable of unknown length whose return nobody solved",
            CABLE,
            TESTED,
            vec![of_job("length: \"18 m\",", ""), remove("link-pair"), remove("solve")],
        ),
        bad(
            "leads never seen closed",
            CABLE,
            "sees the leads",
            vec![remove("lead-null")],
        ),
        bad(
            "leads seen closed last",
            VALVE,
            "sees the leads",
            vec![moved("lead-null", "clip")],
        ),
        bad(
            "continuity of one core, named",
            CABLE,
            TESTED,
            vec![
                remove("continuity"),
                after(
                    "lead-null",
                    "Continuity(id: \"continuity\", core: \"switched live\", window: Cable, say: \"{first}, {second}.\"),",
                ),
            ],
        ),
        bad(
            "continuity with the cores joined",
            VALVE,
            TESTED,
            vec![after("lead-null", act("join-early", "Test", "JoinLiveCores"))],
        ),
    ]
}
