//! Answers that are taken back, and points that were lit.

use super::*;
use crate::run::fold::Back;

fn taken_back(walk: &Walk) -> usize {
    let events = walk.events.iter();
    events
        .filter(|(_, event)| matches!(event, Event::TakenBack { .. }))
        .count()
}

fn folds_to_the_same(walk: &Walk) {
    let mut again = Run::open(opened(), walk.events[0].0).unwrap();
    for (at, event) in &walk.events {
        again.apply(*at, event).unwrap();
    }
    let run = walk.engine.run();
    assert_eq!(
        (&again.steps, &again.hands, &again.told),
        (&run.steps, &run.hands, &run.told)
    );
}

#[test]
fn what_passed_and_is_taken_back_is_done_again_and_stays_in_the_record() {
    for (step, answer, said) in [
        ("link/grey+black", "done", "done"),
        ("continuity/grey", "0.63", "0.63 ohm"),
        ("insulation/grey", ">299", ">299 Mohm"),
        ("connect-near/brown", "permanent live", "for permanent live"),
        ("lead-null", "0.04", "0.04 ohm"),
    ] {
        let mut walk = Walk::new();
        walk.to(step);
        walk.say(answer);
        assert_eq!(walk.verdict(step).0, Outcome::Pass, "{step}");
        walk.say(" BACK ");
        assert_eq!((taken_back(&walk), walk.status(step)), (1, Status::Pending), "{step}");
        let run = walk.engine.run();
        let attempts = &run.steps[run.plan.index(step).unwrap()].attempts;
        assert_eq!((attempts.len(), attempts[0].void), (1, true), "{step}");
        let told = format!(", at `{step}`: `{said}` was taken back and is done again.");
        assert!(
            run.departures().iter().any(|line| line.ends_with(&told)),
            "{:?}",
            run.departures()
        );
        walk.to("nowhere");
        assert_eq!(walk.engine.run().outcome(), Outcome::Pass, "{step}");
        folds_to_the_same(&walk);
    }
}

#[test]
fn nothing_is_taken_back_twice_or_once_something_else_has_happened() {
    let none = "there is no answer to take back since the last thing that happened; a point that was lit is told with `was lit`";
    let mut walk = Walk::new();
    walk.say("back");
    assert_eq!(walk.notices.last().unwrap(), none);
    walk.to("continuity/grey");
    walk.say("back");
    walk.say("back");
    assert_eq!((taken_back(&walk), walk.notices.last().unwrap().as_str()), (1, none));
}

#[test]
fn a_voltage_that_was_seen_stays_and_gets_a_remark() {
    let mut walk = Walk::new();
    walk.to("continuity/grey");
    walk.say("230 V");
    walk.say("back");
    walk.say("read at the wrong box");
    assert_eq!((taken_back(&walk), walk.status("switch-off")), (0, Status::Pending));
    let told = &walk.engine.run().told.last().unwrap().2;
    assert_eq!(
        told,
        "said beside the voltage that was seen, which stays: read at the wrong box"
    );
    folds_to_the_same(&walk);
}

#[test]
fn what_did_not_pass_never_gets_better_and_gets_a_remark() {
    for (step, answer) in [
        ("dead-near/black-earth", "lit"),
        ("continuity/brown", "9.9"),
        ("indicator-first", "dark"),
    ] {
        let mut walk = Walk::new();
        walk.to(step);
        walk.say(answer);
        let before = walk.verdict(step);
        walk.say("back");
        assert_eq!(
            walk.prompt.as_ref().unwrap().say,
            format!("What was said at `{step}` stays. What is to stand beside it?")
        );
        walk.say("back");
        assert!(matches!(walk.prompt.as_ref().unwrap().ask, Ask::Decision { .. }));
        walk.say("back");
        walk.say("the clip had slipped");
        assert_eq!((walk.verdict(step), taken_back(&walk)), (before, 0));
        assert!(matches!(walk.prompt.as_ref().unwrap().ask, Ask::Decision { .. }));
        let told = walk.engine.run().told.last().unwrap().2.clone();
        assert!(told.ends_with("which stays: the clip had slipped"), "{told}");
        folds_to_the_same(&walk);
    }
}

#[test]
fn an_act_that_was_perhaps_not_done_counts_as_the_more_dangerous() {
    let hands = |step: &str| {
        let mut walk = Walk::new();
        walk.to(step);
        walk.say(&Walk::good_answer(&walk.prompt.clone().unwrap()));
        walk.say("back");
        walk.engine.run().hands.clone()
    };
    assert_eq!(hands("switch-off").supply, Supply::SwitchedOn);
    assert_eq!(hands("energise").supply, Supply::SwitchedOn);
    assert_eq!(hands("link/grey+black").set_up, None);
    assert!(!hands("off-near").in_terminals.is_empty());
}

