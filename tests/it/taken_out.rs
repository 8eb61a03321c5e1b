//! Attacks on the archive as a whole: rows that vanish, come back changed or were never stored; each named by what it tries.
//!
//! The records are those that version 0.1 made, sealed again by a key of the test.

use std::path::PathBuf;

use coreproof::evidence::keys::{SigningKey, Trust};
use coreproof::evidence::log::Heads;
use coreproof::evidence::seal::{Stored, store};
use coreproof::evidence::stored;
use rusqlite::Connection;

use crate::world::{World, repo, text};

const RECORDS: [&str; 4] = [
    "stat-cable-passed.jsonl",
    "zone-valve-failed.jsonl",
    "mid-position-valve-failed.jsonl",
    "zone-valve-passed.jsonl",
];

/// An archive of so many records, sealed one after the other.
struct Shelf {
    world: World,
    key: SigningKey,
}

impl Shelf {
    fn of(records: usize) -> Shelf {
        let shelf = Shelf {
            world: World::new(),
            key: SigningKey::throw_away(),
        };
        Trust::add(&shelf.world.path("trusted"), "Morgan Teal", &shelf.key.public()).unwrap();
        RECORDS[..records].iter().for_each(|name| drop(shelf.seal(name)));
        shelf
    }

    fn archive(&self) -> PathBuf {
        self.world.path("archive.sqlite")
    }

    fn heads(&self) -> Heads {
        Heads::of(self.world.path("checkpoints"))
    }

    fn journal(&self, name: &str) -> PathBuf {
        let journal = self.world.path("journal.jsonl");
        std::fs::copy(repo("fixtures/records/0.1").join(name), &journal).unwrap();
        journal
    }

    fn seal(&self, name: &str) -> Stored {
        let journal = self.journal(name);
        let stored = store(&journal, &self.archive(), &self.heads(), &self.key).unwrap();
        assert!(!journal.exists(), "what is stored needs no journal");
        stored
    }

    /// What sqlite3 would do, with the guards taken off as whoever has the file can.
    fn shell(&self, text: &str) {
        let shell = Connection::open(self.archive()).unwrap();
        shell.execute_batch(text).unwrap();
    }

    /// The same with every trigger set aside and put back as it was.
    fn unguarded(&self, text: &str) {
        let shell = Connection::open(self.archive()).unwrap();
        let mut query = shell
            .prepare("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
            .unwrap();
        let guards: Vec<(String, String)> = query
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
            .unwrap()
            .collect::<Result<_, _>>()
            .unwrap();
        guards
            .iter()
            .for_each(|(name, _)| shell.execute_batch(&format!("DROP TRIGGER {name}")).unwrap());
        shell.execute_batch(text).unwrap();
        guards.iter().for_each(|(_, sql)| shell.execute_batch(sql).unwrap());
    }

    fn audit(&self, more: &[&str]) -> (i32, String) {
        let mut args = vec!["audit", "--json"];
        args.extend_from_slice(more);
        let output = self.world.run(&args);
        (
            output.status.code().unwrap(),
            text(&output.stdout) + &text(&output.stderr),
        )
    }

    #[track_caller]
    fn clean(&self, more: &[&str]) {
        let (code, seen) = self.audit(more);
        assert_eq!(code, 0, "{seen}");
        // what today's proof asks for beyond that of these older records is told, and is nothing of the archive's
        assert!(!seen.contains("\"concern\": \"log\""), "{seen}");
    }

    #[track_caller]
    fn found(&self, more: &[&str], what: &str) {
        let (code, seen) = self.audit(more);
        assert_eq!(code, 1, "{seen}");
        assert!(seen.contains(what), "{seen}");
    }

    /// A record with its proof, handed out as plain files, or as a certificate where there are any.
    fn handed_out(&self, run: &str, name: &str) -> String {
        let path = self.world.path(name);
        let path = path.to_str().unwrap();
        if cfg!(feature = "certificate") {
            let pdf = format!("{path}.pdf");
            let made = self.world.run(&["certificate", run, "-o", &pdf]);
            assert_eq!(made.status.code(), Some(0), "{}", text(&made.stderr));
            return pdf;
        }
        let made = self.world.run(&["records", "export", run, "-o", path]);
        assert_eq!(made.status.code(), Some(0), "{}", text(&made.stderr));
        format!("{path}/record.jsonl")
    }

    fn runs(&self) -> Vec<String> {
        let shell = Connection::open(self.archive()).unwrap();
        let mut query = shell
            .prepare("SELECT about FROM leaves WHERE kind = 'record' ORDER BY position")
            .unwrap();
        query
            .query_map([], |row| row.get(0))
            .unwrap()
            .collect::<Result<_, _>>()
            .unwrap()
    }

    /// The archive's file and everything beside it, put where a backup would be.
    fn back_up(&self) -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        self.shell("PRAGMA wal_checkpoint(TRUNCATE)");
        std::fs::copy(self.archive(), folder.path().join("archive.sqlite")).unwrap();
        let head = std::fs::read_dir(self.world.path("checkpoints"))
            .unwrap()
            .next()
            .unwrap()
            .unwrap();
        std::fs::copy(head.path(), folder.path().join(head.file_name())).unwrap();
        folder
    }

