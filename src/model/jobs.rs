//! The shipped jobs on the model: what each reads and looks like when it is sound, and what its faults change.
//!
//! Rule: figures here are worked out by hand from the job's own, never copied from what the model shows.

use super::installation::Installation;
use super::library;
use crate::job::{self, End, Job};
use crate::located::Text;
use crate::plan::{Act, Look, Point, Probes, Subject, Timing};
use crate::sequence::shipped::{self, SEQUENCES};
use crate::value::reading::{Function, Multiple};

fn job(name: &str) -> Job {
    changed(name, &[])
}

/// A shipped job with pieces of its text replaced.
pub(super) fn changed(name: &str, changes: &[(&str, &str)]) -> Job {
    let Text { name, text } = shipped::job(name).unwrap();
    let mut text = text.to_string();
    for (from, to) in changes {
        assert!(text.contains(from), "{from}");
        text = text.replace(from, to);
    }
    job::read(&Text::new(name, text)).unwrap()
}

fn installation(name: &str) -> Installation {
    Installation::of(&job(name)).unwrap()
}

pub(super) fn terminal(terminal: &str, end: End) -> Point {
    Point::Terminal {
        terminal: terminal.into(),
        end,
    }
}

fn core(core: &str) -> Point {
    Point::Core {
        core: core.into(),
        end: End::Near,
    }
}

pub(super) fn volts(installation: &Installation, function: Function, first: Point, second: Point) -> f64 {
    installation.shows(&Probes { first, second }, function, 10e6)
}

fn mains(installation: &Installation, first: &str, second: &str, end: End) -> f64 {
    volts(
        installation,
        Function::VoltageAc,
        terminal(first, end),
        terminal(second, end),
    )
}

pub(super) fn sees(installation: &Installation, subject: Subject) -> Vec<String> {
    let look = Look {
        subject,
        words: Vec::new(),
        expected: vec!["as expected".into()],
        timing: Timing::Any,
    };
    installation.sees(&look)
}

fn with(name: &str, fault: &str) -> Installation {
    let mut installation = installation(name);
    for fault in library::find(&job(name), fault).unwrap() {
        installation.put(&fault).unwrap();
    }
    installation
}

pub(super) fn call(installation: &mut Installation, control: &str, seconds: f64) {
    installation.apply(&Act::Call(control.into()));
    installation.advance(seconds);
}

const PAIR: &str = "changing-rooms-pair";
const LOFT: &str = "loft-underfloor";
const GALLEY: &str = "galley-programmer";

#[test]
fn a_direct_voltage_pair_is_seen_by_direct_ranges_alone() {
    let mut pair = installation(PAIR);
    let read =
        |pair: &Installation, function| volts(pair, function, terminal("B", End::Near), terminal("A", End::Near));
    // no current flows through the relay but the meter's own
    assert!((read(&pair, Function::VoltageDc) - 24.0).abs() < 0.01);
    assert!(read(&pair, Function::VoltageAc) < 0.01);
    let probes = Probes {
        first: terminal("B", End::Near),
        second: terminal("A", End::Near),
    };
    assert!(!pair.indicator_lit(&probes), "24 V lights no indicator of 50 V");
    assert_eq!(sees(&pair, Subject::Load("called pump".into())), ["still"]);
    call(&mut pair, "thermostat", 1.0);
    assert!(read(&pair, Function::VoltageDc) < 0.1, "the contact joins the pair");
    assert_eq!(sees(&pair, Subject::Load("call relay".into())), ["runs"]);
    assert_eq!(sees(&pair, Subject::Load("called pump".into())), ["runs"]);
    assert_eq!(sees(&pair, Subject::Plate(End::Near)), ["extra-low voltage"]);
    assert_eq!(sees(&pair, Subject::Plate(End::Far)), ["volt-free"]);
    pair.apply(&Act::SwitchOff);
    pair.advance(1.0);
    pair.apply(&Act::Satisfy("thermostat".into()));
    assert_eq!(read(&pair, Function::VoltageDc), 0.0);
    assert_eq!(sees(&pair, Subject::Load("called pump".into())), ["still"]);
}

