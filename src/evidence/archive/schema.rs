//! The file itself: how an archive is made, and how one is known again. Format 1: one table `records`, and triggers
//! that refuse whatever would change or remove a row, `INSERT OR REPLACE` included.

use std::{fs, io, path::Path, time::Duration};

use rusqlite::{Connection, OpenFlags, OptionalExtension as _, TransactionBehavior};

use super::Error;
use crate::system::{folder, private};

/// Marks the file as ours in its header (`PRAGMA application_id`): the letters `CPRF`.
const APPLICATION_ID: i64 = 0x4350_5246;
/// The newest format known (`PRAGMA user_version`).
const FORMAT: i64 = 1;
/// How long to wait for another process to let go.
const BUSY_WAIT: Duration = Duration::from_secs(2);

/// What the file holds, by name. SQLite keeps each text as written, so that an altered one is seen.
const OBJECTS: [(&str, &str); 4] = [
    (
        "records",
        "CREATE TABLE records (
    run TEXT PRIMARY KEY NOT NULL,
    opened_at TEXT NOT NULL,
    closed_at TEXT NOT NULL,
    place TEXT NOT NULL,
    cable TEXT NOT NULL,
    engineer TEXT NOT NULL,
    verdict TEXT NOT NULL CHECK (verdict IN ('pass', 'fail', 'not tested', 'conditional')),
    outcome TEXT NOT NULL CHECK (outcome IN ('completed', 'abandoned')),
    edition TEXT NOT NULL,
    fingerprint TEXT NOT NULL,
    sha256 TEXT NOT NULL UNIQUE,
    public_key TEXT NOT NULL,
    signature TEXT NOT NULL,
    record BLOB NOT NULL
) STRICT, WITHOUT ROWID",
    ),
    (
        "records_are_not_changed",
        "CREATE TRIGGER records_are_not_changed BEFORE UPDATE ON records
BEGIN SELECT RAISE(ABORT, 'records are append-only'); END",
    ),
    (
        "records_are_not_removed",
        "CREATE TRIGGER records_are_not_removed BEFORE DELETE ON records
BEGIN SELECT RAISE(ABORT, 'records are append-only'); END",
    ),
    (
        // a replacing insert removes the old row without asking the trigger above
        "records_are_not_replaced",
        "CREATE TRIGGER records_are_not_replaced BEFORE INSERT ON records
WHEN EXISTS (SELECT 1 FROM records WHERE run = NEW.run OR sha256 = NEW.sha256)
BEGIN SELECT RAISE(ABORT, 'records are append-only'); END",
    ),
];

/// Opens the archive at `path`, or makes one (mode 0600, in a folder of mode 0700) where there is no file.
pub(super) fn open(path: &Path) -> Result<Connection, Error> {
    create_file(path).map_err(|error| Error::of_file(path, &error))?;
    let failed = |error| Error::of_store(path, &error);
    let connection = connect(path).map_err(failed)?;
    match fault_of(&connection, path).map_err(failed)? {
        Some(fault) => Err(fault),
        None => Ok(connection),
    }
}

fn connect(path: &Path) -> rusqlite::Result<Connection> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut connection = Connection::open_with_flags(path, flags)?;
    connection.busy_timeout(BUSY_WAIT)?;
    // a file from elsewhere may hold functions in its schema; they are not run
    connection.pragma_update(None, "trusted_schema", false)?;
    // full: a record that was acknowledged is there after a power cut
    connection.pragma_update(None, "synchronous", "FULL")?;
    if is_blank(&connection)? {
        make(&mut connection)?;
    }
    Ok(connection)
}

fn create_file(path: &Path) -> io::Result<()> {
    let dir = folder::of(path);
    private::make_folder(dir)?;
    match private::owner_only(fs::OpenOptions::new().write(true).create_new(true)).open(path) {
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Ok(()),
        Err(error) => Err(error),
        // makes sure that the name survives a power cut
        Ok(file) => file.sync_all().and_then(|()| folder::sync(dir)),
    }
}

