//! Displays that do not stand still, and times that are waited for.

use super::*;
use crate::value::quantity::Digits;

/// A display that moves, with how far it may still go.
fn drifting(text: &str, function: Function, to_go: &str) -> Heard {
    let Heard::Reading { reading, .. } = shown(text, function) else {
        unreachable!()
    };
    Heard::Reading {
        reading,
        settled: false,
        to_go: Digits::parse(to_go).map(Box::new),
        state: format!("drifting, up to {to_go} to go"),
    }
}

#[test]
fn what_can_end_on_one_side_alone_is_taken_as_it_moves_where_the_engineer_says_so() {
    for (text, to_go, expected) in [
        ("120", "90", Some(Outcome::Pass)),
        ("0.20", "0.30", Some(Outcome::Fail)),
        // the edge of 1 Mohm lies within what it may still go
        ("120", "119.5", None),
        ("0.90", "0.20", None),
    ] {
        let function = Function::Insulation(500);
        let mut walk = metered("insulation/brown", false);
        heard(&mut walk, shown(">299", function));
        heard(&mut walk, drifting(text, function, to_go));
        assert_eq!(walk.status("insulation/brown"), Status::Pending, "`on` was not typed");
        walk.say("on");
        heard(&mut walk, drifting(text, function, to_go));
        let run = walk.engine.run();
        let verdict = run.verdict(run.plan.index("insulation/brown").unwrap());
        let came = (walk.status("insulation/brown") != Status::Pending).then_some(verdict.outcome);
        assert_eq!(came, expected, "{text} {to_go}");
        if expected.is_some() {
            let mark = format!("taken while it moved, up to {to_go} Mohm to go, which ends on the same side");
            assert_eq!(verdict.mark, Some(mark));
        }
    }
}

#[test]
fn a_record_that_takes_what_could_end_on_either_side_is_not_tested() {
    let walk = metered("insulation/brown", false);
    let Heard::Reading { reading, .. } = shown("120", Function::Insulation(500)) else {
        unreachable!()
    };
    let run = walk.engine.run();
    let evidence = crate::run::fold::Evidence::Reading(reading.with_to_go(Digits::parse("119.5").map(Box::new)));
    let verdict = run.judged(run.plan.index("insulation/brown").unwrap(), &evidence, walk.now);
    assert_eq!(
        (verdict.outcome, verdict.because.as_str()),
        (
            Outcome::NotTested,
            "it still moved, up to 119.5 Mohm to go: wait until it can end on one side of the edges alone"
        )
    );
}

#[test]
fn of_a_meter_that_sends_on_change_nothing_counts_by_time_and_on_is_no_answer() {
    let mut walk = metered("lead-null", true);
    assert!(
        walk.prompt
            .as_ref()
            .unwrap()
            .choices
            .iter()
            .all(|choice| choice.word != "on")
    );
    walk.say("on");
    assert_eq!(
        walk.notices.last().unwrap(),
        "this meter sends only when its display changes: type the digits that it shows"
    );
}

/// What is told as due now, over some seconds of frames at a rate and ticks between.
fn told(walk: &mut Walk, seconds: i64, rate: i64, frame: impl Fn() -> Option<Heard>) -> Vec<String> {
    let mut told = Vec::new();
    for _ in 0..seconds * rate {
        walk.now += SignedDuration::from_millis(1_000 / rate);
        if let Some(frame) = frame() {
            walk.engine.handle_heard(frame, walk.now);
        }
        walk.engine.handle_tick(walk.now);
        let now = walk.now;
        walk.engine.drain(
            || now,
            |_, _| {},
            |show| {
                if let Show::Now(text) | Show::Notice(text) = show {
                    told.push(text.clone());
                }
            },
        );
    }
    told
}

#[test]
fn that_the_time_is_up_is_told_once_at_any_rate() {
    for rate in [1, 4, 10, 50] {
        let mut walk = metered("end-switch-on", false);
        let frame = || Some(drifting("0.3", Function::VoltageAc, "9"));
        assert_eq!(
            told(&mut walk, 45, rate, frame),
            ["the time is up: put both probes on the points and type `on` to take what the meter shows"],
            "{rate}"
        );
    }
}

#[test]
fn what_was_answered_before_its_time_was_up_is_asked_for_once_when_it_is() {
    let mut walk = Walk::new();
    walk.to("end-switch-on");
    walk.say("0.2");
    assert!(walk.notices.last().unwrap().starts_with("it may still be on its way"));
    assert_eq!(
        told(&mut walk, 45, 4, || None),
        ["the wait is over: look now, and answer again"]
    );
}
