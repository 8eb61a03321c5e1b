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

/// What lets a person use a serial device who may not: one command, where this system has one.
pub fn how_to_be_let_in(device: &str) -> String {
    if cfg!(target_os = "linux") {
        let group = group_of(Path::new(device)).unwrap_or_else(|| "dialout".into());
        let_in_by(&group)
    } else {
        "ask whoever looks after this computer".into()
    }
}

/// The command that makes a person a member of a group; nobody is made one of the group of root.
fn let_in_by(group: &str) -> String {
    match group {
        "root" => "ask whoever looks after this computer: the port is root's alone".into(),
        _ => format!("type `sudo usermod -aG {group} \"$USER\"`, then log out and in again"),
    }
}

/// The group of a device, by its name.
#[cfg(unix)]
fn group_of(device: &Path) -> Option<String> {
    let number = std::os::unix::fs::MetadataExt::gid(&std::fs::metadata(device).ok()?).to_string();
    let groups = std::fs::read_to_string("/etc/group").ok()?;
    let named = groups.lines().find(|line| line.split(':').nth(2) == Some(&*number))?;
    named.split(':').next().map(str::to_owned)
}

#[cfg(not(unix))]
fn group_of(_: &Path) -> Option<String> {
    None
}

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
    fn a_port_that_may_not_be_used_says_the_command_that_mends_it() {
        let dialout = "type `sudo usermod -aG dialout \"$USER\"`, then log out and in again";
        assert_eq!(how_to_be_let_in("/no/such/port"), dialout);
        assert_eq!(let_in_by("uucp"), dialout.replace("dialout", "uucp"));
        assert_eq!(
            let_in_by("root"),
            "ask whoever looks after this computer: the port is root's alone"
        );
        assert_eq!(group_of(Path::new("/")).as_deref(), Some("root"));
    }

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
