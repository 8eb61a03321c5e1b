//! The engineer and the instruments told once, and jobs that name them.

use std::process::Output;

use crate::world::{World, repo, text};

fn said(output: &Output) -> (Option<i32>, String) {
    let all = text(&output.stdout) + &text(&output.stderr);
    (
        output.status.code(),
        all.split_whitespace().collect::<Vec<_>>().join(" "),
    )
}

/// The shipped job with its instruments named instead of written out, in the world's home; its path.
pub fn naming(world: &World, names: &str) -> String {
    let job = std::fs::read_to_string(repo("fixtures/saltmarsh.ron")).unwrap();
    let (before, _) = job.split_once("    instruments: [").unwrap();
    let before = before.replace("    engineer: \"Morgan Teal\",\n", "");
    let path = world.path("my-job.ron");
    std::fs::write(&path, format!("{before}    instruments: [{names}],\n)\n")).unwrap();
    path.display().to_string()
}

#[test]
fn instruments_are_taken_over_listed_and_named_by_a_job_whose_record_holds_them_whole() {
    let world = World::with_key();
    let (code, told) = said(&world.run(&["instruments"]));
    assert_eq!(code, Some(0));
    assert!(told.starts_with("no instruments are told yet"), "{told}");
    let job = naming(&world, "\"indicator\", \"tester\"");
    let (code, refusal) = said(&world.run(&["check", &job]));
    assert_eq!(code, Some(2));
    assert!(refusal.contains("no instrument is told as `tester`"), "{refusal}");
    let (code, told) = said(&world.run(&["instruments", "add", "saltmarsh", "indicator", "tester"]));
    assert_eq!(code, Some(0), "{told}");
    assert!(told.contains("engineer Morgan Teal"), "{told}");
    let (_, told) = said(&world.run(&["instruments", "list"]));
    assert!(told.contains("SM-2290") && !told.contains("SM-0031"), "{told}");
    assert_eq!(world.run(&["check", "stat-cable", &job]).status.code(), Some(0));
    let mut walk = world.talk(&["run", &world.sequence(), "--job", &job]);
    assert!(!walk.to("nowhere"), "{}", walk.seen);
    let (code, seen, errors) = walk.finish();
    assert_eq!(code, 0, "{seen}\n{errors}");
    // an auditor has no such home
    let list = world.run(&["records", "list", "--json"]);
    let records: serde_json::Value = serde_json::from_slice(&list.stdout).unwrap();
    let run = records[0]["run"].as_str().unwrap();
    let out = world.path("out");
    let export = world.run(&["records", "export", run, "-o", out.to_str().unwrap()]);
    assert_eq!(export.status.code(), Some(0), "{}", text(&export.stderr));
    let elsewhere = World::new();
    let record = std::fs::read_dir(&out).unwrap().map(|entry| entry.unwrap().path());
    let record = record.into_iter().find(|path| path.ends_with("record.jsonl")).unwrap();
    let key = out.join("signer.pub");
    let verified = elsewhere.run(&["verify", record.to_str().unwrap(), "--key", key.to_str().unwrap()]);
    assert_eq!(verified.status.code(), Some(0), "{}", text(&verified.stdout));
    let opening = std::fs::read_to_string(&record).unwrap();
    assert!(opening.lines().next().unwrap().contains("SM-2290"));
}

#[test]
fn another_instrument_under_a_name_is_taken_over_only_when_it_is_said() {
    let world = World::new();
    let add = ["instruments", "add", "saltmarsh"];
    assert_eq!(world.run(&add).status.code(), Some(0));
    assert_eq!(world.run(&add).status.code(), Some(0), "the same again is no other");
    let job = std::fs::read_to_string(repo("fixtures/saltmarsh.ron")).unwrap();
    let path = world.path("other.ron");
    std::fs::write(&path, job.replace("SM-2290", "SM-9999")).unwrap();
    let other = path.to_str().unwrap();
    let (code, refusal) = said(&world.run(&["instruments", "add", other, "tester"]));
    let expected =
        "error: another instrument is told as `tester` next: give `--replace`, or call one of them otherwise";
    assert_eq!((code, refusal.as_str()), (Some(2), expected));
    let replaced = world.run(&["instruments", "add", other, "tester", "--replace"]);
    assert_eq!(replaced.status.code(), Some(0), "{}", text(&replaced.stderr));
    let (_, told) = said(&world.run(&["instruments"]));
    assert!(told.contains("SM-9999") && !told.contains("SM-2290"), "{told}");
    let (code, refusal) = said(&world.run(&["instruments", "add", other, "sextant"]));
    assert_eq!(code, Some(2));
    assert!(
        refusal.contains("holds no instrument `sextant` next: it has `indicator`, `tester`, `multimeter`"),
        "{refusal}"
    );
}

