//! Locks that keep two programs of ours apart.
//!
//! The rule inside: a lock is advisory (`flock` on Linux): it keeps out whoever asks for it, not other programs. It ends with the
//! file that holds it, so a program that dies leaves none behind.

use std::fs::{File, TryLockError};
use std::io;
use std::path::Path;

/// Takes the lock of an open file; false where somebody else has it.
///
/// # Errors
/// What the system says.
pub fn take(file: &File) -> io::Result<bool> {
    match file.try_lock() {
        Ok(()) => Ok(true),
        Err(TryLockError::WouldBlock) => Ok(false),
        Err(TryLockError::Error(reason)) => Err(reason),
    }
}

/// Waits until nobody else holds a folder, and holds it as long as the file lives that comes back.
///
/// # Errors
/// What the system says.
pub fn hold_folder(folder: &Path) -> io::Result<File> {
    #[cfg(unix)]
    let held = File::open(folder)?;
    // a folder cannot be opened as a file on every system: a file in it stands for it
    #[cfg(not(unix))]
    let held = File::options()
        .create(true)
        .truncate(false)
        .write(true)
        .open(folder.join("lock"))?;
    held.lock()?;
    Ok(held)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lock_is_held_as_long_as_its_file_lives() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("file");
        let first = File::create(&path).unwrap();
        let second = File::open(&path).unwrap();
        assert!(take(&first).unwrap());
        assert!(!take(&second).unwrap());
        drop(first);
        assert!(take(&second).unwrap());
    }

    #[test]
    fn a_folder_is_held_by_one_at_a_time() {
        let home = tempfile::tempdir().unwrap();
        let held = hold_folder(home.path()).unwrap();
        let path = home.path().to_owned();
        let (sender, receiver) = std::sync::mpsc::channel();
        let other = std::thread::spawn(move || {
            let held = hold_folder(&path).unwrap();
            sender.send(()).unwrap();
            drop(held);
        });
        let wait = std::time::Duration::from_millis(50);
        assert!(receiver.recv_timeout(wait).is_err(), "the other one waits");
        drop(held);
        receiver.recv().unwrap();
        other.join().unwrap();
        let missing = hold_folder(&home.path().join("none")).unwrap_err();
        assert_eq!(missing.kind(), io::ErrorKind::NotFound);
    }
}