    fn put_back(&self, backup: &tempfile::TempDir, with_head: bool) {
        for end in ["", "-wal", "-shm"] {
            let _ = std::fs::remove_file(self.world.path(&format!("archive.sqlite{end}")));
        }
        std::fs::copy(backup.path().join("archive.sqlite"), self.archive()).unwrap();
        if with_head {
            for entry in std::fs::read_dir(backup.path()).unwrap() {
                let entry = entry.unwrap();
                if entry.file_name() != "archive.sqlite" {
                    std::fs::copy(entry.path(), self.world.path("checkpoints").join(entry.file_name())).unwrap();
                }
            }
        }
    }
}

#[test]
fn an_untouched_archive_has_no_findings_and_its_certificates_witness_it() {
    let shelf = Shelf::of(3);
    shelf.clean(&[]);
    let runs = shelf.runs();
    let witnesses: Vec<String> = (0..3).map(|n| shelf.handed_out(&runs[n], &format!("w{n}"))).collect();
    shelf.seal(RECORDS[3]);
    let mut args = vec!["--against"];
    args.extend(witnesses.iter().map(String::as_str));
    shelf.clean(&args);
}

#[test]
fn a_trigger_that_swallows_the_insert_is_named_and_the_journal_is_kept() {
    let shelf = Shelf::of(1);
    shelf.shell("CREATE TRIGGER swallow BEFORE INSERT ON records BEGIN SELECT RAISE(IGNORE); END");
    let journal = shelf.journal(RECORDS[1]);
    let refused = store(&journal, &shelf.archive(), &shelf.heads(), &shelf.key).unwrap_err();
    let name = shelf.archive().display().to_string();
    assert_eq!(
        refused.to_string(),
        format!("archive `{name}` holds `swallow`, a trigger that is none of its own")
    );
    assert!(journal.exists());
    // reading and audit go on
    shelf.found(&[], "holds `swallow`, a trigger that is none of its own");
    let listed = shelf.world.run(&["records", "list", "--json"]);
    assert_eq!(listed.status.code(), Some(0), "{}", text(&listed.stderr));
}

#[test]
fn an_insert_that_was_taken_back_is_noticed_before_the_journal_goes() {
    // a row that is stored and gone again: a connection of another program, and no trigger left behind
    let shelf = Shelf::of(1);
    let entry = {
        let sealed = shelf.journal(RECORDS[1]);
        let record = std::fs::read(&sealed).unwrap();
        let signature = shelf.key.sign(&record);
        let sealed = coreproof::evidence::Sealed { record, signature };
        let run =
            coreproof::evidence::audit::examine::<coreproof::run::fold::Run>(&sealed.record, &sealed.signature, None);
        coreproof::evidence::seal::entry(&sealed, &run.folded.unwrap(), &shelf.key.public())
    };
    let mut archive = coreproof::evidence::archive::Archive::open(&shelf.archive()).unwrap();
    // known as a row, and its leaf is another's
    shelf.unguarded("UPDATE leaves SET about = 'other' WHERE kind = 'record'");
    let first = stored_first(&shelf);
    let error = archive.append(&first).unwrap_err();
    assert!(error.to_string().contains("did not come back from archive"), "{error}");
    assert!(archive.append(&entry).is_ok());
}

