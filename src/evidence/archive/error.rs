//! What can go wrong with the archive. Trouble of the disk or of another program that holds the file is told apart
//! from a request that is refused.

use std::{
    io,
    path::{Path, PathBuf},
};

use rusqlite::ErrorCode;
use uuid::Uuid;

use crate::explain::Explain;

/// How many records an ambiguous id lists before it only counts them.
pub(super) const CANDIDATES_SHOWN_MAX: usize = 10;

/// Why the archive could not be opened, read or added to.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// Another process holds the archive and did not let go within two seconds.
    #[error("archive `{}` is in use by another process", path.display())]
    InUse {
        /// The archive.
        path: PathBuf,
    },
    /// There is no room for what was to be written. Nothing of it was.
    #[error("the disk that holds archive `{}` is full", path.display())]
    DiskFull {
        /// The archive.
        path: PathBuf,
    },
    /// The disk did not read or write.
    #[error("the disk that holds archive `{}` failed: {detail}", path.display())]
    DiskFailed {
        /// The archive.
        path: PathBuf,
        /// What the store said.
        detail: String,
    },
    /// The file or its folder may not be opened or written.
    #[error("archive `{}` cannot be opened or written: {detail}", path.display())]
    NoAccess {
        /// The archive.
        path: PathBuf,
        /// What the operating system or the store said.
        detail: String,
    },
    /// The file is something else.
    #[error("`{}` is not an archive of records", path.display())]
    NotAnArchive {
        /// The file.
        path: PathBuf,
    },
    /// The archive is of a format this program does not know.
    #[error("archive `{}` has format {found} and this coreproof knows {known}", path.display())]
    Newer {
        /// The archive.
        path: PathBuf,
        /// The format found.
        found: i64,
        /// The newest format known.
        known: i64,
    },
    /// A table, index or trigger is missing or is not as this program makes it.
    #[error("`{object}` of archive `{}` is missing or altered", path.display())]
    SchemaAltered {
        /// The archive.
        path: PathBuf,
        /// The table or trigger.
        object: String,
    },
    /// A table, index, view or trigger is there that this program never makes.
    #[error("archive `{}` holds `{object}`, a {kind} that is none of its own", path.display())]
    SchemaForeign {
        /// The archive.
        path: PathBuf,
        /// Its name, made safe to show.
        object: String,
        /// `table`, `index`, `view` or `trigger`.
        kind: String,
    },
    /// There is no archive.
    #[error("there is no archive `{}`", path.display())]
    Absent {
        /// Where it would be.
        path: PathBuf,
    },
    /// The newest records stand in the file beside the archive, which SQLite reads only where it may write.
    #[error("the newest records of archive `{0}` stand in `{0}-wal`, and the folder cannot be written", path.display())]
    WalUnwritable {
        /// The archive.
        path: PathBuf,
    },
    /// What was stored does not come back as it was given.
    #[error("record {run} did not come back from archive `{}` as it was stored", path.display())]
    NotStored {
        /// The archive.
        path: PathBuf,
        /// The run.
        run: Uuid,
    },
    /// The log does not begin with what a checkpoint says that it began with.
    #[error("the log of archive `{}` does not go on from its checkpoint of {size} leaves", path.display())]
    LogBroken {
        /// The archive.
        path: PathBuf,
        /// Leaves of the checkpoint.
        size: u64,
    },
    /// A checkpoint could not be signed.
    #[error("{0}")]
    Unsigned(String),
    /// The file does not hold together, or a row is not what the archive stores.
    #[error("archive `{}` is damaged: {detail}", path.display())]
    Damaged {
        /// The archive.
        path: PathBuf,
        /// What the store said.
        detail: String,
    },
    /// A column of the entry is not what it has to be.
    #[error("record {run} is not stored: its {field} cannot be `{value}`")]
    FieldRefused {
        /// The run.
        run: Uuid,
        /// The column.
        field: &'static str,
        /// Its value, made safe to show.
        value: String,
    },
    /// A record of this run is there with other bytes; neither is lost, and the new one is not stored.
    #[error("run {run} is already in the archive with another record or signature")]
    OtherBytes {
        /// The run.
        run: Uuid,
    },
    /// The same bytes are there as the record of another run.
    #[error("the record of run {run} is already in the archive as that of run {known}")]
    OtherRun {
        /// The run that was to be stored.
        run: Uuid,
        /// The run as which it is stored.
        known: String,
    },
    /// The start of an id is too short to mean one record.
    #[error("`{prefix}` is too short for a record: give 4 characters of its id at least")]
    PrefixTooShort {
        /// What was asked for.
        prefix: String,
    },
    /// What was asked for cannot be the start of an id.
    #[error("`{prefix}` is not the start of a record's id")]
    PrefixNotId {
        /// What was asked for, made safe to show.
        prefix: String,
    },
    /// No record has an id that begins so.
    #[error("no record begins with `{prefix}`")]
    NoRecord {
        /// What was asked for.
        prefix: String,
    },
    /// More than one record has an id that begins so.
    #[error("{count} records begin with `{prefix}`: {}", shown(candidates, *count))]
    Ambiguous {
        /// What was asked for.
        prefix: String,
        /// How many there are.
        count: u64,
        /// The first of their ids, in full.
        candidates: Vec<String>,
    },
}

