//! Coming back: what is unfinished, which run is meant, and what to type next.

use std::path::Path;

use crate::screen::at_a_terminal;
use crate::world::{World, text};

const RUN: [&str; 4] = ["run", "sequences/stat-cable.ron", "--job", "fixtures/saltmarsh.ron"];

fn id(journal: &Path) -> String {
    journal.file_stem().unwrap().to_str().unwrap().to_owned()
}

/// A run that was broken off at this step; its id.
fn broken_off(world: &World, args: &[&str], step: &str, answer: Option<&str>) -> String {
    let before = world.journals();
    let mut walk = world.talk(args);
    assert!(walk.to(step), "{}", walk.seen);
    if let Some(answer) = answer {
        walk.answer(answer);
        walk.question();
    }
    walk.kill();
    let journal = world.journals().into_iter().find(|there| !before.contains(there));
    id(&journal.unwrap())
}

/// Runs to the end; exit code and everything it said on both streams, blanks and breaks made single blanks.
fn said(world: &World, args: &[&str]) -> (Option<i32>, String) {
    let output = world.run(args);
    let all = text(&output.stdout) + &text(&output.stderr);
    (
        output.status.code(),
        all.split_whitespace().collect::<Vec<_>>().join(" "),
    )
}

#[test]
fn alone_it_says_that_nothing_is_unfinished_and_how_to_begin() {
    let world = World::new();
    let (code, said) = said(&world, &[]);
    assert_eq!(code, Some(0));
    assert!(
        said.starts_with("No run is unfinished. Next coreproof key new"),
        "{said}"
    );
}

#[test]
fn alone_it_tells_where_an_unfinished_run_stands() {
    let world = World::with_key();
    broken_off(&world, &RUN, "lock-off", None);
    let (code, said) = said(&world, &[]);
    assert_eq!(code, Some(0));
    for words in [
        "Saltmarsh Sailing",
        "thermostat",
        "lock-off",
        "switch-off`",
        "just now",
        "coreproof resume go on with it",
    ] {
        assert!(said.contains(words), "`{words}` in {said}");
    }
    assert!(!said.contains("VOLTAGE"), "{said}");
}

#[test]
fn on_a_pipe_a_second_run_on_a_cable_is_refused_and_names_the_option() {
    let world = World::with_key();
    let first = broken_off(&world, &RUN, "lock-off", None);
    let (code, refusal) = said(&world, &RUN);
    let expected = format!(
        "error: a run on this cable is unfinished next: go on with `coreproof resume {first}`, or begin a new one with `--new`"
    );
    assert_eq!((code, refusal.as_str()), (Some(2), expected.as_str()));
    assert_eq!(world.journals().len(), 1);
    let again = [&RUN[..], &["--new"]].concat();
    broken_off(&world, &again, "earth-near", None);
    assert_eq!(world.journals().len(), 2);
}

#[test]
fn another_cable_is_no_reason_to_ask() {
    let world = World::with_key();
    broken_off(&world, &RUN, "lock-off", None);
    let other = ["run", "extra-low-pair", "--job", "changing-rooms-pair"];
    let mut walk = world.talk(&other);
    assert!(walk.question().is_some(), "{}", walk.seen);
    walk.kill();
}

#[test]
fn resume_takes_a_place_and_lists_what_an_ambiguous_one_may_mean() {
    let world = World::with_key();
    let first = broken_off(&world, &RUN, "lock-off", None);
    let mut walk = world.talk(&["resume", "saltmarsh SAILING"]);
    walk.until(&format!("Run {first} goes on"));
    walk.kill();
    let again = [&RUN[..], &["--new"]].concat();
    let second = broken_off(&world, &again, "lock-off", None);
    let (code, told) = said(&world, &["resume", "sail loft"]);
    assert_eq!(code, Some(2));
    let expected =
        format!("error: `sail loft` may mean 2 unfinished runs next: name one: coreproof resume {first} | {second}");
    assert!(told.ends_with(&expected), "{told}");
    assert!(told.contains("lock-off"), "{told}");
    let (code, told) = said(&world, &["resume", "galley"]);
    assert_eq!(code, Some(2));
    let expected =
        "error: no unfinished run is called `galley` next: name one of these by its place, its cable or its run";
    assert!(told.ends_with(expected), "{told}");
}

#[test]
fn a_voltage_that_was_seen_is_told_loudly_wherever_the_run_is_met() {
    let world = World::with_key();
    broken_off(&world, &RUN, "dead-near/earth-line", Some("lit"));
    let voltage = "the indicator lit at `dead-near/earth-line`, which must be dark";
    let (_, alone) = said(&world, &[]);
    assert!(alone.contains("!! VOLTAGE in run"), "{alone}");
    assert!(alone.contains(voltage), "{alone}");
    let (code, refusal) = said(&world, &RUN);
    assert_eq!(code, Some(2));
    let expected = format!("error: a run on this cable is unfinished: {voltage} next:");
    assert!(refusal.starts_with(&expected), "{refusal}");
}

#[test]
fn at_a_terminal_it_asks_which_run_is_meant_until_the_answer_is_one() {
    let world = World::with_key();
    let first = broken_off(&world, &RUN, "dead-near/earth-line", Some("lit"));
    let (mut child, mut shown) = at_a_terminal(&world, &RUN);
    shown.until("!! VOLTAGE");
    shown.until("Which is meant?");
    let huge = "x".repeat(3000);
    for wrong in ["", "yes", "\u{1b}[2J", "../../etc/passwd", "0193", &huge] {
        shown.type_line(wrong);
        shown.until("is neither.");
        shown.until("Which is meant?");
    }
    assert_eq!(world.journals().len(), 1);
    shown.type_line("resume");
    shown.until(&format!("Run {first} goes on"));
    child.kill().unwrap();
    child.wait().unwrap();
    assert_eq!(world.journals().len(), 1);
    let (mut child, mut shown) = at_a_terminal(&world, &RUN);
    shown.until("Which is meant?");
    shown.type_line("new");
    shown.until("earth-near");
    child.kill().unwrap();
    child.wait().unwrap();
    assert_eq!(world.journals().len(), 2);
}

#[test]
fn a_journal_that_cannot_be_read_is_listed_with_the_reason() {
    let world = World::with_key();
    std::fs::create_dir_all(world.path("runs")).unwrap();
    std::fs::write(world.path("runs/0193.jsonl"), "{\"n\":0}\n").unwrap();
    let (code, told) = said(&world, &[]);
    assert_eq!(code, Some(0));
    assert!(told.contains("is damaged"), "{told}");
    assert!(told.contains("coreproof resume 0193"), "{told}");
}
