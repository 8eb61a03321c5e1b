//! Live fault-finding on a supply that is on as it was found: what it may do, and what nobody may rest on it.

use super::case::{Case, act, after, bad, before, good, remove, set, volts};

const PLACED: &str = "rule `acts-in-their-stage`";
const REASONS: &str = "rule `reasons-before-live`";
const FORWARD: &str = "rule `stages-forward`";
const COULD: &str = "rule `could-have-failed`";
const SOUND: &str = "rule `sound-passes`";
const PRESENCE: &str = "rule `presence-before-absence`";
const CABLE: &str = "stat-cable";
const PAIR: &str = "extra-low-pair";
const VALVE: &str = "zone-valve";
const SPUR: &str = "fused-spur";
const FLOOR: &str = "underfloor-zones";
const BOILER: &str = "boiler-call-live";
const PROGRAMMER: &str = "programmer-and-thermostat";

const WHY: &str = "LiveReasons(id: \"why\", say: \"Still on, as found.\"),";

/// A reading on the supply as it was found.
fn read(id: &str, end: &str, between: [&str; 2], window: &str) -> String {
    volts(id, end, between, &format!("{window}, stage: FaultFinding"))
}

fn feed() -> String {
    read("found-feed", "Near", ["permanent live", "neutral"], "LoadVoltage")
}

fn called() -> String {
    read("found-called", "Near", ["switched live", "neutral"], "LoadVoltage")
}

/// The reasons and these steps, where live fault-finding stands: after the earths are shown lit, before anything is switched off.
fn found(steps: &[&str]) -> super::editor::Edit {
    after("lead", format!("{WHY} {}", steps.concat()))
}

pub fn done_there() -> Vec<Case> {
    let also = |step: String| vec![found(&[&feed(), &step])];
    let hands = |what: &str| also(act("hands", "FaultFinding", what));
    vec![
        bad("cores taken off live as found", CABLE, PLACED, hands("DisconnectFar")),
        bad(
            "cores taken off live at the near end",
            VALVE,
            PLACED,
            hands("DisconnectNear"),
        ),
        bad(
            "electronics taken out live as found",
            CABLE,
            PLACED,
            hands("TakeOutElectronics"),
        ),
        bad("links looked for live as found", CABLE, PLACED, hands("RemoveEveryLink")),
        bad("cores joined live as found", SPUR, PLACED, hands("JoinLiveCores")),
        bad("terminals joined live as found", CABLE, PLACED, hands("JoinTerminals")),
        bad("the neutral parted live as found", CABLE, PLACED, hands("PartNeutral")),
        bad("the earth core clipped live as found", VALVE, PLACED, hands("JoinEarth")),
        bad("discharged live as found", BOILER, PLACED, hands("Discharge")),
        bad("energised where it is on as found", CABLE, PLACED, hands("Energise")),
        bad("a device switched on as found", SPUR, PLACED, hands("ResetDevice")),
        bad("switched off among readings as found", CABLE, PLACED, hands("SwitchOff")),
        bad("locked off among readings as found", VALVE, PLACED, hands("LockOff")),
        bad(
            "the far end guarded among readings as found",
            CABLE,
            PLACED,
            hands("GuardFarEnd"),
        ),
        bad(
            "hands on a conductor as found",
            BOILER,
            PLACED,
            hands("CoverFarEnd"),
        ),
        bad(
            "the live work of another stage called fault-finding",
            CABLE,
            PLACED,
            vec![set("energise", "stage", "FaultFinding")],
        ),
        bad(
            "isolation called fault-finding",
            VALVE,
            PLACED,
            vec![set("lock-off", "stage", "FaultFinding")],
        ),
        bad(
            "disconnecting called fault-finding",
            CABLE,
            PLACED,
            vec![set("off-near", "stage", "FaultFinding")],
        ),
        bad(
            "ohms where a voltage stands as found",
            CABLE,
            "this step measures",
            also(read(
                "ohms",
                "Near",
                ["permanent live", "neutral"],
                "Stated(high: \"1 ohm\", source: \"mine\")",
            )),
        ),
        bad(
            "a loop test as found",
            SPUR,
            "stage",
            also(
                "Loop(id: \"found-loop\", end: Far, window: LoopMaximum, stage: FaultFinding, say: \"{first}, {second}.\"),"
                    .into(),
            ),
        ),
        bad(
            "a trip test as found",
            SPUR,
            "stage",
            also(
                "ResidualTrip(id: \"found-trip\", end: Far, times: once, window: TripTime, stage: FaultFinding, say: \"{first}, {second}.\"),"
                    .into(),
            ),
        ),
        bad(
            "continuity as found",
            CABLE,
            "stage",
            also(
                "Continuity(id: \"found-ohms\", core: \"switched live\", window: Cable, stage: FaultFinding, say: \"{first}, {second}.\"),"
                    .into(),
            ),
        ),
        bad(
            "volts among the dead tests by their stage",
            CABLE,
            "a voltage is read in `FaultFinding` or in `Live`, not in `Test`",
            vec![set("feed", "stage", "Test")],
        ),
        bad(
            "volts in the survey, where nobody asks why",
            VALVE,
            "a voltage is read in `FaultFinding` or in `Live`, not in `Survey`",
            vec![after(
                "lead",
                volts(
                    "early",
                    "Near",
                    ["permanent live", "neutral"],
                    "LoadVoltage, stage: Survey",
                ),
            )],
        ),
        bad(
            "volts while it is isolated",
            CABLE,
            "a voltage is read in `FaultFinding` or in `Live`, not in `Isolate`",
            vec![after(
                "indicator-first",
                volts(
                    "early",
                    "Near",
                    ["permanent live", "neutral"],
                    "LoadVoltage, stage: Isolate",
                ),
            )],
        ),
    ]
}