fn shown(candidates: &[String], count: u64) -> String {
    let mut text: Vec<String> = candidates.iter().map(|id| format!("`{id}`")).collect();
    match count.saturating_sub(candidates.len() as u64) {
        0 => {}
        more => text.push(format!("and {more} more")),
    }
    text.join(", ")
}

impl Error {
    /// The kind that an error of the store belongs to.
    pub(super) fn of_store(path: &Path, error: &rusqlite::Error) -> Self {
        let detail = match error {
            rusqlite::Error::SqliteFailure(failure, None) => rusqlite::ffi::code_to_str(failure.extended_code).into(),
            other => other.to_string(),
        };
        let path = path.to_path_buf();
        match error.sqlite_error_code() {
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::InUse { path },
            Some(ErrorCode::DiskFull) => Self::DiskFull { path },
            Some(ErrorCode::SystemIoFailure) => Self::DiskFailed { path, detail },
            Some(ErrorCode::CannotOpen | ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => {
                Self::NoAccess { path, detail }
            }
            Some(ErrorCode::NotADatabase) => Self::NotAnArchive { path },
            _ => Self::Damaged { path, detail },
        }
    }

    /// The kind that an error of the file system belongs to.
    pub(super) fn of_file(path: &Path, error: &io::Error) -> Self {
        let (path, detail) = (path.to_path_buf(), error.to_string());
        match error.kind() {
            io::ErrorKind::StorageFull => Self::DiskFull { path },
            _ => Self::NoAccess { path, detail },
        }
    }
}

impl Explain for Error {
    fn hint(&self) -> Option<String> {
        match self {
            Self::InUse { .. } => Some("close the other coreproof, then run the command again".into()),
            Self::DiskFull { .. } => Some("free some space on the disk, then run the command again".into()),
            Self::DiskFailed { path, .. } => Some(format!(
                "copy `{}` to another disk before anything else",
                path.display()
            )),
            Self::NoAccess { path, .. } => Some(format!(
                "check who owns `{}` and its folder, and that the disk can be written",
                path.display()
            )),
            Self::NotAnArchive { path } => Some(format!(
                "move `{}` away if it is not yours to keep there",
                path.display()
            )),
            Self::Newer { .. } => Some("install the newer coreproof that made it".into()),
            Self::SchemaAltered { path, .. } | Self::Damaged { path, .. } => Some(format!(
                "keep `{}` as it is, put back your last copy, and import the records exported since",
                path.display()
            )),
            Self::OtherBytes { .. } => {
                Some("keep both files, and verify each to see which one is signed by whom".into())
            }
            Self::PrefixTooShort { .. } | Self::PrefixNotId { .. } | Self::NoRecord { .. } => {
                Some("run `coreproof records list` and copy the id".into())
            }
            Self::Ambiguous { .. } => Some("give more characters of the id".into()),
            Self::SchemaForeign { path, .. } => Some(format!(
                "nothing is stored in it, reading goes on: look at it with `sqlite3 {} .schema`, and put back your last copy",
                path.display()
            )),
            Self::Absent { .. } => {
                Some("records come into it by `coreproof run` and `coreproof records import`".into())
            }
            Self::WalUnwritable { path } => Some(format!(
                "copy `{0}` and `{0}-wal` into a folder that can be written, and read them there",
                path.display()
            )),
            Self::NotStored { path, .. } => Some(format!(
                "nothing was deleted: run `coreproof audit`, and keep `{}` as it is",
                path.display()
            )),
            Self::LogBroken { .. } => Some("run `coreproof audit` to see what is missing".into()),
            Self::FieldRefused { .. } | Self::OtherRun { .. } | Self::Unsigned(_) => None,
        }
    }