#[test]
fn a_calibration_is_told_and_one_that_is_due_is_said_everywhere() {
    let world = World::with_key();
    assert_eq!(world.run(&["instruments", "add", "saltmarsh"]).status.code(), Some(0));
    let job = naming(&world, "\"indicator\", \"tester\"");
    let today = jiff::Timestamp::now().to_string()[..10]
        .parse::<jiff::civil::Date>()
        .unwrap();
    let soon = today.checked_add(jiff::Span::new().days(12)).unwrap().to_string();
    let on = today.checked_sub(jiff::Span::new().days(300)).unwrap().to_string();
    let calibrated = ["instruments", "calibrated", "tester", "--on", &on, "--due", &soon];
    let (code, told) = said(&world.run(&calibrated));
    assert_eq!(code, Some(0), "{told}");
    let expected = format!("the calibration of `tester` (serial SM-2290) is due on {soon}, in 12 days");
    for args in [
        vec!["instruments"],
        vec!["instruments", "check"],
        vec![],
        vec!["check", &job],
        vec!["plan", "stat-cable", "--job", &job],
        vec!["run", "stat-cable", "--job", &job],
    ] {
        let (_, told) = said(&world.run(&args));
        assert!(told.contains(&expected), "{args:?}: {told}");
    }
    let (code, refusal) = said(&world.run(&["instruments", "calibrated", "tster", "--on", &on, "--due", &soon]));
    let expected = "error: no instrument is told as `tster` next: write `tester`";
    assert_eq!((code, refusal.as_str()), (Some(2), expected));
    let (code, refusal) = said(&world.run(&["instruments", "calibrated", "tester", "--on", &soon, "--due", &on]));
    assert_eq!(code, Some(2), "{refusal}");
    // nothing of it was written
    assert_eq!(world.run(&["instruments", "check"]).status.code(), Some(0));
    let engineer = world.run(&["instruments", "engineer", "Robin, of the \"Sand\""]);
    assert_eq!(engineer.status.code(), Some(0), "{}", text(&engineer.stderr));
    let again = world.run(&["instruments", "engineer", "Robin Sand"]);
    assert_eq!(again.status.code(), Some(0), "{}", text(&again.stderr));
    let (_, told) = said(&world.run(&["instruments"]));
    assert!(told.starts_with("engineer Robin Sand"), "{told}");
}

#[test]
fn all_mistakes_of_shape_in_a_sequence_are_told_at_once() {
    let world = World::new();
    let path = world.path("steps.ron");
    let text = "(\n format: \"1.1\", name: \"steps\", titel: \"Steps\",\n steps: [\n\
                Do(id: \"a\", say: \"A\", stages: Isolate, act: SwitchOff),\n\
                Do(id: \"b\", say: \"B\"),\n\
                Dro(id: \"c\", say: \"C\", act: Notice),\n\
                Do(id: \"d\" say: \"D\", act: LockOff),\n\
                Do(id: e, say: \"E\", act: KeepKey),\n\
                Do(id: \"f\", say: \"F\", act: Jump),\n\
                ForEachCore([Tug(id: \"g\", end: Left, say: \"G\")]),\n ],\n)\n";
    std::fs::write(&path, text).unwrap();
    let (code, told) = said(&world.run(&["check", path.to_str().unwrap()]));
    assert_eq!(code, Some(2));
    for (line, words) in [
        (2, "write `title`"),
        (4, "write `stage`"),
        (5, "add `stage: …`"),
        (6, "unexpected variant named `Dro`"),
        (7, "put a comma between"),
        (8, "put it in quotes"),
        (9, "unexpected variant named `Jump`"),
        (10, "`Left`"),
    ] {
        assert!(told.contains(words), "`{words}` in {told}");
        assert!(told.contains(&format!("steps.ron:{line}:")), "line {line} in {told}");
    }
}

#[test]
fn all_mistakes_of_a_job_are_told_at_once_and_units_may_be_as_people_write_them() {
    let world = World::new();
    let job = std::fs::read_to_string(repo("fixtures/saltmarsh.ron")).unwrap();
    let edited = |edits: &[(&str, &str)]| {
        let mut job = job.clone();
        for (from, to) in edits {
            assert!(job.contains(from), "{from}");
            job = job.replacen(from, to, 1);
        }
        let path = world.path("edited.ron");
        std::fs::write(&path, job).unwrap();
        said(&world.run(&["check", path.to_str().unwrap()]))
    };
    let written = [
        ("\"1.0 mm2\"", "\"1,0 sqmm\""),
        ("\"1.0 mm2\"", "\"1.0 mm\u{b2}\""),
        ("\"47 kohm\"", "\"47 k\""),
        ("\"15 degC\"", "\"15 C\""),
        ("\"0.41 ohm\"", "\"0,41 R\""),
        ("\"299 Mohm\"", "\"299 M\""),
    ];
    let (code, told) = edited(&written);
    assert_eq!(code, Some(0), "{told}");
    let (code, told) = edited(&[
        ("place:", "plaice:"),
        ("carries: Neutral", "carries: Nutral"),
        ("\"18 m\"", "\"18 furlong\""),
        ("takes: EndSwitch", "takes EndSwitch"),
        ("near: \"2\"", "near: \"9\""),
        ("\"6 W\"", "6"),
        ("serial: \"SM-0031\",", "serial: \"SM-0031\""),
    ]);
    assert_eq!(code, Some(2));
    for words in [
        "unexpected field named `plaice`",
        "write `place`",
        "unexpected variant named `Nutral`",
        "write `Neutral`",
        "`furlong` is not a unit known here",
        "put a colon between",
        "no terminal `9` at the wiring centre",
        "put it in quotes",
        "put a comma between",
        "7 errors found; nothing was run",
    ] {
        assert!(told.contains(words), "`{words}` in {told}");
    }
}

#[test]
fn every_command_takes_the_same_names_and_says_the_nearest() {
    let world = World::new();
    assert_eq!(world.run(&["check", "stat-cable", "saltmarsh"]).status.code(), Some(0));
    for args in [
        vec!["plan", "stat-cabel", "--job", "saltmarsh"],
        vec!["coverage", "stat-cabel", "--job", "saltmarsh"],
        vec!["run", "stat-cabel", "--job", "saltmarsh"],
        vec!["locate", "--sequence", "stat-cabel"],
        vec!["check", "stat-cabel"],
    ] {
        let (code, told) = said(&world.run(&args));
        assert_eq!(code, Some(2), "{args:?}");
        assert!(
            told.contains("next: write `stat-cable`, or give a file"),
            "{args:?}: {told}"
        );
    }
}
