//! Shapes of equipment that no shipped job has yet, on the model: what they come to in every state.
//!
//! Rule: a new shape is new data in a job; none of these needs code of its own.

use super::installation::Installation;
use super::jobs::{call, changed, sees, terminal, volts};
use crate::job::End;
use crate::plan::{Act, Subject};
use crate::value::reading::Function;

/// The equipment of the demonstration job from its first line to its last, to be replaced.
fn equipment() -> String {
    let text = super::sample::JOB;
    let from = text.find("    equipment: [").unwrap();
    let to = text.find("    instruments: [").unwrap();
    text[from..to].to_owned()
}

/// The demonstration job with other equipment, and a near terminal more.
fn fitted(equipment_text: &str, terminal: &str) -> Installation {
    let four = r#"            (name: "4", takes: EndSwitch),"#;
    let job = changed(
        "saltmarsh",
        &[
            (&equipment(), &format!("    equipment: [{equipment_text}],\n")),
            (four, &format!("{four}\n{terminal}")),
        ],
    );
    Installation::of(&job).unwrap()
}

const THERMOSTAT: &str =
    r#"(name: "thermostat", is: Contact(between: (Far("L"), Far("SL")), moved_by: Control("thermostat"))),"#;

#[test]
fn a_mid_position_valve_is_two_motors_and_three_contacts() {
    let valve = [
        THERMOSTAT,
        r#"(name: "cylinder call", is: Contact(between: (Near("1"), Near("4")), moved_by: Control("cylinder"))),"#,
        r#"(name: "cylinder satisfied", is: Contact(between: (Near("1"), Near("6")), moved_by: Control("cylinder"), opens: true)),"#,
        r#"(name: "to the middle", is: Motor(between: (Near("3"), Near("2")), power: "6 W", opens: "8 s", closes: "8 s")),"#,
        r#"(name: "middle switch", is: Contact(between: (Near("6"), Inside("second half")), moved_by: Motor("to the middle"))),"#,
        r#"(name: "off hot water", is: Motor(between: (Inside("second half"), Near("2")), power: "6 W", opens: "8 s", closes: "8 s", rests_open: true)),"#,
        r#"(name: "boiler switch", is: Contact(between: (Near("3"), Near("4")), moved_by: Motor("off hot water"))),"#,
        r#"(name: "boiler", is: Load(between: (Near("4"), Near("2")), ohms: "33 kohm")),"#,
    ];
    let grey = r#"            (name: "6", takes: HotWaterSatisfied),"#;
    let mut there = fitted(&valve.concat(), grey);
    // heating, hot water, boiler
    let state = |there: &Installation| {
        let of = |subject| sees(there, subject).concat();
        [
            of(Subject::Warmth("to the middle".into())),
            of(Subject::Warmth("off hot water".into())),
            of(Subject::Load("boiler".into())),
        ]
    };
    there.advance(20.0);
    assert_eq!(state(&there), ["cold", "warm", "still"]);
    call(&mut there, "cylinder", 1.0);
    assert_eq!(state(&there), ["cold", "warm", "runs"]);
    call(&mut there, "thermostat", 20.0);
    assert_eq!(state(&there), ["warm", "warm", "runs"]);
    there.apply(&Act::Satisfy("cylinder".into()));
    there.advance(7.0);
    assert_eq!(state(&there), ["warm", "warm", "still"]);
    there.advance(1.0);
    assert_eq!(state(&there), ["warm", "cold", "runs"], "the far end calls the boiler");
    there.apply(&Act::EveryCallOff);
    there.advance(8.0);
    assert_eq!(state(&there)[2], "still");
}

