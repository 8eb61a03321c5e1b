//! Volts that could not have been missed: presence that passes at nothing, absence that passes at mains.

use super::case::{Case, act, after, bad, before, moved, of_job, only, remove, set, stated, volts};

const COULD: &str = "rule `could-have-failed`";
const SOUND: &str = "rule `sound-passes`";
const PRESENCE: &str = "rule `presence-before-absence`";
const PLACES: &str = "rule `line-at-each-place`";
const CABLE: &str = "stat-cable";
const PAIR: &str = "extra-low-pair";
const VALVE: &str = "zone-valve";
const SPUR: &str = "fused-spur";
const FLOOR: &str = "underfloor-zones";

pub fn presence() -> Vec<Case> {
    let feed = |edges| vec![stated("feed", edges)];
    vec![
        bad(
            "presence from nothing",
            CABLE,
            COULD,
            feed("low: \"0 V\", high: \"253 V\""),
        ),
        bad(
            "presence from below nothing",
            VALVE,
            COULD,
            feed("low: \"-5 V\", high: \"253 V\""),
        ),
        bad(
            "presence with an upper edge only",
            CABLE,
            COULD,
            feed("high: \"253 V\""),
        ),
        bad(
            "presence with a lower edge only",
            "boiler-call-live",
            COULD,
            feed("low: \"207 V\""),
        ),
        bad(
            "presence from half",
            CABLE,
            COULD,
            feed("low: \"115 V\", high: \"253 V\""),
        ),
        bad(
            "presence up to two phases",
            VALVE,
            COULD,
            feed("low: \"207 V\", high: \"415 V\""),
        ),
        bad(
            "presence of a call from nothing",
            VALVE,
            COULD,
            vec![stated("end-switch-on", "low: \"0 V\", high: \"253 V\"")],
        ),
        bad(
            "presence of a zone from nothing",
            FLOOR,
            COULD,
            vec![stated("zone-fed", "high: \"253 V\"")],
        ),
        bad(
            "presence worked out too wide",
            CABLE,
            COULD,
            vec![set(
                "feed",
                "window",
                "Worked(low: \"supply.nominal * 0.1\", high: \"supply.nominal * 1.1\", source: \"mine\")",
            )],
        ),
        bad(
            "presence of mains on direct volts",
            CABLE,
            SOUND,
            vec![set("feed", "direct", "true")],
        ),
        bad(
            "presence of a pair with mains in it",
            PAIR,
            COULD,
            vec![stated("open-volts", "low: \"15 V\", high: \"300 V\"")],
        ),
        bad(
            "presence of a pair without an upper edge",
            PAIR,
            COULD,
            vec![stated("open-again", "low: \"15 V\"")],
        ),
        bad(
            "presence of a pair from nothing",
            PAIR,
            COULD,
            vec![stated("open-volts", "low: \"0 V\", high: \"36 V\"")],
        ),
        bad(
            "presence at a boiler with mains in it",
            "boiler-call-volt-free",
            COULD,
            vec![stated("boiler-offers", "low: \"10 V\", high: \"400 V\"")],
        ),
        bad(
            "presence of what sound wiring does not have",
            CABLE,
            SOUND,
            vec![stated("feed", "low: \"250 V\", high: \"253 V\"")],
        ),
        bad(
            "presence with the window of absence",
            CABLE,
            SOUND,
            vec![set("feed", "window", "VoltageAbsent")],
        ),
        bad(
            "presence with both probes on line",
            CABLE,
            SOUND,
            vec![set("feed", "between", "(\"permanent live\", \"permanent live\")")],
        ),
        bad(
            "presence in ohms",
            VALVE,
            "this step measures",
            vec![stated("feed", "high: \"1 ohm\"")],
        ),
    ]
}

