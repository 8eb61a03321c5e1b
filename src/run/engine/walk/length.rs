//! The length of the cable corrected at a prompt: before its first reading, later, and where it is refused.

use super::*;
use crate::run::event::Answer;
use crate::run::fold::Circuit;

/// The demonstration job states 18 m of 1.0/1.0 mm2 at 15 degC: 36.2 mohm/m x 18 m x 0.98 + 0.05 ohm of contacts = 0.689 ohm.
const STATED: &str = "at most 0.689 ohm";

fn told(walk: &Walk) -> Vec<String> {
    walk.engine.run().departures()
}

fn corrections(walk: &Walk) -> usize {
    let is_one = |(_, event): &&(Timestamp, Event)| matches!(event, Event::LengthCorrected { .. });
    walk.events.iter().filter(is_one).count()
}

/// The events fold to the same run.
fn folds(walk: &Walk) {
    let mut again = Run::open(opened(), walk.events[0].0).unwrap();
    for (at, event) in &walk.events {
        again.apply(*at, event).unwrap();
    }
    let run = walk.engine.run();
    assert_eq!((&again.steps, again.outcome()), (&run.steps, run.outcome()));
    assert_eq!(again.plan.job.length, run.plan.job.length);
}

fn window(walk: &Walk) -> String {
    walk.prompt.as_ref().unwrap().window.as_ref().unwrap().words()
}

#[test]
fn before_its_first_reading_it_is_put_right_without_a_reason_and_is_a_mere_remark() {
    let mut walk = Walk::new();
    walk.to("continuity/brown");
    assert_eq!(window(&walk), STATED);
    walk.say("length 25 m");
    // 36.2 mohm/m x 25 m x 0.98 = 0.887 ohm, with 0.05 ohm
    assert_eq!(window(&walk), "at most 0.937 ohm");
    assert_eq!(
        walk.notices.last().unwrap(),
        "the length of the cable is 25 m (stated 18 m, corrected to 25 m)"
    );
    let said = "at `continuity/brown`: the length of the cable was corrected, it is 25 m (stated 18 m, corrected to 25 m) from here on.";
    assert!(told(&walk).iter().any(|line| line.ends_with(said)), "{:?}", told(&walk));
    assert!(!walk.engine.run().plan.job.length.as_ref().unwrap().is_corrected_late());
    walk.say("0.9");
    walk.to("nowhere");
    assert_eq!(walk.engine.run().outcome(), Outcome::Pass);
    folds(&walk);
}

#[test]
fn what_failed_by_the_length_stated_passes_by_the_one_in_force_and_both_verdicts_stay() {
    let mut walk = Walk::new();
    walk.to("continuity/brown");
    walk.say("0.80");
    let failed = "0.76 ohm is above 0.689 ohm";
    assert_eq!(walk.verdict("continuity/brown"), (Outcome::Fail, failed.into()));
    let choices = &walk.prompt.as_ref().unwrap().choices;
    assert!(choices.iter().any(|choice| choice.word == "length"), "{choices:?}");
    for (line, asked) in [
        ("length", "How long is it, measured along its run?"),
        ("21 m", "Why is the length corrected to 21 m?"),
    ] {
        walk.say(line);
        let say = &walk.prompt.as_ref().unwrap().say;
        assert!(say.contains(asked), "{say}");
    }
    walk.say("it goes round the loft");
    let length = "21 m (stated 18 m, corrected to 21 m because it goes round the loft)";
    let now = "0.76 ohm is within the window: at most 0.795 ohm";
    assert_eq!(
        walk.verdict("continuity/brown"),
        (Outcome::Pass, format!("{now}; with 18 m: FAIL, {failed}"))
    );
    assert_eq!(walk.at(), "continuity/black");
    let wanted = [
        format!(
            "the length of the cable was corrected, after something was read against it, it is {length} from here on."
        ),
        format!("`continuity/brown`, judged again: pass, {now}; with 18 m: FAIL, {failed}"),
    ];
    for line in wanted {
        assert!(
            told(&walk).iter().any(|told| told.ends_with(&line)),
            "{line}\n{:?}",
            told(&walk)
        );
    }
    let sources = |walk: &Walk| walk.prompt.as_ref().unwrap().sources.join("\n");
    walk.to("continuity/grey");
    assert!(
        sources(&walk).contains(&format!("length {length}, cable at")),
        "{}",
        sources(&walk)
    );
    walk.to("nowhere");
    assert_eq!(walk.engine.run().outcome(), Outcome::Pass);
    folds(&walk);
}

