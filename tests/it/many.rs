//! An archive of very many records is listed, searched, audited and handed over in as little memory as one of a few.
//!
//! What a command may write to is bounded, so that what grew with the records would not fit. `tests/bench/archive.rs` measures the same over a
//! hundred thousand real records.

use std::process::{Output, Stdio};

use coreproof::evidence::archive::Archive;
use rusqlite::{Connection, params};

use crate::clones::fill;
use crate::world::{World, repo, text};

/// Rows of the archive whose rows are invented.
const ROWS: u64 = 20_000;

/// What a command may write to, in kilobytes (`ulimit -d`): the rows alone would take more, or the checkpoints, or the findings.
const ROWS_KILOBYTES: u64 = 24_000;

/// Records of the archive that holds real ones.
const RECORDS: u64 = 40;

/// Bytes of a remark in the job of each of them, which cost little time: all records together have more bytes than a command may write to, and of
/// those any command needs two thirds.
const REMARK_BYTES: usize = 300_000;

/// What a command on them may write to, in kilobytes.
const RECORDS_KILOBYTES: u64 = 11_000;

fn limited(world: &World, kilobytes: u64, args: &[&str]) -> Output {
    let limit = format!("ulimit -d {kilobytes} && exec \"$@\"");
    let mut command = world.command_of("/bin/sh", &["-c", &limit, "sh", env!("CARGO_BIN_EXE_coreproof")]);
    command.args(args).stdin(Stdio::null()).output().unwrap()
}

#[track_caller]
fn said(world: &World, kilobytes: u64, args: &[&str], code: i32) -> String {
    let output = limited(world, kilobytes, args);
    assert_eq!(output.status.code(), Some(code), "{args:?}: {}", text(&output.stderr));
    text(&output.stdout)
}

/// An archive whose rows are invented: neither list nor search opens the records themselves.
fn invented() -> (World, Connection) {
    let world = World::new();
    drop(Archive::open(&world.path("archive.sqlite")).unwrap());
    let shell = Connection::open(world.path("archive.sqlite")).unwrap();
    let place = "Saltmarsh Sailing Club, boathouse, ".repeat(20);
    shell
        .execute(
            "WITH RECURSIVE n(n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM n WHERE n + 1 < ?1)
             INSERT INTO records SELECT
                 printf('%08x-0000-7000-8000-%012x', n * 31 % 99991, n), printf('2026-11-%02dT08:00:00Z', 1 + n % 28),
                 '2026-11-28T09:40:00Z', ?2 || n, 'thermostat', 'Morgan Teal', 'pass', 'completed', 'first', 'SHA256:invented',
                 printf('%064x', n), 'ssh-ed25519 invented', 'invented', x'00' FROM n",
            (ROWS, place),
        )
        .unwrap();
    (world, shell)
}

#[test]
fn many_records_are_listed_and_found_in_little_memory() {
    let (world, _) = invented();
    let said = |args: &[&str]| said(&world, ROWS_KILOBYTES, args, 0);
    let listed = said(&["records", "list"]);
    assert_eq!(listed.matches("pass, completed").count() as u64, ROWS);
    let json: serde_json::Value = serde_json::from_str(&said(&["records", "list", "--json"])).unwrap();
    assert_eq!(json.as_array().unwrap().len() as u64, ROWS);
    let csv = said(&["records", "find", "--csv", "--place", "boathouse"]);
    assert_eq!(csv.lines().count() as u64, ROWS + 1);
    let one = said(&["records", "find", "--place", "boathouse, 777"]);
    assert!(one.contains("records found"), "{one}");
    assert_eq!(
        said(&["records", "places"]),
        "no record is of a place with several cables\n"
    );
    assert!(said(&[]).starts_with("No run is unfinished."));
    let copy = world.path("all.sqlite");
    let copied = said(&["records", "export", "--all", "-o", copy.to_str().unwrap()]);
    assert!(
        copied.starts_with(&format!("{ROWS} records with their log are in ")),
        "{copied}"
    );
}

#[test]
fn an_id_that_very_many_records_share_is_told_in_little_memory() {
    let (world, shell) = invented();
    let again = "INSERT INTO records SELECT '0abcdef0' || substr(run, 9), opened_at, closed_at, place, cable, engineer, verdict, outcome, edition,
                 fingerprint, 'a' || substr(sha256, 2), public_key, signature, record FROM records";
    shell.execute(again, []).unwrap();
    let output = limited(&world, ROWS_KILOBYTES, &["records", "show", "0abcdef0"]);
    assert_eq!(output.status.code(), Some(2));
    let seen = text(&output.stderr);
    assert!(
        seen.contains("20000 records begin with `0abcdef0`: `0abcdef0-0000-7000-8000-000000000000`, "),
        "{seen}"
    );
    assert!(seen.contains(", and 19990 more"), "{seen}");
}

