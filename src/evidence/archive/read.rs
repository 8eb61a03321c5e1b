//! Reading the archive: one record by the start of its id, all of them in order of time, with or without their bytes.

use std::path::Path;
use std::time::Duration;

use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, OpenFlags, OptionalExtension as _, params_from_iter};
use uuid::Uuid;

use super::{
    Archive, Entry, Error, Summary,
    entry::{ENTRY_COLUMNS, SUMMARY_COLUMNS, entry_of, summary_of},
    error::CANDIDATES_SHOWN_MAX,
};
use crate::system::private;

/// Pages that are copied at once.
const COPY_PAGES: i32 = 1000;
/// How long a copy waits for somebody who writes.
const COPY_WAIT: Duration = Duration::from_millis(50);
/// Shortest start of an id that [`Archive::get`] takes, in characters.
const PREFIX_CHARACTERS_MIN: usize = 4;
/// An index answers this (`objects.rs`).
const OF_PLACE: &str = "WHERE place = ?1";
/// `g` comes after every character of an id, so that this span holds all ids with that start and no other.
const BEGINS_SO: &str = "?1 <= run AND run < ?1 || 'g'";

impl Archive {
    /// The record whose id begins with `prefix`, 4 characters at least; capital letters count as small ones.
    ///
    /// # Errors
    /// [`Error::PrefixTooShort`], [`Error::PrefixNotId`], [`Error::NoRecord`], [`Error::Ambiguous`], and those of the
    /// disk.
    pub fn get(&self, prefix: &str) -> Result<Entry, Error> {
        let prefix = prefix.to_ascii_lowercase();
        if !prefix.bytes().all(|c| matches!(c, b'0'..=b'9' | b'a'..=b'f' | b'-')) {
            return Err(Error::PrefixNotId {
                prefix: prefix.escape_debug().to_string(),
            });
        }
        if prefix.len() < PREFIX_CHARACTERS_MIN {
            return Err(Error::PrefixTooShort { prefix });
        }
        let failed = |error| Error::of_store(&self.path, &error);
        let mut candidates = self.ids_from(&prefix, CANDIDATES_SHOWN_MAX).map_err(failed)?;
        if 1 < candidates.len() {
            let text = format!("SELECT count(*) FROM records WHERE {BEGINS_SO}");
            let count = self.connection.query_row(&text, [&prefix], |row| row.get(0));
            return Err(Error::Ambiguous {
                prefix,
                count: count.map_err(failed)?,
                candidates,
            });
        }
        let run = candidates.pop().ok_or(Error::NoRecord { prefix })?;
        self.connection
            .query_row(
                &format!("SELECT {ENTRY_COLUMNS} FROM records WHERE run = ?1"),
                [run],
                entry_of,
            )
            .map_err(|error| Error::of_store(&self.path, &error))
    }

    /// The record of a run.
    ///
    /// # Errors
    /// Those of the disk.
    pub fn of_run(&self, run: &str) -> Result<Option<Entry>, Error> {
        self.one("run", run)
    }

    /// The record with this SHA-256, in lower-case hexadecimal.
    ///
    /// # Errors
    /// Those of the disk.
    pub fn of_digest(&self, sha256: &str) -> Result<Option<Entry>, Error> {
        self.one("sha256", sha256)
    }

    fn one(&self, column: &str, value: &str) -> Result<Option<Entry>, Error> {
        let text = format!("SELECT {ENTRY_COLUMNS} FROM records WHERE {column} = ?1");
        let row = self.connection.query_row(&text, [value], entry_of).optional();
        row.map_err(|error| Error::of_store(&self.path, &error))
    }

    /// Whether there is a record of a run.
    ///
    /// # Errors
    /// Those of the disk.
    pub fn has(&self, run: &str) -> Result<bool, Error> {
        let there = self.connection.prepare_cached("SELECT 1 FROM records WHERE run = ?1");
        let there = there.and_then(|mut query| query.exists([run]));
        there.map_err(|error| Error::of_store(&self.path, &error))
    }

    /// As much of a run's id as tells it from all others, whole groups, two at the least.
    ///
    /// # Errors
    /// Those of the disk.
    pub fn short(&self, run: Uuid) -> Result<String, Error> {
        let name = run.to_string();
        let ends = name.match_indices('-').map(|(at, _)| at).skip(1);
        for end in ends {
            let ids = self.ids_from(&name[..end], 2);
            if ids.map_err(|error| Error::of_store(&self.path, &error))?.len() == 1 {
                return Ok(name[..end].to_owned());
            }
        }
        Ok(name)
    }

