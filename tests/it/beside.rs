//! What stands beside a record: later records that supersede it, and further signatures.
//!
//! The records are those that version 0.1 made, sealed again by a key of the test; a correction is one of them with another run's name.

use std::path::PathBuf;

use coreproof::evidence::archive::{Archive, sha256_hex};
use coreproof::evidence::keys::{SigningKey, Trust};
use coreproof::evidence::log::Heads;
use coreproof::evidence::seal::store;
use coreproof::evidence::statements::countersign;
use rusqlite::Connection;

use crate::forged::Forged;
use crate::world::{World, text};

const RECORD: &str = "stat-cable-passed.jsonl";
const WHY: &str = "the wrong thermostat was named";

/// A home whose archive is filled by a key of the test.
pub struct Shelf {
    pub world: World,
    pub key: SigningKey,
}

impl Shelf {
    pub fn new() -> Shelf {
        let shelf = Shelf {
            world: World::new(),
            key: SigningKey::throw_away(),
        };
        Trust::add(&shelf.world.path("trusted"), "Morgan Teal", &shelf.key.public()).unwrap();
        shelf
    }

    pub fn archive(&self) -> PathBuf {
        self.world.path("archive.sqlite")
    }

    /// Seals a record; its run.
    pub fn seal(&self, record: &Forged) -> String {
        let journal = self.world.path("journal.jsonl");
        std::fs::write(&journal, record.bytes()).unwrap();
        let heads = Heads::of(self.world.path("checkpoints"));
        store(&journal, &self.archive(), &heads, &self.key)
            .unwrap()
            .summary
            .run
            .to_string()
    }

    #[track_caller]
    pub fn said(&self, args: &[&str], code: i32) -> String {
        said(&self.world, args, code)
    }

    /// A record as a certificate, or as plain files where there are none.
    pub fn handed_out(&self, run: &str, name: &str) -> String {
        let path = self.world.path(name).display().to_string();
        if cfg!(feature = "certificate") {
            let pdf = format!("{path}.pdf");
            self.said(&["certificate", run, "-o", &pdf], 0);
            return pdf;
        }
        self.said(&["records", "export", run, "-o", &path], 0);
        format!("{path}/record.jsonl")
    }
}

#[track_caller]
fn said(world: &World, args: &[&str], code: i32) -> String {
    let output = world.run(args);
    let seen = text(&output.stdout) + &text(&output.stderr);
    assert_eq!(output.status.code(), Some(code), "{args:?}: {seen}");
    seen
}

/// The run that a record is of.
fn run_of(record: &Forged) -> String {
    let opened = &record.0[0].1;
    let at = opened.find("\"run\":\"").unwrap() + 7;
    opened[at..at + 36].to_owned()
}

/// A record that says it supersedes another.
pub fn superseding(earlier: &Forged, sha256: &str, because: &str) -> Forged {
    let run = run_of(earlier);
    let later = format!("{}ffff", &run[..32]);
    let mut record = earlier.edited(&["\"opened\""], &run, &later);
    let opened = &mut record.0[0].1;
    opened.truncate(opened.len() - 2);
    opened.push_str(&format!(
        ",\"supersedes\":{{\"run\":\"{run}\",\"sha256\":\"{sha256}\",\"because\":\"{because}\"}}}}}}"
    ));
    record
}

/// A shelf with a record and its correction.
fn corrected() -> (Shelf, String, String) {
    let shelf = Shelf::new();
    let record = Forged::earlier(RECORD);
    let earlier = shelf.seal(&record);
    let later = shelf.seal(&superseding(&record, &sha256_hex(&record.bytes()), WHY));
    (shelf, earlier, later)
}

