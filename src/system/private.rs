//! Files and folders that belong to one person.
//!
//! The rule inside: who may read a file is settled when it is made, never afterwards, so that there is no moment at which others
//! could open it. Where a system has no modes, the folder's own rights decide.

use std::fs::{DirBuilder, File, OpenOptions};
use std::io;
use std::path::Path;

/// Lets a file that these options make be read and written by its owner alone (mode 0600).
pub fn owner_only(options: &mut OpenOptions) -> &mut OpenOptions {
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(options, 0o600);
    options
}

/// Lets a file that these options make be read by everybody and written by its owner alone (mode 0644).
pub fn readable_by_all(options: &mut OpenOptions) -> &mut OpenOptions {
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(options, 0o644);
    options
}

/// The mode of an open file that others than its owner may read or write; `None` where they may not, and where the system keeps no
/// modes. Asked of the open file, so that it cannot be exchanged between the question and what follows.
///
/// # Errors
/// What the system says.
pub fn open_to_others(file: &File) -> io::Result<Option<u32>> {
    #[cfg(unix)]
    let mode = {
        let permissions = file.metadata()?.permissions();
        let mode = std::os::unix::fs::PermissionsExt::mode(&permissions) & 0o7777;
        (mode & 0o077 != 0).then_some(mode)
    };
    #[cfg(not(unix))]
    let mode = file.metadata().map(|_| None)?;
    Ok(mode)
}

/// The mode of an open file that others than its owner may write; `None` where they may not, and where the system keeps no modes.
///
/// # Errors
/// What the system says.
pub fn writable_by_others(file: &File) -> io::Result<Option<u32>> {
    Ok(open_to_others(file)?.filter(|mode| mode & 0o022 != 0))
}

/// What makes a file its owner's alone again.
pub fn how_to_close(path: &Path) -> String {
    if cfg!(unix) {
        format!("chmod 600 {}", path.display())
    } else {
        format!("take away everybody's rights to `{}` but your own", path.display())
    }
}

/// How to see whose a file is.
pub const WHO_OWNS: &str = if cfg!(unix) {
    "check who owns the file and its folder, with `ls -ld`"
} else {
    "check who owns the file and its folder, in its properties"
};

/// Makes a folder and those above it for their owner alone (mode 0700); one that is there stays as it is.
///
/// # Errors
/// What the system says.
pub fn make_folder(folder: &Path) -> io::Result<()> {
    let mut builder = DirBuilder::new();
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.recursive(true).create(folder)
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use std::os::unix::fs::PermissionsExt;

    fn mode(path: &Path) -> u32 {
        path.metadata().unwrap().permissions().mode() & 0o7777
    }

    #[test]
    fn what_is_made_is_for_its_owner_alone_and_what_is_there_stays_as_it_is() {
        let home = tempfile::tempdir().unwrap();
        let (above, below) = (home.path().join("above"), home.path().join("above/below"));
        make_folder(&below).unwrap();
        assert_eq!((mode(&above), mode(&below)), (0o700, 0o700));
        let file = below.join("file");
        owner_only(OpenOptions::new().write(true).create_new(true))
            .open(&file)
            .unwrap();
        assert_eq!(mode(&file), 0o600);
        let open = below.join("open");
        readable_by_all(OpenOptions::new().write(true).create_new(true))
            .open(&open)
            .unwrap();
        assert_eq!(mode(&open) & !0o644, 0, "the system may take more away");
        std::fs::set_permissions(&above, std::fs::Permissions::from_mode(0o755)).unwrap();
        make_folder(&above).unwrap();
        assert_eq!(mode(&above), 0o755);
    }

    #[test]
    fn a_file_that_others_may_read_or_write_is_seen() {
        let file = tempfile::NamedTempFile::new().unwrap();
        let check = |bits: u32, expected: Option<u32>| {
            std::fs::set_permissions(file.path(), std::fs::Permissions::from_mode(bits)).unwrap();
            assert_eq!(open_to_others(file.as_file()).unwrap(), expected, "{bits:o}");
        };
        check(0o600, None);
        check(0o400, None);
        for bits in [0o644, 0o640, 0o620, 0o602, 0o601, 0o610] {
            check(bits, Some(bits));
            let written = Some(bits).filter(|bits| [0o620, 0o602].contains(bits));
            assert_eq!(writable_by_others(file.as_file()).unwrap(), written, "{bits:o}");
        }
    }
}
