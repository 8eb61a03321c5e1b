//! A journal that is being written: begin, append, recover.
//!
//! Rule: a call returns only when its line is on the disk; after the first failure no line is taken any more. What the
//! disk then holds is found out by opening it anew.

use std::io::Read;
use std::marker::PhantomData;
use std::path::Path;

use jiff::Timestamp;
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::error::{Action, Error};
use super::format::{FILE_BYTES_MAX, LINE_BYTES_MAX};
use super::hash::Hash;
use super::line::{self, Line};
use super::record::{chain_head, parse};
use super::store::{FileStore, Store};
use super::tail;
use crate::system::disk;

/// An open journal. Holds the lock on its file until it is dropped.
#[derive(Debug)]
pub struct Journal<E> {
    store: Box<dyn Store>,
    len: u64,
    next: u64,
    head: Hash,
    first_failure: Option<String>,
    event: PhantomData<fn(&E)>,
}

/// What was found in a journal that was left open.
#[derive(Debug)]
pub struct Recovered<E> {
    /// Ready for the next line.
    pub journal: Journal<E>,
    /// Every acknowledged line; perhaps one more, which was whole on the disk though its writer did not live to know.
    pub lines: Vec<Line<E>>,
    /// Length of the unacknowledged end that was cut off, in bytes; 0 after a clean stop.
    pub torn_bytes: u64,
}

impl<E: Serialize + DeserializeOwned> Journal<E> {
    /// Begins a journal at `path`, where nothing may be yet. A file that could not get its first line is taken away.
    ///
    /// # Errors
    /// [`Error::AlreadyExists`], [`Error::DiskFull`], [`Error::Io`], [`Error::LineTooLarge`], [`Error::Unwritable`].
    pub fn create(path: &Path, first: &E, at: Timestamp) -> Result<Journal<E>, Error> {
        let store = FileStore::create(path)?;
        Journal::create_in(Box::new(store), first, at).inspect_err(|_| {
            // nothing in it was acknowledged; if it cannot be taken away, recovery calls it empty
            let _ = std::fs::remove_file(path);
        })
    }

    /// Begins a journal in storage that is empty.
    ///
    /// # Errors
    /// As [`Journal::append`].
    pub fn create_in(store: Box<dyn Store>, first: &E, at: Timestamp) -> Result<Journal<E>, Error> {
        let mut journal = Journal::after(store, b"", 0);
        journal.append(first, at)?;
        Ok(journal)
    }

    /// Opens the journal at `path` again, whatever its writer came to: cuts off what a crash tore, refuses damage.
    /// A file that is refused is left as it is.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::InUse`], [`Error::Empty`], those of [`parse`], and failures of the storage.
    pub fn recover(path: &Path) -> Result<Recovered<E>, Error> {
        Journal::recover_in(Box::new(FileStore::open(path)?))
    }

    /// Opens the journal in `store` again.
    ///
    /// # Errors
    /// As [`Journal::recover`].
    pub fn recover_in(mut store: Box<dyn Store>) -> Result<Recovered<E>, Error> {
        // one byte over the cap is enough to see that it is over
        let read = store.read_all(FILE_BYTES_MAX + 1);
        let mut bytes = read.map_err(|reason| Error::from_io(Action::Read, store.place(), reason))?;
        if bytes.len() as u64 > FILE_BYTES_MAX {
            return Err(Error::FileTooLarge);
        }
        let whole = tail::whole_len(&bytes)?;
        let torn_bytes = (bytes.len() - whole) as u64;
        bytes.truncate(whole);
        let lines = parse(&bytes)?;
        settle(store.as_mut(), &bytes, torn_bytes)?;
        let journal = Journal::after(store, &bytes, lines.len() as u64);
        Ok(Recovered {
            journal,
            lines,
            torn_bytes,
        })
    }

    fn after(store: Box<dyn Store>, bytes: &[u8], next: u64) -> Journal<E> {
        Journal {
            store,
            len: bytes.len() as u64,
            next,
            head: chain_head(bytes),
            first_failure: None,
            event: PhantomData,
        }
    }