#[test]
fn a_pair_without_earth_is_tested_core_to_core() {
    let mut pair = installation(PAIR);
    let job = job(PAIR);
    assert_eq!(
        (job.return_core().name.as_str(), job.test_cores().count()),
        ("white", 1)
    );
    for act in [
        Act::SwitchOff,
        Act::Disconnect(End::Near),
        Act::Disconnect(End::Far),
        Act::LinkToEarth("red".into()),
    ] {
        pair.apply(&act);
    }
    let ohms = volts(&pair, Function::Continuity, core("white"), core("red"));
    // IEC 60228, class 5, 0.75 mm2: 26.0 mohm/m, 24 m and back at 18 degC, 3 % below the table
    assert!(
        (ohms / (2.0 * 24.0 * 26.0e-3 * 0.992 * 0.97) - 1.0).abs() < 0.01,
        "{ohms}"
    );
    assert_eq!(sees(&pair, Subject::Identity { core: "red".into() }), ["red"]);
}

#[test]
fn mains_on_an_extra_low_pair_shows() {
    let pair = with(PAIR, "pair-mains");
    let probes = Probes {
        first: terminal("B", End::Near),
        second: terminal("A", End::Near),
    };
    assert!(pair.indicator_lit(&probes));
    assert!(
        volts(
            &pair,
            Function::VoltageDc,
            terminal("B", End::Near),
            terminal("A", End::Near)
        ) < 0.01
    );
    let plate = with(PAIR, "plate-mains:near");
    assert_eq!(sees(&plate, Subject::Plate(End::Near)), ["mains"]);
    assert_eq!(sees(&plate, Subject::Plate(End::Far)), ["volt-free"]);
    let error = library::find(&job(PAIR), "plate-volt-free:far").unwrap_err();
    assert_eq!(
        error.to_string(),
        "the fault `plate-volt-free:far` does not fit the job: the plate says volt-free as it is"
    );
}

#[test]
fn a_zone_moves_its_own_actuators_in_their_time() {
    let mut loft = installation(LOFT);
    call(&mut loft, "workshop thermostat", 179.0);
    assert!(sees(&loft, Subject::Moved).is_empty(), "wax takes 180 s and 200 s");
    assert_eq!(sees(&loft, Subject::Load("actuator 1".into())), ["runs"]);
    loft.advance(2.0);
    assert_eq!(sees(&loft, Subject::Moved), ["actuator 1", "flow 1"]);
    loft.advance(19.0);
    assert_eq!(
        sees(&loft, Subject::Moved),
        ["actuator 1", "actuator 2", "flow 1", "flow 2"]
    );
    assert_eq!(sees(&loft, Subject::Pin("actuator 2".into())), ["up"]);
    assert_eq!(sees(&loft, Subject::Warmth("actuator 2".into())), ["warm"]);
    assert_eq!(sees(&loft, Subject::Pin("actuator 3".into())), ["down"]);
    assert!(216.0 < mains(&loft, "N", "Z1", End::Far) && mains(&loft, "N", "Z2", End::Far) < 10.0);
    loft.apply(&Act::EveryCallOff);
    loft.advance(239.0);
    assert_eq!(sees(&loft, Subject::Moved).len(), 4);
    loft.advance(1.0);
    assert!(sees(&loft, Subject::Moved).is_empty());
    call(&mut loft, "gallery thermostat", 200.0);
    assert_eq!(sees(&loft, Subject::Moved), ["actuator 4", "flow 4"]);
}

