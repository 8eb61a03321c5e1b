//! Leaves as rows, the hashes of the tree over them, and the checkpoints that were signed.
//!
//! The rule inside: a leaf goes in with the hashes that it completes, in the transaction of what it speaks of.

use std::cell::RefCell;

use rusqlite::{Connection, OptionalExtension as _, params};
use tlog_tiles::{Hash, HashReader, stored_hashes_for_record_hash, tree_hash};

use super::entry::{ENTRY_COLUMNS, entry_of};
use crate::evidence::log::{Kind, Leaf};

/// What an origin begins with; a random id follows.
const ORIGIN: &str = "coreproof/archive/";

/// A leaf as it stands in the archive.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// Its place, from 0.
    pub position: u64,
    /// Run or fingerprint that it speaks of.
    pub about: String,
    /// The leaf.
    pub leaf: Leaf,
    /// What was signed, where that stands nowhere else.
    pub body: String,
    /// The signature over it, armoured; empty for a record, whose signature stands with it.
    pub signature: String,
    /// The key that signed, as a line of an OpenSSH `.pub` file.
    pub public_key: String,
}

/// A statement beside the records: what goes into the log with a leaf of its own.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Statement {
    /// What it is.
    pub kind: Kind,
    /// Run or fingerprint that it speaks of.
    pub about: String,
    /// What was signed, where that stands nowhere else.
    pub body: String,
    /// The signature over it, armoured.
    pub signature: String,
    /// The key that signed, as a line of an OpenSSH `.pub` file.
    pub public_key: String,
}

impl Statement {
    /// Its leaf.
    pub fn leaf(&self) -> Leaf {
        Leaf::of(
            self.kind,
            &self.about,
            [self.body.as_bytes(), self.signature.as_bytes()],
        )
    }
}

/// Gives a new log its random name.
pub(super) fn begin(connection: &Connection) -> rusqlite::Result<()> {
    let mut random = [0; 16];
    ssh_key::rand_core::RngCore::fill_bytes(&mut ssh_key::rand_core::OsRng, &mut random);
    let origin = format!("{ORIGIN}{}", uuid::Builder::from_random_bytes(random).into_uuid());
    connection.execute("INSERT INTO log (one, origin) VALUES (1, ?1)", [origin])?;
    Ok(())
}

/// A leaf for each record that has none, oldest first; how many those are.
pub(super) fn catch_up(connection: &Connection) -> rusqlite::Result<u64> {
    let text = "SELECT run FROM records WHERE run NOT IN (SELECT about FROM leaves WHERE kind = 'record') \
                ORDER BY julianday(opened_at), run";
    let runs: Vec<String> = connection
        .prepare(text)?
        .query_map([], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?;
    for run in &runs {
        let text = format!("SELECT {ENTRY_COLUMNS} FROM records WHERE run = ?1");
        let entry = connection.query_row(&text, [run], entry_of)?;
        let leaf = Leaf::of_record(entry.summary.run, &entry.record, &entry.signature);
        push(connection, run, &leaf, None)?;
    }
    Ok(runs.len() as u64)
}

/// Adds a leaf and the hashes that it completes; its place.
pub(super) fn push(
    connection: &Connection,
    about: &str,
    leaf: &Leaf,
    statement: Option<&Statement>,
) -> rusqlite::Result<u64> {
    let position = size(connection)?;
    let hashes = Hashes::of(connection);
    let more = hashes.asked(stored_hashes_for_record_hash(position, leaf.hash(), &hashes))?;
    let text = |of: fn(&Statement) -> &String| statement.map_or("", |statement| of(statement));
    connection.execute(
        "INSERT INTO leaves (position, kind, about, text, body, signature, public_key) VALUES (?,?,?,?,?,?,?)",
        params![
            position,
            leaf.kind.word(),
            about,
            leaf.text,
            text(|s| &s.body),
            text(|s| &s.signature),
            text(|s| &s.public_key)
        ],
    )?;
    let mut insert = connection.prepare_cached("INSERT INTO hashes (position, hash) VALUES (?1, ?2)")?;
    for (at, hash) in (tlog_tiles::stored_hash_index(0, position)..).zip(more) {
        insert.execute(params![at, hash.0.as_slice()])?;
    }
    Ok(position)
}

pub(super) fn size(connection: &Connection) -> rusqlite::Result<u64> {
    connection.query_row("SELECT coalesce(max(position) + 1, 0) FROM leaves", [], |row| {
        row.get(0)
    })
}

/// The hashes of the tree as they are stored.
pub(super) struct Hashes<'c> {
    connection: &'c Connection,
    /// What the store said, which the library's own error cannot hold.
    failed: RefCell<Option<rusqlite::Error>>,
}

impl<'c> Hashes<'c> {
    pub(super) fn of(connection: &'c Connection) -> Hashes<'c> {
        Hashes {
            connection,
            failed: RefCell::new(None),
        }
    }

    /// What came of asking the tree, with the store's own error where that was the reason.
    pub(super) fn asked<T>(&self, result: Result<T, tlog_tiles::Error>) -> rusqlite::Result<T> {
        result.map_err(|error| match self.failed.take() {
            Some(failed) => failed,
            None => rusqlite::Error::ToSqlConversionFailure(error.into()),
        })
    }
}

impl HashReader for Hashes<'_> {
    fn read_hashes(&self, indexes: &[u64]) -> Result<Vec<Hash>, tlog_tiles::Error> {
        let read = || -> rusqlite::Result<Vec<Hash>> {
            let mut query = self
                .connection
                .prepare_cached("SELECT hash FROM hashes WHERE position = ?1")?;
            let one = |at: &u64| query.query_row([at], |row| row.get(0)).map(Hash);
            indexes.iter().map(one).collect()
        };
        read().map_err(|error| {
            let words = error.to_string();
            self.failed.replace(Some(error));
            tlog_tiles::Error::InvalidInput(words)
        })
    }
}

pub(super) const ROW_COLUMNS: &str = "position, kind, about, text, body, signature, public_key";

pub(super) fn row_of(row: &rusqlite::Row<'_>) -> rusqlite::Result<Row> {
    let kind: String = row.get(1)?;
    let kind = Kind::of_word(&kind).ok_or(rusqlite::Error::InvalidColumnType(
        1,
        "kind".into(),
        rusqlite::types::Type::Text,
    ))?;
    Ok(Row {
        position: row.get(0)?,
        about: row.get(2)?,
        leaf: Leaf {
            kind,
            text: row.get(3)?,
        },
        body: row.get(4)?,
        signature: row.get(5)?,
        public_key: row.get(6)?,
    })
}

pub(super) fn root_at(connection: &Connection, size: u64) -> rusqlite::Result<Hash> {
    let hashes = Hashes::of(connection);
    hashes.asked(tree_hash(size, &hashes))
}

pub(super) fn newest(connection: &Connection) -> rusqlite::Result<Option<String>> {
    connection
        .query_row("SELECT note FROM checkpoints ORDER BY size DESC LIMIT 1", [], |row| {
            row.get(0)
        })
        .optional()
}
