//! Time stamps beside records.
//!
//! The rule inside: what comes in here was read and compared with its record before; what goes out is compared again by whoever asks.

use rusqlite::params;
use uuid::Uuid;

use super::{Archive, Error};

impl Archive {
    /// Adds a time stamp over the record of a run; false where it was there.
    ///
    /// # Errors
    /// Those of the disk.
    pub fn append_stamp(&mut self, run: Uuid, token: &[u8]) -> Result<bool, Error> {
        let run = run.to_string();
        let added = self
            .connection
            .execute(
                "INSERT INTO timestamps (run, token) SELECT ?1, ?2 WHERE NOT EXISTS \
                 (SELECT 1 FROM timestamps WHERE run = ?1 AND token = ?2)",
                params![run, token],
            )
            .map_err(|error| Error::of_store(&self.path, &error))?;
        Ok(0 < added)
    }

    /// The time stamps over the record of a run, in the order in which they came.
    ///
    /// # Errors
    /// Those of the disk.
    pub fn stamps(&self, run: Uuid) -> Result<Vec<Vec<u8>>, Error> {
        let read = || -> rusqlite::Result<Vec<Vec<u8>>> {
            let there = "SELECT 1 FROM sqlite_schema WHERE name = 'timestamps'";
            if !self.connection.prepare_cached(there)?.exists([])? {
                return Ok(Vec::new());
            }
            let text = "SELECT token FROM timestamps WHERE run = ?1 ORDER BY position";
            let mut query = self.connection.prepare_cached(text)?;
            query.query_map([run.to_string()], |row| row.get(0))?.collect()
        };
        read().map_err(|error| Error::of_store(&self.path, &error))
    }
}