#[test]
fn faults_of_zones_show_in_the_zone_map() {
    let moved = |fault: &str, control: &str| {
        let mut loft = with(LOFT, fault);
        call(&mut loft, control, 400.0);
        sees(&loft, Subject::Moved)
    };
    let workshop = "workshop thermostat";
    let rope = "rope store thermostat";
    assert_eq!(
        moved("actuators-crossed:actuator 3/actuator 4", rope),
        ["actuator 4", "flow 4"]
    );
    assert_eq!(
        moved("thermostats-crossed:rope store thermostat/workshop thermostat", rope),
        ["actuator 1", "actuator 2", "flow 1", "flow 2"]
    );
    assert_eq!(
        moved("valve-held-open:actuator 4", rope),
        ["actuator 3", "flow 3", "actuator 4", "flow 4"]
    );
    assert_eq!(moved("valve-stuck:actuator 1", workshop), ["actuator 2", "flow 2"]);
    assert_eq!(moved("lead-not-gripped:actuator 2", workshop), ["actuator 1", "flow 1"]);
    assert!(moved("conductor-not-gripped:2@far", rope).is_empty());
    assert!(moved("thermostat-contact-open:rope store thermostat", rope).is_empty());
    assert_eq!(
        moved("thermostat-contact-closed:gallery thermostat", rope),
        ["actuator 3", "flow 3", "actuator 4", "flow 4"]
    );
    assert_eq!(moved("cores-swapped:1/3", "gallery thermostat").len(), 4);
}

#[test]
fn two_controllers_in_series_both_have_to_call() {
    let mut galley = installation(GALLEY);
    let boiler = |galley: &Installation| sees(galley, Subject::Load("boiler input".into()));
    call(&mut galley, "thermostat", 1.0);
    assert_eq!(boiler(&galley), ["still"]);
    assert!(
        mains(&galley, "N", "L", End::Far) < 110.0,
        "at most a ghost before the programmer calls"
    );
    call(&mut galley, "programmer", 1.0);
    assert_eq!(boiler(&galley), ["runs"]);
    assert!(216.0 < mains(&galley, "N", "SL", End::Far));
    galley.apply(&Act::Satisfy("thermostat".into()));
    galley.advance(5.0);
    assert_eq!(boiler(&galley), ["still"]);
    assert!(216.0 < mains(&galley, "N", "L", End::Far));
}

#[test]
fn a_feeder_that_is_off_is_not_a_missing_line() {
    let fed = |fault: &str| {
        let mut galley = with(GALLEY, fault);
        call(&mut galley, "programmer", 1.0);
        let lit = |terminal_name: &str| {
            galley.indicator_lit(&Probes {
                first: terminal("2", End::Near),
                second: terminal(terminal_name, End::Near),
            })
        };
        [lit("1"), lit("5")]
    };
    assert_eq!(fed("feeder-off"), [true, false]);
    assert_eq!(fed("line-missing"), [false, false]);
    assert_eq!(fed("thermostat-contact-open"), [true, true]);
    let found = library::find(&job(GALLEY), "feeder-off").unwrap();
    assert!(
        found[0].words.starts_with("programmer, which feeds"),
        "{}",
        found[0].words
    );
}

#[test]
fn a_job_is_offered_only_what_it_can_have() {
    let kinds = |name: &str| -> Vec<String> {
        let mut kinds: Vec<String> = library::faults(&job(name))
            .unwrap()
            .into_iter()
            .map(|fault| fault.kind)
            .collect();
        kinds.dedup();
        kinds
    };
    let has = |name: &str, kind: &str| kinds(name).iter().any(|there| there == kind);
    let check = |kind: &str, expected: [bool; 3]| {
        assert_eq!([PAIR, LOFT, GALLEY].map(|name| has(name, kind)), expected, "{kind}");
    };
    check("earth-missing", [true, true, true]);
    check("neutral-missing", [true, true, true]);
    check("line-missing", [true, true, true]);
    check("supply-extra-low", [true, true, true]);
    check("supply-mains", [false, false, false]);
    check("pair-mains", [true, false, false]);
    check("plate-mains", [true, false, false]);
    check("actuators-crossed", [false, true, false]);
    check("thermostats-crossed", [false, true, false]);
    check("zones-crossed", [true, false, false]);
    check("valve-held-open", [true, true, false]);
    check("feeder-off", [true, true, true]);
    check("loop-high", [true, true, true]);
}

