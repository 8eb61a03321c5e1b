//! The log inside the archive, as it is asked and signed.
//!
//! The rule inside: a head is signed only where the log goes on from every checkpoint that was signed before.

use rusqlite::{OptionalExtension as _, TransactionBehavior, params};
use tlog_tiles::{Hash, prove_record};
use uuid::Uuid;

use super::leaves::{Hashes, ROW_COLUMNS, Row, Statement, newest, push, root_at, row_of, size};
use super::{Archive, Error};
use crate::evidence::keys::Signs;
use crate::evidence::log::{self, Head, Kind, Proof, head_of};

impl Archive {
    /// Whether the archive has a log; one that an earlier version made gets it when it is first added to.
    ///
    /// # Errors
    /// Those of the disk.
    pub fn has_log(&self) -> Result<bool, Error> {
        let there = "SELECT count(*) FROM sqlite_schema WHERE name = 'log'";
        let there = self
            .connection
            .prepare_cached(there)
            .and_then(|mut query| query.query_row([], |row| row.get::<_, i64>(0)));
        Ok(0 < self.asked(there)?)
    }

    /// The name of the log.
    ///
    /// # Errors
    /// Those of the disk, and [`Error::Damaged`].
    pub fn origin(&self) -> Result<String, Error> {
        self.asked(
            self.connection
                .query_row("SELECT origin FROM log", [], |row| row.get(0)),
        )
    }

    /// How many leaves the log has.
    ///
    /// # Errors
    /// Those of the disk.
    pub fn log_size(&self) -> Result<u64, Error> {
        self.asked(size(&self.connection))
    }

    /// The head over the first `size` leaves, by the hashes that are stored.
    ///
    /// # Errors
    /// Those of the disk, and [`Error::Damaged`] where hashes are missing.
    pub fn head_at(&self, size: u64) -> Result<Head, Error> {
        let origin = self.origin()?;
        let root = self.asked(root_at(&self.connection, size))?;
        Ok(Head { origin, size, root })
    }

    /// The newest checkpoint that was signed.
    ///
    /// # Errors
    /// Those of the disk.
    pub fn checkpoint(&self) -> Result<Option<String>, Error> {
        self.asked(newest(&self.connection))
    }

    /// The checkpoint that stands under a number of leaves.
    ///
    /// # Errors
    /// Those of the disk.
    pub fn checkpoint_of(&self, size: u64) -> Result<Option<String>, Error> {
        let text = "SELECT note FROM checkpoints WHERE size = ?1";
        let query = self.connection.prepare_cached(text);
        self.asked(query.and_then(|mut query| query.query_row([size], |row| row.get(0)).optional()))
    }

    /// Calls `visit` with each checkpoint of more leaves than these, the smallest first, and the number that it stands under. One is in memory
    /// at a time.
    ///
    /// # Errors
    /// The first error of `visit`, which ends the walk, and those of the disk.
    pub fn for_each_checkpoint_beyond<E: From<Error>>(
        &self,
        size: u64,
        mut visit: impl FnMut(u64, String) -> Result<(), E>,
    ) -> Result<(), E> {
        let failed = |error| E::from(Error::of_store(&self.path, &error));
        let text = "SELECT size, note FROM checkpoints WHERE ?1 < size ORDER BY size";
        let mut query = self.connection.prepare(text).map_err(failed)?;
        let mut rows = query.query([size]).map_err(failed)?;
        while let Some(row) = rows.next().map_err(failed)? {
            visit(row.get(0).map_err(failed)?, row.get(1).map_err(failed)?)?;
        }
        Ok(())
    }

    /// Calls `visit` with each leaf and the hash stored for it, in their order. One leaf is in memory at a time.
    ///
    /// # Errors
    /// The first error of `visit`, which ends the walk, and those of the disk.
    pub fn for_each_leaf<E: From<Error>>(
        &self,
        mut visit: impl FnMut(Row, Option<Hash>) -> Result<(), E>,
    ) -> Result<(), E> {
        let failed = |error| E::from(Error::of_store(&self.path, &error));
        let mut hash = self
            .connection
            .prepare("SELECT hash FROM hashes WHERE position = ?1")
            .map_err(failed)?;
        let text = format!("SELECT {ROW_COLUMNS} FROM leaves ORDER BY position");
        let mut query = self.connection.prepare(&text).map_err(failed)?;
        let mut rows = query.query([]).map_err(failed)?;
        while let Some(row) = rows.next().map_err(failed)? {
            let row = row_of(row).map_err(failed)?;
            let at = tlog_tiles::stored_hash_index(0, row.position);
            let stored = hash
                .query_row([at], |row| row.get(0))
                .map(Hash)
                .optional()
                .map_err(failed)?;
            visit(row, stored)?;
        }
        Ok(())
    }

