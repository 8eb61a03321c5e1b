//! Loops, trips, places and controls, read where they tell nothing.

use super::case::{Case, act, after, bad, moved, of_job, only, remove, set, stated, volts, words};

const SOUND: &str = "rule `sound-passes`";
const PRESENCE: &str = "rule `presence-before-absence`";
const PLACES: &str = "rule `line-at-each-place`";
const DRIVEN: &str = "rule `driven-by-its-control`";
const DEVICE: &str = "rule `device-on-again`";
const CABLE: &str = "stat-cable";
const PAIR: &str = "extra-low-pair";
const VALVE: &str = "zone-valve";
const SPUR: &str = "fused-spur";
const FLOOR: &str = "underfloor-zones";

pub fn protection() -> Vec<Case> {
    let looped = |edges| vec![stated("loop-behind-device", edges)];
    let trip = |edges| vec![stated("rated-current", edges)];
    let five = |window: &str| {
        after(
            "rated-current",
            format!(
                "{} ResidualTrip(id: \"five\", end: Far, times: five_times, window: {window}, after: (\"on-five\", Stated(time: \"1 s\", source: \"x\")), say: \"{{first}}, {{second}}.\"),",
                act("on-five", "Live", "ResetDevice")
            ),
        )
    };
    let read = || volts("read", "Far", ["permanent live", "neutral"], "LoadVoltage");
    vec![
        bad("loop up to 1999 ohm", SPUR, "above", looped("high: \"1999 ohm\"")),
        bad("loop up to five ohm", SPUR, "above", looped("high: \"5 ohm\"")),
        bad(
            "loop without an upper edge",
            SPUR,
            "no upper edge",
            looped("low: \"0.1 ohm\""),
        ),
        bad(
            "loop worked out too wide",
            SPUR,
            "above",
            vec![set(
                "loop-behind-device",
                "window",
                "Worked(high: \"supply.ze * 100\", source: \"mine\")",
            )],
        ),
        bad(
            "loop from earth to earth",
            SPUR,
            SOUND,
            vec![set("loop-behind-device", "line", "\"earth\"")],
        ),
        bad(
            "loop from neutral to earth",
            SPUR,
            SOUND,
            vec![set("loop-behind-device", "line", "\"neutral\"")],
        ),
        bad("loop in volts", SPUR, "this step measures", looped("high: \"1 V\"")),
        bad(
            "loop with the window of an open core",
            SPUR,
            "window",
            vec![set("loop-behind-device", "window", "OpenCore")],
        ),
        bad(
            "loop that nobody saw the device on for",
            SPUR,
            "no step is called",
            vec![remove("device-on-loop")],
        ),
        bad(
            "loop that nobody saw the device on after",
            SPUR,
            DEVICE,
            vec![
                remove("device-on-half"),
                set(
                    "half-current",
                    "after",
                    "(\"device-on-loop\", Stated(time: \"1 s\", source: \"x\"))",
                ),
            ],
        ),
        bad(
            "a reading after a loop test that may have tripped",
            SPUR,
            DEVICE,
            vec![after("loop-behind-device", read())],
        ),
        bad(
            "a load after a loop test that may have tripped",
            SPUR,
            DEVICE,
            vec![after(
                "loop-behind-device",
                "Runs(id: \"heater\", load: \"panel heater\", expect: \"runs\", say: \"Does it run?\"),",
            )],
        ),
        bad(
            "a second loop test on a device that may be off",
            SPUR,
            DEVICE,
            vec![after(
                "loop-behind-device",
                "Loop(id: \"loop-two\", end: Near, window: LoopMaximum, say: \"{first}, {second}.\"),",
            )],
        ),
        bad(
            "trip time laxer than the table",
            SPUR,
            "above",
            trip("high: \"400 ms\""),
        ),
        bad(
            "trip time without an upper edge",
            SPUR,
            "no upper edge",
            trip("low: \"1 ms\""),
        ),
        bad(
            "trip time at five times as slow as at once",
            SPUR,
            "above",
            vec![five("Stated(high: \"300 ms\", source: \"mine\")")],
        ),
        bad(
            "half the current for too short a time",
            SPUR,
            "less than",
            vec![stated("half-current", "low: \"50 ms\"")],
        ),
        bad(
            "half the current that may trip",
            SPUR,
            "must not trip",
            vec![stated("half-current", "high: \"300 ms\"")],
        ),
        bad(
            "a reading after a trip",
            SPUR,
            DEVICE,
            vec![after("rated-current", read())],
        ),
        bad(
            "a trip after a trip",
            SPUR,
            DEVICE,
            vec![after(
                "rated-current",
                "ResidualTrip(id: \"five\", end: Far, times: five_times, window: TripTime, after: (\"device-on-once\", Stated(time: \"1 s\", source: \"x\")), say: \"{first}, {second}.\"),",
            )],
        ),
        bad(
            "handed over with the device off",
            SPUR,
            DEVICE,
            vec![remove("device-on-again")],
        ),
        bad(
            "handed over with the device off after a loop test",
            SPUR,
            DEVICE,
            vec![
                remove("device-on-half"),
                remove("half-current"),
                remove("device-on-once"),
                remove("rated-current"),
                remove("device-on-again"),
                remove("test-button"),
            ],
        ),
        bad(
            "a trip test where there is no device",
            CABLE,
            "no residual-current device",
            vec![after(
                "supply",
                "ResidualTrip(id: \"trip\", end: Far, times: once, window: TripTime, say: \"{first}, {second}.\"),",
            )],
        ),
        bad(
            "a loop without a device to judge by",
            CABLE,
            "names no device",
            vec![
                of_job("protection: (device: \"BS 1362\", rating: \"3 A\"),", ""),
                after(
                    "supply",
                    "Loop(id: \"loop\", end: Far, window: LoopMaximum, say: \"{first}, {second}.\"),",
                ),
            ],
        ),
        bad(
            "a loop on TT beyond what its device allows",
            SPUR,
            "above",
            vec![
                of_job("earthing: \"TN-C-S\"", "earthing: \"TT\""),
                of_job("ze: \"0.41 ohm\"", "ze: \"21 ohm\""),
                stated("loop-behind-device", "high: \"1999 ohm\""),
            ],
        ),
        bad(
            "a trip on TT as slow as elsewhere",
            SPUR,
            "above",
            vec![
                of_job("earthing: \"TN-C-S\"", "earthing: \"TT\""),
                of_job("ze: \"0.41 ohm\"", "ze: \"21 ohm\""),
                stated("rated-current", "high: \"300 ms\""),
            ],
        ),
        bad(
            "a loop from a line that is dead",
            CABLE,
            SOUND,
            vec![after(
                "supply",
                "Loop(id: \"loop\", end: Far, line: \"switched live\", window: LoopMaximum, say: \"{first}, {second}.\"),",
            )],
        ),
    ]
}

