//! Files and folders that belong to one person.
//!
//! The rule inside: who may read a file is settled when it is made, never afterwards, so that there is no moment at which others
//! could open it. Where a system has no modes, the folder's own rights decide.

use std::fs::{DirBuilder, OpenOptions};
use std::io;
use std::path::Path;

/// Lets a file that these options make be read and written by its owner alone (mode 0600).
pub fn owner_only(options: &mut OpenOptions) -> &mut OpenOptions {
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(options, 0o600);
    options
}

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
        std::fs::set_permissions(&above, std::fs::Permissions::from_mode(0o755)).unwrap();
        make_folder(&above).unwrap();
        assert_eq!(mode(&above), 0o755);
    }
}
