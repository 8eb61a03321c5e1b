//! Sequences that do more than is asked, ask for stricter figures, or keep another order: sane, and accepted.

use super::case::{Case, act, after, before, good, moved, of_job, only, out, remove, set, stated, volts, words};

const CABLE: &str = "stat-cable";
const PAIR: &str = "extra-low-pair";
const VALVE: &str = "zone-valve";
const SPUR: &str = "fused-spur";
const FLOOR: &str = "underfloor-zones";

pub fn more_than_is_asked() -> Vec<Case> {
    let parted = |id: &str, end: &str, reference: &str| {
        format!("ProveParted(id: \"{id}\", end: {end}, reference: {reference}, say: \"{{first}}, {{second}}. Lit?\"),")
    };
    let lit = |id: &str, stage: &str| format!("ProveIndicator(id: \"{id}\", stage: {stage}, say: \"Does it light?\"),");
    vec![
        good(
            "a further proof of the parted neutral",
            CABLE,
            vec![after("parted-near", parted("parted-again", "Near", "OwnEarth"))],
        ),
        good(
            "a further proof of both once both are parted",
            CABLE,
            vec![after(
                "indicator-parted",
                format!(
                    "{} {} {}",
                    parted("near-again", "Near", "OwnEarth"),
                    parted("far-again", "Far", "LongLead"),
                    lit("lit-last", "Disconnect")
                ),
            )],
        ),
        good(
            "a further proof of dead after parting",
            PAIR,
            vec![after(
                "off-near",
                format!(
                    "{} ProveDead(id: \"dead-again\", end: Near, reference: OwnEarth, say: \"{{first}}, {{second}}.\"), {}",
                    lit("lit-before", "Disconnect"),
                    lit("lit-after", "Disconnect")
                ),
            )],
        ),
        good(
            "proved dead twice over",
            VALVE,
            vec![after(
                "indicator-second",
                format!(
                    "ProveDead(id: \"again\", end: Near, reference: OwnEarth, say: \"{{first}}, {{second}}.\"), {} ",
                    lit("lit-again", "Isolate")
                ),
            )],
        ),
        good(
            "the indicator proved three times more",
            PAIR,
            vec![
                before("indicator-first", lit("one", "Isolate")),
                after("indicator-second", lit("two", "Isolate")),
                after("guard", lit("three", "Disconnect")),
            ],
        ),
        good(
            "insulation read twice",
            CABLE,
            vec![after(
                "part-rest",
                "EachCore([Insulation(id: \"once-more\", between: ThisAndEach, window: InsulationMinimum, say: \"{first}, {second}.\")]),",
            )],
        ),
        good(
            "continuity read twice, and the leads twice",
            VALVE,
            vec![
                after(
                    "continuity",
                    "Continuity(id: \"once-more\", window: Cable, say: \"{first}, {second}.\"),",
                ),
                before(
                    "links-off",
                    "LeadNull(id: \"null-again\", window: LeadResistance, say: \"Tips together.\"),",
                ),
            ],
        ),
        good(
            "one core measured once more by name",
            CABLE,
            vec![before(
                "links-off",
                "Note(id: \"resting\", stage: Test, say: \"A line.\"),",
            )],
        ),
        good(
            "volts read everywhere",
            CABLE,
            vec![after(
                "supply",
                [
                    volts("a", "Near", ["permanent live", "earth"], "SupplyVoltage"),
                    volts("b", "Near", ["neutral", "earth"], "VoltageAbsent"),
                    volts("c", "Far", ["neutral", "earth"], "VoltageAbsent"),
                    volts("d", "Far", ["permanent live", "neutral"], "SupplyVoltage"),
                ]
                .concat(),
            )],
        ),
        good(
            "called twice",
            "boiler-call-live",
            vec![after(
                "boiler-let-go",
                [
                    act("call-two", "Live", "Call(\"thermostat\")"),
                    volts(
                        "called-two",
                        "Far",
                        ["end switch", "neutral"],
                        "LoadVoltage, within: (\"call-two\", ValveOpens)",
                    ),
                    act("satisfy-two", "Live", "Satisfy(\"thermostat\")"),
                    volts(
                        "gone-two",
                        "Far",
                        ["end switch", "neutral"],
                        "VoltageAbsent, after: (\"satisfy-two\", ValveCloses)",
                    ),
                ]
                .concat(),
            )],
        ),
        good(
            "switched off, locked and read dead at the end",
            CABLE,
            vec![after(
                "end-switch-off",
                [
                    act("off", "Live", "SwitchOff"),
                    act("lock", "Live", "LockOff"),
                    act("key", "Live", "KeepKey"),
                    act("notice-at-end", "Live", "PostNotice"),
                    volts("dead", "Near", ["permanent live", "neutral"], "VoltageAbsent"),
                ]
                .concat(),
            )],
        ),
        good(
            "a loop at both ends",
            SPUR,
            vec![after(
                "loop-behind-device",
                format!(
                    "{} Loop(id: \"loop-near\", end: Near, window: LoopMaximum, after: (\"on-near\", Stated(time: \"1 s\", source: \"x\")), say: \"{{first}}, {{second}}.\"),",
                    act("on-near", "Live", "ResetDevice")
                ),
            )],
        ),
        good(
            "a trip at five times as well",
            SPUR,
            vec![after(
                "rated-current",
                format!(
                    "{} ResidualTrip(id: \"five\", end: Far, times: five_times, window: TripTime, after: (\"on-five\", Stated(time: \"1 s\", source: \"x\")), say: \"{{first}}, {{second}}.\"),",
                    act("on-five", "Live", "ResetDevice")
                ),
            )],
        ),
        good(
            "tugged once more",
            "mid-position-valve",
            vec![after(
                "tug-far",
                "Tug(id: \"tug-again\", end: Near, say: \"Tug {core} in {terminal}.\"),",
            )],
        ),
        good(
            "warmth felt and the pin looked at",
            VALVE,
            vec![after(
                "boiler-called",
                "Warm(id: \"warm\", motor: \"zone valve\", expect: \"warm\", say: \"Feel the pipe. Warm?\"),",
            )],
        ),
        good(
            "the supply read before and after each call",
            VALVE,
            vec![
                after(
                    "lever-open",
                    volts("supply-again", "Near", ["permanent live", "neutral"], "SupplyVoltage"),
                ),
                after(
                    "lever-shut",
                    volts("supply-last", "Near", ["permanent live", "neutral"], "SupplyVoltage"),
                ),
            ],
        ),
    ]
}

