//! A job file of several cables: which one is meant, and how far the place is.

use crate::beside::Shelf;
use crate::forged::Forged;
use crate::screen::at_a_terminal;
use crate::world::{World, text};

const HALL: &str = "fixtures/village-hall.ron";

/// Exit code and everything it said, blanks and breaks made single blanks.
fn said(world: &World, args: &[&str]) -> (Option<i32>, String) {
    let output = world.run(args);
    let all = text(&output.stdout) + &text(&output.stderr);
    let words: Vec<_> = all.split_whitespace().collect();
    (output.status.code(), words.join(" "))
}

#[test]
fn a_command_names_the_cable_that_is_meant_or_is_told_which_there_are() {
    let world = World::with_key();
    for command in ["plan", "coverage", "run"] {
        let (code, said) = said(&world, &[command, "stat-cable", "--job", HALL]);
        assert_eq!(code, Some(2), "{said}");
        let expected = "error: the job holds 2 cables, and none is named";
        assert!(said.starts_with(expected), "{said}");
        let named =
            "help: name the one meant with `--cable`: `hall thermostat cable`, `committee room thermostat cable`";
        assert!(said.contains(named), "{said}");
    }
    for command in [
        &["rehearse", "stat-cable", "--job", HALL, "--fault", "list"][..],
        &["locate", "--job", HALL, "--readings", HALL],
    ] {
        assert!(said(&world, command).1.contains("none is named"), "{command:?}");
        let named = [command, &["--cable", "boiler"]].concat();
        assert!(
            said(&world, &named).1.contains("`boiler` is none of the 2 cables"),
            "{named:?}"
        );
    }
    let listed = [
        "rehearse",
        "stat-cable",
        "--job",
        HALL,
        "--fault",
        "list",
        "--cable",
        "committee",
    ];
    assert!(said(&world, &listed).1.contains("committee room valve"));
    let one = ["plan", "stat-cable", "--job", HALL, "--cable", "committee"];
    let (code, plan) = said(&world, &one);
    assert_eq!(code, Some(0), "{plan}");
    assert!(
        plan.contains("Saltmarsh village hall, committee room thermostat cable"),
        "{plan}"
    );
}

#[cfg(unix)]
#[test]
fn at_a_terminal_it_is_asked_which_is_meant() {
    let world = World::with_key();
    let args = ["run", "stat-cable", "--job", HALL];
    let (mut child, mut shown) = at_a_terminal(&world, &args);
    shown.until("Which is meant?");
    shown.type_line("thermostat");
    shown.until("`thermostat` is none of them, or may be several.");
    shown.type_line("2");
    shown.until("Saltmarsh village hall, committee room thermostat cable");
    shown.until("earth-near");
    child.kill().unwrap();
    child.wait().unwrap();
}

#[test]
fn check_reads_every_cable_and_binds_the_one_that_is_named() {
    let world = World::new();
    let (code, every) = said(&world, &["check", HALL]);
    assert_eq!(code, Some(0), "{every}");
    for cable in ["hall thermostat cable", "committee room thermostat cable"] {
        let job = format!("job at Saltmarsh village hall, {cable}");
        assert!(every.contains(&job), "{every}");
    }
    let (code, none) = said(&world, &["check", HALL, "stat-cable"]);
    assert_eq!(code, Some(2), "{none}");
    assert!(none.contains("none is named"), "{none}");
    let (code, one) = said(&world, &["check", HALL, "stat-cable", "--cable", "hall thermostat"]);
    assert_eq!(code, Some(0), "{one}");
    assert!(one.contains("order proved") && !one.contains("committee"), "{one}");
}

/// A record as if it had been made for real.
pub fn for_real(rehearsed: &Forged) -> Forged {
    let opened = &rehearsed.0[0].1;
    let at = opened.find(",\"rehearsal\":{").unwrap();
    let end = at + opened[at..].find('}').unwrap() + 1;
    let rehearsal = opened[at..end].to_owned();
    rehearsed.edited(&["\"opened\""], &rehearsal, "")
}

#[test]
fn how_far_a_place_is_stands_where_things_stand_and_among_the_records() {
    let shelf = Shelf::new();
    let beside = "beside: [\\\"boiler cable\\\", \\\"pump cable\\\"], cable: (";
    let record = for_real(&Forged::today()).edited(&["\"opened\""], "cable: (", beside);
    let run = shelf.seal(&record);
    let place = "Saltmarsh Sailing Club, clubhouse, sail loft heating zone: 1 of 3 proved";
    assert!(shelf.said(&[], 0).contains(place));
    let (_, places) = said(&shelf.world, &["records", "places"]);
    assert!(places.starts_with(place), "{places}");
    for row in [
        "boiler cable | no record",
        &format!("sail loft thermostat cable | proved | {run}"),
    ] {
        assert!(places.contains(row), "`{row}` in {places}");
    }
    // a place with one cable is no list of cables
    let other = Shelf::new();
    other.seal(&for_real(&Forged::today()));
    assert!(
        other
            .said(&["records", "places"], 0)
            .contains("no record is of a place with several cables")
    );
    assert!(!other.said(&[], 0).contains("Places with several cables"));
}