#[test]
fn one_place_with_very_many_cables_is_told_in_little_memory() {
    let (world, shell) = invented();
    let text = "INSERT INTO records SELECT '1' || substr(run, 2), opened_at, closed_at, 'Saltmarsh Sailing Club, boathouse', place, engineer, 'fail',
                 outcome, edition, fingerprint, 'b' || substr(sha256, 2), public_key, signature, record FROM records";
    shell.execute(text, []).unwrap();
    let seen = said(&world, ROWS_KILOBYTES, &["records", "places"], 0);
    assert!(
        seen.starts_with("Saltmarsh Sailing Club, boathouse: 0 of 200 proved, 200 failed"),
        "{seen}"
    );
}

#[test]
fn very_many_findings_are_counted_and_the_first_are_told() {
    let (world, mut shell) = invented();
    let transaction = shell.transaction().unwrap();
    let garbage = "no checkpoint ".repeat(150);
    for n in 0..ROWS {
        let about = format!("{:08x}-0000-7000-8000-{n:012x}", n * 31 % 99_991);
        let leaf = "INSERT INTO leaves VALUES (?1, 'record', ?2, 'no leaf', '', '', '')";
        transaction
            .prepare_cached(leaf)
            .unwrap()
            .execute(params![n, about])
            .unwrap();
        // one that stands under more leaves than there are is read as well
        let checkpoint = "INSERT INTO checkpoints VALUES (?1, ?2)";
        let size = 1 + n + ROWS * (n % 2);
        transaction
            .prepare_cached(checkpoint)
            .unwrap()
            .execute(params![size, garbage])
            .unwrap();
    }
    transaction.commit().unwrap();
    let audited: serde_json::Value =
        serde_json::from_str(&said(&world, ROWS_KILOBYTES, &["audit", "--json"], 1)).unwrap();
    let findings = audited["findings"].as_array().unwrap();
    let of_archive = findings.iter().filter(|finding| finding["run"].is_null()).count();
    assert_eq!((findings.len() - of_archive, of_archive), (1000, 1000));
    let told = audited["told"].to_string();
    // of each record its key and its leaf; of the archive each stored hash and each checkpoint
    let more = 4 * ROWS - 2000;
    assert!(
        told.contains(&format!(
            "{more} more findings after the first 1000: audit a part, by a place"
        )),
        "{told}"
    );
    let words = said(&world, ROWS_KILOBYTES, &["audit"], 1);
    assert!(
        words.starts_with(&format!("{ROWS} records examined, {} findings\n", 4 * ROWS)),
        "{}",
        &words[..200]
    );
}

#[test]
fn many_real_records_are_audited_and_taken_in_in_little_memory() {
    let world = World::new();
    let record = std::fs::read_to_string(repo("fixtures/records/0.1/boiler-call-volt-free-failed.jsonl")).unwrap();
    let job = record.find("\"job\":{").unwrap();
    let at = job + record[job..].find("\"text\":\"").unwrap() + "\"text\":\"".len();
    let record = [
        &record[..at],
        "// ",
        &"remark ".repeat(REMARK_BYTES / 7),
        "\\n",
        &record[at..],
    ]
    .concat();
    assert!(RECORDS_KILOBYTES * 1000 < RECORDS * record.len() as u64);
    fill(world.home.path(), &record, RECORDS, 2);
    let asked = |args: &[&str]| said(&world, RECORDS_KILOBYTES, args, 0);
    let audited = asked(&["audit"]);
    assert!(audited.starts_with(&format!("{RECORDS} records examined")), "{audited}");
    let found = asked(&["records", "find", "--csv", "--instrument", "tester"]);
    assert_eq!(found.lines().count() as u64, RECORDS + 1);
    let seen: serde_json::Value = serde_json::from_str(&asked(&["records", "instruments", "--json"])).unwrap();
    assert_eq!(seen[0]["records"], RECORDS, "{seen}");
    let other = World::new();
    std::fs::copy(world.path("trusted"), other.path("trusted")).unwrap();
    let archive = world.path("archive.sqlite");
    let taken = said(
        &other,
        RECORDS_KILOBYTES,
        &["records", "import", archive.to_str().unwrap()],
        0,
    );
    assert!(
        taken.ends_with(&format!("{RECORDS} stored, 0 already there, 0 not taken\n")),
        "{taken}"
    );
}