/// The entry of the first record, as it is stored.
fn stored_first(shelf: &Shelf) -> coreproof::evidence::archive::Entry {
    let archive = coreproof::evidence::archive::Archive::read(&shelf.archive()).unwrap();
    let run = archive.list().unwrap().remove(0).run.to_string();
    archive.of_run(&run).unwrap().unwrap()
}

#[test]
fn a_record_deleted_from_the_middle_is_missed() {
    let shelf = Shelf::of(3);
    let run = shelf.runs().remove(1);
    shelf.unguarded(&format!("DELETE FROM records WHERE run = '{run}'"));
    shelf.found(
        &[],
        &format!("the record of run {run} was deleted: its leaf 1 is in the log"),
    );
}

#[test]
fn the_newest_record_deleted_with_its_leaf_and_checkpoint_is_missed() {
    let shelf = Shelf::of(3);
    let run = shelf.runs().remove(2);
    shelf.unguarded(&format!(
        "DELETE FROM records WHERE run = '{run}'; DELETE FROM leaves WHERE position = 2; DELETE FROM hashes WHERE position > 2; \
         DELETE FROM checkpoints WHERE size = 3"
    ));
    shelf.found(
        &[],
        "is of 3 leaves, the archive has 2: the newest were deleted, or an older copy was put back",
    );
}

#[test]
fn all_records_deleted_with_the_log_are_missed() {
    let shelf = Shelf::of(3);
    shelf.unguarded("DELETE FROM records; DELETE FROM leaves; DELETE FROM hashes; DELETE FROM checkpoints");
    shelf.found(&[], "is of 3 leaves, the archive has 0");
}

#[test]
fn an_archive_that_was_removed_is_missed() {
    let shelf = Shelf::of(2);
    for end in ["", "-wal", "-shm"] {
        let _ = std::fs::remove_file(shelf.world.path(&format!("archive.sqlite{end}")));
    }
    shelf.found(&[], "an archive with 2 leaves was here and is not");
    // and whoever goes on is told that he begins anew
    let stored = shelf.seal(RECORDS[2]);
    assert!(
        stored.told[0].starts_with("a new archive was made: "),
        "{:?}",
        stored.told
    );
    assert!(
        stored.told[1].starts_with("an archive with 2 leaves was here and is not"),
        "{:?}",
        stored.told
    );
    shelf.found(&[], "an archive with 2 leaves was here and is not");
}

#[test]
fn an_archive_that_was_emptied_to_no_bytes_is_missed() {
    let shelf = Shelf::of(2);
    shelf.shell("PRAGMA wal_checkpoint(TRUNCATE)");
    std::fs::write(shelf.archive(), b"").unwrap();
    shelf.found(&[], "an archive with 2 leaves was here and is not");
}

#[test]
fn the_file_beside_the_archive_removed_after_a_crash_is_missed() {
    let shelf = Shelf::of(1);
    // a connection that stays open keeps the new record in the file beside the archive, as a crash does
    let open = Connection::open(shelf.archive()).unwrap();
    open.execute_batch("PRAGMA wal_autocheckpoint = 0; BEGIN; SELECT count(*) FROM records;")
        .unwrap();
    shelf.seal(RECORDS[1]);
    let crashed = tempfile::tempdir().unwrap();
    std::fs::copy(shelf.archive(), crashed.path().join("archive.sqlite")).unwrap();
    drop(open);
    let head = tempfile::tempdir().unwrap();
    drop(head);
    for end in ["", "-wal", "-shm"] {
        let _ = std::fs::remove_file(shelf.world.path(&format!("archive.sqlite{end}")));
    }
    std::fs::copy(crashed.path().join("archive.sqlite"), shelf.archive()).unwrap();
    shelf.found(&[], "is of 2 leaves, the archive has 1");
}