    /// The statements of a kind about something, in the order in which they came.
    ///
    /// # Errors
    /// Those of the disk.
    pub fn statements(&self, kind: Kind, about: &str) -> Result<Vec<Row>, Error> {
        if !self.has_log()? {
            return Ok(Vec::new());
        }
        let read = || {
            let text = format!("SELECT {ROW_COLUMNS} FROM leaves WHERE kind = ?1 AND about = ?2 ORDER BY position");
            let mut query = self.connection.prepare(&text)?;
            query.query_map([kind.word(), about], row_of)?.collect()
        };
        self.asked(read())
    }

    /// The newest run that the log says supersedes another; that it does is for an audit to prove.
    ///
    /// # Errors
    /// Those of the disk.
    pub fn superseded(&self, run: Uuid) -> Result<Option<Uuid>, Error> {
        let read = || -> rusqlite::Result<Option<String>> {
            let text =
                "SELECT body FROM leaves WHERE kind = 'supersession' AND about = ?1 ORDER BY position DESC LIMIT 1";
            let mut query = self.connection.prepare_cached(text)?;
            query.query_row([run.to_string()], |row| row.get(0)).optional()
        };
        if !self.has_log()? {
            return Ok(None);
        }
        let body = self.asked(read())?;
        let by = |body: String| body.lines().nth(2)?.strip_prefix("by ")?.get(..36)?.parse().ok();
        Ok(body.and_then(by))
    }

    /// Signs the head of the log, or gives back the newest checkpoint where that is of this head. `kept` are the checkpoints of this log
    /// that are known from elsewhere.
    ///
    /// # Errors
    /// [`Error::LogBroken`] where the log does not go on from a checkpoint, [`Error::Unsigned`], and those of the disk.
    pub fn sign_head(&mut self, key: &dyn Signs, kept: &[Head]) -> Result<(Head, String), Error> {
        let path = self.path.clone();
        let failed = |error| Error::of_store(&path, &error);
        let origin = self.origin()?;
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(failed)?;
        let size = size(&transaction).map_err(failed)?;
        let root = root_at(&transaction, size).map_err(failed)?;
        let newest = newest(&transaction).map_err(failed)?;
        let signed = newest.as_deref().and_then(|note| head_of(note).ok());
        for earlier in kept.iter().chain(&signed) {
            let goes_on = earlier.size <= size
                && earlier.origin == origin
                && root_at(&transaction, earlier.size).map_err(failed)? == earlier.root;
            if !goes_on {
                let (path, size) = (path.clone(), earlier.size);
                return Err(Error::LogBroken { path, size });
            }
        }
        let head = Head { origin, size, root };
        if let (Some(note), Some(signed)) = (newest, signed)
            && signed == head
        {
            return Ok((head, note));
        }
        let note = log::sign(&head, key).map_err(|error| Error::Unsigned(error.to_string()))?;
        transaction
            .execute(
                "INSERT INTO checkpoints (size, note) VALUES (?1, ?2)",
                params![size, note],
            )
            .map_err(failed)?;
        transaction.commit().map_err(failed)?;
        Ok((head, note))
    }

    /// The proof that a record is under the newest checkpoint; none where no checkpoint covers it.
    ///
    /// # Errors
    /// Those of the disk, and [`Error::Damaged`].
    pub fn proof(&self, run: Uuid) -> Result<Option<Proof>, Error> {
        if !self.has_log()? {
            return Ok(None);
        }
        let text = "SELECT position FROM leaves WHERE kind = 'record' AND about = ?1";
        let index = self
            .connection
            .query_row(text, [run.to_string()], |row| row.get::<_, u64>(0));
        let (Some(index), Some(note)) = (self.asked(index.optional())?, self.checkpoint()?) else {
            return Ok(None);
        };
        let Some(head) = head_of(&note).ok().filter(|head| index < head.size) else {
            return Ok(None);
        };
        let hashes = Hashes::of(&self.connection);
        let hashes = self.asked(hashes.asked(prove_record(head.size, index, &hashes)))?;
        Ok(Some(Proof { index, hashes, note }))
    }

    /// Adds a statement with its leaf; false where it was there.
    ///
    /// # Errors
    /// Those of the disk.
    pub fn append_statement(&mut self, statement: &Statement) -> Result<bool, Error> {
        let path = self.path.clone();
        let failed = |error| Error::of_store(&path, &error);
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(failed)?;
        let leaf = statement.leaf();
        let known: i64 = transaction
            .query_row(
                "SELECT count(*) FROM leaves WHERE kind = ?1 AND about = ?2 AND text = ?3",
                [leaf.kind.word(), &statement.about, &leaf.text],
                |row| row.get(0),
            )
            .map_err(failed)?;
        if 0 < known {
            return Ok(false);
        }
        push(&transaction, &statement.about, &leaf, Some(statement)).map_err(failed)?;
        transaction.commit().map_err(failed)?;
        Ok(true)
    }

    fn asked<T>(&self, result: rusqlite::Result<T>) -> Result<T, Error> {
        result.map_err(|error| Error::of_store(&self.path, &error))
    }
}