#[test]
fn a_corrected_record_is_shown_as_superseded_wherever_both_are_at_hand() {
    let shelf = Shelf::new();
    let record = Forged::earlier(RECORD);
    let earlier = shelf.seal(&record);
    let before = shelf.handed_out(&earlier, "before");
    assert!(
        shelf
            .said(&["verify", &before], 0)
            .contains("superseded   no later record is known here; this file alone cannot show one")
    );
    let later = shelf.seal(&superseding(&record, &sha256_hex(&record.bytes()), WHY));
    let words = format!("SUPERSEDED by the record of run {later} of Morgan Teal, closed ");
    let why = format!(": {WHY}.");
    let holds = |seen: &str| assert!(seen.contains(&words) && seen.contains(&why), "{seen}");
    holds(&shelf.said(&["records", "show", &earlier], 0));
    holds(&shelf.said(&["records", "show", &earlier, "--json"], 0));
    holds(&shelf.said(&["audit"], 0));
    holds(&shelf.said(&["verify", &before], 0));
    let listed = shelf.said(&["records", "list"], 0);
    assert_eq!(listed.matches("SUPERSEDED").count(), 1, "{listed}");
    let found = shelf.said(&["records", "find", "--csv"], 0);
    let row = found.lines().find(|row| row.starts_with(&earlier)).unwrap();
    assert!(row.ends_with(&format!(",{later}")), "{found}");
    // made anew, it says so where there is no archive at all
    let after = shelf.handed_out(&earlier, "after");
    let elsewhere = World::new();
    std::fs::copy(shelf.world.path("trusted"), elsewhere.path("trusted")).unwrap();
    let seen = said(&elsewhere, &["verify", &after], 0);
    holds(&seen);
    assert!(
        seen.contains("superseded   by the word of whoever made this file: "),
        "{seen}"
    );
    let old = said(&elsewhere, &["verify", &before], 0);
    assert!(old.contains("this file alone cannot show one"), "{old}");
    // and the later one says what it supersedes
    let seen = said(&elsewhere, &["verify", &shelf.handed_out(&later, "later")], 0);
    assert!(
        seen.contains(&format!("This record supersedes that of run {earlier}: {WHY}.")),
        "{seen}"
    );
}

#[test]
fn a_correction_goes_over_with_all_records_as_one_file() {
    let (shelf, earlier, _) = corrected();
    let file = shelf.world.path("all.sqlite").display().to_string();
    shelf.said(&["records", "export", "--all", "-o", &file], 0);
    let to = World::new();
    std::fs::copy(shelf.world.path("trusted"), to.path("trusted")).unwrap();
    said(&to, &["records", "import", &file], 0);
    assert!(said(&to, &["records", "show", &earlier], 0).contains("SUPERSEDED by the record of run "));
    said(&to, &["audit"], 0);
}

/// A statement put into the table of leaves by whoever has the file.
fn put_in(shelf: &Shelf, about: &str, body: &str) {
    let archive = Archive::open(&shelf.archive()).unwrap();
    let heads = Heads::of(shelf.world.path("checkpoints"));
    let mut archive = archive;
    archive
        .append_statement(&coreproof::evidence::archive::Statement {
            kind: coreproof::evidence::log::Kind::Supersession,
            about: about.into(),
            body: body.into(),
            signature: String::new(),
            public_key: String::new(),
        })
        .unwrap();
    coreproof::evidence::sign_head(&mut archive, &heads, &shelf.key).unwrap();
}

#[test]
fn a_supersession_that_no_record_states_is_found_and_not_shown() {
    let shelf = Shelf::new();
    let record = Forged::earlier(RECORD);
    let earlier = shelf.seal(&record);
    let other = shelf.seal(&Forged::earlier("zone-valve-failed.jsonl"));
    let sha256 = sha256_hex(&record.bytes());
    let body = format!(
        "coreproof supersession 1\nrecord {earlier} {sha256}\nby {other} {sha256}\nclosed then\nengineer X\nbecause I say so\n"
    );
    put_in(&shelf, &earlier, &body);
    put_in(&shelf, &earlier, "nothing that reads");
    let seen = shelf.said(&["audit", "--json"], 1);
    assert!(
        seen.contains(&format!("the record of run {other} does not say so")),
        "{seen}"
    );
    assert!(seen.contains("its text does not read"), "{seen}");
    assert!(!shelf.said(&["records", "show", &earlier], 0).contains("SUPERSEDED"));
}

#[test]
fn a_correction_whose_statement_was_taken_out_of_the_log_is_found() {
    let (shelf, earlier, _) = corrected();
    let shell = Connection::open(shelf.archive()).unwrap();
    shell
        .execute_batch("DROP TRIGGER leaves_are_not_removed; DELETE FROM leaves WHERE kind = 'supersession'")
        .unwrap();
    drop(shell);
    let seen = shelf.said(&["audit", "--json"], 1);
    assert!(
        seen.contains(&format!(
            "it supersedes the record of run {earlier}, and the log does not hold that"
        )),
        "{seen}"
    );
    assert!(seen.contains("is of 3 leaves, the archive has 2"), "{seen}");
}