    /// The first ids with this start, so many at most.
    fn ids_from(&self, prefix: &str, most: usize) -> rusqlite::Result<Vec<String>> {
        let text = format!("SELECT run FROM records WHERE {BEGINS_SO} ORDER BY run LIMIT {most}");
        let mut query = self.connection.prepare_cached(&text)?;
        query.query_map([prefix], |row| row.get(0))?.collect()
    }

    /// All records without their bytes, oldest first by the time the run was opened.
    ///
    /// # Errors
    /// Those of the disk, and [`Error::Damaged`].
    pub fn list(&self) -> Result<Vec<Summary>, Error> {
        // the times are RFC 3339 with any offset, which SQLite reads; as text they would not sort
        let text = format!("SELECT {SUMMARY_COLUMNS} FROM records ORDER BY julianday(opened_at), run");
        let read = || -> rusqlite::Result<Vec<Summary>> {
            let mut query = self.connection.prepare(&text)?;
            query.query_map([], summary_of)?.collect()
        };
        read().map_err(|error| Error::of_store(&self.path, &error))
    }

    /// Calls `visit` with each record's summary, oldest first. One is in memory at a time.
    ///
    /// # Errors
    /// The first error of `visit`, which ends the walk, and those of the disk.
    pub fn for_each_summary<E: From<Error>>(&self, visit: impl FnMut(Summary) -> Result<(), E>) -> Result<(), E> {
        self.each_summary("", &[], visit)
    }

    /// The same of the records of one place, as a summary names it; only these are read, however many others there are.
    ///
    /// # Errors
    /// As [`Archive::for_each_summary`].
    pub fn for_each_of_place<E: From<Error>>(
        &self,
        place: &str,
        visit: impl FnMut(Summary) -> Result<(), E>,
    ) -> Result<(), E> {
        self.each_summary(OF_PLACE, &[place], visit)
    }

    /// Whether [`Archive::for_each_of_place`] comes past a record: an index may have been left behind by whoever wrote into the file by hand.
    /// Where there is none every record is read.
    ///
    /// # Errors
    /// Those of the disk.
    pub fn is_found_by_place(&self, summary: &Summary) -> Result<bool, Error> {
        let found = || -> rusqlite::Result<bool> {
            let known = "SELECT 1 FROM sqlite_schema WHERE name = 'records_by_place'";
            if !self.connection.prepare_cached(known)?.exists([])? {
                return Ok(true);
            }
            let text = format!("SELECT 1 FROM records INDEXED BY records_by_place {OF_PLACE} AND run = ?2");
            let mut query = self.connection.prepare_cached(&text)?;
            query.exists([&summary.place, &summary.run.to_string()])
        };
        found().map_err(|error| Error::of_store(&self.path, &error))
    }

    fn each_summary<E: From<Error>>(
        &self,
        which: &str,
        of: &[&str],
        mut visit: impl FnMut(Summary) -> Result<(), E>,
    ) -> Result<(), E> {
        let failed = |error| E::from(Error::of_store(&self.path, &error));
        let text = format!("SELECT {SUMMARY_COLUMNS} FROM records {which} ORDER BY julianday(opened_at), run");
        let mut query = self.connection.prepare(&text).map_err(failed)?;
        let mut rows = query.query(params_from_iter(of)).map_err(failed)?;
        while let Some(row) = rows.next().map_err(failed)? {
            visit(summary_of(row).map_err(failed)?)?;
        }
        Ok(())
    }

