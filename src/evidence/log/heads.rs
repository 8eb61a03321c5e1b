//! The newest checkpoint of each archive, kept in files of their own outside the archive.
//!
//! The rule inside: what is kept may lag behind the archive, never lead it; a checkpoint replaces one only where whoever calls has seen that
//! the longer log begins with the shorter one.

use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use super::checkpoint::{Head, NOTE_BYTES_MAX, head_of};
use crate::system::disk::{self, Unread};
use crate::system::{folder, private};

/// The folder of checkpoints, a file an archive.
#[derive(Debug, Clone)]
pub struct Heads {
    folder: PathBuf,
}

/// A checkpoint that is kept.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    /// The file.
    pub path: PathBuf,
    /// The checkpoint as it was signed.
    pub note: String,
    /// What it states.
    pub head: Head,
}

impl Heads {
    /// The checkpoints in a folder, which need not be there yet.
    pub fn of(folder: impl Into<PathBuf>) -> Heads {
        Heads { folder: folder.into() }
    }

    /// Every checkpoint that is kept, in the order of their file names, and the files that are none.
    ///
    /// # Errors
    /// A folder that cannot be read.
    pub fn all(&self) -> io::Result<(Vec<Kept>, Vec<PathBuf>)> {
        let entries = match fs::read_dir(&self.folder) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok((Vec::new(), Vec::new())),
            other => other?,
        };
        let mut paths = entries.map(|entry| Ok(entry?.path())).collect::<io::Result<Vec<_>>>()?;
        paths.sort();
        let (mut kept, mut none) = (Vec::new(), Vec::new());
        for path in paths {
            let note = disk::read(&path, NOTE_BYTES_MAX as u64)
                .ok()
                .and_then(|bytes| String::from_utf8(bytes).ok());
            match note.and_then(|note| Some((head_of(&note).ok()?, note))) {
                Some((head, note)) => kept.push(Kept { path, note, head }),
                // what a power cut left of a file being written counts for nothing
                None if path.extension().is_some_and(|end| end == "new") => {}
                None => none.push(path),
            }
        }
        Ok((kept, none))
    }

    /// The checkpoint kept of one log.
    ///
    /// # Errors
    /// A file that is there and cannot be read, or is no checkpoint of this log.
    pub fn of_log(&self, origin: &str) -> io::Result<Option<Kept>> {
        let path = self.path(origin);
        let bytes = match disk::read(&path, NOTE_BYTES_MAX as u64) {
            Err(Unread::Io(error)) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
            other => other.map_err(io::Error::from)?,
        };
        let note = String::from_utf8(bytes).ok();
        let read = note.and_then(|note| Some((head_of(&note).ok()?, note)));
        match read.filter(|(head, _)| head.origin == origin) {
            Some((head, note)) => Ok(Some(Kept { path, note, head })),
            None => Err(io::Error::new(
                io::ErrorKind::InvalidData,
                "it is no checkpoint of this archive",
            )),
        }
    }

    /// Keeps a checkpoint in place of the one before it: written beside it, synced, and given its name in one act.
    ///
    /// # Errors
    /// What the system says.
    pub fn keep(&self, head: &Head, note: &str) -> io::Result<()> {
        private::make_folder(&self.folder)?;
        let path = self.path(&head.origin);
        let beside = path.with_added_extension("new");
        match fs::remove_file(&beside) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
            _ => {}
        }
        let mut file = private::owner_only(fs::OpenOptions::new().write(true).create_new(true)).open(&beside)?;
        file.write_all(note.as_bytes())?;
        file.sync_all()?;
        fs::rename(&beside, &path)?;
        folder::sync(&self.folder)
    }

    /// The file of a log: the last part of its name, of which nothing but letters, digits and hyphens is taken.
    fn path(&self, origin: &str) -> PathBuf {
        let last = origin.rsplit('/').next().unwrap_or_default();
        let plain: String = last
            .chars()
            .filter(|c| c.is_ascii_alphanumeric() || *c == '-')
            .take(64)
            .collect();
        self.folder.join(plain)
    }

    /// The folder.
    pub fn folder(&self) -> &Path {
        &self.folder
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::keys::SigningKey;
    use crate::evidence::log::sign;
    use tlog_tiles::Hash;

    #[test]
    fn what_is_kept_is_read_again_and_what_is_no_checkpoint_is_told() {
        let home = tempfile::tempdir().unwrap();
        let heads = Heads::of(home.path().join("checkpoints"));
        assert_eq!(heads.all().unwrap(), (Vec::new(), Vec::new()));
        let head = |size| Head {
            origin: "coreproof/archive/4d2c".into(),
            size,
            root: Hash([1; 32]),
        };
        assert_eq!(heads.of_log("coreproof/archive/4d2c").unwrap(), None);
        for size in 1..3 {
            let note = sign(&head(size), &SigningKey::throw_away()).unwrap();
            heads.keep(&head(size), &note).unwrap();
            let kept = heads.of_log("coreproof/archive/4d2c").unwrap().unwrap();
            assert_eq!((&kept.head, &kept.note), (&head(size), &note));
            assert_eq!(heads.all().unwrap(), (vec![kept], Vec::new()));
        }
        fs::write(heads.folder().join("4d2c"), "hello").unwrap();
        fs::write(heads.folder().join("4d2c.new"), "torn").unwrap();
        assert_eq!(heads.all().unwrap(), (Vec::new(), vec![heads.folder().join("4d2c")]));
        let error = heads.of_log("coreproof/archive/4d2c").unwrap_err();
        assert_eq!(error.to_string(), "it is no checkpoint of this archive");
    }
}
