//! A three-port mid-position valve on the model and in its sequence: which way it goes is told by white and grey, and where two
//! published descriptions differ both pass.
//!
//! Rule: the states are those of published tables of the valve, written down here by hand.

use super::walk::walk;
use crate::job::{self, Job};
use crate::judge::window::Outcome;
use crate::located::Text;
use crate::model::installation::Installation;
use crate::model::look::typed;
use crate::plan::{Act, Look, Subject, Timing};
use crate::sequence::{self, shipped};

fn job_with(from: &str, to: &str) -> Job {
    let Text { name, text } = shipped::job("clubhouse-mid-position").unwrap();
    assert!(text.contains(from), "{from}");
    job::read(&Text::new(name, text.replace(from, to))).unwrap()
}

/// Lever at heating alone, lever off its rest, boiler.
fn state(there: &Installation) -> [String; 3] {
    let sees = |subject| {
        let look = Look {
            subject,
            words: Vec::new(),
            expected: Vec::new(),
            timing: Timing::Any,
        };
        there.sees(&look).concat()
    };
    [
        sees(Subject::Lever("valve to heating alone".into())),
        sees(Subject::Lever("mid-position valve".into())),
        sees(Subject::Load("boiler input".into())),
    ]
}

#[test]
fn the_valve_goes_where_its_leads_take_it() {
    let mut there = Installation::of(&job_with("5 m", "5 m")).unwrap();
    let (water, room) = ("cylinder thermostat", "room thermostat");
    let mut after = |act: Act| {
        there.apply(&act);
        there.advance(60.0);
        state(&there)
    };
    assert_eq!(
        after(Act::EveryCallOff),
        ["firm", "firm", "still"],
        "from hot water it stays"
    );
    assert_eq!(after(Act::Call(water.into())), ["firm", "firm", "runs"]);
    assert_eq!(after(Act::Call(room.into())), ["firm", "slack", "runs"], "the middle");
    assert_eq!(
        after(Act::Satisfy(water.into())),
        ["slack", "slack", "runs"],
        "on to heating"
    );
    let resting = after(Act::Satisfy(room.into()));
    assert_eq!(
        [&resting[0], &resting[2]],
        ["slack", "still"],
        "it stays at heating, the boiler is let go"
    );
    assert_eq!(
        after(Act::Call(water.into())),
        ["firm", "firm", "runs"],
        "white and grey dead: the spring"
    );
}

/// Steps that do not pass on a job.
fn not_passed(job: &Job, sequence: &[Text]) -> Vec<String> {
    let plan = sequence::bind(&sequence::read(sequence).unwrap(), job).unwrap();
    let walked = walk(&plan, Installation::of(job).unwrap());
    let verdicts = plan.steps.iter().zip(&walked.verdicts);
    let failed = verdicts.filter(|(_, verdict)| verdict.outcome != Outcome::Pass);
    failed.map(|(step, _)| step.id.clone()).collect()
}

#[test]
fn held_or_wound_on_both_pass() {
    let shipped = shipped::texts("mid-position-valve").unwrap();
    let holds = r#"        (name: "valve at heating", is: Contact(between: (Far("grey"), Inside("valve head")), moved_by: Motor("valve to heating alone"))),
"#;
    let slow = r#"(Far("white"), Far("blue")), power: "6 W", opens: "12 s", closes: "8 s""#;
    for (from, to) in [
        ("5 m", "5 m"),
        // held where it stood for as long as anybody looks, and a valve that comes back at once
        (slow, &slow.replace("8 s", "1000 s")),
        (holds, ""),
    ] {
        assert_eq!(not_passed(&job_with(from, to), &shipped), Vec::<String>::new(), "{to}");
    }
}

/// What is said of the shipped sequence with a step after another.
fn refused(after: &str, step: &str) -> String {
    let mut texts = shipped::texts("mid-position-valve").unwrap();
    let whole = texts[0].text.to_string();
    let at = whole.find(&format!("id: \"{after}\"")).unwrap();
    let at = at + whole[at..].find("\"),\n").unwrap() + 4;
    texts[0].text = format!("{}        {step}\n{}", &whole[..at], &whole[at..]).into();
    let sequence = sequence::read(&texts).unwrap();
    let findings = sequence::bind(&sequence, &job_with("5 m", "5 m")).unwrap_err();
    format!("{findings:?}")
}

#[test]
fn what_a_sound_valve_does_not_do_is_not_asked() {
    let dead_orange = r#"Voltage(id: "orange-dead", end: Near, between: ("end switch", "neutral"), window: VoltageAbsent, say: "{first}, {second}."),"#;
    let found = refused("water-heating", dead_orange);
    assert!(found.contains("sound wiring shows 230.0 V, which fails"), "{found}");
    let back = r#"Lever(id: "back-at-rest", motor: "valve to heating alone", expect: "firm", after: ("satisfy", ValveCloses), say: "Firm?"),"#;
    let found = refused("end-boiler", back);
    assert!(found.contains("sound wiring shows slack, which fails"), "{found}");
}

#[test]
fn a_lever_says_nothing_of_the_end_switch() {
    // two heads of which one switch makes by hand and one does not feel alike
    let job = job_with("5 m", "5 m");
    let lever = Look {
        subject: Subject::Lever("mid-position valve".into()),
        words: vec!["slack".into(), "firm".into()],
        expected: vec!["slack".into()],
        timing: Timing::Any,
    };
    let feels = |fault: Option<&str>| {
        let mut there = Installation::of(&job).unwrap();
        for fault in fault
            .iter()
            .flat_map(|name| crate::model::library::find(&job, name).unwrap())
        {
            there.put(&fault).unwrap();
        }
        there.apply(&Act::Call("room thermostat".into()));
        there.advance(60.0);
        typed(&lever, &there.sees(&lever))
    };
    let faults = ["end-switch-open:valve switch", "end-switch-closed:valve switch"].map(Some);
    assert_eq!([feels(None), feels(faults[0]), feels(faults[1])], ["slack"; 3]);
    assert_eq!(feels(Some("valve-stuck:mid-position valve")), "firm");
}
