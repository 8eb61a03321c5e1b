//! Serial devices as the system names them.
//!
//! The rule inside: what a device is called today it may not be called tomorrow; a system that keeps a name for good is asked for it.

use std::path::{Path, PathBuf};

/// A serial device's name, as an example.
pub const EXAMPLE: &str = if cfg!(unix) { "/dev/ttyUSB0" } else { "COM3" };

/// What is to be known about such names.
pub const ABOUT_NAMES: &str = if cfg!(target_os = "linux") {
    "the names under /dev/serial/by-id stay the same when the cable is moved"
} else {
    "its name may change when the cable is moved"
};

/// What lets a person use serial devices who may not.
pub const HOW_TO_BE_LET_IN: &str = if cfg!(unix) {
    "become a member of the group `dialout`, log out and in again, or ask whoever looks after this computer"
} else {
    "ask whoever looks after this computer"
};

/// Whether devices can be listed: the listing panics on Linux where this folder is missing, as in some containers.
pub fn can_be_listed() -> bool {
    !cfg!(target_os = "linux") || Path::new("/sys/class/tty").is_dir()
}

/// The name of another program that has a device open, where this system tells: Linux does, of the programs of this user, and of all to
/// whoever may see all.
pub fn held_by(device: &str) -> Option<String> {
    let device = Path::new(device).canonicalize().ok()?;
    let own = std::process::id().to_string();
    let numbered = |entry: &std::fs::DirEntry| {
        let name = entry.file_name();
        name != *own && name.to_string_lossy().bytes().all(|byte| byte.is_ascii_digit())
    };
    let holds = |entry: &std::fs::DirEntry| {
        let open = std::fs::read_dir(entry.path().join("fd"));
        open.into_iter()
            .flatten()
            .flatten()
            .any(|file| std::fs::read_link(file.path()).is_ok_and(|to| to == device))
    };
    let programs = std::fs::read_dir("/proc").into_iter().flatten().flatten();
    let holder = programs.filter(numbered).find(holds)?;
    let name = std::fs::read_to_string(holder.path().join("comm")).unwrap_or_default();
    Some(format!("{} ({})", name.trim(), holder.file_name().to_string_lossy()))
}

/// Names of devices that stay the same, each with the device that it leads to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StableNames(Vec<(PathBuf, PathBuf)>);

impl StableNames {
    /// Those that there are now; none on a system that keeps none.
    pub fn now() -> StableNames {
        if cfg!(target_os = "linux") {
            StableNames::in_folder(Path::new("/dev/serial/by-id"))
        } else {
            StableNames(Vec::new())
        }
    }

    /// The links in a folder with what they lead to.
    fn in_folder(folder: &Path) -> StableNames {
        let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
        let mut links: Vec<(PathBuf, PathBuf)> = entries
            .filter_map(|entry| Some((entry.path(), entry.path().canonicalize().ok()?)))
            .collect();
        links.sort();
        StableNames(links)
    }

    /// Those of one device.
    pub fn of(&self, device: &str) -> Vec<String> {
        let links = self.0.iter().filter(|(_, target)| target == Path::new(device));
        links.map(|(link, _)| link.display().to_string()).collect()
    }
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;

    #[test]
    fn whoever_else_has_a_device_open_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("port");
        let ours = std::fs::File::create(&path).unwrap();
        assert_eq!(held_by(path.to_str().unwrap()), None);
        let mut other = std::process::Command::new("sleep")
            .arg("60")
            .stdin(ours)
            .spawn()
            .unwrap();
        let holder = held_by(path.to_str().unwrap());
        other.kill().unwrap();
        other.wait().unwrap();
        assert!(holder.unwrap().ends_with(&format!("({})", other.id())));
        assert_eq!(held_by("/no/such/port"), None);
    }

    #[test]
    fn stable_names_are_the_links_that_lead_to_a_device() {
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path().canonicalize().unwrap();
        let by_id = root.join("by-id");
        std::fs::create_dir(&by_id).unwrap();
        for port in ["ttyA", "ttyB"] {
            std::fs::write(root.join(port), "").unwrap();
        }
        for (link, port) in [
            ("usb-two", "ttyB"),
            ("usb-one", "ttyA"),
            ("usb-gone", "ttyC"),
            ("usb-another", "ttyA"),
        ] {
            std::os::unix::fs::symlink(root.join(port), by_id.join(link)).unwrap();
        }
        let names = |port: &str| StableNames::in_folder(&by_id).of(root.join(port).to_str().unwrap());
        let path = |link: &str| by_id.join(link).display().to_string();
        assert_eq!(names("ttyA"), [path("usb-another"), path("usb-one")]);
        assert_eq!(names("ttyB"), [path("usb-two")]);
        assert_eq!(names("ttyC"), Vec::<String>::new());
        assert_eq!(
            StableNames::in_folder(&root.join("no-such-folder")),
            StableNames(Vec::new())
        );
    }
}