pub fn without_reasons() -> Vec<Case> {
    let alone = |step: String| vec![after("lead", step)];
    let why_later = |id: &'static str| vec![after("lead", feed()), after(id, WHY)];
    vec![
        bad("read live as found and nobody said why", CABLE, REASONS, alone(feed())),
        bad(
            "called and read live as found and nobody said why",
            VALVE,
            REASONS,
            alone(format!(
                "{} {}",
                act("found-call", "FaultFinding", "Call(\"thermostat\")"),
                called()
            )),
        ),
        bad(
            "looked at live as found and nobody said why",
            BOILER,
            REASONS,
            alone(
                "Inspect(id: \"found-look\", stage: FaultFinding, thing: \"the boiler\", say: \"Does it show anything?\"),"
                    .into(),
            ),
        ),
        bad(
            "why is written down after it was read",
            CABLE,
            REASONS,
            alone(format!("{} {WHY}", feed())),
        ),
        bad(
            "why is written down once it is switched off",
            CABLE,
            FORWARD,
            why_later("indicator-first"),
        ),
        bad(
            "a note in place of why",
            SPUR,
            REASONS,
            alone(format!(
                "Note(id: \"why\", stage: FaultFinding, say: \"Why is it live?\"), {}",
                feed()
            )),
        ),
        bad(
            "why only where the place looked sound",
            CABLE,
            REASONS,
            alone(format!("If(Passed(\"earth-near\"), [{WHY}]), {}", feed())),
        ),
        bad(
            "why only where it did not look sound",
            VALVE,
            REASONS,
            alone(format!("If(Failed(\"picture\"), [{WHY}]), {}", feed())),
        ),
        bad(
            "reasons answered together",
            CABLE,
            "cannot be answered together",
            alone(format!("Together([{WHY}]), {}", feed())),
        ),
    ]
}

