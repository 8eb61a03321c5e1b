//! Where a journal's bytes are kept: four calls, and the real file behind them.
//!
//! Rule: nothing here tries again. After a failed sync the kernel marks the pages clean though the disk may not hold
//! them, so a second sync on the same descriptor proves nothing.

use std::fs::{File, OpenOptions};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::Path;

use super::error::{Action, Error};
use crate::system::{folder, lock, private::owner_only};

/// The storage under a journal.
pub trait Store: Send + std::fmt::Debug {
    /// What to call it in a message: the path.
    fn place(&self) -> String;

    /// All bytes from the start, but no more than `bytes_max`.
    ///
    /// # Errors
    /// Whatever the storage says.
    fn read_all(&mut self, bytes_max: u64) -> io::Result<Vec<u8>>;

    /// Puts all of `bytes` at `offset` from the start. Not durable before [`Store::sync`]; on an error any part of them
    /// may be there.
    ///
    /// # Errors
    /// Whatever the storage says.
    fn write_all_at(&mut self, offset: u64, bytes: &[u8]) -> io::Result<()>;

    /// Cuts off what lies beyond `len`. Not durable before [`Store::sync`].
    ///
    /// # Errors
    /// Whatever the storage says.
    fn set_len(&mut self, len: u64) -> io::Result<()>;

    /// Returns only when bytes and length are on the disk.
    ///
    /// # Errors
    /// Whatever the storage says; what is durable is then unknown.
    fn sync(&mut self) -> io::Result<()>;
}

/// A file, locked against other processes for as long as this lives.
///
/// The lock keeps two coreproofs apart, not other programs.
#[derive(Debug)]
pub struct FileStore {
    file: File,
    place: String,
}

impl FileStore {
    /// Makes a file that was not there, readable and writable by its owner alone, and syncs the folder's entry for it.
    ///
    /// # Errors
    /// [`Error::AlreadyExists`], [`Error::DiskFull`], [`Error::InUse`], [`Error::Io`].
    pub fn create(path: &Path) -> Result<FileStore, Error> {
        let mut options = OpenOptions::new();
        options.read(true).write(true).create_new(true);
        owner_only(&mut options);
        FileStore::open_locked(path, &options, Action::Create)
    }

    /// Opens a file that is there.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::InUse`], [`Error::Io`].
    pub fn open(path: &Path) -> Result<FileStore, Error> {
        FileStore::open_locked(path, OpenOptions::new().read(true).write(true), Action::Open)
    }

    fn open_locked(path: &Path, options: &OpenOptions, action: Action) -> Result<FileStore, Error> {
        let place = path.display().to_string();
        let failed = |action| {
            let place = place.clone();
            move |reason| Error::from_io(action, place, reason)
        };
        let file = options.open(path).map_err(failed(action))?;
        if !file.metadata().map_err(failed(action))?.is_file() {
            let reason = io::Error::new(io::ErrorKind::InvalidInput, "it is not a regular file");
            return Err(failed(action)(reason));
        }
        if !lock::take(&file).map_err(failed(Action::Lock))? {
            return Err(Error::InUse { place });
        }
        // a file whose name is not on the disk is lost with all its bytes; on opening too: the one who made the file may have died before this
        folder::sync(folder::of(path)).map_err(failed(Action::Sync))?;
        Ok(FileStore { file, place })
    }
}

impl Store for FileStore {
    fn place(&self) -> String {
        self.place.clone()
    }

    fn read_all(&mut self, bytes_max: u64) -> io::Result<Vec<u8>> {
        self.file.seek(SeekFrom::Start(0))?;
        let mut bytes = Vec::new();
        (&self.file).take(bytes_max).read_to_end(&mut bytes)?;
        Ok(bytes)
    }

    fn write_all_at(&mut self, offset: u64, bytes: &[u8]) -> io::Result<()> {
        self.file.seek(SeekFrom::Start(offset))?;
        self.file.write_all(bytes)
    }

    fn set_len(&mut self, len: u64) -> io::Result<()> {
        self.file.set_len(len)
    }

