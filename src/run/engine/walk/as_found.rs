//! Live fault-finding on a supply that is on as it was found.

use super::*;
use crate::run::event::{Answer, ChosenBy};

const FOUND_LIVE: &str = "
    LiveReasons(id: \"why\", say: \"Still on.\"),
    Voltage(id: \"found-feed\", end: Near, between: (\"permanent live\", \"neutral\"), window: LoadVoltage, stage: FaultFinding, say: \"{first}, {second}.\"),
    Voltage(id: \"found-far\", end: Far, between: (\"permanent live\", \"neutral\"), window: LoadVoltage, stage: FaultFinding, say: \"{first}, {second}.\"),
";

fn opened_with(steps: &str) -> Opened {
    let mut opened = opened();
    let isolating = "        EachSupply([";
    for part in &mut opened.parts {
        part.text = part.text.replacen(isolating, &format!("{steps}{isolating}"), 1).into();
    }
    opened
}

fn walk_live() -> Walk {
    walk_with(FOUND_LIVE)
}

fn walk_with(steps: &str) -> Walk {
    let now: Timestamp = "2026-11-25T08:00:00Z".parse().unwrap();
    let run = Run::open(opened_with(steps), now).unwrap_or_else(|findings| panic!("{findings:?}"));
    let mut walk = Walk::around(Engine::new(run, None, None), now);
    walk.drain();
    walk.to("why/not-dead");
    walk
}

/// The three answers.
fn give_reasons(walk: &mut Walk) {
    for reason in [
        "a fault that comes and goes",
        "two screws, no loose cores",
        "barrier, second person",
    ] {
        walk.say(reason);
    }
    assert_eq!(walk.at(), "found-feed");
}

#[test]
fn nothing_is_read_before_each_reason_is_written_down() {
    let mut walk = walk_live();
    let prompt = walk.prompt.clone().unwrap();
    assert_eq!(
        prompt.say,
        "Still on. Why is it unreasonable, in all the circumstances, for it to be dead while the fault is sought?"
    );
    assert_eq!(
        prompt.answers(),
        "one line of text; `no` when it is not so: then nothing is read live"
    );
    walk.say("a fault that comes and goes");
    walk.say("no");
    walk.say("I would rather work dead");
    assert_eq!(walk.verdict("why/at-work").0, Outcome::NotTested);
    walk.say("repair");
    assert_eq!(
        walk.notices.last().unwrap(),
        "`repair` is none of `again`, `leave`, `abandon`"
    );
    walk.say("leave");
    walk.say("as said");
    assert_eq!(walk.at(), "why/at-work");
    assert!(
        walk.prompt
            .as_ref()
            .unwrap()
            .say
            .starts_with("The walk cannot go on: `why/at-work` has not passed"),
    );
    // nor may a record pass one over
    let skipped = Event::Answered {
        step: "why/not-dead".into(),
        answer: Answer::NotNeeded,
    };
    let mut run = walk_live().engine.run().clone();
    assert_eq!(
        run.apply(walk.now, &skipped).unwrap_err().what,
        "`why/not-dead` was done or left out against its condition"
    );
}

#[test]
fn what_was_wrong_as_found_is_no_failure_of_what_is_left_and_both_stay() {
    let mut walk = walk_live();
    give_reasons(&mut walk);
    walk.say("231.4");
    walk.say("0.4");
    assert_eq!(walk.verdict("found-far").0, Outcome::Fail);
    walk.say("repair");
    assert_eq!(
        walk.notices.last().unwrap(),
        "`repair` is none of `again`, `leave`, `locate`, `abandon`"
    );
    walk.say("leave");
    walk.say("no voltage at the thermostat");
    // nothing is proved by it: isolation and dead are proved as ever
    assert_eq!(
        (
            walk.at(),
            walk.pending(Stage::Isolate) > 0,
            walk.engine.run().hands.supply
        ),
        ("switch-off", true, Supply::AsFound)
    );
    walk.to("nowhere");
    let run = walk.engine.run();
    assert_eq!(run.outcome(), Outcome::Pass);
    assert_eq!(walk.verdict("found-far").0, Outcome::Fail);
    // a run that is not finished says what it found
    let mut given_up = walk_live();
    give_reasons(&mut given_up);
    for line in ["231.4", "0.4", "leave", "no voltage", "abandon", "called away"] {
        given_up.say(line);
    }
    assert_eq!(given_up.engine.run().outcome(), Outcome::Fail);
}

#[test]
fn after_a_break_the_reasons_are_given_anew_and_once_it_is_off_nothing_is_read_as_found() {
    let mut walk = walk_live();
    give_reasons(&mut walk);
    walk.say("231.4");
    let again = |run: &Run, now| {
        let mut after = Walk::around(Engine::new(run.clone(), None, Some(0)), now);
        after.drain();
        after.say("none");
        after
    };
    let mut after = again(walk.engine.run(), walk.now);
    assert_eq!((after.at(), after.pending(Stage::FaultFinding)), ("earth-near", 5));
    after.to("why/not-dead");
    give_reasons(&mut after);
    walk.say("231.0");
    walk.to("indicator-first");
    let off = again(walk.engine.run(), walk.now);
    assert_eq!((off.at(), off.pending(Stage::FaultFinding)), ("switch-off", 0));
}

/// The same two readings and a third, taken in any order and number.
fn any_order() -> String {
    let begins = FOUND_LIVE.find("    Voltage").unwrap();
    let third = FOUND_LIVE[begins..].lines().next().unwrap();
    let third = third
        .replace("found-feed", "found-earth")
        .replace("\"neutral\"", "\"earth\"");
    let (why, readings) = FOUND_LIVE.split_at(begins);
    format!("{why} AnyOrder([{readings} {third}]),")
}

fn walk_in_any_order() -> Walk {
    let mut walk = walk_with(&any_order());
    give_reasons(&mut walk);
    walk
}

fn chosen(walk: &Walk) -> Vec<(String, ChosenBy)> {
    let chosen = walk.events.iter().filter_map(|(_, event)| match event {
        Event::Chosen { step, by, .. } => Some((step.clone(), *by)),
        _ => None,
    });
    chosen.collect()
}

#[test]
fn readings_in_any_order_are_chosen_by_the_program_or_the_engineer_and_the_record_says_why() {
    let mut walk = walk_in_any_order();
    assert_eq!(chosen(&walk), [("found-feed".to_owned(), ChosenBy::Program)]);
    let words = |walk: &Walk| {
        walk.prompt
            .as_ref()
            .unwrap()
            .choices
            .iter()
            .map(|choice| choice.word.clone())
            .collect::<Vec<_>>()
    };
    assert_eq!(words(&walk), ["other", "enough"]);
    walk.say("other");
    assert_eq!(words(&walk), ["1", "2", "3"]);
    walk.say("4");
    assert_eq!(
        walk.notices.last().unwrap(),
        "`4` is none of these; type its number or its name"
    );
    walk.say("found-earth");
    assert_eq!(
        (walk.at(), chosen(&walk).pop().unwrap()),
        ("found-earth", ("found-earth".to_owned(), ChosenBy::Engineer))
    );
    // what fails asks for no decision, and the next is offered
    walk.say("0.3");
    assert_eq!(walk.status("found-earth"), Status::Left("as found".into()));
    let run = walk.engine.run();
    let mark = run.verdict(run.plan.index("found-earth").unwrap()).mark;
    assert_eq!(mark.as_deref(), Some("chosen by the engineer: in place of another"));
    assert_eq!(walk.at(), "found-feed");
    // it is read again where the engineer says so, and both stay
    walk.say("other");
    walk.say("3");
    walk.say("231.4");
    let run = walk.engine.run();
    assert_eq!(run.steps[run.plan.index("found-earth").unwrap()].attempts.len(), 2);
    // taken back, it is chosen and read anew
    walk.say("back");
    assert_eq!((walk.at(), walk.status("found-earth")), ("found-feed", Status::Pending));
    for _ in 0..3 {
        walk.say("231.4");
    }
    assert_eq!((walk.at(), walk.pending(Stage::FaultFinding)), ("switch-off", 0));
}

#[test]
fn none_of_the_readings_in_any_order_has_to_be_taken() {
    let mut walk = walk_in_any_order();
    walk.say("231.4");
    walk.say("enough");
    assert_eq!(
        (walk.at(), walk.verdict("found-far").1.as_str()),
        ("switch-off", "not read: enough was known")
    );
    let told = &walk.engine.run().told.last().unwrap().2;
    assert_eq!(
        told,
        "no more was read: which faults are left was not worked out; not read: `found-far`, `found-earth`"
    );
    let folded = walk.engine.run().clone();
    walk.to("nowhere");
    assert_eq!(walk.engine.run().outcome(), Outcome::Pass);
    // once it is off nothing is chosen any more
    check_refused(
        folded,
        &Event::Chosen {
            step: "found-far".into(),
            by: ChosenBy::Engineer,
            because: "once more".into(),
        },
        "`found-far` is none of the readings from which one is chosen now",
    );
}

fn check_refused(mut run: Run, event: &Event, expected: &str) {
    let now = run.opened_at;
    assert_eq!(run.apply(now, event).unwrap_err().what, expected);
}

#[test]
fn a_record_that_reads_what_was_not_chosen_or_chooses_what_is_not_offered_is_refused() {
    let run = walk_in_any_order().engine.run().clone();
    let taken = |step: &str| Event::Taken {
        step: step.into(),
        reading: Reading::typed("231.4", Function::VoltageAc).unwrap(),
    };
    let choice = |step: &str| Event::Chosen {
        step: step.into(),
        by: ChosenBy::Program,
        because: "it tells most".into(),
    };
    check_refused(
        run.clone(),
        &taken("found-far"),
        "`found-far` was done out of its order",
    );
    check_refused(run.clone(), &choice("found-feed"), "`found-feed` is chosen already");
    check_refused(
        run.clone(),
        &choice("switch-off"),
        "`switch-off` is none of the readings from which one is chosen now",
    );
    let skipped = Event::Answered {
        step: "found-feed".into(),
        answer: Answer::NotNeeded,
    };
    check_refused(
        run.clone(),
        &skipped,
        "`found-feed` was done or left out against its condition",
    );
    let again = Event::Again {
        step: "found-feed".into(),
    };
    check_refused(run, &again, "`found-feed` waits for no decision");
    // before any choice nothing is read
    let walk = walk_in_any_order();
    let first = walk
        .events
        .iter()
        .position(|(_, event)| matches!(event, Event::Chosen { .. }))
        .unwrap();
    let mut unchosen = Run::open(opened_with(&any_order()), walk.events[0].0).unwrap();
    for (at, event) in &walk.events[..first] {
        unchosen.apply(*at, event).unwrap();
    }
    check_refused(
        unchosen,
        &taken("found-feed"),
        "`found-feed` was read, and was not chosen",
    );
    // a reading that failed as found is decided by nobody, least of all once it is off
    let mut failed = walk_in_any_order();
    for line in ["0.3", "231.4", "231.4"] {
        failed.say(line);
    }
    check_refused(
        failed.engine.run().clone(),
        &Event::Again {
            step: "found-feed".into(),
        },
        "`found-feed` was read as found, which is not decided again",
    );
}