    fn is_equipment(&self) -> bool {
        matches!(
            self,
            Self::InUse { .. }
                | Self::DiskFull { .. }
                | Self::DiskFailed { .. }
                | Self::NoAccess { .. }
                | Self::SchemaAltered { .. }
                | Self::SchemaForeign { .. }
                | Self::WalUnwritable { .. }
                | Self::NotStored { .. }
                | Self::LogBroken { .. }
                | Self::Damaged { .. }
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rusqlite::ffi;

    fn check(code: std::ffi::c_int, text: &str, hint: &str) {
        let failure = rusqlite::Error::SqliteFailure(ffi::Error::new(code), None);
        let error = Error::of_store(Path::new("home/archive"), &failure);
        assert_eq!(error.to_string(), text);
        assert_eq!(error.hint().as_deref(), Some(hint));
        assert!(error.is_equipment());
    }

    /// The codes are SQLite's published result codes.
    #[test]
    fn trouble_of_the_store_is_told_apart() {
        let in_use = "archive `home/archive` is in use by another process";
        let close = "close the other coreproof, then run the command again";
        check(ffi::SQLITE_BUSY, in_use, close);
        check(ffi::SQLITE_LOCKED, in_use, close);
        check(ffi::SQLITE_BUSY_SNAPSHOT, in_use, close);
        check(
            ffi::SQLITE_FULL,
            "the disk that holds archive `home/archive` is full",
            "free some space on the disk, then run the command again",
        );
        let copy = "copy `home/archive` to another disk before anything else";
        let failed = "the disk that holds archive `home/archive` failed: disk I/O error";
        check(ffi::SQLITE_IOERR, failed, copy);
        check(ffi::SQLITE_IOERR_FSYNC, failed, copy);
        check(
            ffi::SQLITE_READONLY,
            "archive `home/archive` cannot be opened or written: attempt to write a readonly database",
            "check who owns `home/archive` and its folder, and that the disk can be written",
        );
        check(
            ffi::SQLITE_CORRUPT,
            "archive `home/archive` is damaged: database disk image is malformed",
            "keep `home/archive` as it is, put back your last copy, and import the records exported since",
        );
    }

    #[test]
    fn full_disk_under_the_file_system_is_the_same_kind() {
        let error = Error::of_file(Path::new("home/archive"), &io::Error::from(io::ErrorKind::StorageFull));
        assert_eq!(error.to_string(), "the disk that holds archive `home/archive` is full");
    }

    #[test]
    fn long_list_of_candidates_is_cut_and_counted() {
        let candidates = (10..20).map(|number| format!("id{number}")).collect();
        let error = Error::Ambiguous {
            prefix: "id".into(),
            count: 13,
            candidates,
        };
        let text = error.to_string();
        assert!(
            text.starts_with("13 records begin with `id`: `id10`, `id11`, "),
            "{text}"
        );
        assert!(text.ends_with("`id19`, and 3 more"), "{text}");
        assert_eq!(error.hint().as_deref(), Some("give more characters of the id"));
        assert!(!error.is_equipment());
    }
}
