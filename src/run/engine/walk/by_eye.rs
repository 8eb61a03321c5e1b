//! A fault that eyes found before anything was switched.

use super::*;
use crate::run::event::{Answer, Photograph, Touched};

const LOOKS: &str = "
    Inspect(id: \"eye-near\", stage: Survey, end: Near, thing: \"the {near}\", say: \"Sound?\"),
    Inspect(id: \"eye-far\", stage: Survey, end: Far, thing: \"the {far}\", say: \"Sound?\"),
    Inspect(id: \"eye-else\", stage: Survey, thing: \"the valve\", say: \"Sound?\"),
";
const ISOLATES: &str = "        Include(\"parts/isolate.ron\"),";
const SCORCHED: &str = "found the clamp of the line scorched";

fn opened_with(looks: &str) -> Opened {
    let mut opened = opened();
    let text = opened
        .sequence
        .text
        .replacen(ISOLATES, &format!("{looks}{ISOLATES}"), 1);
    assert_ne!(text, *opened.sequence.text);
    opened.sequence.text = text.into();
    opened
}

fn walk_with(looks: &str) -> Walk {
    let now: Timestamp = "2026-11-25T08:00:00Z".parse().unwrap();
    let run = Run::open(opened_with(looks), now).unwrap_or_else(|findings| panic!("{findings:?}"));
    let mut walk = Walk::around(Engine::new(run, None, None), now);
    walk.drain();
    walk
}

fn walk_by_eye() -> Walk {
    walk_with(LOOKS)
}

fn say_all(walk: &mut Walk, lines: &[&str]) {
    lines.iter().for_each(|line| walk.say(line));
}

fn asked(walk: &Walk) -> &str {
    &walk.prompt.as_ref().unwrap().say
}

fn choices(walk: &Walk) -> Vec<&str> {
    let prompt = walk.prompt.as_ref().unwrap();
    prompt.choices.iter().map(|choice| choice.word.as_str()).collect()
}

/// Noted at the near end, then isolated: what was repaired is asked.
fn noted() -> Walk {
    let mut walk = walk_by_eye();
    say_all(&mut walk, &[SCORCHED, "repair"]);
    assert_eq!(walk.at(), "eye-far");
    walk.until_question("eye-near");
    walk
}

/// What the fold says to one more event, that nothing else stops.
fn refused(walk: &Walk, event: &Event) -> String {
    let mut run = walk.engine.run().clone();
    run.apply(walk.now, event).unwrap_err().what
}

fn repaired(step: &str) -> Event {
    Event::Repaired {
        step: step.into(),
        what: "clamp replaced".into(),
        touched: Touched::Nothing,
    }
}

fn begins(step: &str) -> Event {
    Event::RepairBegins {
        step: step.into(),
        photograph: None,
    }
}

/// Whether it is said that something was looked at again with no repair between.
fn tells_of_it(run: &Run) -> bool {
    run.departures().iter().any(|line| line.contains("no repair of it"))
}

fn folds_to_the_same(walk: &Walk) {
    let mut again = Run::open(opened_with(LOOKS), walk.events[0].0).unwrap();
    for (at, event) in &walk.events {
        again.apply(*at, event).unwrap();
    }
    let run = walk.engine.run();
    assert_eq!(
        (&again.steps, &again.repairs, &again.by_eye, &again.repairing),
        (&run.steps, &run.repairs, &run.by_eye, &run.repairing)
    );
}

#[test]
fn what_is_found_by_eye_is_repaired_once_dead_is_proved_and_both_stay() {
    let mut walk = walk_by_eye();
    walk.say(SCORCHED);
    let prompt = walk.prompt.clone().unwrap();
    assert_eq!(choices(&walk), ["repair", "again", "leave", "locate", "abandon"]);
    assert!(
        prompt.cautions[0].starts_with("Nothing is touched"),
        "{:?}",
        prompt.cautions
    );
    walk.say("repair");
    // the run goes on as found, and nothing is asked of it before everything is proved dead
    assert_eq!((walk.at(), walk.verdict("eye-near").0), ("eye-far", Outcome::Fail));
    walk.until_question("eye-near");
    let run = walk.engine.run();
    assert!(run.hands.supply == Supply::SwitchedOff && run.stage_passed(Stage::Isolate));
    assert!(0 < walk.pending(Stage::Disconnect));
    assert_eq!(
        asked(&walk),
        "`eye-near`, as found: found: the clamp of the line scorched. Dead is proved at the wiring centre. What was repaired?"
    );
    assert_eq!(choices(&walk), ["leave", "back"]);
    say_all(&mut walk, &["clamp replaced", "brown"]);
    let prompt = walk.prompt.clone().unwrap();
    assert_eq!((walk.at(), prompt.say.as_str()), ("eye-near", "Again, as left. Sound?"));
    assert_eq!(
        prompt.cautions,
        ["lock on, key with you; if you left, prove dead again"]
    );
    walk.say("sound");
    walk.to("nowhere");
    folds_to_the_same(&walk);
    let run = walk.engine.run();
    assert_eq!(run.outcome(), Outcome::Pass);
    let attempts = &run.steps[run.plan.index("eye-near").unwrap()].attempts;
    let outcomes: Vec<_> = attempts.iter().map(|it| (it.verdict.outcome, it.void)).collect();
    assert_eq!(outcomes, [(Outcome::Fail, true), (Outcome::Pass, false)]);
    assert_eq!(run.by_eye[0].words(), "found: the clamp of the line scorched");
    assert_eq!((run.repairs[0].step.as_str(), run.repairs.len()), ("eye-near", 1));
    assert!(!tells_of_it(run), "{:?}", run.departures());
}

#[test]
fn each_that_was_noted_is_repaired_and_looked_at_in_its_turn() {
    let mut walk = walk_by_eye();
    for step in ["eye-near", "eye-far", "eye-else"] {
        assert_eq!(walk.at(), step);
        say_all(&mut walk, &["found bare copper", "repair"]);
    }
    walk.until_question("eye-near");
    let places = [
        ("eye-near", "Dead is proved at the wiring centre."),
        (
            "eye-far",
            "Dead was proved at the sail loft thermostat; something was repaired since: show it dark once more",
        ),
        (
            "eye-else",
            "Dead was proved at the wiring centre and at the sail loft thermostat, and nowhere else: in any other place nothing is opened",
        ),
    ];
    for (step, place) in places {
        assert_eq!(walk.at(), step);
        assert!(asked(&walk).contains(place), "{}", asked(&walk));
        say_all(&mut walk, &["insulated anew", "none"]);
        assert_eq!(asked(&walk), "Again, as left. Sound?");
        walk.say("sound");
    }
    walk.to("nowhere");
    assert_eq!(walk.engine.run().outcome(), Outcome::Pass);
    folds_to_the_same(&walk);
}

#[test]
fn nothing_is_repaired_before_dead_is_proved() {
    let mut walk = walk_by_eye();
    walk.say(SCORCHED);
    assert_eq!(
        refused(&walk, &repaired("eye-near")),
        "a repair of what was found by eye at `eye-near`, and was not noted before"
    );
    walk.say("repair");
    let before = "a repair before isolation was proved again";
    let mut asked = 0;
    while !matches!(walk.prompt.as_ref().unwrap().ask, Ask::Text) {
        assert_eq!(refused(&walk, &repaired("eye-near")), before, "at `{}`", walk.at());
        let answer = Walk::good_answer(walk.prompt.as_ref().unwrap());
        walk.say(&answer);
        asked += 1;
    }
    assert!(20 < asked, "{asked}");
    // nor where a point was lit since, nor after a break
    walk.say("was lit dead-near/earth-line");
    assert_eq!(refused(&walk, &repaired("eye-near")), before);
    let mut after = noted();
    after.engine = Engine::new(after.engine.run().clone(), None, Some(0));
    after.drain();
    after.say("none");
    assert_eq!(
        (after.at(), refused(&after, &repaired("eye-near")).as_str()),
        ("switch-off", before)
    );
    after.until_question("eye-near");
    say_all(&mut after, &["clamp replaced", "all", "sound"]);
    after.to("nowhere");
    assert_eq!(after.engine.run().outcome(), Outcome::Pass);
}

#[test]
fn only_what_was_found_can_be_noted_and_once() {
    let walk = walk_by_eye();
    assert_eq!(refused(&walk, &begins("eye-near")), "`eye-near` waits for no decision");
    // what could not be seen is not known to be wrong
    let mut walk = walk_by_eye();
    say_all(&mut walk, &["no", "the cover is stuck"]);
    assert_eq!(choices(&walk), ["again", "leave", "locate", "abandon"]);
    let nothing = "nothing that waits to be repaired once it is dead was found at `eye-near`";
    assert_eq!(refused(&walk, &begins("eye-near")), nothing);
    let walk = noted();
    assert_eq!(refused(&walk, &begins("eye-near")), nothing);
    // a picture belongs to what was found by eye
    let mut walk = Walk::new();
    walk.to("continuity/brown");
    walk.say("OL");
    let pictured = Event::RepairBegins {
        step: "continuity/brown".into(),
        photograph: Some(Photograph {
            file: "a.jpg".into(),
            sha256: "ab".repeat(32),
        }),
    };
    assert!(refused(&walk, &pictured).starts_with("only what failed live, what was found by eye,"));
}

#[test]
fn what_was_noted_is_looked_at_again_only_once_it_is_repaired() {
    let again = Event::Again {
        step: "eye-near".into(),
    };
    let looked = Event::Answered {
        step: "eye-near".into(),
        answer: Answer::Saw(vec!["sound".into()]),
    };
    let mut walk = noted();
    let only = "`eye-near` was found by eye, which is looked at again only once it is repaired";
    assert_eq!(refused(&walk, &again), only);
    assert_eq!(refused(&walk, &looked), "`eye-near` was done out of its order");
    say_all(&mut walk, &["leave", "the part comes on Friday"]);
    assert_eq!(walk.status("eye-near"), Status::Left("the part comes on Friday".into()));
    assert_eq!(refused(&walk, &again), only);
    assert_eq!(
        refused(&walk, &repaired("eye-near")),
        "a repair of what was found by eye at `eye-near`, and was not noted before"
    );
    // connecting waits for it, and offers the repair and nothing easier
    walk.until_question("eye-near");
    assert!(asked(&walk).starts_with("The walk cannot go on: `eye-near` has not passed"));
    assert_eq!(choices(&walk), ["repair", "abandon"]);
    walk.say("again");
    assert_eq!(
        walk.notices.last().unwrap(),
        "`again` is neither `repair` nor `abandon`"
    );
    say_all(
        &mut walk,
        &["repair", "clamp replaced", "none", "found it scorched again"],
    );
    // a failure as left is one as any
    assert_eq!(choices(&walk), ["repair", "leave", "locate", "abandon"]);
    assert_eq!(refused(&walk, &again), only);
    say_all(&mut walk, &["repair", "clamp and core replaced", "none", "no", "dark"]);
    // what was repaired since and could not be seen is looked at again
    assert_eq!(choices(&walk), ["again", "leave", "locate", "abandon"]);
    say_all(&mut walk, &["again", "sound"]);
    walk.to("nowhere");
    let run = walk.engine.run();
    assert_eq!(
        (run.outcome(), run.repairs.len(), run.by_eye.len()),
        (Outcome::Pass, 2, 2)
    );
    folds_to_the_same(&walk);
}

#[test]
fn a_repair_left_undone_leaves_the_run_failed_and_giving_up_keeps_it() {
    let mut walk = noted();
    say_all(&mut walk, &["leave", "the part comes on Friday"]);
    walk.until_question("eye-near");
    say_all(&mut walk, &["abandon", "a part is missing", "done"]);
    let run = walk.engine.run();
    assert!(run.ending.is_some());
    assert_eq!(run.outcome(), Outcome::Fail);
    assert!(walk.verdict("eye-near").1.ends_with("; left: the part comes on Friday"));
    // given up before anything was switched
    let mut walk = walk_by_eye();
    say_all(&mut walk, &[SCORCHED, "repair", "abandon", "it would not be safe"]);
    assert_eq!(walk.engine.run().outcome(), Outcome::Fail);
    assert!(
        walk.verdict("eye-near")
            .1
            .ends_with("; left: to be repaired once it is proved dead")
    );
    assert_eq!(walk.engine.run().by_eye.len(), 1);
}

#[test]
fn a_break_before_anything_is_switched_begins_with_what_is_found_again() {
    let mut walk = walk_by_eye();
    say_all(&mut walk, &[SCORCHED, "repair"]);
    walk.engine = Engine::new(walk.engine.run().clone(), None, Some(0));
    walk.drain();
    walk.say("none");
    assert_eq!((walk.at(), asked(&walk)), ("eye-near", "Sound?"));
    say_all(&mut walk, &[SCORCHED, "repair"]);
    walk.until_question("eye-near");
    let run = walk.engine.run();
    assert_eq!((run.by_eye.len(), run.repairing.len()), (2, 1));
}

#[test]
fn noting_is_taken_back_while_nothing_else_has_happened() {
    let mut walk = walk_by_eye();
    say_all(&mut walk, &[SCORCHED, "repair", "back"]);
    assert_eq!((walk.at(), walk.status("eye-near")), ("eye-near", Status::Open));
    let run = walk.engine.run();
    assert!(run.repairing.is_empty() && run.by_eye.is_empty());
    assert!(run.departures()[0].ends_with("that it is noted to be repaired was taken back."));
    say_all(&mut walk, &["again", "sound"]);
    walk.to("nowhere");
    assert_eq!(walk.engine.run().outcome(), Outcome::Pass);
    // that it stays as it was found, too
    let mut walk = noted();
    say_all(&mut walk, &["leave", "later", "back"]);
    assert_eq!(choices(&walk), ["repair", "leave", "locate", "abandon"]);
    say_all(&mut walk, &["repair", "clamp replaced", "none", "sound"]);
    walk.to("nowhere");
    assert_eq!(walk.engine.run().outcome(), Outcome::Pass);
    folds_to_the_same(&walk);
}

#[test]
fn a_look_that_was_left_and_passes_later_with_no_repair_is_told() {
    let mut walk = walk_by_eye();
    say_all(&mut walk, &[SCORCHED, "leave", "as it is"]);
    walk.until_question("eye-near");
    // what records of old have is not refused; it is told
    let mut run = walk.engine.run().clone();
    run.apply(
        walk.now,
        &Event::Again {
            step: "eye-near".into(),
        },
    )
    .unwrap();
    let answer = Answer::Saw(vec!["sound".into()]);
    let answered = Event::Answered {
        step: "eye-near".into(),
        answer,
    };
    run.apply(walk.now, &answered).unwrap();
    let (_, verdict) = run.due().unwrap();
    let judged = Event::Judged {
        step: "eye-near".into(),
        verdict,
    };
    run.apply(walk.now, &judged).unwrap();
    let told = "at `eye-near`: it failed as it was found, and passed when it was looked at again; no repair of it is recorded.";
    assert!(
        run.departures().iter().any(|line| line.ends_with(told)),
        "{:?}",
        run.departures()
    );
    // the engine asks for the repair
    assert_eq!(choices(&walk), ["repair", "abandon"]);
    say_all(&mut walk, &["repair", "clamp replaced", "none", "sound"]);
    walk.to("nowhere");
    assert!(!tells_of_it(walk.engine.run()));
}

#[test]
fn a_voltage_at_what_is_repaired_isolates_anew() {
    let mut walk = noted();
    walk.say("230 V on the clamp");
    assert!(asked(&walk).starts_with("HANDS AWAY"));
    walk.say("yes");
    assert_eq!(walk.at(), "switch-off");
    walk.until_question("eye-near");
    assert!(asked(&walk).starts_with("`eye-near`, as found"));
}

#[test]
fn a_plan_whose_hands_never_go_in_repairs_nothing() {
    let mut opened = opened_with(LOOKS);
    let text = &opened.sequence.text;
    let (from, to) = (
        text.find(ISOLATES).unwrap() + ISOLATES.len(),
        text.rfind("    ],").unwrap(),
    );
    opened.sequence.text = format!("{}\n{}", &text[..from], &text[to..])
        .replace(
            &text[text.find("    promises").unwrap()..text.find("    steps").unwrap()],
            "",
        )
        .into();
    let now: Timestamp = "2026-11-25T08:00:00Z".parse().unwrap();
    let run = Run::open(opened, now).unwrap_or_else(|findings| panic!("{findings:?}"));
    let mut walk = Walk::around(Engine::new(run, None, None), now);
    walk.drain();
    walk.say(SCORCHED);
    assert_eq!(choices(&walk), ["again", "leave", "locate", "abandon"]);
    say_all(&mut walk, &["repair"]);
    assert_eq!(
        walk.notices.last().unwrap(),
        "`repair` is none of `again`, `leave`, `locate`, `abandon`"
    );
    assert!(refused(&walk, &begins("eye-near")).starts_with("nothing that waits"));
}