    /// Writes one event down and returns when it is on the disk. `at` is cut to milliseconds.
    ///
    /// # Errors
    /// [`Error::DiskFull`] or [`Error::Io`] when the storage fails; the line may or may not be there, the journal takes
    /// no more lines, and each later call gets the same [`Error::Poisoned`]. [`Error::LineTooLarge`],
    /// [`Error::FileTooLarge`] and [`Error::Unwritable`] before anything is written; the journal can go on.
    pub fn append(&mut self, event: &E, at: Timestamp) -> Result<(), Error> {
        if let Some(first) = &self.first_failure {
            return Err(Error::Poisoned { first: first.clone() });
        }
        let bytes = line::encode(self.next, &self.head, at, event)?;
        let len = self.len + bytes.len() as u64;
        if len > FILE_BYTES_MAX {
            return Err(Error::FileTooLarge);
        }
        write_durably(self.store.as_mut(), self.len, &bytes)
            .inspect_err(|error| self.first_failure = Some(error.to_string()))?;
        self.len = len;
        self.next += 1;
        self.head = chain_head(&bytes);
        Ok(())
    }

    /// How many lines are acknowledged, which is `n` of the next.
    #[must_use]
    pub fn line_count(&self) -> u64 {
        self.next
    }

    /// SHA-256 of the last acknowledged line: `prev` of the next.
    #[must_use]
    pub fn head(&self) -> Hash {
        self.head
    }

    /// The path of the file.
    #[must_use]
    pub fn place(&self) -> String {
        self.store.place()
    }
}

/// Cuts off the torn end and puts the last line on the disk once more. If its writer stopped at a failed sync, the line
/// may stand in memory only, marked as clean, and no later sync would write it. Where the disk holds it already the
/// same bytes go over themselves, so a crash in here changes nothing.
fn settle(store: &mut dyn Store, whole: &[u8], torn_bytes: u64) -> Result<(), Error> {
    if torn_bytes > 0 {
        let cut = store.set_len(whole.len() as u64);
        cut.map_err(|reason| Error::from_io(Action::Shorten, store.place(), reason))?;
    }
    let last = tail::end_of_last_line(&whole[..whole.len() - 1]);
    write_durably(store, last as u64, &whole[last..])
}

fn write_durably(store: &mut dyn Store, offset: u64, bytes: &[u8]) -> Result<(), Error> {
    let written = store.write_all_at(offset, bytes);
    written.map_err(|reason| Error::from_io(Action::Write, store.place(), reason))?;
    let synced = store.sync();
    synced.map_err(|reason| Error::from_io(Action::Sync, store.place(), reason))
}

/// Whether a file is no journal because its writer never came to a whole first line: no run began there. What cannot be read, or is
/// longer than a line, is for the reading of a journal to judge.
pub fn never_began(path: &Path) -> bool {
    let most = LINE_BYTES_MAX as u64 + 1;
    let mut bytes = Vec::new();
    let opened = disk::open(path).map_err(std::io::Error::from);
    let read = opened.and_then(|opened| opened.take(most).read_to_end(&mut bytes));
    read.is_ok_and(|read| (read as u64) < most) && tail::whole_len(&bytes).is_ok_and(|whole| whole == 0)
}

#[cfg(test)]
mod tests {
    use super::super::faulty::{Disk, Faults};
    use super::super::sample::{self, Event};
    use super::*;
    use crate::explain::Explain;
    use std::path::PathBuf;

    fn events(lines: Vec<Line<Event>>) -> Vec<Event> {
        lines.into_iter().map(|line| line.event).collect()
    }

    fn home() -> (tempfile::TempDir, PathBuf) {
        let home = tempfile::tempdir().expect("folder");
        let path = home.path().join("run.jsonl");
        (home, path)
    }

    /// Line 0 is calls 0 and 1, each further line two more.
    fn disk_that(faults: Faults) -> (Disk, Journal<Event>) {
        let disk = Disk::default().with(faults);
        let journal = Journal::create_in(disk.store(), &sample::opened(), sample::at(0)).expect("created");
        (disk, journal)
    }

