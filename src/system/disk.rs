//! Files whose paths a person gave: read whole up to a cap, or opened to be streamed.
//!
//! The rule inside: only a regular file is read. A device, a pipe or a folder under the name is refused before a byte of it is asked
//! for, and opening one never waits; what grows while it is read is cut off at the cap.

use std::fs::{File, FileType, Metadata, OpenOptions};
use std::io::{self, Read, Write};
use std::os::unix::fs::{FileTypeExt, OpenOptionsExt};
use std::path::Path;

use super::private::owner_only;

/// Why a file was not read.
#[derive(Debug, thiserror::Error)]
pub enum Unread {
    /// What the system says.
    #[error("{0}")]
    Io(#[from] io::Error),
    /// A folder, a device, a pipe: by the word for it.
    #[error("it is {0}, not a file")]
    NoFile(&'static str),
    /// It is longer than it may be.
    #[error("it holds more than {bytes_max} bytes")]
    TooLarge {
        /// The most that is read, in bytes.
        bytes_max: u64,
    },
}

impl Unread {
    /// What to do next.
    pub fn hint(&self) -> &'static str {
        match self {
            Unread::Io(_) => "check the path",
            Unread::NoFile(_) => "give the path of the file itself",
            Unread::TooLarge { .. } => "see whether it is the file that you mean",
        }
    }
}

/// For rooms whose errors carry one of the system's.
impl From<Unread> for io::Error {
    fn from(unread: Unread) -> io::Error {
        match unread {
            Unread::Io(error) => error,
            other => io::Error::new(io::ErrorKind::InvalidInput, other.to_string()),
        }
    }
}

/// Opens a regular file for reading.
///
/// # Errors
/// [`Unread::Io`], [`Unread::NoFile`].
pub fn open(path: &Path) -> Result<File, Unread> {
    // a device may do something when it is opened, so the name is asked first, and the opened file again
    regular(&std::fs::metadata(path)?)?;
    let waits_for_nobody = rustix::fs::OFlags::NONBLOCK.bits();
    let flags = i32::try_from(waits_for_nobody).expect("a flag of the system fits its own type");
    let file = OpenOptions::new().read(true).custom_flags(flags).open(path)?;
    regular(&file.metadata()?)?;
    Ok(file)
}

/// Reads a regular file of at most so many bytes.
///
/// # Errors
/// As [`open`], and [`Unread::TooLarge`].
pub fn read(path: &Path, bytes_max: u64) -> Result<Vec<u8>, Unread> {
    let file = open(path)?;
    let stated = file.metadata()?.len();
    let too_large = Unread::TooLarge { bytes_max };
    if bytes_max < stated {
        return Err(too_large);
    }
    let mut bytes = Vec::with_capacity(usize::try_from(stated).unwrap_or(0) + 1);
    file.take(bytes_max.saturating_add(1)).read_to_end(&mut bytes)?;
    if bytes_max < bytes.len() as u64 {
        return Err(too_large);
    }
    Ok(bytes)
}

/// Replaces a file (mode 0600): writes the new text beside it, syncs it, and gives it the file's name in one act.
///
/// # Errors
/// What the system says; the file is then as it was.
pub fn replace(path: &Path, text: &[u8]) -> io::Result<()> {
    let beside = path.with_added_extension("new");
    let written = match std::fs::remove_file(&beside) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
        // what an interrupted run left there is gone; created anew, so that the mode is ours
        _ => owner_only(OpenOptions::new().write(true).create_new(true)).open(&beside),
    };
    written
        .and_then(|mut file| file.write_all(text).and_then(|()| file.sync_all()))
        .and_then(|()| std::fs::rename(&beside, path))
        .inspect_err(|_| drop(std::fs::remove_file(&beside)))
}

fn regular(metadata: &Metadata) -> Result<(), Unread> {
    let kind = metadata.file_type();
    if kind.is_file() {
        Ok(())
    } else {
        Err(Unread::NoFile(words(kind)))
    }
}

fn words(kind: FileType) -> &'static str {
    if kind.is_dir() {
        "a folder"
    } else if kind.is_fifo() {
        "a pipe"
    } else if kind.is_socket() {
        "a socket"
    } else {
        "a device"
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_regular_files_within_the_cap_are_read() {
        let folder = tempfile::tempdir().unwrap();
        let check = |path: &Path, expected: &str, hint: &str| {
            let error = read(path, 5).unwrap_err();
            assert_eq!((error.to_string().as_str(), error.hint()), (expected, hint), "{path:?}");
        };
        let file = folder.path().join("file");
        std::fs::write(&file, "12345").unwrap();
        assert_eq!(read(&file, 5).unwrap(), b"12345");
        std::fs::write(&file, "123456").unwrap();
        let large = "it holds more than 5 bytes";
        check(&file, large, "see whether it is the file that you mean");
        // its length is stated as 0
        check(
            Path::new("/proc/self/status"),
            large,
            "see whether it is the file that you mean",
        );
        let itself = "give the path of the file itself";
        check(folder.path(), "it is a folder, not a file", itself);
        check(Path::new("/dev/zero"), "it is a device, not a file", itself);
        let pipe = folder.path().join("pipe");
        rustix::fs::mknodat(
            rustix::fs::CWD,
            &pipe,
            rustix::fs::FileType::Fifo,
            rustix::fs::Mode::RUSR,
            0,
        )
        .unwrap();
        check(&pipe, "it is a pipe, not a file", itself);
        let socket = folder.path().join("socket");
        let _listens = std::os::unix::net::UnixListener::bind(&socket).unwrap();
        check(&socket, "it is a socket, not a file", itself);
        let link = folder.path().join("link");
        std::os::unix::fs::symlink("/dev/zero", &link).unwrap();
        check(&link, "it is a device, not a file", itself);
        let absent = "No such file or directory (os error 2)";
        check(&folder.path().join("absent"), absent, "check the path");
    }

    #[test]
    fn what_is_no_file_is_an_error_of_the_system_to_other_rooms() {
        let error = io::Error::from(Unread::NoFile("a pipe"));
        assert_eq!(
            (error.kind(), error.to_string().as_str()),
            (io::ErrorKind::InvalidInput, "it is a pipe, not a file")
        );
        let absent = io::Error::from(open(Path::new("no-such-file")).unwrap_err());
        assert_eq!(absent.kind(), io::ErrorKind::NotFound);
    }
}
