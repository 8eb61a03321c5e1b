//! Adding records. A record is on the disk when [`Archive::append`] returns, or it is not in the
//! archive at all; nothing here changes or removes one.
//!
//! The rule inside: what was stored is read back through a connection of its own and compared, before anybody is told that it is there.

use std::path::{Path, PathBuf};

use rusqlite::{Connection, OptionalExtension as _, TransactionBehavior, params};

use super::{
    Append, Entry, Error,
    entry::{ENTRY_COLUMNS, entry_of},
    leaves::{Statement, push},
    schema::{self, Made},
};
use crate::evidence::log::Leaf;

/// An open archive. Other processes can read it, and write to it in turn, while it is open.
#[derive(Debug)]
pub struct Archive {
    pub(super) connection: Connection,
    pub(super) path: PathBuf,
    made: Made,
    faults: Vec<Error>,
}

impl Archive {
    /// Opens the archive at `path` for adding to it, or makes one there.
    ///
    /// # Errors
    /// [`Error::InUse`] after two seconds, [`Error::NotAnArchive`], [`Error::Newer`], [`Error::SchemaAltered`], [`Error::SchemaForeign`],
    /// [`Error::Damaged`], [`Error::NoAccess`], [`Error::DiskFull`] and [`Error::DiskFailed`].
    pub fn open(path: &Path) -> Result<Self, Error> {
        let (connection, made) = schema::open(path)?;
        Ok(Self {
            connection,
            path: path.into(),
            made,
            faults: Vec::new(),
        })
    }

    /// Opens the archive at `path` for reading; nothing is made or changed, on a medium that cannot be written either.
    ///
    /// # Errors
    /// [`Error::Absent`], [`Error::WalUnwritable`], and those of [`Archive::open`] but the two of its schema, which are kept as
    /// [`Archive::faults`].
    pub fn read(path: &Path) -> Result<Self, Error> {
        let (connection, faults) = schema::open_to_read(path)?;
        Ok(Self {
            connection,
            path: path.into(),
            made: Made::Nothing,
            faults,
        })
    }

    /// What opening made of the file.
    pub fn made(&self) -> Made {
        self.made
    }

    /// Where the file is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What in it is otherwise than this program makes it.
    pub fn faults(&self) -> &[Error] {
        &self.faults
    }

    /// The row of a run, by a connection of its own that sees only what is on the disk.
    fn stands(&self, entry: &Entry, statement: Option<&Statement>) -> Result<(), Error> {
        let other = Archive::read(&self.path)?;
        let run = entry.summary.run;
        let text = format!("SELECT {ENTRY_COLUMNS} FROM records WHERE run = ?1");
        let mut rows = other
            .connection
            .prepare(&text)
            .map_err(|error| Error::of_store(&self.path, &error))?;
        let rows = rows
            .query_map([run.to_string()], entry_of)
            .and_then(Iterator::collect::<rusqlite::Result<Vec<Entry>>>)
            .map_err(|error| Error::of_store(&self.path, &error))?;
        let leaf = Leaf::of_record(run, &entry.record, &entry.signature);
        let leaves = other.statements(leaf.kind, &run.to_string())?;
        // the comment beside the key is no part of the evidence
        let same = |row: &Entry| {
            (&row.summary, &row.record, &row.signature) == (&entry.summary, &entry.record, &entry.signature)
        };
        let stands =
            matches!(rows.as_slice(), [row] if same(row)) && matches!(leaves.as_slice(), [row] if row.leaf == leaf);
        let stated = match statement {
            None => true,
            Some(statement) => {
                let rows = other.statements(statement.kind, &statement.about)?;
                rows.iter().any(|row| row.leaf == statement.leaf())
            }
        };
        match stands && stated && other.faults.is_empty() {
            true => Ok(()),
            false => Err(Error::NotStored {
                path: self.path.clone(),
                run,
            }),
        }
    }

    /// Adds a record with its leaf in the log. It is synced to the disk when this returns and was read back from there; on an error nothing
    /// was added, except on [`Error::NotStored`].
    ///
    /// # Errors
    /// [`Error::FieldRefused`], [`Error::OtherBytes`], [`Error::OtherRun`], [`Error::NotStored`], and those of the disk as in
    /// [`Archive::open`].
    pub fn append(&mut self, entry: &Entry) -> Result<Append, Error> {
        self.append_with(entry, None)
    }

