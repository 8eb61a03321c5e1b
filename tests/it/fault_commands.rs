//! Coverage, practice and locating from the shipped binary.

use crate::world::{World, repo, text};

const SEQUENCE: &str = "sequences/stat-cable.ron";
const JOB: &str = "fixtures/saltmarsh.ron";

#[test]
fn the_shipped_sequence_keeps_its_promises() {
    let world = World::new();
    let picture = world.path("matrix.svg");
    let args = ["coverage", SEQUENCE, "--job", JOB, "--svg", picture.to_str().unwrap()];
    world.pinned("coverage-with-a-picture", &args);
    let svg = std::fs::read_to_string(&picture).unwrap();
    assert!(svg.starts_with("<svg ") && svg.contains("core-open:grey"), "{svg}");
    world.pinned("coverage-overwrites-nothing", &args);
}

#[test]
fn a_broken_promise_is_found() {
    let world = World::new();
    let whole = std::fs::read_to_string(repo(SEQUENCE)).unwrap();
    // without the last step a welded end switch is not seen
    let at = whole.find("        Voltage(id: \"end-switch-off\"").unwrap();
    let shorter = format!("{}    ],\n)\n", &whole[..at]);
    let path = world.path("shorter.ron");
    std::fs::write(&path, shorter).unwrap();
    let output = world.run(&["coverage", path.to_str().unwrap(), "--job", JOB, "--json"]);
    assert_eq!(output.status.code(), Some(1), "{}", text(&output.stderr));
    let found: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let broken = found["broken_promises"].as_array().unwrap();
    assert!(broken.contains(&"end-switch-closed".into()), "{broken:?}");
    let unknown = whole.replace("promises: [", "promises: [\"gremlin\",");
    std::fs::write(&path, unknown).unwrap();
    let output = world.run(&["check", path.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(2));
    world.pinned_output("check-unknown-promise", &["check", "HOME/shorter.ron"], &output);
}

#[test]
fn a_rehearsed_fault_is_located_from_its_record() {
    let world = World::new();
    let out = world.path("out");
    let out = out.to_str().unwrap();
    let walked = world.run(&["rehearse", "--fault", "core-open:grey", "--out", out]);
    assert_eq!(walked.status.code(), Some(1), "{}", text(&walked.stderr));
    world.pinned("locate-of-a-record", &["locate", &format!("{out}/record.jsonl")]);
    world.pinned("locate-of-no-record", &["locate", &format!("{out}/signer.pub")]);
}

#[test]
fn readings_are_located_from_a_file_and_from_typed_lines() {
    let world = World::new();
    let path = world.path("readings.txt");
    std::fs::write(&path, "continuity/brown: 0.66\ncontinuity/grey: OL\n").unwrap();
    let from_file = world.run(&["locate", "--readings", path.to_str().unwrap(), "--json"]);
    let located: serde_json::Value = serde_json::from_slice(&from_file.stdout).unwrap();
    assert_eq!(from_file.status.code(), Some(1));
    assert_eq!(located["diagnoses"][0]["faults"][0], "core-open:grey");
    let typed = world.typed(
        &["locate"],
        "continuity/brown: 0.66\ngrey is open\ncontinuity/grey: OL\n\n",
    );
    world.pinned_output("locate-typed", &["locate"], &typed);
}

#[test]
fn practice_hides_the_fault_and_explains_it() {
    let world = World::new();
    let output = world.typed(&["rehearse", "--practice", "--seed", "3"], "gremlin\n");
    let shown = text(&output.stdout);
    assert_eq!(output.status.code(), Some(1), "{shown}{}", text(&output.stderr));
    world.pinned_output("rehearse-practice", &["rehearse", "--practice", "--seed", "3"], &output);
    let (before, after) = shown.split_once("Which fault is it?").unwrap();
    let name = after
        .split_once("The fault was `")
        .unwrap()
        .1
        .split('`')
        .next()
        .unwrap();
    assert!(!before.contains(name), "{name} was told too early");
    // who closes the input is told all the same
    let told = world.run(&["rehearse", "--practice", "--seed", "3"]);
    assert!(text(&told.stdout).contains(&format!("The fault was `{name}`")));
}

#[test]
fn two_faults_at_once_stop_at_the_first() {
    let output = World::new().run(&["rehearse", "--fault", "valve-stuck+core-open:grey"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(
        text(&output.stdout).contains("FAIL       continuity/grey"),
        "{}",
        text(&output.stdout)
    );
}

#[test]
fn a_failed_step_of_a_run_is_located_without_a_trace_in_the_record() {
    let world = World::with_key();
    let mut walk = world.walk(&[]);
    assert!(walk.to("continuity/grey"));
    walk.answer("OL");
    walk.question();
    walk.answer("locate");
    walk.answer("abandon");
    walk.question();
    assert!(walk.seen.contains("(`core-open:grey`)"), "{}", walk.seen);
    let journal = std::fs::read_to_string(&world.journals()[0]).unwrap();
    assert!(journal.contains("continuity/grey") && !journal.contains("locate"));
    walk.answer("the fault is found");
    // a link is on and every core is loose: the place is made safe first
    walk.question();
    walk.answer("done");
    let (code, seen, errors) = walk.finish();
    assert_eq!(code, 1, "{seen}{errors}");
}

#[test]
fn a_fault_without_a_place_goes_where_the_job_has_one() {
    let args = [
        "rehearse",
        "extra-low-pair",
        "--job",
        "fixtures/changing-rooms-pair.ron",
        "--fault",
    ];
    for (fault, caught) in [
        ("core-open", "FAIL       pair/closed"),
        ("supply-still-live", "FAIL       dead-near/earth-line"),
        ("plate-extra-low", "FAIL       pair/far-plate"),
    ] {
        let output = World::new().run(&[&args[..], &[fault]].concat());
        let shown = text(&output.stdout);
        assert_eq!(
            output.status.code(),
            Some(1),
            "{fault}: {shown}{}",
            text(&output.stderr)
        );
        assert!(shown.contains(caught), "{fault}: {shown}");
    }
    let output = World::new().run(&[&args[..], &["core-open:grey"]].concat());
    assert_eq!(
        output.status.code(),
        Some(2),
        "a place that is named is not exchanged for another"
    );
}

/// What every shipped sequence comes to on its job with nothing wrong, meter, noise and all, and what is made of that record.
#[test]
fn every_sound_record_of_a_shipped_sequence_is_located_as_sound() {
    let world = World::new();
    for shipped in coreproof::sequence::shipped::SEQUENCES {
        let out = world.path(shipped.name);
        let walked = world.run(&["rehearse", shipped.name, "--out", out.to_str().unwrap()]);
        assert_eq!(
            walked.status.code(),
            Some(0),
            "{}: {}",
            shipped.name,
            text(&walked.stderr)
        );
        let record = out.join("record.jsonl");
        let located = world.run(&["locate", record.to_str().unwrap()]);
        let said = text(&located.stdout);
        assert_eq!(located.status.code(), Some(0), "{}: {said}", shipped.name);
        assert!(
            said.starts_with("No step speaks against a sound installation"),
            "{said}"
        );
        assert!(
            !said.contains(" was seen, ") && !said.contains("Not looked at"),
            "{said}"
        );
    }
}
