//! What version 0.1 sealed: records of every shipped sequence, passed and failed, identifications, certificates. Each verifies as it
//! did, for as long as there is a coreproof.
//!
//! The files are in `fixtures/records/0.1`; `expected.tsv` says what each came to when it was made: its kind, its outcome, the steps of its
//! plan (of an identification the answers and readings), and its findings.

use coreproof::evidence::Sealed;
use coreproof::evidence::audit::{Concern, examine, is_identification};
use coreproof::evidence::keys::PublicKey;
use coreproof::identify::session::Session;
use coreproof::run::fold::Run;

use crate::world::{World, repo, text};

const FOLDER: &str = "fixtures/records/0.1";

/// One line of the list.
struct Expected {
    file: String,
    kind: String,
    outcome: String,
    steps: usize,
    findings: usize,
}

fn all() -> Vec<Expected> {
    let list = std::fs::read_to_string(repo(FOLDER).join("expected.tsv")).unwrap();
    let line = |line: &str| {
        let fields: Vec<_> = line.split('\t').collect();
        let [file, kind, outcome, steps, findings] = fields.as_slice() else {
            panic!("five fields a line: {line}")
        };
        Expected {
            file: (*file).to_owned(),
            kind: (*kind).to_owned(),
            outcome: (*outcome).to_owned(),
            steps: steps.parse().unwrap(),
            findings: findings.parse().unwrap(),
        }
    };
    list.lines().map(line).collect()
}

#[test]
fn every_shipped_sequence_has_a_record_that_passed_and_one_that_failed() {
    let all = all();
    // those that came later than 0.1
    let later = [
        "cylinder-cut-out",
        "cylinder-cut-out-restored",
        "no-heat",
        "stat-switched-live",
        "stat-volt-free",
        "two-zone-valves",
    ];
    let shipped = coreproof::sequence::shipped::SEQUENCES.iter();
    for sequence in shipped.filter(|sequence| !later.contains(&sequence.name)) {
        for (end, outcome) in [("passed", "pass"), ("failed", "fail")] {
            let name = format!("{}-{end}.jsonl", sequence.name);
            let there = all.iter().find(|record| record.file == name);
            assert_eq!(there.map(|record| record.outcome.as_str()), Some(outcome), "{name}");
        }
    }
}

#[test]
fn what_0_1_sealed_comes_to_the_same() {
    let key = PublicKey::read(&repo(FOLDER).join("key.pub")).unwrap();
    for expected in all() {
        let path = repo(FOLDER).join(&expected.file);
        let sealed = Sealed::read(&path).unwrap();
        let (came_to, steps, remarks) = if is_identification(&sealed.record) {
            assert_eq!(expected.kind, "identification", "{}", expected.file);
            let examined = examine::<Session>(&sealed.record, &sealed.signature, Some(&key));
            let session = examined.folded.unwrap();
            let (told, _) = session.closed.clone().unwrap();
            let outcome = if told.is_sound() { "pass" } else { "fail" };
            (outcome.to_owned(), session.answers, examined.remarks)
        } else {
            assert_eq!(expected.kind, "run", "{}", expected.file);
            let examined = examine::<Run>(&sealed.record, &sealed.signature, Some(&key));
            let run = examined.folded.unwrap();
            assert_eq!(
                (run.rules.name, &run.differences),
                ("1", &Vec::new()),
                "{}",
                expected.file
            );
            let outcome = run.outcome().word().to_lowercase().replace(' ', "_");
            (outcome, run.steps.len(), examined.remarks)
        };
        // the proof of order has asked for more since; that is said, and speaks against no record
        let remarks: Vec<_> = remarks
            .into_iter()
            .filter(|remark| remark.concern != Concern::LaterProof)
            .collect();
        assert_eq!(
            (came_to.as_str(), steps, remarks.len()),
            (expected.outcome.as_str(), expected.steps, expected.findings),
            "{}: {remarks:?}",
            expected.file
        );
    }
}

#[test]
fn the_shipped_program_verifies_and_takes_in_what_0_1_sealed() {
    let world = World::new();
    let file = |name: &str| format!("{FOLDER}/{name}");
    let trusted = world.run(&["key", "trust", &file("key.pub"), "--as", "Morgan Teal"]);
    assert_eq!(trusted.status.code(), Some(0), "{}", text(&trusted.stderr));
    for expected in all() {
        let verified = world.run(&["verify", &file(&expected.file)]);
        let seen = text(&verified.stdout) + &text(&verified.stderr);
        assert_eq!(verified.status.code(), Some(0), "{}: {seen}", expected.file);
        if expected.kind == "run" {
            let imported = world.run(&["records", "import", &file(&expected.file)]);
            let passed = expected.outcome == "pass";
            assert_eq!(
                imported.status.code(),
                Some(i32::from(!passed)),
                "{}",
                text(&imported.stderr)
            );
        }
    }
    let runs = all().iter().filter(|expected| expected.kind == "run").count();
    let audited = world.run(&["audit"]);
    let seen = text(&audited.stdout);
    assert!(seen.starts_with(&format!("{runs} records examined, ")), "{seen}");
    // one of them was walked with a clock that was set back, and of the sequences of then today's proof asks for more
    assert_eq!(seen.matches("| clock ").count(), 1, "{seen}");
    let flat = seen.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("it was walked as it was proved then"), "{seen}");
}

#[cfg(feature = "certificate")]
#[test]
fn a_certificate_of_0_1_still_gives_its_record() {
    let world = World::new();
    for name in ["stat-cable-passed", "zone-valve-failed"] {
        let pdf = format!("{FOLDER}/{name}.pdf");
        let verified = world.run(&["verify", &pdf, "--key", &format!("{FOLDER}/key.pub")]);
        let seen = text(&verified.stdout) + &text(&verified.stderr);
        assert!(seen.contains("record       unchanged since it was sealed"), "{seen}");
        // its pages can no longer be made byte for byte: the record is good, and no silent 0 says that the pages are
        assert_eq!(verified.status.code(), Some(1), "{seen}");
        let pages = "record good, pages not proved by this version: check them with coreproof 0.1.0 or a later one";
        assert!(seen.contains(pages), "{seen}");
    }
}