pub fn absence() -> Vec<Case> {
    let absent = |edges| vec![stated("switched-off", edges)];
    let early = |between| before("supply", volts("early", "Near", between, "VoltageAbsent"));
    vec![
        bad("absence up to 300 V", CABLE, COULD, absent("high: \"300 V\"")),
        bad(
            "absence up to 240 V",
            VALVE,
            COULD,
            vec![stated("motor-off", "high: \"240 V\"")],
        ),
        bad("absence up to 200 V", CABLE, COULD, absent("high: \"200 V\"")),
        bad(
            "absence up to 50 V",
            "mid-position-valve",
            COULD,
            vec![stated("rest-boiler", "high: \"50 V\"")],
        ),
        bad("absence up to 12 V", CABLE, COULD, absent("high: \"12 V\"")),
        bad(
            "absence worked out too wide",
            "boiler-interlock",
            COULD,
            vec![set(
                "no-call",
                "window",
                "Worked(high: \"supply.nominal * 0.5\", source: \"mine\")",
            )],
        ),
        bad("absence with a lower edge only", CABLE, COULD, absent("low: \"0 V\"")),
        bad(
            "absence from below nothing",
            CABLE,
            COULD,
            absent("low: \"-300 V\", high: \"300 V\""),
        ),
        bad(
            "absence of mains on direct volts",
            CABLE,
            COULD,
            vec![set("switched-off", "direct", "true")],
        ),
        bad(
            "absence of mains on direct volts at a zone",
            FLOOR,
            COULD,
            vec![set("zone-rests", "direct", "true")],
        ),
        bad(
            "absence of direct volts on alternating",
            PAIR,
            COULD,
            vec![set("closed-volts", "between", "(\"1\", \"2\")")],
        ),
        bad(
            "absence of a pair up to its own voltage",
            PAIR,
            COULD,
            vec![stated("closed-volts", "high: \"30 V\"")],
        ),
        bad(
            "absence at a boiler up to its own voltage",
            "boiler-call-volt-free",
            COULD,
            vec![stated("contact-made", "high: \"25 V\"")],
        ),
        bad(
            "absence with both probes on neutral",
            CABLE,
            COULD,
            vec![set("switched-off", "between", "(\"neutral\", \"neutral\")")],
        ),
        bad(
            "absence with both probes on the switched live",
            VALVE,
            COULD,
            vec![set("motor-off", "between", "(\"switched live\", \"switched live\")")],
        ),
        bad(
            "absence with both probes on earth",
            SPUR,
            COULD,
            vec![set("neutral-earth", "between", "(\"earth\", \"earth\")")],
        ),
        bad(
            "absence by name on one terminal",
            CABLE,
            COULD,
            vec![set("switched-off", "between", "(\"3\", \"switched live\")")],
        ),
        bad(
            "absence of what is live",
            CABLE,
            SOUND,
            vec![set("switched-off", "between", "(\"permanent live\", \"neutral\")")],
        ),
        bad(
            "absence before presence",
            CABLE,
            PRESENCE,
            vec![early(["switched live", "neutral"])],
        ),
        bad(
            "absence before presence at a valve",
            VALVE,
            PRESENCE,
            vec![early(["end switch", "neutral"])],
        ),
        bad(
            "absence before the supply is read",
            "mid-position-valve",
            PRESENCE,
            vec![moved("rest-heating", "supply")],
        ),
        bad(
            "absence before presence at a boiler",
            "boiler-interlock",
            PRESENCE,
            vec![remove("feed"), remove("feed-earth")],
        ),
        bad(
            "absence of a pair whose presence is mains",
            PAIR,
            PRESENCE,
            vec![
                set("open-volts", "end", "Near"),
                set("open-volts", "between", "(\"permanent live\", \"neutral\")"),
                set("open-volts", "window", "SupplyVoltage"),
            ],
        ),
        bad(
            "absence of a pair that was never read open",
            "boiler-call-volt-free",
            PRESENCE,
            vec![remove("boiler-offers")],
        ),
        bad(
            "absence of mains whose presence is the pair's",
            "boiler-call-volt-free",
            PRESENCE,
            vec![
                remove("mains-neutral"),
                remove("mains"),
                remove("first-clear"),
                remove("second-clear"),
                after(
                    "boiler-offers",
                    volts("dead-line", "Near", ["switched live", "neutral"], "VoltageAbsent"),
                ),
            ],
        ),
        bad(
            "absence on an instrument that read nothing",
            CABLE,
            PRESENCE,
            vec![
                of_job(
                    "Voltage(input: \"10 kohm\", accuracy: (percent: \"1.5\", digits: 2)),",
                    "",
                ),
                of_job(
                    "Voltage(input: \"10 Mohm\", accuracy: (percent: \"1\", digits: 3)),\n            ],\n        ),",
                    "Voltage(input: \"10 Mohm\", accuracy: (percent: \"1\", digits: 3)),\n            ],\n        ),\n        (name: \"low\", kind: \"low-impedance voltmeter\", serial: \"SM-1\", calibrated: \"2026-06-02\", due: \"2027-06-02\", category: \"CAT III 600 V\", can: [Voltage(input: \"10 kohm\", accuracy: (percent: \"1.5\", digits: 2))]),",
                ),
            ],
        ),
        bad(
            "absence after presence that may not be read",
            "boiler-interlock",
            PRESENCE,
            vec![
                only("feed", "Failed(\"sound-near\")"),
                only("feed-earth", "Failed(\"sound-near\")"),
            ],
        ),
        bad(
            "presence on an input that a floating earth drives",
            CABLE,
            PLACES,
            vec![of_job("Voltage(input: \"10 kohm\"", "Voltage(input: \"10 Mohm\"")],
        ),
        bad(
            "absence from below nothing up to 50 V",
            CABLE,
            COULD,
            absent("low: \"-1 V\", high: \"50 V\""),
        ),
        bad(
            "presence once it is off again",
            CABLE,
            "rule `on-before-live-tests`",
            vec![after(
                "end-switch-off",
                [
                    act("off-last", "Live", "SwitchOff"),
                    act("lock-last", "Live", "LockOff"),
                    volts("read-last", "Near", ["permanent live", "neutral"], "SupplyVoltage"),
                ]
                .concat(),
            )],
        ),
    ]
}