    /// The same with what the record states of another, in the same transaction.
    ///
    /// # Errors
    /// As [`Archive::append`].
    pub fn append_with(&mut self, entry: &Entry, statement: Option<&Statement>) -> Result<Append, Error> {
        let appended = self.added(entry, statement)?;
        self.stands(entry, statement)?;
        Ok(appended)
    }

    fn added(&mut self, entry: &Entry, statement: Option<&Statement>) -> Result<Append, Error> {
        entry.check()?;
        let summary = &entry.summary;
        let run = summary.run.to_string();
        let path = &self.path;
        let failed = |error| Error::of_store(path, &error);
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(failed)?;
        let known = format!("SELECT {ENTRY_COLUMNS} FROM records WHERE run = ?1 OR sha256 = ?2 ORDER BY run <> ?1");
        let known = transaction
            .query_row(&known, [&run, &summary.sha256], entry_of)
            .optional()
            .map_err(failed)?;
        if let Some(known) = known {
            return if known.summary.run != summary.run {
                Err(Error::OtherRun {
                    run: summary.run,
                    known: known.summary.run.to_string(),
                })
            } else if (&known.record, &known.signature) == (&entry.record, &entry.signature) {
                Ok(Append::AlreadyThere)
            } else {
                Err(Error::OtherBytes { run: summary.run })
            };
        }
        let insert = format!("INSERT INTO records ({ENTRY_COLUMNS}) VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?)");
        let values = params![
            run,
            summary.opened_at,
            summary.closed_at,
            summary.place,
            summary.cable,
            summary.engineer,
            summary.verdict,
            summary.outcome,
            summary.edition,
            summary.fingerprint,
            summary.sha256,
            entry.public_key,
            entry.signature,
            entry.record,
        ];
        let rows = transaction.execute(&insert, values).map_err(failed)?;
        if rows != 1 {
            let (path, run) = (path.clone(), summary.run);
            return Err(Error::NotStored { path, run });
        }
        let leaf = Leaf::of_record(summary.run, &entry.record, &entry.signature);
        push(&transaction, &run, &leaf, None).map_err(failed)?;
        if let Some(statement) = statement {
            push(&transaction, &statement.about, &statement.leaf(), Some(statement)).map_err(failed)?;
        }
        transaction.commit().map_err(failed)?;
        Ok(Append::Stored)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::archive::entry::ENTRY_COLUMNS;
    use crate::evidence::archive::samples::{RUNS, all, check, entry, stored, three};

    #[test]
    fn same_record_again_changes_nothing() {
        let (_folder, _, mut archive) = stored();
        for mut entry in three() {
            // the signature names the key; the comment beside it is no part of the evidence
            entry.public_key = "ssh-ed25519 invented".into();
            assert_eq!(archive.append(&entry).unwrap(), Append::AlreadyThere);
        }
        assert_eq!(all(&archive), three());
    }

    #[test]
    fn other_bytes_under_a_known_run_are_refused() {
        let (_folder, _, mut archive) = stored();
        let other_record = entry(RUNS[0], "2026-11-25T08:00:00Z", b"other");
        let mut other_signature = three()[1].clone();
        other_signature.signature.push('x');
        for entry in [other_record, other_signature] {
            check(
                &archive.append(&entry).unwrap_err(),
                &format!(
                    "run {} is already in the archive with another record or signature",
                    RUNS[0]
                ),
                Some("keep both files, and verify each to see which one is signed by whom"),
                false,
            );
        }
        let copy = entry("039ab7c0-0000-7000-8000-000000000004", "2026-11-25T08:00:00Z", b"two");
        check(
            &archive.append(&copy).unwrap_err(),
            &format!(
                "the record of run 039ab7c0-0000-7000-8000-000000000004 is already in the archive as that of run {}",
                RUNS[0]
            ),
            None,
            false,
        );
        assert_eq!(all(&archive), three());
    }

    #[test]
    fn columns_that_cannot_be_are_refused() {
        let (_folder, _, mut archive) = stored();
        let mut refused = |change: fn(&mut Entry), field: &str, value: &str| {
            let mut entry = entry("039ab7c0-0000-7000-8000-000000000004", "2026-11-25T08:00:00Z", b"four");
            change(&mut entry);
            let text = "record 039ab7c0-0000-7000-8000-000000000004 is not stored: its";
            let error = archive.append(&entry).unwrap_err();
            check(&error, &format!("{text} {field} cannot be `{value}`"), None, false);
        };
        refused(
            |entry| entry.summary.opened_at = "yesterday".into(),
            "opened_at",
            "yesterday",
        );
        refused(
            |entry| entry.summary.closed_at = "2026-11-25T08:00:00".into(),
            "closed_at",
            "2026-11-25T08:00:00",
        );
        refused(|entry| entry.summary.verdict = "Pass\n".into(), "verdict", r"Pass\n");
        refused(|entry| entry.summary.outcome = String::new(), "outcome", "");
        refused(|entry| entry.summary.sha256 = "00".into(), "sha256", "00");
        assert_eq!(all(&archive), three());
    }

    #[test]
    fn rows_cannot_be_changed_removed_or_replaced() {
        let (_folder, path, archive) = stored();
        drop(archive);
        let shell = Connection::open(&path).unwrap();
        let row = "SELECT run, opened_at, closed_at, place, cable, engineer, verdict, outcome, edition, fingerprint, \
                   sha256, public_key, signature, x'00' FROM records LIMIT 1";
        for text in [
            "UPDATE records SET verdict = 'fail'",
            "UPDATE OR REPLACE records SET run = (SELECT max(run) FROM records)",
            "DELETE FROM records",
            "DELETE FROM records WHERE verdict = 'pass'",
            &format!("REPLACE INTO records ({ENTRY_COLUMNS}) {row}"),
            &format!("INSERT OR REPLACE INTO records ({ENTRY_COLUMNS}) {row}"),
            &format!("INSERT INTO records ({ENTRY_COLUMNS}) {row} ON CONFLICT (run) DO UPDATE SET verdict = 'fail'"),
        ] {
            let error = shell.execute(text, []).unwrap_err();
            assert_eq!(error.to_string(), "records are append-only", "{text}");
        }
        assert_eq!(all(&Archive::open(&path).unwrap()), three());
    }

    #[test]
    fn archive_locked_by_another_is_in_use_and_can_still_be_read() {
        let (_folder, path, mut archive) = stored();
        let other = Connection::open(&path).unwrap();
        other.execute_batch("BEGIN EXCLUSIVE").unwrap();
        assert_eq!(all(&archive), three());
        assert_eq!(Archive::open(&path).unwrap().list().unwrap().len(), 3);
        let more = entry("039ab7c0-0000-7000-8000-000000000004", "2026-11-25T08:00:00Z", b"four");
        check(
            &archive.append(&more).unwrap_err(),
            &format!("archive `{}` is in use by another process", path.display()),
            Some("close the other coreproof, then run the command again"),
            true,
        );
        other.execute_batch("ROLLBACK").unwrap();
        assert_eq!(archive.append(&more).unwrap(), Append::Stored);
    }

    #[test]
    fn two_that_have_it_open_see_what_the_other_adds() {
        let (_folder, path, mut archive) = stored();
        let mut other = Archive::open(&path).unwrap();
        let more = entry("039ab7c0-0000-7000-8000-000000000004", "2026-11-25T10:00:00Z", b"four");
        assert_eq!(other.append(&more).unwrap(), Append::Stored);
        assert_eq!(archive.get("039a").unwrap(), more);
        assert_eq!(archive.append(&more).unwrap(), Append::AlreadyThere);
    }

    #[test]
    fn full_disk_stores_nothing_and_loses_nothing() {
        let (_folder, path, mut archive) = stored();
        let pages: i64 = archive
            .connection
            .pragma_query_value(None, "page_count", |row| row.get(0))
            .unwrap();
        archive
            .connection
            .pragma_update(None, "max_page_count", pages + 1)
            .unwrap();
        let big = entry(
            "039ab7c0-0000-7000-8000-000000000004",
            "2026-11-25T08:00:00Z",
            &[7; 100_000],
        );
        check(
            &archive.append(&big).unwrap_err(),
            &format!("the disk that holds archive `{}` is full", path.display()),
            Some("free some space on the disk, then run the command again"),
            true,
        );
        assert_eq!(all(&archive), three());
        archive
            .connection
            .pragma_update(None, "max_page_count", 1_000_000)
            .unwrap();
        assert_eq!(archive.append(&big).unwrap(), Append::Stored);
    }
}
