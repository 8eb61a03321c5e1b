//! The file itself: how an archive is made, and how one is known again.
//!
//! The rule inside: whoever adds to an archive has found in it exactly what this program makes and nothing else; whoever reads goes on past
//! what is otherwise, and says it.

use std::{
    fs, io,
    path::{Path, PathBuf},
    time::Duration,
};

use rusqlite::{Connection, ErrorCode, OpenFlags, TransactionBehavior};

use super::Error;
use super::leaves::{begin, catch_up};
use super::objects::{FORMAT, FORMAT_FIRST, of_format, since};
use crate::system::{folder, private};

/// Marks the file as ours in its header (`PRAGMA application_id`): the letters `CPRF`.
const APPLICATION_ID: i64 = 0x4350_5246;
/// How long to wait for another process to let go.
const BUSY_WAIT: Duration = Duration::from_secs(2);

/// What opening made of the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Made {
    /// Nothing: it was there.
    Nothing,
    /// The archive, which was not there.
    Archive,
    /// The log of an archive of format 1, over as many records.
    Log(u64),
}

/// Opens the archive at `path` for adding to it, or makes one (mode 0600, in a folder of mode 0700) where there is no file.
pub(super) fn open(path: &Path) -> Result<(Connection, Made), Error> {
    create_file(path).map_err(|error| Error::of_file(path, &error))?;
    let failed = |error| Error::of_store(path, &error);
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut connection = Connection::open_with_flags(path, flags).map_err(failed)?;
    prepare(&connection).map_err(failed)?;
    // full: a record that was acknowledged is there after a power cut
    connection.pragma_update(None, "synchronous", "FULL").map_err(failed)?;
    let blank = is_blank(&connection).map_err(failed)?;
    let mut made = match blank && make(&mut connection).map_err(failed)? {
        true => Made::Archive,
        false => Made::Nothing,
    };
    refused_kind(&connection, path).map_err(failed)?.map_or(Ok(()), Err)?;
    if let Some(fault) = faults(&connection, path).map_err(failed)?.into_iter().next() {
        return Err(fault);
    }
    if let Some(records) = bring_up(&mut connection, path)? {
        made = Made::Log(records);
    }
    Ok((connection, made))
}

/// Opens the archive at `path` for reading alone, and tells what in it is otherwise than this program makes it.
pub(super) fn open_to_read(path: &Path) -> Result<(Connection, Vec<Error>), Error> {
    if !path.exists() {
        return Err(Error::Absent { path: path.into() });
    }
    let failed = |error| Error::of_store(path, &error);
    let flags = OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let read = |name: &Path, flags| {
        let connection = Connection::open_with_flags(name, flags)?;
        prepare(&connection)?;
        connection.pragma_update(None, "query_only", true)?;
        let blank = is_blank(&connection)?;
        Ok::<_, rusqlite::Error>((connection, blank))
    };
    // where it may write, SQLite tidies up behind itself; a connection for reading alone would leave its own files lying there
    let (connection, blank) = match read(path, flags | OpenFlags::SQLITE_OPEN_READ_WRITE) {
        Err(error)
            if matches!(
                error.sqlite_error_code(),
                Some(ErrorCode::CannotOpen | ErrorCode::ReadOnly)
            ) =>
        {
            let name = unwritable(path)?;
            let flags = flags | OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI;
            read(&name, flags).map_err(failed)?
        }
        other => other.map_err(failed)?,
    };
    if blank {
        return Err(Error::Absent { path: path.into() });
    }
    refused_kind(&connection, path).map_err(failed)?.map_or(Ok(()), Err)?;
    let faults = faults(&connection, path).map_err(failed)?;
    Ok((connection, faults))
}

/// The name under which SQLite reads a file beside which it can write nothing: as one that nobody changes. What stands in the file beside it
/// would not be read then, so there must be none.
fn unwritable(path: &Path) -> Result<PathBuf, Error> {
    let mut beside = path.as_os_str().to_owned();
    beside.push("-wal");
    if fs::metadata(&beside).is_ok_and(|there| 0 < there.len()) {
        return Err(Error::WalUnwritable { path: path.into() });
    }
    let absolute = std::path::absolute(path).map_err(|error| Error::of_file(path, &error))?;
    let mut name = String::from("file://");
    let text = absolute.to_string_lossy().replace('\\', "/");
    if !text.starts_with('/') {
        name.push('/');
    }
    for byte in text.bytes() {
        match byte {
            b'/' | b':' | b'.' | b'-' | b'_' => name.push(char::from(byte)),
            _ if byte.is_ascii_alphanumeric() => name.push(char::from(byte)),
            _ => name.push_str(&format!("%{byte:02x}")),
        }
    }
    Ok(PathBuf::from(name + "?immutable=1"))
}