#[test]
fn an_older_copy_put_back_is_missed() {
    let shelf = Shelf::of(2);
    let backup = shelf.back_up();
    shelf.seal(RECORDS[2]);
    shelf.put_back(&backup, false);
    shelf.found(&[], "is of 3 leaves, the archive has 2");
}

#[test]
fn an_older_copy_put_back_with_its_checkpoint_is_missed_by_a_certificate_alone() {
    let shelf = Shelf::of(2);
    let backup = shelf.back_up();
    shelf.seal(RECORDS[2]);
    let run = shelf.runs().remove(2);
    let witness = shelf.handed_out(&run, "handed-out");
    shelf.put_back(&backup, true);
    let (code, seen) = shelf.audit(&[]);
    assert_eq!(code, 0, "nothing on this computer can show it: {seen}");
    assert!(seen.contains("without a witness"), "and that is said: {seen}");
    shelf.found(&["--against", &witness], "is of 3 leaves, the archive has 2");
    shelf.found(
        &["--against", &witness],
        &format!("the record of run {run} is not in the archive"),
    );
}

#[test]
fn another_record_in_the_place_of_an_old_one_is_missed_by_a_certificate() {
    // everything made anew, as whoever has the key can: other records, new leaves, new checkpoints, the old origin
    let shelf = Shelf::of(3);
    let runs = shelf.runs();
    let witness = shelf.handed_out(&runs[2], "handed-out");
    let origin: String = Connection::open(shelf.archive())
        .unwrap()
        .query_row("SELECT origin FROM log", [], |row| row.get(0))
        .unwrap();
    for name in ["archive.sqlite", "archive.sqlite-wal", "archive.sqlite-shm"] {
        let _ = std::fs::remove_file(shelf.world.path(name));
    }
    std::fs::remove_dir_all(shelf.world.path("checkpoints")).unwrap();
    drop(coreproof::evidence::archive::Archive::open(&shelf.archive()).unwrap());
    shelf.unguarded(&format!("UPDATE log SET origin = '{origin}'"));
    for name in [RECORDS[0], RECORDS[3], RECORDS[2]] {
        shelf.seal(name);
    }
    shelf.clean(&[]);
    shelf.found(
        &["--against", &witness],
        "one of the first 3 was rewritten or taken out",
    );
}

#[test]
fn an_archive_made_anew_is_another_to_its_certificates() {
    let shelf = Shelf::of(2);
    let witness = shelf.handed_out(&shelf.runs()[1], "handed-out");
    for name in ["archive.sqlite", "archive.sqlite-wal", "archive.sqlite-shm"] {
        let _ = std::fs::remove_file(shelf.world.path(name));
    }
    std::fs::remove_dir_all(shelf.world.path("checkpoints")).unwrap();
    RECORDS[..2].iter().for_each(|name| drop(shelf.seal(name)));
    shelf.clean(&[]);
    shelf.found(
        &["--against", &witness],
        "is of another archive: this one was made anew since",
    );
}

#[test]
fn a_record_sealed_again_by_another_key_is_missed() {
    let shelf = Shelf::of(2);
    let run = shelf.runs().remove(0);
    let witness = shelf.handed_out(&run, "handed-out");
    let record = stored_bytes(&shelf, &run);
    let signature = SigningKey::throw_away().sign(&record);
    shelf.unguarded(&format!(
        "UPDATE records SET signature = '{signature}' WHERE run = '{run}'"
    ));
    shelf.found(&[], "its leaf in the log is of another record or signature");
    shelf.found(
        &["--against", &witness],
        &format!("the archive holds the record of run {run} under another signature"),
    );
}

