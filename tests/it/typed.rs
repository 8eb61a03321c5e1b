//! The whole job with every reading typed.

use crate::world::{STEPS, World, text};

#[test]
fn a_typed_run_is_sealed_listed_shown_exported_and_audited() {
    let world = World::with_key();
    let mut walk = world.walk(&[]);
    assert!(!walk.to("nowhere"));
    let (code, seen, errors) = walk.finish();
    let args = ["run", "HOME/stat-cable.ron", "--job", "fixtures/saltmarsh.ron"];
    world.pinned_said("run", &args, (code, &seen, &errors));
    assert!(
        world.journals().is_empty(),
        "the sealed journal has gone into the archive"
    );

    let list = world.run(&["records", "list", "--json"]);
    let records: serde_json::Value = serde_json::from_slice(&list.stdout).unwrap();
    world.pinned("records-list", &["records", "list"]);
    let run = records[0]["run"].as_str().unwrap().to_owned();

    world.pinned("records-show", &["records", "show", &run]);
    let another = ["records", "show", &run, "--edition", "2001"];
    world.pinned("records-show-by-another-edition", &another);

    let out = world.path("out");
    let out = out.to_str().unwrap();
    world.pinned("records-export", &["records", "export", &run, "-o", out]);
    let signed = std::fs::read_to_string(format!("{out}/record.jsonl")).unwrap();
    assert!(
        signed.lines().next().unwrap().contains("its tables were not seen"),
        "the signed bytes say whose values judge"
    );
    world.pinned("verify", &["verify", &format!("{out}/record.jsonl")]);
    world.pinned("audit", &["audit"]);

    let pdf = world.path("sail-loft.pdf");
    let pdf = pdf.to_str().unwrap();
    #[cfg(feature = "certificate")]
    {
        world.pinned("certificate", &["certificate", &run, "-o", pdf]);
        world.pinned("verify-certificate", &["verify", pdf]);
    }
    #[cfg(not(feature = "certificate"))]
    {
        world.pinned("certificate-left-out", &["certificate", &run, "-o", pdf]);
    }

    one_changed_byte_is_found(&world, out);
    another_home_does_not_trust_the_signer(&world, out);
}

fn one_changed_byte_is_found(world: &World, out: &str) {
    let path = format!("{out}/record.jsonl");
    let record = std::fs::read(&path).unwrap();
    for at in (0..record.len()).step_by(record.len() / 7) {
        let mut edited = record.clone();
        edited[at] ^= 1;
        std::fs::write(&path, &edited).unwrap();
        let verified = world.run(&["verify", &path]);
        assert_eq!(verified.status.code(), Some(2), "byte {at}");
        assert!(
            text(&verified.stderr).contains("next: do not rely on it"),
            "{}",
            text(&verified.stderr)
        );
    }
    let mut edited = record.clone();
    let at = text(&record).find("0.63 ohm").unwrap();
    edited[at] = b'1';
    std::fs::write(&path, &edited).unwrap();
    world.pinned("verify-changed", &["verify", &path]);
    std::fs::write(&path, &record).unwrap();
}

fn another_home_does_not_trust_the_signer(world: &World, out: &str) {
    let other = World::new();
    let file = format!("{out}/record.jsonl");
    let args = ["verify", &file];
    world.pinned_output("verify-untrusted", &args, &other.run(&args));
    assert_eq!(other.run(&["records", "import", &file]).status.code(), Some(2));
    let trusted = other.run(&["key", "trust", &format!("{out}/signer.pub"), "--as", "Morgan Teal"]);
    assert_eq!(trusted.status.code(), Some(0), "{}", text(&trusted.stderr));
    assert_eq!(other.run(&["verify", &file]).status.code(), Some(0));
    assert_eq!(other.run(&["records", "import", &file]).status.code(), Some(0));
    assert_eq!(other.run(&["audit"]).status.code(), Some(0));
}

#[test]
fn a_failed_step_left_bars_the_live_tests_and_the_abandoned_run_is_sealed() {
    let world = World::with_key();
    let mut walk = world.walk(&[]);
    assert!(walk.to("insulation/brown"));
    walk.answer("0.4");
    walk.question();
    walk.answer("leave");
    walk.question();
    walk.answer("cable crushed behind the locker");
    // the next question about the insulation step is the gate's
    assert!(walk.to("insulation/brown"));
    walk.answer("abandon");
    walk.question();
    walk.answer("cable to be replaced");
    assert_eq!(walk.question(), None);
    let (code, seen, errors) = walk.finish();
    assert_eq!(code, 1, "{seen}\n{errors}");
    assert!(
        seen.contains("The walk cannot go on: `insulation/brown` has not passed"),
        "{seen}"
    );
    assert!(!seen.contains("LIVE. Competent"), "no live step was shown");
    let list: serde_json::Value = serde_json::from_slice(&world.run(&["records", "list", "--json"]).stdout).unwrap();
    assert_eq!(
        (&list[0]["verdict"], &list[0]["outcome"]),
        (&"fail".into(), &"abandoned".into())
    );
    assert_eq!(
        world.run(&["audit"]).status.code(),
        Some(0),
        "a failed run is not a finding"
    );
}

