//! Characters that change a line without being seen in it never reach a terminal, wherever they come from.

use std::process::Output;

use coreproof::located::is_unseen;

use crate::world::{World, repo, text};

/// One of each kind: a control, marks of direction, a joiner, a filler, a selector, a tag, separators.
const HIDDEN: &str =
    "\u{1b}[2J\u{7}\u{202e}\u{2066}\u{200b}\u{ad}\u{34f}\u{115f}\u{3164}\u{fe0f}\u{180e}\u{e0041}\u{2028}\u{feff}";

#[track_caller]
fn nothing_hidden(output: &Output) {
    let said = text(&output.stdout) + &text(&output.stderr);
    let found: Vec<char> = said.chars().filter(|c| *c != '\n' && is_unseen(*c)).collect();
    assert_eq!(found, Vec::<char>::new(), "{said:?}");
    assert!(!said.is_empty());
}

#[test]
fn each_kind_is_one_that_is_unseen() {
    let rest: String = HIDDEN.chars().filter(|c| !is_unseen(*c)).collect();
    assert_eq!(rest, "[2J");
    for seen in ["Ωµ°C", "Łódź", "e\u{301}", "電気", "👷", "\u{a0}"] {
        assert!(!seen.chars().any(is_unseen), "{seen}");
    }
}

#[test]
fn a_file_name_with_hidden_characters_hides_nothing_in_any_message() {
    let world = World::new();
    let path = world.path(&format!("a{HIDDEN}b"));
    let name = path.to_str().unwrap();
    for args in [
        vec!["check", name],
        vec!["plan", name, "--job", name],
        vec!["verify", name],
        vec!["audit", "--against", name],
        vec!["audit", name],
        vec!["locate", name],
        vec!["records", "show", name],
        vec!["records", "import", name],
        vec!["certificate", name, "-o", name],
        vec!["key", "trust", name, "--as", name],
        vec!["limits", name],
        vec!["rehearse", "--fault", name],
        vec!["meter", "watch", "--meter", name],
        vec!["run", name, "--job", name, name],
        vec!["identify", "--resume", name],
        vec![name],
    ] {
        nothing_hidden(&world.run(&args));
    }
    std::fs::write(&path, format!("(place: \"a{HIDDEN}\", {HIDDEN}")).unwrap();
    for args in [
        vec!["check", name],
        vec!["verify", name],
        vec!["run", name, "--job", name],
    ] {
        nothing_hidden(&world.run(&args));
    }
}

#[test]
fn a_record_with_hidden_characters_hides_nothing_and_its_json_loses_nothing() {
    let job = std::fs::read_to_string(repo("fixtures/saltmarsh.ron")).unwrap();
    let world = World::new();
    // a character that a name may hold, as far as a job goes, and no display shows
    let odd = job.replacen("sail loft thermostat", "sail\u{3164}loft thermostat", 2);
    assert_ne!(odd, job);
    let path = world.path("job.ron");
    std::fs::write(&path, odd).unwrap();
    let plan = ["plan", "stat-cable", "--job", path.to_str().unwrap()];
    nothing_hidden(&world.run(&plan));
    let shown = world.run(&[&plan[..], &["--json"]].concat());
    nothing_hidden(&shown);
    let value: serde_json::Value = serde_json::from_slice(&shown.stdout).unwrap();
    assert!(value.to_string().contains("sail\u{3164}loft thermostat"));
    let out = world.path("out");
    let rehearsed = world.run(&[
        "rehearse",
        "stat-cable",
        "--job",
        path.to_str().unwrap(),
        "--out",
        out.to_str().unwrap(),
    ]);
    nothing_hidden(&rehearsed);
    let record = out.join("record.jsonl");
    let key = out.join("signer.pub");
    nothing_hidden(&world.run(&["verify", record.to_str().unwrap(), "--key", key.to_str().unwrap()]));
}
