//! The names in a folder, which a power cut can lose as it can the bytes of a file.
//!
//! The rule inside: a file counts as made only when its name is on the disk too.

use std::io;
use std::path::Path;

/// The folder that holds what a path names.
pub fn of(path: &Path) -> &Path {
    path.parent()
        .filter(|folder| !folder.as_os_str().is_empty())
        .unwrap_or(Path::new("."))
}

/// Returns only when the names in a folder are on the disk.
///
/// # Errors
/// What the system says.
#[cfg(unix)]
pub fn sync(folder: &Path) -> io::Result<()> {
    std::fs::File::open(folder)?.sync_all()
}

/// Not supported on this system: when the names are on the disk is for its file system to say.
#[cfg(not(unix))]
pub fn sync(_: &Path) -> io::Result<()> {
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bare_name_is_in_the_folder_one_stands_in() {
        for (path, folder) in [
            ("run.jsonl", "."),
            ("runs/run.jsonl", "runs"),
            ("/run.jsonl", "/"),
            ("/", "."),
        ] {
            assert_eq!(of(Path::new(path)), Path::new(folder), "{path}");
        }
    }

    #[test]
    fn a_folder_that_is_not_there_cannot_be_synced() {
        let home = tempfile::tempdir().unwrap();
        sync(home.path()).unwrap();
        assert_eq!(
            sync(&home.path().join("none")).unwrap_err().kind(),
            io::ErrorKind::NotFound
        );
    }
}