fn stored_bytes(shelf: &Shelf, run: &str) -> Vec<u8> {
    let shell = Connection::open(shelf.archive()).unwrap();
    shell
        .query_row("SELECT record FROM records WHERE run = ?1", [run], |row| row.get(0))
        .unwrap()
}

#[test]
fn a_record_put_in_past_the_log_is_found() {
    let shelf = Shelf::of(1);
    shelf.shell(
        "INSERT INTO records SELECT '029ab7c0-0000-7000-8000-000000000003', opened_at, closed_at, place, cable, engineer, verdict, \
         outcome, edition, fingerprint, 'none', public_key, signature, record FROM records",
    );
    shelf.found(&[], "it has no leaf in the log");
}

#[test]
fn a_leaf_hash_or_checkpoint_changed_in_place_is_found() {
    for (change, what) in [
        (
            "UPDATE leaves SET text = text || 'x' WHERE position = 0",
            "the hash stored for leaf 0 is not that of the leaf",
        ),
        (
            "UPDATE hashes SET hash = zeroblob(32) WHERE position = 0",
            "the hash stored for leaf 0",
        ),
        (
            "DELETE FROM leaves WHERE position = 0",
            "leaf 0 is missing from the log",
        ),
        (
            "UPDATE checkpoints SET note = replace(note, 'coreproof', 'coreprooF')",
            "the checkpoint of 1 leaves in the archive",
        ),
        ("UPDATE checkpoints SET note = 'x'", "the checkpoint does not read"),
        (
            "UPDATE checkpoints SET size = 9 WHERE size = 1",
            "is of another log or size",
        ),
        (
            "UPDATE log SET origin = 'coreproof/archive/other'",
            "an archive with 2 leaves was here and is not",
        ),
    ] {
        let shelf = Shelf::of(2);
        shelf.unguarded(change);
        shelf.found(&[], what);
    }
}

#[test]
fn the_checkpoint_outside_may_lag_and_is_extended() {
    let shelf = Shelf::of(1);
    let backup = shelf.back_up();
    shelf.seal(RECORDS[1]);
    // the power went before the newer one was kept
    for entry in std::fs::read_dir(backup.path()).unwrap() {
        let entry = entry.unwrap();
        if entry.file_name() != "archive.sqlite" {
            std::fs::copy(entry.path(), shelf.world.path("checkpoints").join(entry.file_name())).unwrap();
        }
    }
    shelf.clean(&[]);
    let stored = shelf.seal(RECORDS[2]);
    assert_eq!(stored.told, Vec::<String>::new());
    let (kept, _) = shelf.heads().all().unwrap();
    assert_eq!(kept[0].head.size, 3);
}

#[test]
fn no_head_is_signed_that_contradicts_one_that_was() {
    let shelf = Shelf::of(2);
    let backup = shelf.back_up();
    shelf.seal(RECORDS[2]);
    shelf.put_back(&backup, false);
    let stored = shelf.seal(RECORDS[3]);
    assert!(
        stored.told[0].starts_with("the record is stored, but no checkpoint was signed: "),
        "{:?}",
        stored.told
    );
    let (kept, _) = shelf.heads().all().unwrap();
    assert_eq!(kept[0].head.size, 3, "the witness outside stays");
    shelf.found(&[], "one of the first 3 was rewritten or taken out");
}