pub fn order() -> Vec<Case> {
    vec![
        bad(
            "read as found once it is locked off",
            CABLE,
            FORWARD,
            vec![after("indicator-first", format!("{WHY} {}", feed()))],
        ),
        bad(
            "read as found once cores are off",
            VALVE,
            FORWARD,
            vec![after("off-near", format!("{WHY} {}", feed()))],
        ),
        bad(
            "read as found among the live tests",
            CABLE,
            FORWARD,
            vec![after("supply", feed())],
        ),
        bad(
            "energised though it was on as found",
            CABLE,
            "rule `locked-before-proving`",
            vec![found(&[&feed()]), remove("switch-off")],
        ),
        bad(
            "dark as found in place of a lock",
            VALVE,
            "rule `locked-before-proving`",
            vec![found(&[&feed()]), remove("lock-off")],
        ),
        bad(
            "a time that counts from what was done as found",
            CABLE,
            "done on the place as it was found, which is not done again",
            vec![
                found(&[&act("found-call", "FaultFinding", "Call(\"thermostat\")"), &called()]),
                set("switched-on", "within", "(\"found-call\", ValveOpens)"),
            ],
        ),
        bad(
            "a repair that goes back to what was read as found",
            CABLE,
            "done on the place as it was found, which cannot be done again",
            vec![
                found(&[&feed()]),
                set("continuity", "after_failure", "[RepairFrom(\"found-feed\")]"),
            ],
        ),
        bad(
            "read as found only where an earth was lit",
            CABLE,
            "of the survey",
            vec![found(&[&format!("If(Passed(\"earth-near\"), [{}])", feed()), ","])],
        ),
    ]
}

/// What is read as found gives no fact: each of these leaves out what it would have shown.
pub fn rests_on_it() -> Vec<Case> {
    let earth = || read("found-earth", "Near", ["permanent live", "earth"], "LoadVoltage");
    let far = || read("found-far", "Far", ["permanent live", "neutral"], "LoadVoltage");
    let far_earth = || read("found-far-earth", "Far", ["permanent live", "earth"], "LoadVoltage");
    vec![
        bad(
            "the earth by a meter as found in place of the indicator",
            CABLE,
            "rule `earth-before-dead`",
            vec![found(&[&feed(), &earth()]), remove("earth-near")],
        ),
        bad(
            "line to earth only as found",
            CABLE,
            "rule `line-at-each-place`",
            vec![found(&[&feed(), &far(), &far_earth()]), remove("feed-earth")],
        ),
        bad(
            "line to neutral only as found",
            SPUR,
            "rule `line-at-each-place`",
            vec![
                found(&[&feed(), &far(), &far_earth()]),
                set("line-neutral", "between", "(\"permanent live\", \"earth\")"),
            ],
        ),
        bad(
            "a call followed only as found",
            CABLE,
            "rule `driven-by-its-control`",
            vec![
                found(&[
                    &feed(),
                    &act("found-call", "FaultFinding", "Call(\"thermostat\")"),
                    &called(),
                    &act("found-rest", "FaultFinding", "EveryCallOff"),
                ]),
                remove("switched-on"),
                remove("end-switch-on"),
            ],
        ),
        bad(
            "presence as found before absence after",
            CABLE,
            PRESENCE,
            vec![
                found(&[&feed()]),
                before(
                    "supply",
                    volts("early", "Near", ["switched live", "neutral"], "VoltageAbsent"),
                ),
            ],
        ),
        bad(
            "a pair read as found without its plates",
            PAIR,
            "rule `classified-before-connecting`",
            vec![
                remove("pair"),
                found(&[&volts(
                    "found-pair",
                    "Near",
                    ["{pair first}", "{pair second}"],
                    "Worked(low: \"pair.volts * 0.6\", high: \"pair.volts * 1.5\", source: \"mine\"), stage: FaultFinding",
                )]),
            ],
        ),
        bad(
            "no dead proof where it was read without voltage",
            CABLE,
            "rule `dead-before-hands`",
            vec![
                found(&[
                    &feed(),
                    &read("found-none", "Near", ["neutral", "earth"], "VoltageAbsent"),
                ]),
                remove("dead-near"),
            ],
        ),
    ]
}

