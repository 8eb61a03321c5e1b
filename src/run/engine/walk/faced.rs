//! By which face answers come, along a walk.

use jiff::SignedDuration;

use super::Walk;
use crate::run::dialogue::{Dialogue, Said, To};
use crate::run::event::{Event, Face};

impl Walk {
    fn say_by(&mut self, face: Face, line: &str) {
        self.wait(1);
        self.engine.handle_answer(Said::line(To::Now, line).by(face), self.now);
        self.drain();
    }
}

/// The events as they came, in a word each.
fn named(walk: &Walk) -> Vec<String> {
    let name = |event: &Event| match event {
        Event::TurnedTo { face } => format!("{face:?}"),
        Event::Answered { step, .. } => step.clone(),
        Event::TakenBack { .. } => "back".into(),
        Event::LiveSeen { .. } => "live".into(),
        _ => String::new(),
    };
    walk.events
        .iter()
        .map(|(_, event)| name(event))
        .filter(|name| !name.is_empty())
        .collect()
}

#[test]
fn the_face_is_told_before_the_first_answer_by_it_and_only_where_it_changes() {
    let mut walk = Walk::new();
    walk.to("dead-near/earth-line");
    let before = named(&walk).len();
    let run = walk.engine.run();
    let first = run.plan.index("dead-near/earth-line").unwrap();
    let step: Vec<String> = run.plan.steps[first..]
        .iter()
        .take(4)
        .map(|step| step.id.clone())
        .collect();
    for face in [Face::Terminal, Face::Page, Face::Page, Face::Terminal] {
        walk.say_by(face, "dark");
    }
    let expected = [&step[0], "Page", &step[1], &step[2], "Terminal", &step[3]];
    assert_eq!(named(&walk)[before..], expected);
    // it is folded again from the record
    let mut again = crate::run::fold::Run::open(super::opened(), walk.events[0].0).unwrap();
    walk.events
        .iter()
        .for_each(|(at, event)| again.apply(*at, event).unwrap());
    assert_eq!(again.face(), Face::Terminal);
}

#[test]
fn turning_takes_nothing_from_what_can_be_taken_back() {
    let taken_back = |face| {
        let mut walk = Walk::new();
        walk.to("dead-near/earth-line");
        walk.say_by(Face::Terminal, "dark");
        walk.say_by(face, "back");
        walk.events
            .retain(|(_, event)| !matches!(event, Event::TurnedTo { .. }));
        (walk.at().to_owned(), walk.events)
    };
    let (at, events) = taken_back(Face::Page);
    assert!(events.iter().any(|(_, event)| matches!(event, Event::TakenBack { .. })));
    assert_eq!((at, events), taken_back(Face::Terminal));
}

#[test]
fn turning_ends_no_absence() {
    // who comes back after a day and answers by another face is asked for a proof first
    let mut walk = Walk::new();
    walk.to("continuity/brown");
    walk.wait(24 * 3600);
    walk.say_by(Face::Page, "0.63");
    assert!(
        walk.prompt.as_ref().unwrap().say.contains("after a break"),
        "{:?}",
        walk.prompt
    );
    assert_eq!(named(&walk).last().unwrap(), "Page");
}

#[test]
fn a_voltage_is_recorded_by_whichever_face_it_comes() {
    let mut walk = Walk::new();
    walk.to("continuity/brown");
    walk.say_by(Face::Page, "live");
    let names = named(&walk);
    assert_eq!(names[names.len() - 2..], ["Page", "live"]);
}

#[test]
fn a_face_that_is_told_where_nothing_can_be_answered_is_refused() {
    let mut walk = Walk::new();
    walk.to("dead-near/earth-line");
    let run = walk.engine.run().clone();
    let check = |run: &mut crate::run::fold::Run, face, why: &str| {
        let refused = run.apply(walk.now, &Event::TurnedTo { face }).unwrap_err();
        assert_eq!(refused.what, why);
    };
    check(&mut run.clone(), Face::Terminal, "answers came by this face already");
    let mut waiting = run.clone();
    let answered = Event::Answered {
        step: "dead-near/earth-line".into(),
        answer: crate::run::event::Answer::Dark,
    };
    waiting.apply(walk.now, &answered).unwrap();
    check(
        &mut waiting,
        Face::Page,
        "the last reading or answer has no verdict yet",
    );
    let mut broken = run.clone();
    crate::run::folded::Folded::break_off(&mut broken, "x");
    check(&mut broken, Face::Page, "it comes after what does not fit");
    let mut closed = Walk::new();
    closed.to("nowhere");
    check(
        &mut closed.engine.run().clone(),
        Face::Page,
        "the run is already closed",
    );
    // one that is dated before what came before it is told as every other
    let mut back = run;
    back.apply(
        walk.now - SignedDuration::from_hours(1),
        &Event::TurnedTo { face: Face::Page },
    )
    .unwrap();
    assert_eq!(back.clock_back.len(), 1);
}