#[test]
fn records_that_were_taken_in_are_under_no_checkpoint_and_that_is_said() {
    let shelf = Shelf::of(1);
    // whoever signed it is trusted here for the while, under the one name that both have
    let (list, aside) = (shelf.world.path("trusted"), shelf.world.path("aside"));
    std::fs::rename(&list, &aside).unwrap();
    let key = repo("fixtures/records/0.1/key.pub");
    let trusted = shelf
        .world
        .run(&["key", "trust", key.to_str().unwrap(), "--as", "Morgan Teal"]);
    assert_eq!(trusted.status.code(), Some(0), "{}", text(&trusted.stderr));
    let imported = shelf
        .world
        .run(&["records", "import", "fixtures/records/0.1/zone-valve-passed.jsonl"]);
    assert_eq!(imported.status.code(), Some(0), "{}", text(&imported.stderr));
    std::fs::rename(&aside, &list).unwrap();
    let (_, seen) = shelf.audit(&[]);
    assert!(
        seen.contains("1 of the 2 leaves came after the newest signed checkpoint"),
        "{seen}"
    );
    let archive = coreproof::evidence::archive::Archive::read(&shelf.archive()).unwrap();
    let run = archive
        .list()
        .unwrap()
        .iter()
        .map(|row| row.run)
        .find(|run| archive.proof(*run).unwrap().is_none());
    assert!(run.is_some(), "no checkpoint covers it, so nothing is proved of it");
    shelf.seal(RECORDS[1]);
    let archive = coreproof::evidence::archive::Archive::read(&shelf.archive()).unwrap();
    assert!(archive.proof(run.unwrap()).unwrap().is_some(), "the next one does");
}

#[cfg(feature = "certificate")]
#[test]
fn a_certificate_of_a_record_in_no_archive_says_so_and_witnesses_its_own_record_alone() {
    let shelf = Shelf::of(1);
    let [record, pdf] = ["record.jsonl", "alone.pdf"].map(|name| shelf.world.path(name).display().to_string());
    let bytes = std::fs::read(repo("fixtures/records/0.1").join(RECORDS[1])).unwrap();
    std::fs::write(&record, &bytes).unwrap();
    std::fs::write(format!("{record}.sig"), shelf.key.sign(&bytes)).unwrap();
    let made = shelf.world.run(&["certificate", &record, "-o", &pdf]);
    let seen = text(&made.stdout) + &text(&made.stderr);
    assert_eq!(made.status.code(), Some(0), "{seen}");
    assert!(seen.ends_with("it carries no checkpoint of an archive\n"), "{seen}");
    shelf.found(&["--against", &pdf], "is not in the archive");
    shelf.seal(RECORDS[1]);
    let (code, seen) = shelf.audit(&["--against", &pdf]);
    assert_eq!(code, 0, "{seen}");
    assert!(
        seen.contains("carries no checkpoint: it witnesses its own record and no other"),
        "{seen}"
    );
}

#[test]
fn a_second_signature_taken_out_of_the_log_is_missed() {
    let shelf = Shelf::of(1);
    let first = stored_first(&shelf);
    let mut archive = coreproof::evidence::archive::Archive::open(&shelf.archive()).unwrap();
    let client = SigningKey::throw_away().sign(&first.record);
    coreproof::evidence::statements::countersign(&mut archive, &first, &client).unwrap();
    drop(archive);
    shelf.seal(RECORDS[1]);
    shelf.clean(&[]);
    shelf.unguarded("DELETE FROM leaves WHERE kind = 'signature'");
    shelf.found(&[], "leaf 1 is missing from the log");
    // nor does it help to close the gap
    shelf.unguarded("UPDATE leaves SET position = 1 WHERE position = 2");
    shelf.found(&[], "the newest were deleted, or an older copy was put back");
}

#[test]
fn a_filter_that_fits_nothing_is_no_clean_audit() {
    let shelf = Shelf::of(1);
    shelf.clean(&["sail"]);
    shelf.found(&["nowhere"], "no record fits `nowhere`: nothing was audited");
}

#[test]
fn a_forged_witness_proves_nothing_and_is_named() {
    let shelf = Shelf::of(1);
    let record = std::fs::read(repo("fixtures/records/0.1").join(RECORDS[1])).unwrap();
    let forged = shelf.world.path("forged.jsonl");
    std::fs::write(&forged, &record).unwrap();
    let signature = SigningKey::throw_away().sign(&record);
    std::fs::write(shelf.world.path("forged.jsonl.sig"), signature).unwrap();
    shelf.found(&["--against", forged.to_str().unwrap()], "is no witness: its signer");
}

