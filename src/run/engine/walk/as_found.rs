//! Live fault-finding on a supply that is on as it was found.

use super::*;
use crate::run::event::Answer;

const FOUND_LIVE: &str = "
    LiveReasons(id: \"why\", say: \"Still on.\"),
    Voltage(id: \"found-feed\", end: Near, between: (\"permanent live\", \"neutral\"), window: LoadVoltage, stage: FaultFinding, say: \"{first}, {second}.\"),
    Voltage(id: \"found-far\", end: Far, between: (\"permanent live\", \"neutral\"), window: LoadVoltage, stage: FaultFinding, say: \"{first}, {second}.\"),
";

fn opened_live() -> Opened {
    let mut opened = opened();
    let isolating = "        EachSupply([";
    for part in &mut opened.parts {
        part.text = part
            .text
            .replacen(isolating, &format!("{FOUND_LIVE}{isolating}"), 1)
            .into();
    }
    opened
}

fn walk_live() -> Walk {
    let now: Timestamp = "2026-11-25T08:00:00Z".parse().unwrap();
    let run = Run::open(opened_live(), now).unwrap_or_else(|findings| panic!("{findings:?}"));
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