fn number(connection: &Connection, pragma: &str) -> rusqlite::Result<i64> {
    connection.pragma_query_value(None, pragma, |row| row.get(0))
}

/// True of an empty file, or of one whose making was cut short.
fn is_blank(connection: &Connection) -> rusqlite::Result<bool> {
    let objects: i64 = connection.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    Ok(objects == 0 && number(connection, "application_id")? == 0 && number(connection, "user_version")? == 0)
}

fn make(connection: &mut Connection) -> rusqlite::Result<()> {
    // in this mode readers go on while another process writes; it stays with the file
    connection.pragma_update(None, "journal_mode", "WAL")?;
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    // another process may have made it while this one waited
    if is_blank(&transaction)? {
        for (_, text) in OBJECTS {
            transaction.execute_batch(text)?;
        }
        transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
        transaction.pragma_update(None, "user_version", FORMAT)?;
    }
    transaction.commit()
}

/// What keeps the file from being an archive that this program can add to, if anything.
fn fault_of(connection: &Connection, path: &Path) -> rusqlite::Result<Option<Error>> {
    let path = path.to_path_buf();
    if number(connection, "application_id")? != APPLICATION_ID {
        return Ok(Some(Error::NotAnArchive { path }));
    }
    let found = number(connection, "user_version")?;
    if FORMAT < found {
        return Ok(Some(Error::Newer {
            path,
            found,
            known: FORMAT,
        }));
    }
    for (object, text) in OBJECTS {
        let stored: Option<String> = connection
            .query_row("SELECT sql FROM sqlite_schema WHERE name = ?1", [object], |row| {
                row.get(0)
            })
            .optional()?;
        if stored.as_deref() != Some(text) {
            return Ok(Some(Error::SchemaAltered { path, object }));
        }
    }
    Ok(None)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::explain::Explain;
    use std::{os::unix::fs::PermissionsExt as _, path::PathBuf};

    fn home() -> (tempfile::TempDir, PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("home/archive.sqlite");
        (folder, path)
    }

    fn refused(path: &Path, text: &str, hint: &str, equipment: bool) {
        let error = open(path).unwrap_err();
        let name = path.display().to_string();
        assert_eq!(error.to_string(), text.replace("PATH", &name));
        assert_eq!(error.hint(), Some(hint.replace("PATH", &name)));
        assert_eq!(error.is_equipment(), equipment);
    }

    const NOT_OURS: (&str, &str) = (
        "`PATH` is not an archive of records",
        "move `PATH` away if it is not yours to keep there",
    );
    const PUT_BACK: &str = "keep `PATH` as it is, put back your last copy, and import the records exported since";

    fn pragma(connection: &Connection, name: &str) -> String {
        connection
            .pragma_query_value(None, name, |row| row.get::<_, rusqlite::types::Value>(0))
            .map_or_else(
                |error| error.to_string(),
                |value| match value {
                    rusqlite::types::Value::Integer(number) => number.to_string(),
                    rusqlite::types::Value::Text(text) => text,
                    other => format!("{other:?}"),
                },
            )
    }

    #[test]
    fn new_archive_is_private_and_set_for_power_cuts() {
        let (_folder, path) = home();
        for _ in 0..2 {
            let connection = open(&path).unwrap();
            let settings = [
                "journal_mode",
                "synchronous",
                "busy_timeout",
                "application_id",
                "user_version",
            ];
            assert_eq!(
                settings.map(|name| pragma(&connection, name)),
                ["wal", "2", "2000", "1129337414", "1"]
            );
            let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode() & 0o7777;
            assert_eq!((mode(&path), mode(path.parent().unwrap())), (0o600, 0o700));
        }
        assert_eq!(fs::read(&path).unwrap()[68..72], *b"CPRF");
    }

    #[test]
    fn making_cut_short_is_taken_up_again() {
        let (_folder, path) = home();
        create_file(&path).unwrap();
        Connection::open(&path)
            .unwrap()
            .pragma_update(None, "journal_mode", "WAL")
            .unwrap();
        open(&path).unwrap();
    }

    #[test]
    fn file_that_is_no_database_is_refused_and_left_alone() {
        let (folder, _) = home();
        let path = folder.path().join("file");
        for bytes in [
            b"hello".to_vec(),
            b"garbage ".repeat(4096),
            b"SQLite format 3\0".repeat(64),
        ] {
            fs::write(&path, &bytes).unwrap();
            let error = open(&path).unwrap_err();
            assert_eq!(
                error.to_string(),
                NOT_OURS.0.replace("PATH", &path.display().to_string())
            );
            assert_eq!(fs::read(&path).unwrap(), bytes);
        }
        refused(&path, NOT_OURS.0, NOT_OURS.1, false);
    }

    #[test]
    fn database_of_another_program_is_refused() {
        let (folder, _) = home();
        let path = folder.path().join("file");
        Connection::open(&path)
            .unwrap()
            .execute_batch("CREATE TABLE notes (text TEXT)")
            .unwrap();
        refused(&path, NOT_OURS.0, NOT_OURS.1, false);
    }

    #[test]
    fn newer_format_is_refused_with_the_remedy() {
        let (_folder, path) = home();
        open(&path).unwrap().pragma_update(None, "user_version", 2).unwrap();
        refused(
            &path,
            "archive `PATH` has format 2 and this coreproof knows 1",
            "install the newer coreproof that made it",
            false,
        );
    }

    #[test]
    fn missing_or_altered_trigger_is_seen() {
        let (_folder, path) = home();
        open(&path)
            .unwrap()
            .execute_batch("DROP TRIGGER records_are_not_removed")
            .unwrap();
        let altered = "`records_are_not_removed` of archive `PATH` is missing or altered";
        refused(&path, altered, PUT_BACK, true);
        let text = "CREATE TRIGGER records_are_not_removed BEFORE DELETE ON records BEGIN SELECT 1; END";
        Connection::open(&path).unwrap().execute_batch(text).unwrap();
        refused(&path, altered, PUT_BACK, true);
    }

    #[test]
    fn archive_with_garbage_written_over_it_is_refused_wherever_it_is() {
        let (_folder, path) = home();
        drop(open(&path).unwrap());
        let good = fs::read(&path).unwrap();
        for at in (0..good.len()).step_by(256) {
            let mut bad = good.clone();
            let end = bad.len().min(at + 256);
            bad[at..end].fill(0xa5);
            fs::write(&path, &bad).unwrap();
            // never a panic; what still opens is asked for its rows as well
            if let Ok(connection) = open(&path) {
                let _ = connection.query_row("SELECT count(*) FROM records", [], |row| row.get::<_, i64>(0));
            }
        }
        let mut bad = good;
        bad[100..].fill(0xa5);
        fs::write(&path, &bad).unwrap();
        refused(
            &path,
            "archive `PATH` is damaged: database disk image is malformed",
            PUT_BACK,
            true,
        );
    }

    #[test]
    fn folder_in_place_of_the_archive_is_no_access() {
        let (folder, _) = home();
        let path = folder.path().to_path_buf();
        let error = open(&path).unwrap_err();
        let start = format!(
            "archive `{0}` cannot be opened or written: unable to open database file",
            path.display()
        );
        assert!(error.to_string().starts_with(&start), "{error}");
        assert!(error.is_equipment());
    }

    #[test]
    fn archive_held_while_it_is_made_is_in_use() {
        let (_folder, path) = home();
        create_file(&path).unwrap();
        let other = Connection::open(&path).unwrap();
        other.execute_batch("BEGIN EXCLUSIVE").unwrap();
        refused(
            &path,
            "archive `PATH` is in use by another process",
            "close the other coreproof, then run the command again",
            true,
        );
        other.execute_batch("ROLLBACK").unwrap();
        open(&path).unwrap();
    }

    #[test]
    fn many_who_make_it_at_once_make_one() {
        let (_folder, path) = home();
        std::thread::scope(|scope| {
            for _ in 0..4 {
                scope.spawn(|| match open(&path) {
                    Ok(_) | Err(Error::InUse { .. }) => {}
                    Err(error) => panic!("{error}"),
                });
            }
        });
        open(&path).unwrap();
    }
}
