//! Files of the keys room: modes, syncing, and writing that leaves a whole file or none.

use std::{
    fs,
    io::{self, Read as _, Write as _},
    path::{Path, PathBuf},
};

use super::Error;
use crate::system::disk::{self, Unread};
use crate::system::{folder, private};

/// An encrypted Ed25519 key takes under 600 bytes; a file beyond this is something else and is not read on.
const PRIVATE_FILE_BYTES_MAX: u64 = 64 * 1024;

/// The largest list of trusted keys, in bytes: some thousands of them.
const LIST_BYTES_MAX: u64 = 1 << 20;

/// Where a key that an SSH agent holds is named.
pub(super) fn agent_file(dir: &Path) -> PathBuf {
    dir.join("agent.pub")
}

/// Reads a private key file, unless others may read or write it.
pub(super) fn read_private(path: &Path) -> Result<Vec<u8>, Error> {
    let failed = |source| file_error("read", path, source);
    let file = match disk::open(path) {
        Err(Unread::Io(error)) if error.kind() == io::ErrorKind::NotFound => {
            return Err(Error::KeyAbsent { path: path.into() });
        }
        other => other.map_err(|unread| failed(unread.into()))?,
    };
    if let Some(mode) = private::open_to_others(&file).map_err(failed)? {
        return Err(Error::KeyOpenToOthers {
            path: path.into(),
            mode,
        });
    }
    let mut text = Vec::new();
    file.take(PRIVATE_FILE_BYTES_MAX)
        .read_to_end(&mut text)
        .map_err(failed)?;
    Ok(text)
}

/// Creates the folder and those above it, mode 0700, unless it is there.
pub(super) fn make_dir(dir: &Path) -> Result<(), Error> {
    if dir.is_dir() {
        return Ok(());
    }
    private::make_folder(dir).map_err(|source| file_error("create", dir, source))?;
    match dir.parent().filter(|parent| !parent.as_os_str().is_empty()) {
        Some(parent) => sync_dir(parent),
        None => Ok(()),
    }
}

/// Who may use a file that is made: [`private::owner_only`] or [`private::readable_by_all`].
type Rights = fn(&mut fs::OpenOptions) -> &mut fs::OpenOptions;

/// Writes a file that must not be there yet, and syncs it. What could not be written whole is removed.
pub(super) fn write_new(path: &Path, bytes: &[u8], rights: Rights) -> Result<(), Error> {
    let mut file = match rights(fs::OpenOptions::new().write(true).create_new(true)).open(path) {
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
            return Err(Error::KeyExists { path: path.into() });
        }
        other => other.map_err(|source| file_error("create", path, source))?,
    };
    file.write_all(bytes).and_then(|()| file.sync_all()).map_err(|source| {
        let _ = fs::remove_file(path);
        file_error("write", path, source)
    })
}

/// Reads the list of trusted keys, unless others may write it; one that is not there reads as empty.
pub(super) fn read_list(path: &Path) -> Result<Vec<u8>, Error> {
    let failed = |source| file_error("read", path, source);
    let file = match disk::open(path) {
        Err(Unread::Io(error)) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        other => other.map_err(|unread| failed(unread.into()))?,
    };
    if let Some(mode) = private::writable_by_others(&file).map_err(failed)? {
        return Err(Error::TrustOpenToOthers {
            path: path.into(),
            mode,
        });
    }
    let mut text = Vec::new();
    file.take(LIST_BYTES_MAX + 1).read_to_end(&mut text).map_err(failed)?;
    if LIST_BYTES_MAX < text.len() as u64 {
        return Err(failed(
            Unread::TooLarge {
                bytes_max: LIST_BYTES_MAX,
            }
            .into(),
        ));
    }
    Ok(text)
}

/// Replaces a file in one act (mode 0600).
pub(super) fn replace(path: &Path, text: &[u8]) -> Result<(), Error> {
    disk::replace(path, text).map_err(|source| file_error("write", path, source))
}

/// Makes sure that the names in a folder survive a power cut.
pub(super) fn sync_dir(dir: &Path) -> Result<(), Error> {
    folder::sync(dir).map_err(|source| file_error("sync", dir, source))
}

pub(super) fn file_error(action: &'static str, path: &Path, source: io::Error) -> Error {
    Error::File {
        action,
        path: path.into(),
        source,
    }
}