#[test]
fn a_run_without_a_key_is_refused_before_it_begins() {
    let world = World::new();
    let output = world.run(&["run", "sequences/stat-cable.ron", "--job", "fixtures/saltmarsh.ron"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        text(&output.stderr).contains("coreproof key new"),
        "{}",
        text(&output.stderr)
    );
    assert!(world.journals().is_empty());
}

#[test]
fn a_wrong_passphrase_keeps_the_closed_run_for_later() {
    let world = World::with_key();
    let mut walk = world.walk(&[]);
    walk.question();
    walk.answer("abandon");
    walk.question();
    walk.answer("tide came in");
    walk.question();
    walk.answer("wrong");
    walk.answer("wrong again");
    walk.answer("still wrong");
    let (code, _, errors) = walk.close();
    assert_eq!(code, 2, "{errors}");
    assert!(errors.contains("seal it with `coreproof resume`"), "{errors}");
    assert_eq!(world.journals().len(), 1);
    let resumed = world.typed(&["resume"], &format!("{}\n", crate::world::PASSPHRASE));
    assert_eq!(resumed.status.code(), Some(1), "{}", text(&resumed.stderr));
    assert!(world.journals().is_empty());
}

#[test]
fn an_instrument_past_its_calibration_is_refused_or_used_with_its_reason_on_record() {
    let world = World::with_key();
    let job = std::fs::read_to_string(crate::world::repo("fixtures/saltmarsh.ron")).unwrap();
    let path = world.path("overdue.ron");
    std::fs::write(&path, job.replace("due: \"2027-06-02\"", "due: \"2026-06-03\"")).unwrap();
    let args = ["run", "sequences/stat-cable.ron", "--job", path.to_str().unwrap()];
    let refused = world.run(&args);
    assert_eq!(refused.status.code(), Some(2));
    assert!(
        text(&refused.stderr).contains("the calibration of `tester` (serial SM-2290) was due on 2026-06-03"),
        "{}",
        text(&refused.stderr)
    );
    assert!(text(&refused.stderr).contains("--overdue"), "{}", text(&refused.stderr));
    let mut walk = world.talk(&[&args[..], &["--overdue", "no other tester this side of the estuary"]].concat());
    walk.question();
    walk.answer("abandon");
    walk.question();
    walk.answer("checked");
    let (code, _, errors) = walk.finish();
    assert_eq!(code, 1, "{errors}");
    let list: serde_json::Value = serde_json::from_slice(&world.run(&["records", "list", "--json"]).stdout).unwrap();
    let shown = text(&world.run(&["records", "show", list[0]["run"].as_str().unwrap()]).stdout);
    assert!(
        shown.contains("used all the same: no other tester this side of the estuary"),
        "{shown}"
    );
}

#[test]
fn on_a_pipe_a_line_may_name_the_question_that_it_answers() {
    let world = World::with_key();
    let mut walk = world.walk(&[]);
    walk.until("question 1");
    walk.answer("2: lit");
    walk.until("that does not answer question 1, which is asked now");
    walk.answer("1: lit");
    walk.until(&format!("2 of {STEPS}  lead"));
    walk.until("question 2");
    // what is typed twice is no answer to the next question
    walk.answer("1: lit");
    walk.until("that does not answer question 2");
    walk.answer("lit");
    walk.until(&format!("3 of {STEPS}"));
    walk.kill();
}

#[test]
fn half_a_line_before_the_input_ends_is_no_answer_and_an_overlong_one_is_refused() {
    let world = World::with_key();
    let output = world.typed(
        &["run", "sequences/stat-cable.ron", "--job", "fixtures/saltmarsh.ron"],
        &format!("{}\nlit\nlit", "9".repeat(100_000)),
    );
    let seen = text(&output.stdout);
    assert_eq!(output.status.code(), Some(130), "{seen}");
    assert!(
        seen.contains("the line is longer than 4096 bytes; nothing of it was taken"),
        "{seen}"
    );
    assert!(
        seen.contains(&format!("2 of {STEPS}  lead")) && !seen.contains(&format!("3 of {STEPS}")),
        "{seen}"
    );
    let journal = std::fs::read_to_string(&world.journals()[0]).unwrap();
    assert_eq!(journal.lines().count(), 3, "{journal}");
}

#[test]
fn a_run_that_isolates_nothing_offers_no_repair() {
    let world = World::with_key();
    let mut walk = world.talk(&["run", "hand-over", "--job", "saltmarsh"]);
    walk.until("question 1");
    // not the same for each of them
    walk.answer("no");
    walk.until("question 2");
    walk.answer("found nothing of the kind");
    walk.until("did not pass. What now?");
    walk.until("question 3");
    walk.answer("repair");
    walk.until("`repair` is none of `again`, `leave`");
    walk.kill();
}