#[test]
fn a_safety_thermostat_ends_a_call_by_itself() {
    let cylinder = [
        THERMOSTAT,
        r#"(name: "cylinder thermostat", is: Contact(between: (Near("1"), Inside("between the two")), moved_by: Control("cylinder"))),"#,
        r#"(name: "safety thermostat", is: Contact(between: (Inside("between the two"), Near("3")), moved_by: Control("overheat"), opens: true)),"#,
        r#"(name: "cylinder valve", is: Motor(between: (Near("3"), Near("2")), power: "6 W", opens: "10 s", closes: "5 s")),"#,
    ];
    let mut there = fitted(&cylinder.concat(), "");
    let lever = |there: &Installation| sees(there, Subject::Lever("cylinder valve".into())).concat();
    call(&mut there, "cylinder", 10.0);
    assert_eq!(lever(&there), "slack");
    call(&mut there, "overheat", 5.0);
    assert_eq!(lever(&there), "firm", "the safety thermostat has tripped");
}

#[test]
fn a_relay_that_breaks_its_own_coil_does_not_hold_up_the_walk() {
    let buzzer = [
        THERMOSTAT,
        r#"(name: "own contact", is: Contact(between: (Near("3"), Inside("coil")), moved_by: Motor("relay"), opens: true)),"#,
        r#"(name: "relay", is: Motor(between: (Inside("coil"), Near("2")), power: "1 W", opens: "0.01 s", closes: "0.01 s")),"#,
    ];
    let mut there = fitted(&buzzer.concat(), "");
    call(&mut there, "thermostat", 600.0);
    there.apply(&Act::EveryCallOff);
    there.advance(1.0);
    assert_eq!(sees(&there, Subject::Load("relay".into())), ["still"]);
}

#[test]
fn a_boiler_sees_a_volt_free_contact_close() {
    let boiler = [
        THERMOSTAT,
        r#"(name: "boiler board", is: Supply(between: (Near("4"), Inside("board")), volts: "24 V", direct: true, ohms: "100 ohm")),"#,
        r#"(name: "boiler input", is: Load(between: (Inside("board"), Near("5")), ohms: "2 kohm", volts: "24 V")),"#,
        r#"(name: "call relay", is: Motor(between: (Near("3"), Near("2")), power: "1 W", opens: "0.1 s", closes: "0.1 s")),"#,
        r#"(name: "call contact", is: Contact(between: (Near("4"), Near("5")), moved_by: Motor("call relay"))),"#,
    ];
    let mut there = fitted(&boiler.concat(), r#"            (name: "5", takes: EndSwitch),"#);
    let across =
        |there: &Installation, function| volts(there, function, terminal("5", End::Near), terminal("4", End::Near));
    assert!((across(&there, Function::VoltageDc) - 24.0).abs() < 0.1);
    assert!(across(&there, Function::VoltageAc) < 1.0);
    assert_eq!(sees(&there, Subject::Load("boiler input".into())), ["still"]);
    call(&mut there, "thermostat", 1.0);
    assert!(across(&there, Function::VoltageDc) < 0.1);
    assert_eq!(sees(&there, Subject::Load("boiler input".into())), ["runs"]);
    there.apply(&Act::SwitchOff);
    assert_eq!(
        across(&there, Function::VoltageDc),
        0.0,
        "it is behind the same point of isolation"
    );
}

#[test]
fn a_conductor_taken_off_a_contact_goes_back_as_it_was() {
    let mut there = fitted(THERMOSTAT, "");
    let sound = there.network().clone();
    there.apply(&Act::TakeLeadOff("thermostat".into()));
    there.apply(&Act::TakeLeadOff("thermostat".into()));
    there.apply(&Act::Call("thermostat".into()));
    let fed = |there: &Installation| {
        volts(
            there,
            Function::VoltageAc,
            terminal("N", End::Far),
            terminal("SL", End::Far),
        )
    };
    assert!(fed(&there) < 230.0 * 0.95, "{}", fed(&there));
    there.apply(&Act::PutLeadOn("thermostat".into()));
    assert!(229.0 < fed(&there));
    there.apply(&Act::EveryCallOff);
    there.apply(&Act::PutLeadOn("thermostat".into()));
    assert_eq!(*there.network(), sound);
}