#[test]
fn what_was_left_arranged_and_touched_is_taken_back() {
    let mut walk = Walk::new();
    walk.to("continuity/brown");
    walk.say("9.9");
    walk.say("leave");
    walk.say("later");
    walk.say("back");
    assert_eq!(walk.status("continuity/brown"), Status::Open);
    walk.say("repair");
    walk.say("clamp remade");
    walk.say("none");
    assert_eq!(walk.status("lead-null"), Status::Passed);
    let touched = walk.status("continuity/brown");
    walk.say("back");
    assert_eq!((taken_back(&walk), touched), (2, Status::Pending));
    walk.to("nowhere");
    assert_eq!(walk.engine.run().outcome(), Outcome::Pass);
    folds_to_the_same(&walk);
}

#[test]
fn an_act_at_a_further_supply_is_taken_back() {
    let mut walk = Walk::new();
    walk.to("dead-near/black-earth");
    ["lit", "isolate", "frost thermostat, spur in the porch", "done", "done"]
        .iter()
        .for_each(|line| walk.say(line));
    let asked = |walk: &Walk| walk.prompt.as_ref().unwrap().say.clone();
    assert!(asked(&walk).contains("keep its only key"), "{}", asked(&walk));
    walk.say("back");
    assert!(asked(&walk).contains("lock it off"), "{}", asked(&walk));
    folds_to_the_same(&walk);
}

#[test]
fn a_point_that_was_lit_voids_isolation_at_any_later_question() {
    for (at, line, step) in [
        ("dead-near/black-neutral", "was lit", "dead-near/black-earth"),
        (
            "continuity/brown",
            "Was lit dead-near/earth-line",
            "dead-near/earth-line",
        ),
        (
            "connect-near/brown",
            "was lit dead-far/black-earth",
            "dead-far/black-earth",
        ),
        (
            "switched-on",
            "was lit parted-near/terminal-2-earth",
            "parted-near/terminal-2-earth",
        ),
    ] {
        let mut walk = Walk::new();
        walk.to(at);
        assert_eq!(walk.at(), at);
        walk.say(line);
        assert_eq!(
            walk.verdict(step),
            (
                Outcome::Fail,
                "LIT: the point is live; step back, find the other supply, isolate it".into()
            ),
            "{step}"
        );
        assert!(walk.engine.run().hands.seen_live && walk.status("switch-off") == Status::Pending);
        let offered = walk.prompt.as_ref().unwrap().choices.iter();
        assert!(offered.clone().any(|choice| choice.word == "isolate"), "{step}");
        // and it never becomes dark by being taken back
        assert_eq!(
            walk.engine.run().back(),
            Some(Back::Beside(walk.engine.run().plan.index(step).unwrap()))
        );
        walk.say("isolate");
        walk.say("immersion heater, its switch beside the cylinder");
        ["done"; 4].iter().for_each(|line| walk.say(line));
        walk.to("nowhere");
        assert_eq!(walk.engine.run().outcome(), Outcome::Pass, "{step}");
        folds_to_the_same(&walk);
    }
}

#[test]
fn where_no_point_was_answered_dark_none_was_lit() {
    let mut walk = Walk::new();
    walk.say("was lit");
    assert_eq!(
        walk.notices.last().unwrap(),
        "no point was answered dark; keep your hands away, and where a voltage is there now, type it or `live`"
    );
    walk.to("continuity/brown");
    walk.say("was lit no-such-step");
    assert!(
        walk.events
            .iter()
            .any(|(_, event)| matches!(event, Event::WasLit { .. }))
    );
}

#[test]
fn a_letter_stands_for_one_answer() {
    let mut walk = Walk::new();
    walk.to("dead-near/earth-line");
    walk.say("d");
    assert_eq!(walk.notices.last().unwrap(), "`d` is neither `lit` nor `dark`");
    walk.say("s");
    assert_eq!(walk.verdict("dead-near/earth-line").0, Outcome::Pass);
    walk.to("link/grey+black");
    walk.say("s");
    assert_eq!(
        walk.notices.last().unwrap(),
        "`s` is not `done`; type `done` when it is done"
    );
    walk.say("d");
    assert_eq!(walk.verdict("link/grey+black").0, Outcome::Pass);
}