pub fn places_and_controls() -> Vec<Case> {
    vec![
        bad("line to earth never read", CABLE, PLACES, vec![remove("feed-earth")]),
        bad(
            "nothing read before the programmer is off",
            "programmer-and-thermostat",
            PRESENCE,
            vec![remove("programmer-fed"), remove("feed")],
        ),
        bad(
            "a call through two thermostats that nobody reads",
            "cylinder-thermostat",
            DRIVEN,
            vec![
                set("supply", "between", "(\"permanent live\", \"earth\")"),
                remove("called"),
                remove("called-again"),
                remove("valve-open"),
            ],
        ),
        bad(
            "line to neutral twice, to earth never",
            VALVE,
            PLACES,
            vec![set("feed-earth", "between", "(\"permanent live\", \"neutral\")")],
        ),
        bad(
            "line to earth twice, to neutral never",
            SPUR,
            PLACES,
            vec![set("line-neutral", "between", "(\"permanent live\", \"earth\")")],
        ),
        bad(
            "no feed of the new neutral",
            "stat-needs-neutral",
            PLACES,
            vec![remove("feed"), remove("supply")],
        ),
        bad(
            "line to earth of a boiler only where it is bad",
            "boiler-call-live",
            PLACES,
            vec![only("feed-earth", "Failed(\"sound-far\")")],
        ),
        bad(
            "no reading at all",
            "boiler-interlock",
            PLACES,
            vec![remove("feed"), remove("feed-earth")],
        ),
        bad(
            "energised and left",
            SPUR,
            PLACES,
            vec![remove("line-neutral"), remove("line-earth")],
        ),
        bad(
            "a call that nobody looks at",
            CABLE,
            DRIVEN,
            vec![remove("switched-on"), remove("end-switch-on")],
        ),
        bad(
            "a call and the reading of a permanent feed",
            CABLE,
            DRIVEN,
            vec![
                set("switched-on", "between", "(\"permanent live\", \"neutral\")"),
                remove("end-switch-on"),
            ],
        ),
        bad(
            "a zone turn that reads one terminal for all",
            FLOOR,
            SOUND,
            vec![set("zone-fed", "between", "(\"Z1\", \"neutral\")")],
        ),
        bad(
            "a zone turn that looks at the pump for all",
            FLOOR,
            DRIVEN,
            vec![remove("zone-fed"), remove("zone-map")],
        ),
        bad(
            "a zone turn that reads the pump's terminal for all",
            FLOOR,
            DRIVEN,
            vec![
                set("zone-fed", "end", "Near"),
                set("zone-fed", "between", "(\"end switch\", \"neutral\")"),
                remove("zone-map"),
            ],
        ),
        bad(
            "a zone turn that reads the boiler's call for all",
            "boiler-interlock",
            DRIVEN,
            vec![remove("zone-valves")],
        ),
        bad(
            "every zone by one thermostat",
            FLOOR,
            SOUND,
            vec![set("zone-call", "act", "Call(\"workshop thermostat\")")],
        ),
        bad(
            "every zone by one thermostat at the boiler",
            "boiler-interlock",
            SOUND,
            vec![set("zone-call", "act", "Call(\"sail loft thermostat\")")],
        ),
        bad(
            "a control that is not there",
            CABLE,
            "thermostat upstairs",
            vec![set("call", "act", "Call(\"thermostat upstairs\")")],
        ),
        bad(
            "a pair that is never read",
            PAIR,
            PLACES,
            vec![remove("open-volts"), remove("closed-volts"), remove("open-again")],
        ),
        bad(
            "a pair whose first pole is never read to earth",
            PAIR,
            PLACES,
            vec![remove("first-clear")],
        ),
        bad(
            "a pair whose poles are read to earth in direct volts",
            "boiler-call-volt-free",
            PLACES,
            vec![words(
                "window: VoltageAbsent,\n            say: \"Same range",
                "window: VoltageAbsent, direct: true,\n            say: \"Same range",
            )],
        ),
        bad(
            "a pair read to earth up to 60 V",
            PAIR,
            "rule `could-have-failed`",
            vec![stated("first-clear", "high: \"60 V\"")],
        ),
        bad(
            "a pair read to earth with an instrument that never showed mains",
            PAIR,
            PRESENCE,
            vec![remove("mains-neutral"), remove("mains")],
        ),
        bad(
            "one pole read to earth twice",
            "boiler-call-volt-free",
            PLACES,
            vec![set("second-clear", "between", "(\"{pair first}\", \"earth\")")],
        ),
        bad(
            "a pair read only closed",
            PAIR,
            PRESENCE,
            vec![remove("open-volts"), remove("open-again")],
        ),
        bad(
            "a call with the wrong contact read",
            "programmer-and-thermostat",
            DRIVEN,
            vec![
                words(
                    "window: LoadVoltage, within: (\"call\", ValveOpens)",
                    "window: LoadVoltage",
                ),
                remove("switched-on"),
                remove("boiler-called"),
            ],
        ),
        bad(
            "a call read only where it failed",
            CABLE,
            DRIVEN,
            vec![only("switched-on", "Failed(\"supply\")"), remove("end-switch-on")],
        ),
        bad(
            "a call read before it calls",
            CABLE,
            SOUND,
            vec![moved("switched-on", "call")],
        ),
        bad(
            "a zone turn that expects nothing to move",
            FLOOR,
            SOUND,
            vec![set("zone-map", "nothing", "true")],
        ),
        bad(
            "a zone left calling while the next one calls",
            FLOOR,
            SOUND,
            vec![set("zone-satisfy", "act", "Call(\"{control}\")")],
        ),
    ]
}