pub fn stricter_and_otherwise() -> Vec<Case> {
    let lit = |id: &str| format!("ProveIndicator(id: \"{id}\", say: \"Does it light?\"),");
    vec![
        good(
            "insulation stricter",
            CABLE,
            vec![
                stated("insulation", "low: \"100 Mohm\""),
                stated("insulation-alone", "low: \"100 Mohm\""),
            ],
        ),
        good(
            "open stricter",
            VALVE,
            vec![
                stated("others-open", "low: \"1 kohm\""),
                stated("all-open", "low: \"1500 ohm\""),
            ],
        ),
        good(
            "open by the older figure",
            PAIR,
            vec![set("all-open", "window", "OpenCore")],
        ),
        good("leads stricter", SPUR, vec![stated("lead-null", "high: \"0.3 ohm\"")]),
        good(
            "volts stricter",
            CABLE,
            vec![stated("feed", "low: \"216.2 V\", high: \"250 V\"")],
        ),
        good("absence stricter", VALVE, vec![stated("motor-off", "high: \"3 V\"")]),
        good(
            "the loop stricter",
            SPUR,
            vec![stated("loop-behind-device", "high: \"1.2 ohm\"")],
        ),
        good(
            "the trip stricter",
            SPUR,
            vec![stated("rated-current", "high: \"200 ms\"")],
        ),
        good(
            "half the current for longer",
            SPUR,
            vec![stated("half-current", "low: \"1 s\"")],
        ),
        good(
            "the valve's time from its maker",
            CABLE,
            vec![set(
                "end-switch-on",
                "after",
                "(\"call\", Stated(time: \"20 s\", source: \"the maker's sheet\"))",
            )],
        ),
        good(
            "the far end proved dead first",
            CABLE,
            vec![
                moved("dead-far", "indicator-between"),
                moved("dead-near", "indicator-second"),
            ],
        ),
        good(
            "the lead lit before the earth",
            VALVE,
            vec![moved("lead", "earth-near")],
        ),
        good("notice before the key", PAIR, vec![moved("notice", "keep-key")]),
        good(
            "key and notice before the lock is looked at once more",
            SPUR,
            vec![after("notice", act("lock-again", "Isolate", "LockOff"))],
        ),
        good("the guard first of all", CABLE, vec![moved("guard", "off-near")]),
        good(
            "the far end taken off first",
            "cylinder-thermostat",
            vec![moved("off-far", "off-near")],
        ),
        good(
            "the far end connected first",
            CABLE,
            vec![moved("connect-far", "connect-near")],
        ),
        good(
            "each core against each other alone",
            FLOOR,
            vec![
                remove("join-rest"),
                remove("part-rest"),
                set("insulation", "between", "ThisAndEach"),
            ],
        ),
        good(
            "the rest joined anew for each core, and parted once",
            CABLE,
            vec![moved("part-rest", "discharge")],
        ),
        good("the supply read after the feed", CABLE, vec![moved("supply", "call")]),
        good(
            "a condition on the job",
            SPUR,
            vec![only("neutral-earth", "HasEarthCore")],
        ),
        good(
            "a caution where the length is not known",
            CABLE,
            vec![before(
                "lead-null",
                "If(Not(HasLength), [Note(id: \"paced\", stage: Test, say: \"Pace the route.\")]),",
            )],
        ),
        good(
            "a step more where the box looked bad",
            VALVE,
            vec![before(
                "link",
                "If(Failed(\"sound-near\"), [Note(id: \"damp\", stage: Test, say: \"Look again at the damp.\")]),",
            )],
        ),
        good(
            "a reading more where one failed",
            CABLE,
            vec![after(
                "end-switch-on",
                format!(
                    "If(Passed(\"switched-on\"), [{}]),",
                    volts("again", "Near", ["end switch", "neutral"], "LoadVoltage")
                ),
            )],
        ),
        good(
            "one more proof where the box was opened",
            PAIR,
            vec![before(
                "dead-far",
                format!("If(HasTerminal(Near, \"earth\"), [{}]),", lit("more")),
            )],
        ),
        good(
            "steps of no core",
            PAIR,
            vec![before(
                "lead-null",
                "EachPair([Note(id: \"note\", stage: Test, say: \"{core} and {other}.\")]),",
            )],
        ),
        good(
            "pair by pair in a group of its own",
            PAIR,
            vec![
                words(
                    "Insulation(id: \"insulation-cores\", between: EachPair,",
                    "EachPair([Insulation(id: \"insulation-cores\", between: ThisPair,",
                ),
                after("insulation-cores", "]),"),
            ],
        ),
        good(
            "no gate beside the walk's own",
            VALVE,
            vec![remove("all-dead-tests-passed")],
        ),
        good(
            "the far end against its own earth, lit before",
            SPUR,
            vec![
                before(
                    "lead",
                    "ProveEarth(id: \"earth-far\", end: Far, say: \"{first}, {second}. Lit?\"),",
                ),
                set("dead-far", "reference", "OwnEarth"),
            ],
        ),
        good(
            "only abandoning after a failure",
            CABLE,
            vec![
                set("continuity", "after_failure", "[]"),
                set("feed", "after_failure", "[]"),
            ],
        ),
        good(
            "back to the link after a failure",
            CABLE,
            vec![set(
                "continuity",
                "after_failure",
                "[Again, RepairFrom(\"link-first\")]",
            )],
        ),
    ]
}

