//! What only Unix has: files that may name it, and what another system would put there.
//!
//! The rule inside: whoever brings the program to another system reads one list and knows where to go.

use std::collections::{BTreeMap, BTreeSet};

use crate::token::Kind;
use crate::tree::Tree;

/// Files that name what only Unix has: what stands there, and what another system would put there.
const UNIX: &[(&str, &str, &str)] = &[
    (
        "system/agent.rs",
        "the socket of the SSH agent",
        "the named pipe of its own agent",
    ),
    (
        "system/clock.rs",
        "CLOCK_BOOTTIME, which counts sleep",
        "its own count of time since the start, sleep included",
    ),
    (
        "system/devices.rs",
        "names and links of serial devices, the group that may use them",
        "its own names, and its register of devices",
    ),
    (
        "system/disk.rs",
        "kinds of file, and opening one without waiting",
        "its own kinds of file; opening waits for nobody there",
    ),
    (
        "system/folder.rs",
        "syncing of a folder's names",
        "what its file system promises of names, or nothing",
    ),
    (
        "system/keep_alive.rs",
        "keep-alive of a connection, through rustix",
        "the same calls, which rustix has there too",
    ),
    (
        "system/lock.rs",
        "the lock of a folder opened as a file",
        "the lock of a file in it",
    ),
    (
        "system/private.rs",
        "modes 0600, 0644 and 0700, chmod",
        "access lists of one person",
    ),
    (
        "system/pseudo_terminal.rs",
        "a pseudo-terminal",
        "a pair of virtual serial ports, which a driver gives",
    ),
    ("system/signals.rs", "SIGTERM", "the request of the console to close"),
    (
        "system/terminal.rs",
        "/dev/tty, echo and width",
        "the console's input, its modes and its size",
    ),
];

/// Names of Unix, in code.
const NAMES: &[&str] = &[
    "std::os::",
    "tokio::signal::unix",
    "rustix",
    "libc",
    "nix::",
    "flock",
    "PermissionsExt",
    "OpenOptionsExt",
    "DirBuilderExt",
    "MetadataExt",
    "AsFd",
    "BorrowedFd",
    "OwnedFd",
    "RawFd",
    "openpt",
    "grantpt",
    "unlockpt",
    "ptsname",
    "TTYPort",
    "SerialStream::pair",
];

/// Places and commands of Unix, in strings.
const PLACES: &[&str] = &["/dev/", "/sys/", "/proc/", "chmod ", "ls -l", "dialout"];

/// Words of a condition under which code is compiled for one system only.
const CONDITIONS: &[&str] = &["unix", "windows", "target_os", "target_family"];

/// What a file names that only Unix has, with the line.
fn named(tree: &Tree) -> BTreeMap<&str, BTreeSet<(usize, String)>> {
    let mut found: BTreeMap<&str, BTreeSet<(usize, String)>> = BTreeMap::new();
    let mut add = |file: usize, line: usize, name: &str| {
        found
            .entry(tree.file(file))
            .or_default()
            .insert((line, name.to_owned()));
    };
    for foreign in &tree.foreign {
        let name = format!("::{}::", foreign.name);
        if NAMES.iter().any(|there| name.contains(&format!("::{there}"))) {
            add(foreign.file, foreign.line, &foreign.name);
        }
    }
    for (file, source) in tree.sources.iter().enumerate() {
        for (at, token) in source.code.iter().enumerate() {
            let place = PLACES
                .iter()
                .find(|place| token.kind == Kind::Text && token.text.contains(*place));
            let in_condition = CONDITIONS.iter().any(|word| token.is_word(word))
                && source.code[..at]
                    .iter()
                    .rev()
                    .take(8)
                    .any(|before| before.is_word("cfg"));
            if let Some(name) = place.copied().or(in_condition.then_some(token.text.as_str())) {
                add(file, token.line, name);
            }
        }
    }
    found
}

/// Names outside the listed files, and listed files without any.
pub fn breaches(tree: &Tree, listed: &[(&str, &str, &str)]) -> Vec<String> {
    let named = named(tree);
    let mut found = Vec::new();
    for (file, names) in &named {
        if !listed.iter().any(|(there, _, _)| there == file) {
            found.extend(names.iter().map(|(line, name)| {
                format!("src/{file}:{line} names `{name}`, which only Unix has: put it behind a name of ours in `src/system`")
            }));
        }
    }
    for (file, _, _) in listed.iter().filter(|(file, _, _)| !named.contains_key(file)) {
        found.push(format!(
            "src/{file} names nothing any more that only Unix has: take it off the list"
        ));
    }
    found
}

#[test]
fn what_only_unix_has_stands_in_listed_places() {
    crate::holds(breaches(Tree::real(), UNIX));
}

#[test]
fn what_only_unix_has_would_be_found_elsewhere() {
    let check = |text: &str, expected: &[&str]| {
        let tree = Tree::made_up(&[("walk.rs", text), ("system/lock.rs", "use rustix::fs::flock;")]);
        let found = breaches(&tree, &[("system/lock.rs", "a lock", "another lock")]);
        let names: Vec<&str> = found.iter().map(|said| said.split('`').nth(1).unwrap()).collect();
        assert_eq!(names, expected, "{found:?}");
    };
    check(
        "use std::{fs, os::{unix::fs::PermissionsExt as _, fd::AsFd}};",
        &["std::os::fd::AsFd", "std::os::unix::fs::PermissionsExt"],
    );
    check(
        "use tokio::signal as s; fn f() { s::unix::signal(); s::ctrl_c() }",
        &["tokio::signal::unix::signal"],
    );
    check("fn f() { File::open(\"/dev/tty\") }", &["/dev/"]);
    check("const A: &str = \"chmod 600 key\";", &["chmod "]);
    check("fn f() { SerialStream::pair() }", &["SerialStream::pair"]);
    check(
        "#[cfg(unix)] fn f() {} #[cfg(all(feature = \"x\", target_os = \"linux\"))] fn g() {}",
        &["target_os", "unix"],
    );
    check("fn f() { if cfg!(windows) {} }", &["windows"]);
    check(
        "// /dev/tty\n#[cfg(test)] mod tests { use std::os::unix::fs::symlink; }",
        &[],
    );
    let tree = Tree::made_up(&[("walk.rs", "\nuse rustix::x;"), ("cli/a.rs", "")]);
    assert_eq!(
        breaches(&tree, &[("cli/a.rs", "", "")]),
        [
            "src/walk.rs:2 names `rustix::x`, which only Unix has: put it behind a name of ours in `src/system`",
            "src/cli/a.rs names nothing any more that only Unix has: take it off the list",
        ]
    );
}