#[test]
fn what_passed_and_passes_no_more_is_done_again_with_what_rests_on_it() {
    let mut walk = Walk::new();
    walk.to("connect-far/brown");
    let before = walk.engine.run().clone();
    walk.say("length 15 m because the rest is in the ceiling of another house");
    // 0.59 ohm as read is above 36.2 mohm/m x 15 m x 0.98 + 0.05 ohm
    let (outcome, because) = walk.verdict("continuity/brown");
    assert_eq!(outcome, Outcome::Fail);
    assert_eq!(
        because,
        "0.59 ohm is above 0.582 ohm; not tested again since; with 18 m: pass, 0.59 ohm is within the window: at most 0.689 ohm"
    );
    // cores may be in terminals again: they come out before anything is read
    assert_eq!(walk.status("continuity/brown"), Status::Pending);
    assert_eq!(walk.status("off-far"), Status::Pending);
    assert_eq!(
        walk.status("insulation/brown"),
        before.steps[before.plan.index("insulation/brown").unwrap()].status
    );
    assert_eq!(walk.pending(Stage::Isolate), 0, "it stays dead");
    folds(&walk);
    for core in ["brown", "black", "grey", "black/with grey"] {
        walk.to(&format!("continuity/{core}"));
        walk.say("0.55");
    }
    walk.to("nowhere");
    assert_eq!(walk.engine.run().outcome(), Outcome::Pass);
    folds(&walk);
}

#[test]
fn it_moves_by_a_quarter_in_all_and_only_for_a_reason_once_something_was_read() {
    let mut walk = Walk::new();
    walk.to("continuity/grey");
    for (line, said) in [
        (
            "length 23 m",
            "`23 m` moves the length by 5 m in all since something was read against it, at most 4.5 m is allowed, a quarter of 18 m: abandon, and state it in the job once it is measured",
        ),
        ("length 18.0 m", "the length is 18 m already"),
        (
            "length 0 m",
            "`0 m` is outside 0.5 m to 1000 m: look at the figure again",
        ),
        (
            "length -3 m",
            "`-3 m` is outside 0.5 m to 1000 m: look at the figure again",
        ),
        (
            "LENGTH 3 ohm because x",
            "`3 ohm` is a resistance, a length is needed here: type it as `length 14 m`",
        ),
    ] {
        walk.say(line);
        assert_eq!(walk.notices.last().unwrap(), said, "{line}");
        assert_eq!(walk.at(), "continuity/grey");
    }
    assert_eq!(corrections(&walk), 0);
    walk.say("length 20.7 m because paced");
    walk.say("length 23.4 m because measured");
    assert!(
        walk.notices
            .last()
            .unwrap()
            .starts_with("`23.4 m` moves the length by 5.4 m in all")
    );
    // there and back counts as well
    walk.say("length 18 m because as it was");
    assert!(
        walk.notices
            .last()
            .unwrap()
            .starts_with("`18 m` moves the length by 5.4 m in all")
    );
    assert_eq!(corrections(&walk), 1);
    // a reason that is taken back corrects nothing
    walk.say("length 21 m");
    walk.say("back");
    assert_eq!((walk.at(), corrections(&walk)), ("continuity/grey", 1));
    walk.to("nowhere");
    assert_eq!(walk.engine.run().outcome(), Outcome::Pass);
    folds(&walk);
}

#[test]
fn an_old_reading_is_judged_again_with_the_leads_of_its_time() {
    let mut walk = Walk::new();
    walk.to("continuity/grey");
    walk.say("leads");
    walk.say("0.10");
    walk.say("length 19 m because measured");
    // 0.63 ohm less 0.04 ohm of the leads that it was read with, not 0.10 ohm of those that came after
    let (outcome, because) = walk.verdict("continuity/brown");
    assert_eq!(outcome, Outcome::Pass);
    assert!(
        because.starts_with("0.59 ohm is within the window: at most 0.724 ohm"),
        "{because}"
    );
}

