//! Answers that stand for several steps.

use super::*;
use crate::run::event::Answer;

const TUGS: [&str; 4] = [
    "tug-near/brown",
    "tug-near/grey",
    "tug-near/black",
    "tug-near/green-yellow",
];

fn at_the_tugs() -> Walk {
    let mut walk = Walk::new();
    walk.to(TUGS[0]);
    walk
}

fn passed(walk: &Walk) -> Vec<bool> {
    TUGS.iter().map(|tug| walk.status(tug) == Status::Passed).collect()
}

#[test]
fn one_answer_stands_for_each_step_that_the_prompt_lists() {
    let mut walk = at_the_tugs();
    let prompt = walk.prompt.clone().unwrap();
    let listed: Vec<_> = prompt.together.iter().map(|one| one.step.as_str()).collect();
    assert_eq!(listed, TUGS);
    assert!(prompt.together[1].say.contains("terminal 2") && prompt.together[1].say.contains("core grey"));
    assert_eq!(prompt.stand.as_deref(), Some("at the wiring centre, the near end"));
    walk.say("holds");
    assert_eq!((passed(&walk), walk.at()), (vec![true; 4], "connect-far/brown"));
    let told = walk.engine.run().told.last().unwrap().2.clone();
    assert_eq!(
        told,
        "`holds` was answered once, for `tug-near/brown`, `tug-near/grey`, `tug-near/black`, `tug-near/green-yellow`"
    );
    // each has its own answer and its own verdict in the record
    let answered = walk.events.iter().filter_map(|(_, event)| match event {
        Event::Answered { step, .. } if step.starts_with("tug-near") => Some(step.as_str()),
        _ => None,
    });
    assert_eq!(answered.collect::<Vec<_>>(), TUGS);
}

#[test]
fn what_does_not_hold_for_all_is_asked_one_by_one() {
    for (said, recorded) in [
        ("moves", Answer::Saw(vec!["moves".into()])),
        ("no", Answer::NotDone("not the same for each".into())),
        ("found a burnt clamp", Answer::Found("a burnt clamp".into())),
    ] {
        let mut walk = at_the_tugs();
        walk.say(said);
        let last = walk.events.last().unwrap().1.clone();
        let steps = TUGS.map(str::to_owned).to_vec();
        assert_eq!(
            last,
            Event::AnsweredTogether {
                steps,
                answer: recorded
            },
            "{said}"
        );
        let prompt = walk.prompt.clone().unwrap();
        assert_eq!((walk.at(), prompt.together.len()), (TUGS[0], 0), "{said}");
        walk.say("holds");
        walk.say("moves");
        assert_eq!(passed(&walk), [true, false, false, false], "{said}");
        assert_eq!(walk.verdict(TUGS[1]).0, Outcome::Fail, "{said}");
    }
}

#[test]
fn what_is_no_answer_leaves_no_trace() {
    let mut walk = at_the_tugs();
    let events = walk.events.len();
    walk.say("perhaps");
    assert_eq!(walk.events.len(), events);
    assert_eq!(
        walk.notices.last().unwrap(),
        "`perhaps` is none of `holds`, `moves`, `no`"
    );
}

#[test]
fn an_answer_taken_back_is_taken_back_for_all() {
    let mut walk = at_the_tugs();
    walk.say("holds");
    walk.say("back");
    assert_eq!((passed(&walk), walk.at()), (vec![false; 4], TUGS[0]));
    assert_eq!(walk.prompt.clone().unwrap().together.len(), 4);
}

#[test]
fn a_torn_journal_goes_on_in_the_midst_of_what_was_answered_together() {
    let mut walk = at_the_tugs();
    walk.say("holds");
    // the power went after the second of the four
    let until = walk
        .events
        .iter()
        .position(|(_, event)| matches!(event, Event::Judged { step, .. } if step == TUGS[1]));
    let mut run = Run::open(opened(), "2026-11-25T08:00:00Z".parse().unwrap()).unwrap();
    for (at, event) in &walk.events[..=until.unwrap()] {
        run.apply(*at, event).unwrap();
    }
    let mut after = Walk::around(Engine::new(run, None, Some(0)), walk.now);
    after.drain();
    after.say("none");
    let open = after.engine.run().plan.index(TUGS[2]).unwrap();
    assert_eq!(
        after.engine.run().said_together(open),
        None,
        "nobody has answered for it in this sitting"
    );
    assert_eq!(
        (after.status(TUGS[2]), after.status(TUGS[3])),
        (Status::Pending, Status::Pending)
    );
    after.to("connect-far/brown");
    assert_eq!(passed(&after), [true; 4]);
}

#[test]
fn an_answer_for_steps_that_are_not_answered_together_is_refused() {
    let walk = at_the_tugs();
    for steps in [
        &TUGS[..3],
        &TUGS[1..],
        &["connect-near/brown", "connect-near/grey"],
        &[],
    ] {
        let mut run = walk.engine.run().clone();
        let event = Event::AnsweredTogether {
            steps: steps.iter().map(|step| (*step).to_owned()).collect(),
            answer: Answer::Saw(vec!["holds".into()]),
        };
        let refused = run.apply(walk.now, &event).unwrap_err();
        assert_eq!(
            refused.what,
            "one answer was given for steps that are not answered together"
        );
    }
}

#[test]
fn no_other_answer_comes_in_the_midst_of_what_was_answered_together() {
    let mut walk = at_the_tugs();
    walk.say("holds");
    let mut run = Run::open(opened(), "2026-11-25T08:00:00Z".parse().unwrap()).unwrap();
    let near = walk
        .events
        .iter()
        .rposition(|(_, event)| matches!(event, Event::AnsweredTogether { .. }));
    for (at, event) in &walk.events[..=near.unwrap()] {
        run.apply(*at, event).unwrap();
    }
    let step = TUGS[0].to_owned();
    let answer = Answer::Saw(vec!["moves".into()]);
    let refused = run.apply(walk.now, &Event::Answered { step, answer }).unwrap_err();
    assert_eq!(
        refused.what,
        "`tug-near/brown` was answered otherwise than by the one answer for several steps"
    );
}

#[test]
fn the_hands_of_all_are_asked_of_the_time_of_one_answer() {
    let mut walk = at_the_tugs();
    walk.say("holds");
    let by_hand = walk.engine.run().by_hand().last().unwrap().clone();
    assert_eq!(by_hand.1.len(), 4, "one entry, for four tugs");
}
