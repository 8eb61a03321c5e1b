//! Answers faster than hands, and answers that nobody's hands typed.

use super::*;
use crate::run::event::AnsweredBy;

/// Goes on with good answers, so many milliseconds each, but where the step says otherwise.
fn paced(mut walk: Walk, each_ms: impl Fn(&Prompt) -> i64) -> Run {
    while walk.engine.run().ending.is_none() {
        let prompt = walk.prompt.clone().unwrap();
        let waits = prompt.step.ends_with("-off") && prompt.stage == Some(Stage::Live);
        let ms = match prompt.stage {
            _ if waits => 11_000,
            // a valve is waited for, and not for longer
            Some(Stage::Live) => each_ms(&prompt).min(5_000),
            _ => each_ms(&prompt),
        };
        walk.now += SignedDuration::from_millis(ms);
        walk.engine.handle_answer(&Walk::good_answer(&prompt), walk.now);
        walk.drain();
    }
    walk.engine.run().clone()
}

fn is_indicator(prompt: &Prompt) -> bool {
    prompt.ask == Ask::Indicator
}

#[test]
fn dead_indications_in_a_few_seconds_are_a_remark() {
    let run = paced(Walk::new(), |prompt| if is_indicator(prompt) { 250 } else { 20_000 });
    let fast = run.fast().expect("nobody does that");
    assert!(20 <= fast.answers, "{fast:?}");
    let said = run.departures();
    let said = said
        .iter()
        .find(|line| line.starts_with("Faster than hands: "))
        .unwrap();
    assert!(said.ends_with("for what they say (practice)."), "{said}");
    assert_eq!(run.outcome(), Outcome::Pass, "it is a remark, and no proof");
}

#[test]
fn hands_at_their_pace_are_no_remark() {
    for each_ms in [4_000, 9_000, 60_000] {
        assert_eq!(paced(Walk::new(), |_| each_ms).fast(), None, "{each_ms}");
    }
    // four acts done first, then answered one after another
    let answered = std::cell::Cell::new(0);
    let together = |_: &Prompt| {
        answered.set(answered.get() + 1);
        if answered.get() % 4 == 0 { 40_000 } else { 400 }
    };
    assert_eq!(paced(Walk::new(), together).fast(), None);
}

#[test]
fn a_fast_stretch_is_found_among_slow_work_and_slow_answers_between_hide_none() {
    let n = std::cell::Cell::new(0);
    // every fifth takes its time, and all the others none
    let run = paced(Walk::new(), |_| {
        n.set(n.get() + 1);
        if n.get() % 5 == 0 { 2_500 } else { 100 }
    });
    assert!(run.fast().is_some());
}

#[test]
fn on_a_pipe_it_is_said_that_answers_came_by_one() {
    let now: Timestamp = "2026-11-25T08:00:00Z".parse().unwrap();
    let opened = Opened {
        answered_by: Some(AnsweredBy::Pipe),
        ..opened()
    };
    let run = Run::open(opened, now).unwrap();
    let mut walk = Walk::around(Engine::new(run, None, None).answered_by(Some(AnsweredBy::Pipe)), now);
    walk.drain();
    let run = paced(walk, |_| 1);
    assert_eq!(run.fast(), None);
    let remarks = run.departures();
    let others: Vec<_> = remarks
        .iter()
        .filter(|line| !line.contains("was answered once"))
        .collect();
    assert_eq!(
        others,
        ["From 2026-11-25T08:00:00Z on answers came by a pipe, not from a person at a terminal."]
    );
}

#[test]
fn a_run_that_goes_on_by_a_pipe_says_from_when() {
    let mut walk = Walk::new();
    walk.to("lead-null");
    let (run, at) = (walk.engine.run().clone(), walk.now);
    let mut walk = Walk::around(Engine::new(run, None, Some(0)).answered_by(Some(AnsweredBy::Pipe)), at);
    walk.drain();
    walk.say("none");
    assert_eq!(walk.engine.run().by_pipe, [walk.now]);
    walk.to("nowhere");
    // and by hand again from where a person goes on
    assert_eq!(walk.engine.run().by_pipe.len(), 1);
}