    fn sync(&mut self) -> io::Result<()> {
        self.file.sync_data()
    }
}

/// Bytes in memory, gone with the program: under a walk that nobody wants to keep.
#[derive(Debug, Default)]
pub struct MemoryStore {
    bytes: Vec<u8>,
}

impl Store for MemoryStore {
    fn place(&self) -> String {
        "memory".to_owned()
    }

    fn read_all(&mut self, bytes_max: u64) -> io::Result<Vec<u8>> {
        let len = usize::try_from(bytes_max).map_or(self.bytes.len(), |max| max.min(self.bytes.len()));
        Ok(self.bytes[..len].to_vec())
    }

    fn write_all_at(&mut self, offset: u64, bytes: &[u8]) -> io::Result<()> {
        let start = usize::try_from(offset).map_err(io::Error::other)?;
        let end = start + bytes.len();
        if self.bytes.len() < end {
            self.bytes.resize(end, 0);
        }
        self.bytes[start..end].copy_from_slice(bytes);
        Ok(())
    }

    fn set_len(&mut self, len: u64) -> io::Result<()> {
        self.bytes.resize(usize::try_from(len).map_err(io::Error::other)?, 0);
        Ok(())
    }

    fn sync(&mut self) -> io::Result<()> {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn memory_keeps_what_a_file_would() {
        let mut store = MemoryStore::default();
        store.write_all_at(0, b"abcdef").expect("written");
        store.write_all_at(3, b"DEFG").expect("written");
        store.set_len(5).expect("cut");
        store.sync().expect("synced");
        assert_eq!(store.read_all(64).expect("read"), b"abcDE");
        assert_eq!(store.read_all(2).expect("read"), b"ab");
    }

    #[test]
    fn a_file_is_made_for_its_owner_alone_and_only_once() {
        let home = tempfile::tempdir().expect("folder");
        let path = home.path().join("run.jsonl");
        let mut store = FileStore::create(&path).expect("made");
        store.write_all_at(0, b"abcdef").expect("written");
        store.write_all_at(3, b"DEF").expect("written");
        store.set_len(5).expect("cut");
        store.sync().expect("synced");
        assert_eq!(store.read_all(64).expect("read"), b"abcDE");
        assert_eq!(store.read_all(2).expect("read"), b"ab");
        #[cfg(unix)]
        {
            let mode = std::os::unix::fs::PermissionsExt::mode(&path.metadata().expect("there").permissions());
            assert_eq!(mode & 0o777, 0o600);
        }
        let error = FileStore::create(&path).expect_err("refused");
        assert_eq!(
            error.to_string(),
            format!("there is already a file at `{}`", path.display())
        );
    }

    #[test]
    fn the_lock_is_held_as_long_as_the_store_lives() {
        let home = tempfile::tempdir().expect("folder");
        let path = home.path().join("run.jsonl");
        let store = FileStore::create(&path).expect("made");
        let error = FileStore::open(&path).expect_err("refused");
        assert_eq!(
            error.to_string(),
            format!("the journal `{}` is in use by another coreproof", path.display())
        );
        drop(store);
        FileStore::open(&path).expect("free again");
    }

    #[test]
    fn what_cannot_be_opened_is_named() {
        let home = tempfile::tempdir().expect("folder");
        let missing = home.path().join("none").join("run.jsonl");
        let check = |result: Result<FileStore, Error>, text: String| {
            assert_eq!(result.expect_err("refused").to_string(), text);
        };
        check(
            FileStore::open(&missing),
            format!("there is no journal at `{}`", missing.display()),
        );
        check(
            FileStore::create(&missing),
            format!(
                "cannot create `{}`: No such file or directory (os error 2)",
                missing.display()
            ),
        );
        check(
            FileStore::open(home.path()),
            format!("cannot open `{}`: Is a directory (os error 21)", home.path().display()),
        );
        check(
            FileStore::open(Path::new("/dev/null")),
            "cannot open `/dev/null`: it is not a regular file".to_owned(),
        );
    }
}