pub fn readings() -> Vec<Case> {
    let one = |window: &str| {
        vec![found(&[&read(
            "found-feed",
            "Near",
            ["permanent live", "neutral"],
            window,
        )])]
    };
    vec![
        bad(
            "as found up to mains from nothing",
            CABLE,
            COULD,
            one("Stated(low: \"0 V\", high: \"253 V\", source: \"mine\")"),
        ),
        bad(
            "as found without a lower edge",
            VALVE,
            COULD,
            one("Stated(high: \"253 V\", source: \"mine\")"),
        ),
        bad(
            "as found without an upper edge",
            BOILER,
            COULD,
            one("Stated(low: \"207 V\", source: \"mine\")"),
        ),
        bad(
            "a feed that must not be there as found",
            CABLE,
            SOUND,
            vec![found(&[
                &feed(),
                &read("found-off", "Near", ["permanent live", "neutral"], "VoltageAbsent"),
            ])],
        ),
        bad(
            "a call read as found that nobody has made",
            CABLE,
            SOUND,
            vec![found(&[&feed(), &called()])],
        ),
        bad(
            "both probes on one terminal as found",
            SPUR,
            SOUND,
            vec![found(&[&read(
                "found-one",
                "Near",
                ["neutral", "neutral"],
                "LoadVoltage",
            )])],
        ),
        bad(
            "absence as found where nothing was there before",
            CABLE,
            PRESENCE,
            vec![found(&[&read(
                "found-none",
                "Near",
                ["switched live", "neutral"],
                "VoltageAbsent",
            )])],
        ),
        bad(
            "absence as found up to 200 V",
            VALVE,
            COULD,
            vec![found(&[
                &feed(),
                &read(
                    "found-none",
                    "Near",
                    ["switched live", "neutral"],
                    "Stated(high: \"200 V\", source: \"mine\"), low_impedance: true",
                ),
            ])],
        ),
    ]
}

pub fn sane() -> Vec<Case> {
    let calls = || act("found-call", "FaultFinding", "Call(\"thermostat\")");
    let rests = || act("found-rest", "FaultFinding", "EveryCallOff");
    vec![
        good(
            "the earths shown lit after live fault-finding",
            CABLE,
            vec![before("earth-near", format!("{WHY} {}", feed()))],
        ),
        good(
            "looked at as found after live fault-finding",
            PROGRAMMER,
            vec![before("picture", format!("{WHY} {}", feed()))],
        ),
        good("the feed read live as found", CABLE, vec![found(&[&feed()])]),
        good("the feed of a spur read live as found", SPUR, vec![found(&[&feed()])]),
        good("a floor read live as found", FLOOR, vec![found(&[&feed()])]),
        good(
            "a call read live as found, then isolated as ever",
            CABLE,
            vec![found(&[&feed(), &calls(), &called(), &rests()])],
        ),
        good(
            "no call read live as found",
            VALVE,
            vec![found(&[
                &feed(),
                &read("found-none", "Near", ["switched live", "neutral"], "VoltageAbsent"),
            ])],
        ),
        good(
            "a valve waited for live as found",
            BOILER,
            vec![found(&[
                &read("found-feed", "Far", ["permanent live", "neutral"], "LoadVoltage"),
                &calls(),
                &read(
                    "found-end",
                    "Far",
                    ["end switch", "neutral"],
                    "LoadVoltage, after: (\"found-call\", ValveOpens)",
                ),
                &rests(),
            ])],
        ),
        good(
            "something looked at and a line beside what was read as found",
            PROGRAMMER,
            vec![found(&[
                &feed(),
                "Inspect(id: \"found-look\", stage: FaultFinding, thing: \"the display of the programmer\", say: \"Does it show the time?\"),",
                "Note(id: \"found-note\", stage: FaultFinding, say: \"What do people say of it?\"),",
            ])],
        ),
        good(
            "a second reading only where the first failed",
            CABLE,
            vec![found(&[
                &feed(),
                "If(Failed(\"found-feed\"), [",
                &read("found-far", "Far", ["permanent live", "neutral"], "LoadVoltage"),
                "]),",
            ])],
        ),
        good(
            "a dead test once more where it was read low as found",
            CABLE,
            vec![
                found(&[&feed()]),
                before(
                    "links-off",
                    "If(Failed(\"found-feed\"), [Note(id: \"seen-low\", stage: Test, say: \"Which clamp was warm?\")]),",
                ),
            ],
        ),
    ]
}

