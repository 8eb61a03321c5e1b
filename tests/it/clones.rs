//! An archive of as many records as wanted: one honest record again and again, each time of a run of its own, signed, in the log and under
//! checkpoints.

use std::path::Path;

use coreproof::evidence::archive::{Archive, Entry, Summary, sha256_hex};
use coreproof::evidence::journal::Hash;
use coreproof::evidence::keys::{SigningKey, Trust};
use coreproof::evidence::log::{Heads, sign};
use coreproof::evidence::seal::entry;
use coreproof::evidence::{Sealed, prove, sign_head};
use jiff::Timestamp;
use rusqlite::{Connection, params};
use uuid::Uuid;

/// A record as it is cut up to be made again.
struct Pattern {
    /// Each line from its time on.
    lines: Vec<String>,
    summary: Summary,
}

/// What stands in the pattern's job, and is another in each job.
const PART: &str = "Sailing Club";

impl Pattern {
    fn of(record: &str, key: &SigningKey, trust: &Trust) -> Pattern {
        let line = |line: &str| line[line.find("\"at\":").unwrap()..].to_owned();
        let lines: Vec<String> = record.lines().map(line).collect();
        let sealed = sealed(chained(lines.iter()), key);
        let run = prove(&sealed, None, trust, Timestamp::now()).folded.unwrap();
        Pattern {
            lines,
            summary: entry(&sealed, &run, &key.public()).summary,
        }
    }

    /// The record of another run, on another job where the number is another.
    fn again(&self, run: Uuid, job: u64, key: &SigningKey) -> Entry {
        let (ours, part) = (self.summary.run.to_string(), format!("{PART} {job}"));
        let first = self.lines[0].replacen(&ours, &run.to_string(), 1).replace(PART, &part);
        let Sealed { record, signature } = sealed(chained(std::iter::once(&first).chain(&self.lines[1..])), key);
        let summary = Summary {
            run,
            place: self.summary.place.replace(PART, &part),
            sha256: sha256_hex(&record),
            ..self.summary.clone()
        };
        Entry {
            summary,
            public_key: key.public().openssh_line(),
            record,
            signature,
        }
    }
}

/// Lines with their numbers and their chain.
fn chained<'a>(lines: impl Iterator<Item = &'a String>) -> Vec<u8> {
    let mut record = String::new();
    let mut head = "0".repeat(64);
    for (n, line) in lines.enumerate() {
        let whole = format!("{{\"n\":{n},\"prev\":\"{head}\",{line}");
        head = Hash::of(whole.as_bytes()).to_string();
        record.push_str(&whole);
        record.push('\n');
    }
    record.into_bytes()
}

fn sealed(record: Vec<u8>, key: &SigningKey) -> Sealed {
    let signature = key.sign(&record);
    Sealed { record, signature }
}

/// Makes an archive in a home without one, and trusts its key: so many records of so many jobs, with a checkpoint after each record.
pub fn fill(home: &Path, record: &str, records: u64, jobs: u64) {
    let key = SigningKey::throw_away();
    let trusted = home.join("trusted");
    Trust::add(&trusted, "Morgan Teal", &key.public()).unwrap();
    let pattern = Pattern::of(record, &key, &Trust::read(&trusted).unwrap());
    let path = home.join("archive.sqlite");
    drop(Archive::open(&path).unwrap());
    // rows are put in as an archive of before held them, which gets its log in one go when it is opened
    let mut shell = Connection::open(&path).unwrap();
    for table in ["log", "leaves", "hashes", "checkpoints", "timestamps"] {
        shell.execute_batch(&format!("DROP TABLE {table}")).unwrap();
    }
    shell.execute_batch("DROP INDEX records_by_place").unwrap();
    let transaction = shell.transaction().unwrap();
    let (first, _) = pattern.summary.run.as_u64_pair();
    for n in 0..records {
        let run = Uuid::from_u64_pair(first, 1 << 63 | n);
        // those of one job come one after the other, as work does
        put_in(&transaction, &pattern.again(run, n * jobs / records, &key));
    }
    transaction.pragma_update(None, "user_version", 1).unwrap();
    transaction.commit().unwrap();
    let mut archive = Archive::open(&path).unwrap();
    let transaction = shell.transaction().unwrap();
    for size in 1..records {
        let note = sign(&archive.head_at(size).unwrap(), &key).unwrap();
        let text = "INSERT INTO checkpoints (size, note) VALUES (?1, ?2)";
        transaction.execute(text, params![size, note]).unwrap();
    }
    transaction.commit().unwrap();
    let heads = Heads::of(home.join("checkpoints"));
    assert_eq!(sign_head(&mut archive, &heads, &key).unwrap(), None);
}

fn put_in(shell: &Connection, entry: &Entry) {
    let s = &entry.summary;
    let text = "INSERT INTO records VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?)";
    shell
        .prepare_cached(text)
        .unwrap()
        .execute(params![
            s.run.to_string(),
            s.opened_at,
            s.closed_at,
            s.place,
            s.cable,
            s.engineer,
            s.verdict,
            s.outcome,
            s.edition,
            s.fingerprint,
            s.sha256,
            entry.public_key,
            entry.signature,
            entry.record,
        ])
        .unwrap();
}