#[test]
fn every_fault_of_every_job_goes_in_by_its_name() {
    for name in SEQUENCES.iter().map(|sequence| sequence.job) {
        let job = job(name);
        for fault in library::faults(&job).unwrap() {
            let found = library::find(&job, &fault.name).unwrap();
            assert_eq!(found, std::slice::from_ref(&fault), "{name}");
            let said = [&fault.words, &fault.look, &fault.part];
            assert!(said.iter().all(|text| !text.contains(['{', '}'])), "{name}: {said:?}");
        }
    }
}

#[test]
fn a_residual_device_fails_in_three_ways() {
    let rated = r#"residual: "30 mA", ze: "0.41 ohm""#;
    let job = super::sample::job_with(r#"ze: "0.41 ohm""#, rated);
    let trips = |fault: &str, multiple| {
        let mut installation = Installation::of(&job).unwrap();
        installation.put(&library::find(&job, fault).unwrap()[0]).unwrap();
        let probes = Probes {
            first: terminal("E", End::Far),
            second: terminal("L", End::Far),
        };
        installation.shows(&probes, Function::ResidualTrip(multiple), 10e6)
    };
    assert!(trips("residual-device-dead", Multiple::FiveTimes).is_infinite());
    // IEC 61008-1: 300 ms at the rated current
    assert!(0.3 < trips("residual-device-slow", Multiple::Once));
    assert!(trips("residual-device-hasty", Multiple::Half).is_finite());
    let error = library::find(&super::sample::job(), "residual-device-dead").unwrap_err();
    assert_eq!(
        error.to_string(),
        "the fault `residual-device-dead` does not fit the job: it has no residual-current device"
    );
}

#[test]
fn a_joint_in_the_earth_raises_the_loop() {
    let read = |fault: Option<&str>| {
        let installation = fault.map_or_else(|| installation(GALLEY), |fault| with(GALLEY, fault));
        let probes = Probes {
            first: terminal("E", End::Near),
            second: terminal("1", End::Near),
        };
        installation.shows(&probes, Function::Loop, 10e6)
    };
    assert!((read(Some("loop-high")) - read(None) - 5.0).abs() < 0.01);
}

#[test]
fn a_thing_is_as_expected_until_a_fault_names_it() {
    let thing = || Subject::Thing("sheath".into());
    let mut galley = installation(GALLEY);
    assert_eq!(sees(&galley, thing()), ["as expected"]);
    galley.things.insert("sheath".into(), "crushed".into());
    assert_eq!(sees(&galley, thing()), ["crushed"]);
}

#[test]
fn tug_lever_and_polarity_follow_the_clamps_and_the_valve() {
    let tug = |end| Subject::Tug {
        core: "grey".into(),
        end,
    };
    let galley = with(GALLEY, "conductor-not-gripped:grey@far");
    assert_eq!(
        [tug(End::Near), tug(End::Far)].map(|tug| sees(&galley, tug)),
        [["holds"], ["moves"]]
    );
    let crossed = with(GALLEY, "terminals-swapped:brown/black@far");
    let polarity = |core: &str| Subject::Polarity {
        core: core.into(),
        end: End::Far,
    };
    assert_eq!(sees(&crossed, polarity("brown")), ["switched live"]);
    assert_eq!(sees(&crossed, polarity("grey")), ["neutral"]);
    let mut saltmarsh = installation("saltmarsh");
    let lever = || Subject::Lever("zone valve".into());
    assert_eq!(sees(&saltmarsh, lever()), ["firm"]);
    call(&mut saltmarsh, "thermostat", 15.0);
    assert_eq!(sees(&saltmarsh, lever()), ["slack"]);
    assert_eq!(sees(&saltmarsh, Subject::Moved), ["zone valve"]);
}

#[test]
fn a_link_on_swapped_cores_shows_at_the_other_one() {
    let mut galley = with(GALLEY, "cores-swapped:grey/black");
    for act in [
        Act::SwitchOff,
        Act::Disconnect(End::Near),
        Act::Disconnect(End::Far),
        Act::LinkToEarth("grey".into()),
    ] {
        galley.apply(&act);
    }
    assert_eq!(sees(&galley, Subject::Identity { core: "grey".into() }), ["black"]);
}