#[test]
fn a_correction_of_another_record_of_that_run_is_found() {
    let shelf = Shelf::new();
    let record = Forged::earlier(RECORD);
    let earlier = shelf.seal(&record);
    shelf.seal(&superseding(&record, &"0".repeat(64), WHY));
    let seen = shelf.said(&["audit", "--json"], 1);
    assert!(
        seen.contains(&format!(
            "it names another record of run {earlier} than the one that is here"
        )),
        "{seen}"
    );
    assert!(!shelf.said(&["records", "show", &earlier], 0).contains("SUPERSEDED"));
}

#[test]
fn a_run_names_the_record_that_it_supersedes() {
    let world = World::with_key();
    let key = SigningKey::throw_away();
    let record = Forged::earlier(RECORD);
    std::fs::write(world.path("old.jsonl"), record.bytes()).unwrap();
    std::fs::write(world.path("old.jsonl.sig"), key.sign(&record.bytes())).unwrap();
    let old = world.path("old.jsonl").display().to_string();
    let refused = |more: &[&str], code: i32, what: &str| {
        let mut args = vec!["run", "stat-cable", "--job", "saltmarsh"];
        args.extend_from_slice(more);
        let seen = said(&world, &args, code);
        assert!(seen.contains(what), "{seen}");
    };
    refused(&["--supersedes", &old], 2, "--because <REASON>");
    refused(&["--because", WHY], 2, "--supersedes <RECORD>");
    refused(
        &["--supersedes", &old, "--because", " "],
        2,
        "no reason is given why the record is superseded",
    );
    // the input ends at once: the run is kept, with what it corrects
    refused(&["--supersedes", &old, "--because", WHY], 130, "the input ended");
    let journal = std::fs::read_to_string(&world.journals()[0]).unwrap();
    let expected = format!(
        "\"supersedes\":{{\"run\":\"{}\",\"sha256\":\"{}\",\"because\":\"{WHY}\"}}}}}}}}\n",
        run_of(&record),
        sha256_hex(&record.bytes())
    );
    assert!(
        journal.lines().next().unwrap().ends_with(expected.trim_end()),
        "{journal}"
    );
}

#[test]
fn a_second_signature_goes_with_certificates_made_after_it() {
    let shelf = Shelf::new();
    let record = Forged::earlier(RECORD);
    let run = shelf.seal(&record);
    let before = shelf.handed_out(&run, "before");
    let (supervisor, client) = (SigningKey::throw_away(), SigningKey::throw_away());
    Trust::add(&shelf.world.path("trusted"), "Robin Shore", &supervisor.public()).unwrap();
    let mut archive = Archive::open(&shelf.archive()).unwrap();
    let entry = archive.get(&run).unwrap();
    for key in [&supervisor, &client] {
        countersign(&mut archive, &entry, &key.sign(&entry.record)).unwrap();
    }
    drop(archive);
    let lines = [
        format!("signed too   Robin Shore, {}", supervisor.public().fingerprint()),
        format!(
            "signed too   somebody who is not trusted here, {}",
            client.public().fingerprint()
        ),
    ];
    let after = shelf.handed_out(&run, "after");
    let seen = shelf.said(&["verify", &after], 0);
    assert!(lines.iter().all(|line| seen.contains(line)), "{seen}");
    if cfg!(feature = "certificate") {
        // the name on the page is that of whoever made it, and the page is made again where another list is kept
        let elsewhere = World::new();
        Trust::add(&elsewhere.path("trusted"), "Morgan Teal", &shelf.key.public()).unwrap();
        assert!(said(&elsewhere, &["verify", &after], 0).contains("pages        exactly what this record renders to"));
    }
    assert!(!shelf.said(&["verify", &before], 0).contains("signed too"));
    // plain files alike
    let folder = shelf.world.path("files").display().to_string();
    let told = shelf.said(&["records", "export", &run, "-o", &folder], 0);
    assert!(told.contains(", record.jsonl.2.sig, record.jsonl.3.sig"), "{told}");
    let file = format!("{folder}/record.jsonl");
    let seen = shelf.said(&["verify", &file], 0);
    assert!(lines.iter().all(|line| seen.contains(line)), "{seen}");
    // one that is over other bytes, or by the first signer, is a lie
    let second = format!("{file}.2.sig");
    for (signature, what) in [
        (supervisor.sign(b"other"), "a further signature does not hold"),
        (shelf.key.sign(&entry.record), "is said to have signed it twice"),
        (client.sign(&entry.record), "is said to have signed it twice"),
    ] {
        std::fs::write(&second, signature).unwrap();
        let seen = shelf.said(&["verify", &file], 2);
        assert!(
            seen.contains("the record is good, but ") && seen.contains(what),
            "{seen}"
        );
    }
}