#[test]
fn nothing_is_corrected_where_it_is_live_or_under_a_test_voltage() {
    let mut walk = Walk::new();
    walk.to("insulation/brown");
    walk.say("length 19 m because measured");
    let under_test = "a test voltage is or may be on the cores: take the reading and let the tester discharge them, then correct the length";
    assert_eq!(walk.notices.last().unwrap(), under_test);
    walk.to("feed");
    walk.say("length 19 m because measured");
    let live = "the supply is on, or a voltage was seen: the length is corrected once isolation is proved again";
    assert_eq!(walk.notices.last().unwrap(), live);
    assert_eq!(corrections(&walk), 0);
    // nor while the charge of a test is on the cores
    let mut walk = Walk::new();
    walk.to("insulation/brown");
    walk.say(">299");
    assert_eq!(walk.engine.run().circuit(&[], None), Circuit::TestVoltage);
    walk.say("length");
    assert_eq!(walk.notices.last().unwrap(), under_test);
    // nor after a voltage was seen, until everything is proved again
    let mut walk = Walk::new();
    walk.to("continuity/brown");
    walk.say("231 V");
    walk.say("length 19 m");
    assert_eq!(walk.notices.last().unwrap(), live);
    walk.to("continuity/brown");
    walk.say("length 19 m");
    assert_eq!(corrections(&walk), 1);
}

#[test]
fn a_job_without_a_length_has_none_to_correct() {
    let mut walk = Walk::with_job("        length: \"18 m\",\n", "");
    walk.to("continuity/brown");
    walk.say("length 14 m");
    assert!(walk.notices.last().unwrap().starts_with("the job states no length"));
    assert_eq!(corrections(&walk), 0);
}

#[test]
fn a_text_of_ones_own_is_no_correction_and_a_voltage_in_the_reason_is_asked() {
    let mut walk = Walk::new();
    walk.to("continuity/brown");
    walk.say("9.9");
    walk.say("leave");
    walk.say("length 14 m");
    assert_eq!(walk.status("continuity/brown"), Status::Left("length 14 m".into()));
    assert_eq!(corrections(&walk), 0);
    walk.to("continuity/grey");
    walk.say("length 20 m because it runs beside the 230 V tray");
    assert!(walk.prompt.as_ref().unwrap().say.contains("Is that there now?"));
    walk.say("no");
    assert_eq!(corrections(&walk), 1);
    // a voltage is heard, whatever word stands before it
    walk.say("length 230 V");
    walk.say("yes");
    assert_eq!(walk.engine.run().live_seen.len(), 1);
}

#[test]
fn a_break_before_the_verdicts_judges_again_first() {
    let mut walk = Walk::new();
    walk.to("continuity/grey");
    let length = crate::value::quantity::Amount::parse("15 m").unwrap();
    let mut run = walk.engine.run().clone();
    let corrected = Event::LengthCorrected {
        length,
        because: Some("measured".into()),
    };
    run.apply(walk.now, &corrected).unwrap();
    let early = Event::Answered {
        step: "continuity/grey".into(),
        answer: Answer::Done,
    };
    assert_eq!(
        run.apply(walk.now, &early).unwrap_err().what,
        "the last reading or answer has no verdict yet"
    );
    let mut after = Walk::around(Engine::new(run, None, Some(0)), walk.now);
    after.drain();
    assert!(matches!(after.events[0].1, Event::Judged { .. }));
    assert_eq!(after.verdict("continuity/brown").0, Outcome::Fail);
}

#[test]
fn a_length_that_the_sequence_does_not_fit_is_refused() {
    let mut opened = opened();
    let wanted = "window: CableOrPair";
    let worked = "window: Worked(low: \"0.6 ohm\", high: \"0.0362 ohm/m * cable.length\", source: \"a test\")";
    let part = opened.parts.iter_mut().find(|part| part.text.contains(wanted)).unwrap();
    part.text = part.text.replace(wanted, worked).into();
    let now: Timestamp = "2026-11-25T08:00:00Z".parse().unwrap();
    let run = Run::open(opened, now).unwrap_or_else(|findings| panic!("{findings:?}"));
    let mut walk = Walk::around(Engine::new(run, None, None), now);
    walk.drain();
    walk.say("length 15 m");
    assert_eq!(
        walk.notices.last().unwrap(),
        "the sequence does not fit a length of 15 m: the lower edge comes to 0.6 ohm, above the upper edge of 0.543 ohm"
    );
    assert_eq!(corrections(&walk), 0);
}