fn prepare(connection: &Connection) -> rusqlite::Result<()> {
    connection.busy_timeout(BUSY_WAIT)?;
    // a file from elsewhere may hold functions in its schema; they are not run
    connection.pragma_update(None, "trusted_schema", false)
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

/// Makes an archive; false where another process did so meanwhile.
fn make(connection: &mut Connection) -> rusqlite::Result<bool> {
    // in this mode readers go on while another process writes; it stays with the file
    connection.pragma_update(None, "journal_mode", "WAL")?;
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let blank = is_blank(&transaction)?;
    if blank {
        for (_, text) in of_format(FORMAT) {
            transaction.execute_batch(&text)?;
        }
        begin(&transaction)?;
        transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
        transaction.pragma_update(None, "user_version", FORMAT)?;
    }
    transaction.commit()?;
    Ok(blank)
}

/// Adds to an archive of an earlier format what it lacks. One of format 1 gets its log, with a leaf for each record that is there; how many
/// those are.
fn bring_up(connection: &mut Connection, path: &Path) -> Result<Option<u64>, Error> {
    let failed = |error| Error::of_store(path, &error);
    if number(connection, "user_version").map_err(failed)? == FORMAT {
        return Ok(None);
    }
    let transaction = connection
        .transaction_with_behavior(TransactionBehavior::Immediate)
        .map_err(failed)?;
    let format = number(&transaction, "user_version").map_err(failed)?;
    for (_, text) in since(format) {
        transaction.execute_batch(&text).map_err(failed)?;
    }
    let mut records = None;
    if format == FORMAT_FIRST {
        begin(&transaction).map_err(failed)?;
        records = Some(catch_up(&transaction).map_err(failed)?);
    }
    transaction
        .pragma_update(None, "user_version", FORMAT)
        .map_err(failed)?;
    transaction.commit().map_err(failed)?;
    Ok(records)
}

/// Why the file is none that this program knows, if so.
fn refused_kind(connection: &Connection, path: &Path) -> rusqlite::Result<Option<Error>> {
    let path = path.to_path_buf();
    if number(connection, "application_id")? != APPLICATION_ID {
        return Ok(Some(Error::NotAnArchive { path }));
    }
    let found = number(connection, "user_version")?;
    let known = FORMAT;
    Ok((known < found).then_some(Error::Newer { path, found, known }))
}

/// Whatever is missing, altered, or none of ours.
fn faults(connection: &Connection, path: &Path) -> rusqlite::Result<Vec<Error>> {
    let path = path.to_path_buf();
    let expected = of_format(number(connection, "user_version")?);
    let mut query = connection.prepare("SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY name")?;
    let found: Vec<(String, String, String, Option<String>)> = query
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?)))?
        .collect::<rusqlite::Result<_>>()?;
    let mut faults = Vec::new();
    for (name, text) in &expected {
        let mut of_name = found.iter().filter(|(_, object, ..)| object == name);
        let is_ours = of_name.next().is_some_and(|(.., sql)| sql.as_ref() == Some(text)) && of_name.next().is_none();
        if !is_ours {
            let (path, object) = (path.clone(), name.clone());
            faults.push(Error::SchemaAltered { path, object });
        }
    }
    for (kind, name, table, sql) in &found {
        let known = expected.iter().any(|(ours, _)| ours == name);
        // the index behind a unique column has a name of SQLite's own and no text
        let automatic = kind == "index"
            && sql.is_none()
            && name.starts_with("sqlite_autoindex_")
            && expected.iter().any(|(ours, _)| ours == table);
        if !known && !automatic {
            faults.push(Error::SchemaForeign {
                path: path.clone(),
                object: name.escape_debug().to_string(),
                kind: kind.clone(),
            });
        }
    }
    Ok(faults)
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
            let connection = open(&path).unwrap().0;
            let settings = [
                "journal_mode",
                "synchronous",
                "busy_timeout",
                "application_id",
                "user_version",
            ];
            assert_eq!(
                settings.map(|name| pragma(&connection, name)),
                ["wal", "2", "2000", "1129337414", "4"]
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
        open(&path).unwrap().0.pragma_update(None, "user_version", 5).unwrap();
        refused(
            &path,
            "archive `PATH` has format 5 and this coreproof knows 4",
            "install the newer coreproof that made it",
            false,
        );
    }

    #[test]
    fn missing_or_altered_trigger_is_seen() {
        let (_folder, path) = home();
        open(&path)
            .unwrap()
            .0
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
            if let Ok((connection, _)) = open(&path) {
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