pub fn other_jobs() -> Vec<Case> {
    let without_length = |length: &'static str| of_job(length, "");
    vec![
        good(
            "a cable of unknown length",
            CABLE,
            vec![without_length("length: \"18 m\",")],
        ),
        good(
            "a spur of unknown length",
            SPUR,
            vec![without_length("length: \"12 m\",")],
        ),
        good(
            "a pair of unknown length",
            PAIR,
            vec![without_length("length: \"24 m\",")],
        ),
        good(
            "TT with a residual-current device",
            SPUR,
            vec![
                of_job("earthing: \"TN-C-S\"", "earthing: \"TT\""),
                of_job("ze: \"0.41 ohm\"", "ze: \"21 ohm\""),
            ],
        ),
        good(
            "an indicator that is the second of its kind",
            PAIR,
            vec![of_job("name: \"tester\"", "name: \"installation tester\"")],
        ),
        good(
            "a long cable of a thin pair",
            PAIR,
            vec![of_job("length: \"24 m\"", "length: \"60 m\"")],
        ),
        good(
            "a double-pole switch as the isolation",
            VALVE,
            vec![of_job(
                "3 A fuse to BS 1362 in the fused connection unit",
                "3 A fuse to BS 1362 behind a single-pole switch",
            )],
        ),
        good(
            "the wiring rules before the last",
            CABLE,
            vec![of_job("edition: \"2018+A2:2022\"", "edition: \"2018\"")],
        ),
        good(
            "a thermostat in place of another",
            "stat-needs-neutral",
            vec![out("parts/filled.ron")],
        ),
        good(
            "an older tester with 99.9 ohm at its top",
            CABLE,
            vec![of_job(
                "Continuity(ceiling: \"1999 ohm\"",
                "Continuity(ceiling: \"99.9 ohm\"",
            )],
        ),
        good(
            "cable proved by the sequence of a valve",
            VALVE,
            vec![words(
                "say: \"Does the boiler, with its pump, answer the call?\"",
                "say: \"Boiler?\"",
            )],
        ),
        good(
            "the spur's sequence on a spur without a device",
            SPUR,
            vec![of_job("residual: \"30 mA\",", "")],
        ),
        good(
            "a programmer's job without its end switch",
            "programmer-and-thermostat",
            vec![
                remove("programmer-back"),
                remove("satisfy"),
                remove("ended-by-thermostat"),
                remove("boiler-stays-off"),
                remove("boiler-rests"),
                after("boiler-stops", act("satisfy", "Live", "Satisfy(\"thermostat\")")),
            ],
        ),
    ]
}