    /// Writes the whole archive, its log and checkpoints included, into a new file of the same kind, for its owner alone. `progress` is told how
    /// much is done of how much.
    ///
    /// # Errors
    /// A file that is there, and those of the disk.
    pub fn copy_to(&self, file: &Path, mut progress: impl FnMut(u64, u64)) -> Result<(), Error> {
        let new = private::owner_only(std::fs::OpenOptions::new().write(true).create_new(true)).open(file);
        drop(new.map_err(|error| Error::of_file(file, &error))?);
        let mut copy = || -> rusqlite::Result<()> {
            let mut to = Connection::open_with_flags(file, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
            to.pragma_update(None, "synchronous", "FULL")?;
            let backup = Backup::new(&self.connection, &mut to)?;
            loop {
                let step = backup.step(COPY_PAGES)?;
                let at = backup.progress();
                let pages = |pages: i32| u64::try_from(pages).unwrap_or(0);
                progress(pages(at.pagecount - at.remaining), pages(at.pagecount));
                match step {
                    StepResult::Done => return Ok(()),
                    StepResult::More => {}
                    // somebody writes just now
                    _ => std::thread::sleep(COPY_WAIT),
                }
            }
        };
        copy().map_err(|error| Error::of_store(file, &error))
    }

    /// How many records there are.
    ///
    /// # Errors
    /// Those of the disk.
    pub fn count(&self) -> Result<u64, Error> {
        let count = self
            .connection
            .query_row("SELECT count(*) FROM records NOT INDEXED", [], |row| row.get(0));
        count.map_err(|error| Error::of_store(&self.path, &error))
    }

    /// Calls `visit` with each record, oldest first, and returns how many there were. Records added meanwhile are
    /// not among them. One record is in memory at a time.
    ///
    /// # Errors
    /// The first error of `visit`, which ends the walk, and those of the disk.
    pub fn for_each<E: From<Error>>(&self, mut visit: impl FnMut(Entry) -> Result<(), E>) -> Result<u64, E> {
        let failed = |error| E::from(Error::of_store(&self.path, &error));
        let text = format!("SELECT {ENTRY_COLUMNS} FROM records WHERE run = ?1");
        let mut query = self.connection.prepare(&text).map_err(failed)?;
        let mut count = 0;
        self.for_each_summary(|summary| {
            count += 1;
            visit(query.query_row([summary.run.to_string()], entry_of).map_err(failed)?)
        })?;
        Ok(count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::archive::samples::{RUNS, all, check, stored, three};
    use crate::explain::Explain;

    /// SQLite's own default.
    const PAGE_BYTES: usize = 4096;

    #[test]
    fn start_of_an_id_finds_its_record() {
        let (_folder, _, archive) = stored();
        for prefix in ["029a", "029AB7C0-0000-7000", RUNS[2]] {
            assert_eq!(archive.get(prefix).unwrap(), three()[0]);
        }
        assert_eq!(archive.get("019ab7c0-0000-7000-8000-0000000000f").unwrap(), three()[2]);
        let list = Some("run `coreproof records list` and copy the id");
        let refused = |prefix: &str, text: &str, hint| check(&archive.get(prefix).unwrap_err(), text, hint, false);
        refused(
            "",
            "`` is too short for a record: give 4 characters of its id at least",
            list,
        );
        refused(
            "029",
            "`029` is too short for a record: give 4 characters of its id at least",
            list,
        );
        refused("sail", "`sail` is not the start of a record's id", list);
        refused("%%%%", "`%%%%` is not the start of a record's id", list);
        refused("039a", "no record begins with `039a`", list);
        refused(
            &format!("{}0", RUNS[2]),
            &format!("no record begins with `{}0`", RUNS[2]),
            list,
        );
        refused(
            "019A",
            &format!("2 records begin with `019a`: `{}`, `{}`", RUNS[0], RUNS[1]),
            Some("give more characters of the id"),
        );
    }

    #[test]
    fn records_of_a_place_are_found_by_an_index_and_without_one() {
        let (_folder, _, archive) = stored();
        let of = |place: &str| {
            let mut found = Vec::new();
            let kept = archive.for_each_of_place(place, |summary| {
                found.push(summary);
                Ok::<(), Error>(())
            });
            kept.unwrap();
            found
        };
        let all = three().map(|entry| entry.summary);
        let check = || {
            for one in &all {
                let expected: Vec<_> = all.iter().filter(|there| there.place == one.place).cloned().collect();
                assert_eq!(of(&one.place), expected);
            }
            assert_eq!(of("nowhere"), []);
        };
        check();
        let text = format!("EXPLAIN QUERY PLAN SELECT run FROM records {OF_PLACE}");
        let plan: String = archive
            .connection
            .query_row(&text, ["nowhere"], |row| row.get(3))
            .unwrap();
        assert!(plan.contains("records_by_place"), "{plan}");
        // an archive of an earlier format that is only read has none
        archive.connection.execute_batch("DROP INDEX records_by_place").unwrap();
        check();
    }

    #[test]
    fn a_record_that_the_index_of_places_leaves_out_is_known() {
        let (_folder, path, archive) = stored();
        drop(archive);
        let shell = || rusqlite::Connection::open(&path).unwrap();
        let (page, text): (i64, String) = shell()
            .query_row(
                "SELECT rootpage, sql FROM sqlite_schema WHERE name = 'records_by_place'",
                [],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )
            .unwrap();
        let (hide, show) = (
            "DELETE FROM sqlite_schema WHERE name = 'records_by_place'".to_owned(),
            format!("INSERT INTO sqlite_schema VALUES ('index', 'records_by_place', 'records', {page}, '{text}')"),
        );
        let altered = |text: &str| {
            let shell = shell();
            shell.pragma_update(None, "writable_schema", true).unwrap();
            shell.execute_batch(text).unwrap();
        };
        // a row that comes while nobody knows of the index
        altered(&hide);
        let row = "SELECT '039ab7c0-0000-7000-8000-000000000009', opened_at, closed_at, place, cable, engineer, verdict, outcome, edition, \
                   fingerprint, 'other', public_key, signature, record FROM records LIMIT 1";
        shell()
            .execute(&format!("INSERT INTO records ({ENTRY_COLUMNS}) {row}"), [])
            .unwrap();
        altered(&show);
        let archive = Archive::read(&path).unwrap();
        assert!(archive.faults().is_empty(), "{:?}", archive.faults());
        let found: Vec<bool> = archive
            .list()
            .unwrap()
            .iter()
            .map(|summary| archive.is_found_by_place(summary).unwrap())
            .collect();
        assert_eq!(found.iter().filter(|found| !**found).count(), 1, "{found:?}");
        assert_eq!(found.len(), 4);
    }

    #[test]
    fn error_of_the_visitor_ends_the_walk() {
        let (_folder, _, archive) = stored();
        let mut seen = 0;
        let result = archive.for_each(|entry| {
            seen += 1;
            Err(Error::OtherBytes { run: entry.summary.run })
        });
        assert!(matches!(result, Err(Error::OtherBytes { .. })));
        assert_eq!(seen, 1);
    }

    #[test]
    fn archive_damaged_under_the_records_is_reported() {
        let (_folder, path, archive) = stored();
        drop(archive);
        let good = std::fs::read(&path).unwrap();
        // the page of the rows; the index of digests has another, which reading does not ask
        let rows = rusqlite::Connection::open(&path).unwrap();
        let rows: usize = rows
            .query_row("SELECT rootpage FROM sqlite_schema WHERE name = 'records'", [], |row| {
                row.get(0)
            })
            .unwrap();
        let mut bad = good.clone();
        bad[(rows - 1) * PAGE_BYTES..rows * PAGE_BYTES].fill(0xa5);
        std::fs::write(&path, &bad).unwrap();
        let mut archive = Archive::open(&path).unwrap();
        let damaged = format!(
            "archive `{}` is damaged: database disk image is malformed",
            path.display()
        );
        let hint = format!(
            "keep `{}` as it is, put back your last copy, and import the records exported since",
            path.display()
        );
        check(&archive.list().unwrap_err(), &damaged, Some(&hint), true);
        check(
            &archive.for_each(|_| Ok::<(), Error>(())).unwrap_err(),
            &damaged,
            Some(&hint),
            true,
        );
        check(&archive.get("019a").unwrap_err(), &damaged, Some(&hint), true);
        check(&archive.append(&three()[0]).unwrap_err(), &damaged, Some(&hint), true);
    }

    #[test]
    fn row_with_an_id_that_is_none_is_damage() {
        let (_folder, path, archive) = stored();
        let row = "SELECT 'none', opened_at, closed_at, place, cable, engineer, verdict, outcome, edition, \
                   fingerprint, 'none', public_key, signature, record FROM records LIMIT 1";
        archive
            .connection
            .execute(&format!("INSERT INTO records ({ENTRY_COLUMNS}) {row}"), [])
            .unwrap();
        let error = archive.list().unwrap_err();
        let start = format!("archive `{}` is damaged: Conversion error", path.display());
        assert!(error.to_string().starts_with(&start), "{error}");
        assert!(error.is_equipment());
    }

    #[test]
    fn what_is_stored_comes_back_oldest_first_and_after_reopening() {
        let (_folder, path, archive) = stored();
        assert_eq!(all(&archive), three());
        drop(archive);
        let archive = Archive::open(&path).unwrap();
        assert_eq!(all(&archive), three());
        assert_eq!(archive.list().unwrap(), three().map(|entry| entry.summary));
    }
}
