//! Records for the tests of this room. The texts are invented.

use std::path::PathBuf;

use super::{Append, Archive, Entry, Error, Summary, sha256_hex};
use crate::explain::Explain;

pub(super) const RUNS: [&str; 3] = [
    "019ab7c0-0000-7000-8000-000000000001",
    "019ab7c0-0000-7000-8000-0000000000f2",
    "029ab7c0-0000-7000-8000-000000000003",
];

pub(super) fn entry(run: &str, opened_at: &str, record: &[u8]) -> Entry {
    Entry {
        summary: Summary {
            run: run.parse().unwrap(),
            opened_at: opened_at.into(),
            closed_at: "2026-11-25T09:40:00Z".into(),
            place: "Saltmarsh Sailing Club, sail loft".into(),
            cable: "thermostat".into(),
            engineer: "Morgan Teal".into(),
            verdict: "pass".into(),
            outcome: "completed".into(),
            edition: "first".into(),
            fingerprint: "SHA256:invented".into(),
            sha256: sha256_hex(record),
        },
        public_key: "ssh-ed25519 invented Morgan Teal".into(),
        record: record.into(),
        signature: "invented\n".into(),
    }
}

pub(super) fn three() -> [Entry; 3] {
    // told in order of time: the second and third show that text order and order of ids are not it
    [
        entry(RUNS[2], "2026-11-25T08:00:00Z", b"one\0\xff"),
        entry(RUNS[0], "2026-11-25T08:00:00.5Z", b"two"),
        entry(RUNS[1], "2026-11-25T07:01:00-01:00", b""),
    ]
}

pub(super) fn stored() -> (tempfile::TempDir, PathBuf, Archive) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("archive.sqlite");
    let mut archive = Archive::open(&path).unwrap();
    for entry in three().iter().rev() {
        assert_eq!(archive.append(entry).unwrap(), Append::Stored);
    }
    (folder, path, archive)
}

pub(super) fn all(archive: &Archive) -> Vec<Entry> {
    let mut found = Vec::new();
    let count = archive
        .for_each(|entry| -> Result<(), Error> {
            found.push(entry);
            Ok(())
        })
        .unwrap();
    assert_eq!(count, found.len() as u64);
    found
}

pub(super) fn check(error: &Error, text: &str, hint: Option<&str>, equipment: bool) {
    assert_eq!(error.to_string(), text);
    assert_eq!(error.hint().as_deref(), hint);
    assert_eq!(error.is_equipment(), equipment);
}