pub fn in_any_order() -> Vec<Case> {
    let any = |steps: &[&str]| format!("AnyOrder([{}]),", steps.concat());
    let call = act("found-call", "FaultFinding", "Call(\"thermostat\")");
    let earth = read("found-earth", "Near", ["permanent live", "earth"], "LoadVoltage");
    let far = read("found-far", "Far", ["permanent live", "neutral"], "LoadVoltage");
    vec![
        good(
            "three readings in any order and number",
            CABLE,
            vec![found(&[&any(&[&feed(), &earth, &far])])],
        ),
        good(
            "two sets, the second with the call made",
            VALVE,
            vec![found(&[&any(&[&feed(), &earth]), &call, &any(&[&called(), &far])])],
        ),
        good(
            "a set only where a reading before it failed",
            CABLE,
            vec![found(&[
                &feed(),
                "If(Failed(\"found-feed\"), [",
                &any(&[&earth, &far]),
                "]),",
            ])],
        ),
        good(
            "a note only where one of a set failed",
            SPUR,
            vec![found(&[
                &any(&[&feed(), &earth]),
                "If(Failed(\"found-earth\"), [Note(id: \"seen\", stage: FaultFinding, say: \"A line.\")]),",
            ])],
        ),
        bad(
            "a control set among readings in any order",
            CABLE,
            "changes what the next one reads",
            vec![found(&[&any(&[&feed(), &call, &called()])])],
        ),
        bad(
            "live tests in any order",
            CABLE,
            "it holds readings of live fault-finding",
            vec![after(
                "supply",
                any(&[&volts("more", "Near", ["permanent live", "earth"], "LoadVoltage")]),
            )],
        ),
        bad(
            "proving dead in any order",
            CABLE,
            "it holds voltages that are read, and nothing else",
            vec![after(
                "indicator-first",
                any(&["ProveDead(id: \"dead-again\", end: Near, reference: OwnEarth, say: \"{first}, {second}.\"),"]),
            )],
        ),
        bad(
            "reasons in any order with what rests on them",
            CABLE,
            "it holds voltages that are read, and nothing else",
            vec![after("lead", any(&[WHY, &feed()]))],
        ),
        bad(
            "a set that nobody said why of",
            VALVE,
            REASONS,
            vec![after("lead", any(&[&feed(), &earth]))],
        ),
        bad(
            "a reading in any order only where another one failed",
            CABLE,
            "depends on no other step",
            vec![found(&[&any(&[&feed(), "If(Failed(\"found-feed\"), [", &far, "]),"])])],
        ),
        bad(
            "absence in any order with the presence that it rests on",
            CABLE,
            PRESENCE,
            vec![found(&[&any(&[
                &feed(),
                &read("found-none", "Near", ["switched live", "neutral"], "VoltageAbsent"),
            ])])],
        ),
        bad(
            "a set after which nothing is isolated",
            CABLE,
            "rule `locked-before-proving`",
            vec![found(&[&any(&[&feed(), &earth])]), remove("switch-off")],
        ),
        bad(
            "the earth by one of a set in place of the indicator",
            CABLE,
            "rule `earth-before-dead`",
            vec![found(&[&any(&[&feed(), &earth])]), remove("earth-near")],
        ),
        bad(
            "a time that counts from one of its own set",
            CABLE,
            "in any order with others",
            vec![found(&[&any(&[
                &feed(),
                &read(
                    "found-later",
                    "Near",
                    ["permanent live", "earth"],
                    "LoadVoltage, after: (\"found-feed\", Stated(time: \"1 s\", source: \"mine\"))",
                ),
            ])])],
        ),
    ]
}
