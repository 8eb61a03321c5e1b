//! A disk in memory that fails on demand, for tests of whatever writes a journal.
//!
//! Rule: what was not synced is not durable, and a failed sync forgets which bytes it still owed. That is how Linux
//! file systems behave (Rebello and others, USENIX ATC 2020) and is the harder case for the journal.

use std::io;
use std::ops::Range;
use std::sync::{Arc, Mutex, MutexGuard};

use super::store::Store;

/// What is to go wrong. Changing calls (write, cut, sync) are counted from 0.
#[derive(Debug, Clone, Copy, Default)]
pub struct Faults {
    /// Bytes the disk has room for; a write beyond it keeps what fits and fails as a full disk does.
    pub room_bytes: Option<u64>,
    /// The changing call that fails with an input/output error, once.
    pub fails_at: Option<u64>,
    /// The changing call before which power goes: it and all later ones fail and do nothing.
    pub power_cut_at: Option<u64>,
    /// Every read fails.
    pub unreadable: bool,
}

/// The disk. Clones share it, so a test keeps one and looks at it after the journal is gone.
#[derive(Debug, Clone, Default)]
pub struct Disk(Arc<Mutex<State>>);

#[derive(Debug, Default)]
struct State {
    faults: Faults,
    calls: u64,
    cached: Vec<u8>,
    durable: Vec<u8>,
    owed: Vec<Range<usize>>,
}

impl Disk {
    /// A disk that durably holds `bytes`, with no faults.
    #[must_use]
    pub fn holding(bytes: &[u8]) -> Disk {
        Disk(Arc::new(Mutex::new(State {
            cached: bytes.to_vec(),
            durable: bytes.to_vec(),
            ..State::default()
        })))
    }

    /// The same disk with these faults from now on; its calls are counted from 0 again.
    #[must_use]
    pub fn with(self, faults: Faults) -> Disk {
        {
            let mut state = self.state();
            state.faults = faults;
            state.calls = 0;
        }
        self
    }

    /// A handle for a journal.
    #[must_use]
    pub fn store(&self) -> Box<dyn Store> {
        Box::new(self.clone())
    }

    /// What a program that reads it now would see.
    #[must_use]
    pub fn cached(&self) -> Vec<u8> {
        self.state().cached.clone()
    }

    /// What would be left if power went now and nothing unsynced reached the disk.
    #[must_use]
    pub fn durable(&self) -> Vec<u8> {
        self.state().durable.clone()
    }

    /// How many changing calls were made.
    #[must_use]
    pub fn calls(&self) -> u64 {
        self.state().calls
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.0.lock().expect("no call on a disk panics")
    }
}

impl State {
    /// Counts a changing call and says whether it may go ahead.
    fn change(&mut self) -> io::Result<()> {
        let call = self.calls;
        self.calls += 1;
        if self.faults.power_cut_at.is_some_and(|cut| cut <= call) {
            return Err(io::Error::other("power is off"));
        }
        if self.faults.fails_at == Some(call) {
            return Err(io::Error::other("input/output error"));
        }
        Ok(())
    }
}

impl Store for Disk {
    fn place(&self) -> String {
        "disk in memory".to_owned()
    }

    fn read_all(&mut self, bytes_max: u64) -> io::Result<Vec<u8>> {
        let state = self.state();
        if state.faults.unreadable {
            return Err(io::Error::other("input/output error"));
        }
        let len = index(bytes_max).min(state.cached.len());
        Ok(state.cached[..len].to_vec())
    }

    fn write_all_at(&mut self, offset: u64, bytes: &[u8]) -> io::Result<()> {
        let mut state = self.state();
        state.change()?;
        let start = index(offset);
        let room = index(state.faults.room_bytes.unwrap_or(u64::MAX)).saturating_sub(start);
        let fits = room.min(bytes.len());
        let end = start + fits;
        if state.cached.len() < end {
            state.cached.resize(end, 0);
        }
        state.cached[start..end].copy_from_slice(&bytes[..fits]);
        state.owed.push(start..end);
        if fits < bytes.len() {
            Err(io::ErrorKind::StorageFull.into())
        } else {
            Ok(())
        }
    }

    fn set_len(&mut self, len: u64) -> io::Result<()> {
        let mut state = self.state();
        state.change()?;
        state.cached.resize(index(len), 0);
        Ok(())
    }

    fn sync(&mut self) -> io::Result<()> {
        let mut state = self.state();
        let owed = std::mem::take(&mut state.owed);
        state.change()?;
        let State { cached, durable, .. } = &mut *state;
        durable.resize(cached.len(), 0);
        for range in owed {
            let range = range.start.min(cached.len())..range.end.min(cached.len());
            durable[range.clone()].copy_from_slice(&cached[range]);
        }
        Ok(())
    }
}

fn index(bytes: u64) -> usize {
    usize::try_from(bytes).unwrap_or(usize::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_is_synced_is_durable() {
        let disk = Disk::default();
        let mut store = disk.store();
        store.write_all_at(0, b"abc").expect("written");
        assert_eq!((disk.cached(), disk.durable()), (b"abc".to_vec(), Vec::new()));
        store.sync().expect("synced");
        assert_eq!(disk.durable(), b"abc");
        store.set_len(1).expect("cut");
        assert_eq!((disk.cached(), disk.durable()), (b"a".to_vec(), b"abc".to_vec()));
        store.sync().expect("synced");
        assert_eq!(disk.durable(), b"a");
        assert_eq!(disk.calls(), 4);
    }

    #[test]
    fn a_failed_sync_forgets_what_it_owed() {
        let disk = Disk::default().with(Faults {
            fails_at: Some(1),
            ..Faults::default()
        });
        let mut store = disk.store();
        store.write_all_at(0, b"ab").expect("written");
        store.sync().expect_err("fails");
        store.write_all_at(2, b"cd").expect("written");
        store.sync().expect("synced");
        assert_eq!((disk.cached(), disk.durable()), (b"abcd".to_vec(), b"\0\0cd".to_vec()));
    }

    #[test]
    fn a_full_disk_keeps_what_fits() {
        let disk = Disk::holding(b"ab").with(Faults {
            room_bytes: Some(3),
            ..Faults::default()
        });
        let error = disk.store().write_all_at(2, b"cd").expect_err("full");
        assert_eq!(error.kind(), io::ErrorKind::StorageFull);
        assert_eq!(disk.cached(), b"abc");
    }

    #[test]
    fn nothing_happens_after_a_power_cut() {
        let disk = Disk::default().with(Faults {
            power_cut_at: Some(1),
            ..Faults::default()
        });
        let mut store = disk.store();
        store.write_all_at(0, b"ab").expect("written");
        for result in [store.sync(), store.set_len(0), store.write_all_at(0, b"x")] {
            assert_eq!(result.expect_err("off").to_string(), "power is off");
        }
        assert_eq!((disk.cached(), disk.durable()), (b"ab".to_vec(), Vec::new()));
    }
}