    #[test]
    fn a_file_written_line_by_line_is_the_record() {
        let (_home, path) = home();
        let mut journal = Journal::create(&path, &sample::opened(), sample::at(0)).expect("created");
        journal.append(&sample::short(1), sample::at(1)).expect("written");
        journal.append(&Event::Sealed, sample::at(2)).expect("written");
        assert_eq!(journal.line_count(), 3);
        assert_eq!(journal.place(), path.display().to_string());
        let bytes = std::fs::read(&path).expect("read");
        assert_eq!(
            bytes,
            sample::record(&[sample::opened(), sample::short(1), Event::Sealed])
        );
        assert_eq!(journal.head(), chain_head(&bytes));
    }

    #[test]
    fn a_torn_file_goes_on_where_it_was_acknowledged() {
        let (_home, path) = home();
        let whole = sample::record(&[sample::opened(), sample::short(1)]);
        std::fs::write(&path, [&whole[..], b"{\"n\":2,\"pr\0\0\0"].concat()).expect("written");
        let mut recovered = Journal::recover(&path).expect("recovered");
        assert_eq!(recovered.torn_bytes, 13);
        assert_eq!(events(recovered.lines), [sample::opened(), sample::short(1)]);
        assert_eq!(std::fs::read(&path).expect("read"), whole);
        recovered
            .journal
            .append(&Event::Sealed, sample::at(2))
            .expect("written");
        let bytes = std::fs::read(&path).expect("read");
        assert_eq!(
            bytes,
            sample::record(&[sample::opened(), sample::short(1), Event::Sealed])
        );
    }

    #[test]
    fn a_refused_file_is_left_as_it_is() {
        let good = sample::record(&[sample::opened(), sample::short(1), Event::Sealed]);
        let check = |bytes: &[u8], text: &str| {
            let (_home, path) = home();
            std::fs::write(&path, bytes).expect("written");
            assert_eq!(Journal::<Event>::recover(&path).expect_err("refused").to_string(), text);
            assert_eq!(std::fs::read(&path).expect("read"), bytes, "{text}");
        };
        check(b"", "the journal holds no complete line");
        check(b"\0\0\0", "the journal holds no complete line");
        check(&good[..40], "the journal holds no complete line");
        let edited = String::from_utf8(good.clone()).expect("UTF-8").replace("0.12", "0.13");
        let broken =
            "line 3 is damaged: `prev` is not the SHA-256 of the line before: one of the two lines was changed";
        check(edited.as_bytes(), broken);
        check(format!("{edited}{{\"n\"").as_bytes(), broken);
        let garbage = "line 4 is damaged: it is not a journal line: expected value (byte 1)";
        check(&[&good[..], b"garbage\n"].concat(), garbage);
        check(&[&good[..], b"garbage\n\0\0"].concat(), garbage);
        let newer = String::from_utf8(good.clone()).expect("UTF-8").replace("1.0", "2.0");
        check(
            newer.as_bytes(),
            "the journal is in format `2.0`; this program reads up to `1.1`",
        );
    }

    #[test]
    fn a_journal_in_use_or_missing_is_named() {
        let (_home, path) = home();
        let refusal = || Journal::<Event>::recover(&path).expect_err("refused").to_string();
        assert_eq!(refusal(), format!("there is no journal at `{}`", path.display()));
        let journal = Journal::create(&path, &sample::opened(), sample::at(0)).expect("created");
        assert_eq!(
            refusal(),
            format!("the journal `{}` is in use by another coreproof", path.display())
        );
        drop(journal);
        Journal::<Event>::recover(&path).expect("free again");
    }

    #[test]
    fn a_first_line_that_is_refused_leaves_no_file() {
        let (_home, path) = home();
        Journal::create(&path, &f64::NAN, sample::at(0)).expect_err("refused");
        assert!(!path.exists());
        Journal::create(&path, &0.5, sample::at(0)).expect("created");
    }

    #[test]
    fn an_overlong_file_is_refused_unread() {
        let (_home, path) = home();
        let file = std::fs::File::create(&path).expect("made");
        file.set_len(FILE_BYTES_MAX + 1).expect("sparse");
        let error = Journal::<Event>::recover(&path).expect_err("refused");
        assert_eq!(error.to_string(), "the journal is longer than 67108864 bytes");
    }