#[cfg(unix)]
#[test]
fn a_medium_that_cannot_be_written_is_listed_audited_and_exported() {
    use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _};
    let shelf = Shelf::of(2);
    shelf.clean(&[]);
    shelf.shell("PRAGMA wal_checkpoint(TRUNCATE)");
    let run = shelf.runs().remove(1);
    let home = shelf.world.home.path();
    let mode = |path: &std::path::Path, bits| {
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(bits)).unwrap();
    };
    let _ = std::fs::remove_file(shelf.world.path("coreproof.log"));
    for entry in std::fs::read_dir(home)
        .unwrap()
        .chain(std::fs::read_dir(shelf.world.path("checkpoints")).unwrap())
    {
        let path = entry.unwrap().path();
        mode(&path, if path.is_dir() { 0o555 } else { 0o444 });
    }
    mode(home, 0o555);
    let out = tempfile::tempdir().unwrap();
    mode(out.path(), 0o777);
    let exported = out.path().join("out");
    // whoever may write anywhere becomes somebody who may not
    let owner = std::fs::metadata(home).unwrap().uid();
    let run_as = |args: &[&str]| {
        let program = env!("CARGO_BIN_EXE_coreproof");
        let mut command = match owner {
            0 => {
                let mut all = vec!["--reuid=65534", "--regid=65534", "--clear-groups", program];
                all.extend_from_slice(args);
                shelf.world.command_of("setpriv", &all)
            }
            _ => shelf.world.command(args),
        };
        command
            .env("PATH", "/usr/bin:/bin")
            .stdin(std::process::Stdio::null())
            .output()
            .unwrap()
    };
    let listed = run_as(&["records", "list", "--json"]);
    assert_eq!(listed.status.code(), Some(0), "{}", text(&listed.stderr));
    assert!(text(&listed.stdout).contains(&run));
    let audited = run_as(&["audit", "--json"]);
    assert_eq!(
        audited.status.code(),
        Some(0),
        "{}{}",
        text(&audited.stdout),
        text(&audited.stderr)
    );
    let written = run_as(&["records", "export", &run, "-o", exported.to_str().unwrap()]);
    assert_eq!(written.status.code(), Some(0), "{}", text(&written.stderr));
    let imported = run_as(&["records", "import", exported.join("record.jsonl").to_str().unwrap()]);
    assert_eq!(imported.status.code(), Some(3), "{}", text(&imported.stderr));
    mode(home, 0o700);
}

#[test]
fn an_archive_of_before_gets_its_log_when_it_is_first_added_to_and_says_so() {
    let shelf = Shelf::of(2);
    // as version 0.1 left it: format 1, the records and their three guards
    let shell = Connection::open(shelf.archive()).unwrap();
    for table in ["log", "leaves", "hashes", "checkpoints", "timestamps"] {
        shell.execute_batch(&format!("DROP TABLE {table}")).unwrap();
    }
    shell.execute_batch("DROP INDEX records_by_place").unwrap();
    shell.execute_batch("PRAGMA user_version = 1").unwrap();
    drop(shell);
    std::fs::remove_dir_all(shelf.world.path("checkpoints")).unwrap();
    let (code, seen) = shelf.audit(&[]);
    assert_eq!(code, 0, "{seen}");
    assert!(seen.contains("the archive has no log yet"), "{seen}");
    let stored = shelf.seal(RECORDS[2]);
    assert!(
        stored.told[0]
            .starts_with("the archive had no log of its records: it has one from now on, which begins with the 2"),
        "{:?}",
        stored.told
    );
    shelf.clean(&[]);
    let run = stored.summary.run.to_string();
    let witness = shelf.handed_out(&run, "handed-out");
    shelf.clean(&["--against", &witness]);
    let archive = coreproof::evidence::archive::Archive::read(&shelf.archive()).unwrap();
    assert!(stored::run_of(&archive.get(&run).unwrap()).is_ok());
}
