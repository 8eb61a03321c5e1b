//! The rules of the house that a compiler does not know: imports run downwards, pure stays pure, files keep their size.

use std::path::{Path, PathBuf};

/// Rooms from the ground floor up; a room may use those on lower floors, and itself.
const FLOORS: &[&[&str]] = &[
    &["pure"],
    &[
        "meter",
        "journal",
        "keys",
        "archive",
        "certificate",
        "terminal",
        "rehearsal",
    ],
    &["run", "audit"],
    &["cli"],
];

/// The only neighbour that may be imported sideways.
const SIDEWAYS: &[(&str, &str)] = &[("rehearsal", "meter")];

/// What pure may not name, and what to use instead.
const BANNED_IN_PURE: &[(&str, &str)] = &[
    ("std::fs", "take the text as an argument; files are read in `cli`"),
    ("std::io", "return values; printing is for `cli` and `terminal`"),
    ("std::net", "sockets belong in `meter`"),
    ("std::thread", "be a state machine; `run` drives it"),
    ("std::time", "take a `jiff::Timestamp` as an argument"),
    ("std::env", "take the value as an argument"),
    ("Timestamp::now", "take the time as an argument"),
    ("Zoned::now", "take the time as an argument"),
    ("HashMap", "use BTreeMap: the order must not depend on a hash"),
    ("HashSet", "use BTreeSet: the order must not depend on a hash"),
    ("println!", "return what is to be shown"),
    ("eprintln!", "return what is to be shown"),
    ("tokio", "be a state machine; `run` drives it"),
    ("rand::", "take the seed as an argument"),
    ("Uuid::now", "take the id as an argument"),
];

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    let mut entries: Vec<_> = std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
}

/// Every source file below `src`, as a path from `src` and its text.
fn all() -> Vec<(String, String)> {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut found = Vec::new();
    sources(&src, &mut found);
    assert!(30 < found.len(), "the sources are where they were");
    found
        .into_iter()
        .map(|path| {
            let name = path.strip_prefix(&src).unwrap().to_str().unwrap().to_owned();
            (name, std::fs::read_to_string(&path).unwrap())
        })
        .collect()
}

fn room(file: &str) -> &str {
    file.split('/').next().unwrap().trim_end_matches(".rs")
}

fn floor(room: &str) -> Option<usize> {
    FLOORS.iter().position(|rooms| rooms.contains(&room))
}

/// The rooms that a text names after `crate::`.
fn rooms_used(text: &str) -> Vec<String> {
    let code = text.lines().filter(|line| !line.trim_start().starts_with("//"));
    code.flat_map(|line| {
        line.match_indices("crate::")
            .map(|(i, m)| line[i + m.len()..].to_owned())
            .collect::<Vec<_>>()
    })
    .map(|rest| rest.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect())
    .collect()
}

fn breach(file: &str, used: &str) -> Option<String> {
    let here = room(file);
    let (from, to) = (floor(here)?, floor(used)?);
    let sideways = from == to && here != used && !SIDEWAYS.contains(&(here, used));
    let up = from < to;
    // the certificate and rehearsal commands join rooms in `cli`; nothing else joins sideways
    (sideways || up).then(|| {
        format!(
            "{file} in `{here}` imports `{used}`, which is {}",
            if up { "above it" } else { "beside it" }
        )
    })
}

#[test]
fn imports_run_downwards() {
    let breaches: Vec<_> = all()
        .iter()
        .flat_map(|(file, text)| {
            rooms_used(text)
                .into_iter()
                .filter_map(|used| breach(file, &used))
                .collect::<Vec<_>>()
        })
        .collect();
    assert!(breaches.is_empty(), "{}", breaches.join("\n"));
}

#[test]
fn an_import_upwards_or_sideways_would_be_found() {
    for (file, used, found) in [
        ("pure/record/run.rs", "meter", true),
        ("meter/source.rs", "run", true),
        ("journal/file.rs", "keys", true),
        ("meter/source.rs", "rehearsal", true),
        ("rehearsal/meter.rs", "meter", false),
        ("audit/examine.rs", "journal", false),
        ("run.rs", "audit", true),
        ("cli/run.rs", "run", false),
    ] {
        assert_eq!(breach(file, used).is_some(), found, "{file} uses {used}");
    }
}

#[test]
fn pure_names_nothing_impure() {
    let mut breaches = Vec::new();
    for (file, text) in all().iter().filter(|(file, _)| room(file) == "pure") {
        let code = text.split("#[cfg(test)]").next().unwrap();
        for (n, line) in code
            .lines()
            .enumerate()
            .filter(|(_, l)| !l.trim_start().starts_with("//"))
        {
            for (name, instead) in BANNED_IN_PURE {
                if line.contains(name) {
                    breaches.push(format!("src/{file}:{}: `{name}` in pure: {instead}", n + 1));
                }
            }
        }
    }
    assert!(breaches.is_empty(), "{}", breaches.join("\n"));
}

/// Files that hold nothing but tests, by their declaration in the map beside them.
fn test_only(sources: &[(String, String)]) -> Vec<String> {
    let mut found = Vec::new();
    for (file, text) in sources {
        let Some(folder) = file.strip_suffix("mod.rs") else {
            continue;
        };
        for (_, rest) in text
            .match_indices("#[cfg(test)]\nmod ")
            .map(|(i, m)| (i, &text[i + m.len()..]))
        {
            let name: String = rest.chars().take_while(|c| *c != ';').collect();
            found.push(format!("{folder}{name}.rs"));
        }
    }
    found
}

#[test]
fn every_file_says_its_purpose_and_keeps_its_size() {
    let mut breaches = Vec::new();
    let sources = all();
    let tests = test_only(&sources);
    for (file, text) in sources {
        if !text.starts_with("//!") {
            breaches.push(format!("src/{file} does not begin with `//!`"));
        }
        let code = text.split("#[cfg(test)]").next().unwrap();
        let lines = code
            .lines()
            .filter(|l| !l.trim().is_empty() && !l.trim_start().starts_with("//"))
            .count();
        if 500 < lines && !tests.contains(&file) {
            breaches.push(format!(
                "src/{file} has {lines} lines of code, more than 500: split it by noun"
            ));
        }
    }
    assert!(breaches.is_empty(), "{}", breaches.join("\n"));
}

#[test]
fn nobody_is_told_that_anything_is_safe_to_touch() {
    let forbidden = ["safe", "to", "touch"].join(" ");
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut texts = all();
    for name in [
        "README.md",
        "DEVELOPERS.md",
        "sequences/stat-cable.ron",
        "fixtures/saltmarsh.ron",
    ] {
        if let Ok(text) = std::fs::read_to_string(root.join(name)) {
            texts.push((name.into(), text));
        }
    }
    let found: Vec<_> = texts
        .iter()
        .filter(|(_, t)| t.to_lowercase().contains(&forbidden))
        .map(|(f, _)| f.as_str())
        .collect();
    assert!(found.is_empty(), "{found:?}");
}