    #[test]
    fn after_any_failure_every_later_line_gets_the_same_refusal() {
        let check = |faults: Faults, first: &str| {
            let (disk, mut journal) = disk_that(faults);
            let head = journal.head();
            assert_eq!(
                journal
                    .append(&sample::short(1), sample::at(1))
                    .expect_err("fails")
                    .to_string(),
                first
            );
            let calls = disk.calls();
            for n in 2..4 {
                let error = journal.append(&sample::short(n), sample::at(9)).expect_err("refused");
                assert!(
                    matches!(&error, Error::Poisoned { first: kept } if kept == first),
                    "{error}"
                );
            }
            assert_eq!(disk.calls(), calls, "the storage was asked again");
            assert_eq!((journal.line_count(), journal.head()), (1, head));
        };
        let fails_at = |call| Faults {
            fails_at: Some(call),
            ..Faults::default()
        };
        check(fails_at(2), "cannot write to `disk in memory`: input/output error");
        check(fails_at(3), "cannot sync `disk in memory`: input/output error");
        let room_bytes = Some(sample::record(&[sample::opened()]).len() as u64 + 100);
        check(
            Faults {
                room_bytes,
                ..Faults::default()
            },
            "no room is left on the disk that holds `disk in memory`",
        );
    }

    #[test]
    fn a_full_disk_loses_nothing_at_any_byte() {
        let whole = [sample::opened(), sample::short(1), sample::short(2)];
        let first = sample::record(&whole[..1]).len() as u64;
        for room in first..sample::record(&whole).len() as u64 {
            let (disk, mut journal) = disk_that(Faults {
                room_bytes: Some(room),
                ..Faults::default()
            });
            let kept = 1
                + (1..3)
                    .take_while(|n| journal.append(&whole[*n], sample::at(0)).is_ok())
                    .count();
            drop(journal);
            // room was made: the journal goes on with every acknowledged line
            let mut recovered = Journal::recover_in(disk.with(Faults::default()).store()).expect("recovered");
            assert_eq!(events(recovered.lines), whole[..kept], "room for {room} bytes");
            recovered
                .journal
                .append(&Event::Sealed, sample::at(3))
                .expect("written");
        }
    }

    #[test]
    fn a_refused_event_does_not_stop_the_journal() {
        let (_disk, mut journal) = disk_that(Faults::default());
        let overlong = Event::Remark("x".repeat(crate::evidence::journal::LINE_BYTES_MAX));
        let error = journal.append(&overlong, sample::at(1)).expect_err("refused");
        assert_eq!(error.to_string(), "line 2 is longer than 1048576 bytes");
        journal.append(&Event::Sealed, sample::at(2)).expect("written");
        assert_eq!(journal.line_count(), 2);
    }

    #[test]
    fn a_full_journal_takes_no_more_lines_and_is_still_whole() {
        let (disk, mut journal) = disk_that(Faults::default());
        let big = Event::Remark("x".repeat(crate::evidence::journal::LINE_BYTES_MAX - 1000));
        // claims a length near the cap, so that 64 MiB need not be written in a test
        journal.len = FILE_BYTES_MAX - 1000;
        let before = disk.calls();
        let error = journal.append(&big, sample::at(1)).expect_err("refused");
        assert_eq!(error.to_string(), "the journal is longer than 67108864 bytes");
        assert_eq!(disk.calls(), before);
    }

    #[test]
    fn storage_that_fails_during_recovery_is_named() {
        let whole = sample::record(&[sample::opened()]);
        let torn = [&whole[..], b"{\"n\""].concat();
        let check = |faults: Faults, text: &str| {
            let disk = Disk::holding(&torn).with(faults);
            let error = Journal::<Event>::recover_in(disk.store()).expect_err("fails");
            assert_eq!(error.to_string(), text);
            assert!(error.is_equipment());
        };
        let fails_at = |call| Faults {
            fails_at: Some(call),
            ..Faults::default()
        };
        check(
            Faults {
                unreadable: true,
                ..Faults::default()
            },
            "cannot read `disk in memory`: input/output error",
        );
        check(fails_at(0), "cannot shorten `disk in memory`: input/output error");
        check(fails_at(1), "cannot write to `disk in memory`: input/output error");
        check(fails_at(2), "cannot sync `disk in memory`: input/output error");
    }
}
