//! A picture taken by a page's camera: what counts as one, and the file it is kept in.
//!
//! The rule inside: the name is made here from the run and a number, never from anything that a page sends, and no file that is there is
//! written over; what is kept is on the disk before the walk hears of it.

use std::fs::OpenOptions;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use crate::system::{folder, private};

/// Most bytes of a picture: a telephone's camera makes 2 to 12 MB (common practice, no source).
pub(super) const BYTES_MAX: usize = 16 * 1024 * 1024;

/// Most pictures of a run, so that a page cannot fill the disk.
const PICTURES_MAX: u32 = 99;

/// How each kind begins, and how its file's name ends: a JPEG's start of image with the marker after it (ITU-T T.81, annex B.1.1.3 and
/// table B.1), a PNG's signature (PNG specification, third edition, 5.2).
const KINDS: [(&[u8], &str); 2] = [
    (&[0xff, 0xd8, 0xff], "jpg"),
    (&[0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1a, b'\n'], "png"),
];

/// Why a picture is not kept.
#[derive(Debug)]
pub(super) enum NotKept {
    /// It begins as neither a JPEG nor a PNG does.
    NoPicture,
    /// The disk does not take it, or the run has [`PICTURES_MAX`] already.
    Disk(io::Error),
}

/// Keeps a picture in a new file (mode 0600), whose name goes on from this beginning with a number: the file, once its bytes and its name are
/// on the disk.
///
/// # Errors
/// See [`NotKept`]; nothing is left behind.
pub(super) fn keep(beginning: &Path, picture: &[u8]) -> Result<PathBuf, NotKept> {
    let (_, ending) = KINDS
        .iter()
        .find(|(begins, _)| picture.starts_with(begins))
        .ok_or(NotKept::NoPicture)?;
    let dir = folder::of(beginning);
    private::make_folder(dir).map_err(NotKept::Disk)?;
    for number in 1..=PICTURES_MAX {
        let mut name = beginning.as_os_str().to_owned();
        name.push(format!("-{number}.{ending}"));
        let path = PathBuf::from(name);
        let mut file = match private::owner_only(OpenOptions::new().write(true).create_new(true)).open(&path) {
            Ok(file) => file,
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => continue,
            Err(error) => return Err(NotKept::Disk(error)),
        };
        let written = file
            .write_all(picture)
            .and_then(|()| file.sync_all())
            .and_then(|()| folder::sync(dir));
        return match written {
            Ok(()) => Ok(path),
            Err(error) => {
                drop(std::fs::remove_file(&path));
                Err(NotKept::Disk(error))
            }
        };
    }
    Err(NotKept::Disk(io::ErrorKind::QuotaExceeded.into()))
}

#[cfg(test)]
mod tests {
    use super::*;

    const JPEG: &[u8] = b"\xff\xd8\xff\xe0\0\x10JFIF\0";
    const PNG: &[u8] = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR";

    #[test]
    fn a_picture_begins_as_one_and_has_a_new_name() {
        let home = tempfile::tempdir().unwrap();
        let beginning = home.path().join("photographs/run");
        let kept = |picture: &[u8]| match keep(&beginning, picture) {
            Ok(path) => {
                assert_eq!(std::fs::read(&path).unwrap(), picture);
                path.file_name().unwrap().to_string_lossy().into_owned()
            }
            Err(NotKept::NoPicture) => "none".into(),
            Err(NotKept::Disk(error)) => error.kind().to_string(),
        };
        assert_eq!(kept(JPEG), "run-1.jpg");
        assert_eq!(kept(PNG), "run-1.png");
        assert_eq!(kept(JPEG), "run-2.jpg", "none is written over");
        for other in [
            b"".as_slice(),
            b"\xff\xd8",
            b" \xff\xd8\xff",
            b"\x89PNG\n\x1a\n\0\0",
            b"\0\0\0\x18ftypheic",
            b"GIF89a",
            b"RIFF\0\0\0\0WEBP",
            b"<svg xmlns=''>",
            b"%PDF-1.7",
            b"#!/bin/sh",
        ] {
            assert_eq!(kept(other), "none", "{other:?}");
        }
        let all = std::fs::read_dir(home.path().join("photographs")).unwrap().count();
        assert_eq!(all, 3, "what is none leaves nothing");
    }

    #[test]
    fn a_run_keeps_only_so_many() {
        let home = tempfile::tempdir().unwrap();
        let beginning = home.path().join("run");
        for _ in 0..PICTURES_MAX {
            keep(&beginning, PNG).unwrap();
        }
        let error = keep(&beginning, PNG).unwrap_err();
        assert!(matches!(error, NotKept::Disk(error) if error.kind() == io::ErrorKind::QuotaExceeded));
        assert_eq!(std::fs::read_dir(home.path()).unwrap().count(), PICTURES_MAX as usize);
    }

    #[cfg(unix)]
    #[test]
    fn a_name_that_is_taken_is_not_followed() {
        use std::os::unix::fs::PermissionsExt;
        let home = tempfile::tempdir().unwrap();
        let other = home.path().join("other");
        std::os::unix::fs::symlink(&other, home.path().join("run-1.png")).unwrap();
        let kept = keep(&home.path().join("run"), PNG).unwrap();
        assert_eq!(kept, home.path().join("run-2.png"));
        assert!(!other.exists());
        assert_eq!(kept.metadata().unwrap().permissions().mode() & 0o777, 0o600);
    }
}
