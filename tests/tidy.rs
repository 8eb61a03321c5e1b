//! The rules of the house that a compiler does not know: rooms stand in order, those that decide stay pure, files keep their size.

use std::path::{Path, PathBuf};

/// The rooms in reading order; a room may use those before it, and itself.
const ROOMS: &[&str] = &[
    "located",
    "value",
    "system",
    "limits",
    "judge",
    "job",
    "plan",
    "model",
    "proof",
    "sequence",
    "run",
    "identify",
    "diagnosis",
    "meter",
    "teach",
    "evidence",
    "rehearsal",
    "terminal",
    "walk",
    "cli",
];

/// Rooms and folders that decide: they touch no file, clock, thread, socket, random source or hash-map order.
const PURE: &[&str] = &[
    "located.rs",
    "value/",
    "limits/",
    "judge/",
    "job/",
    "plan/",
    "model/",
    "proof/",
    "sequence/",
    "run/",
    "identify/",
    "diagnosis/",
    "meter/decode/",
    "meter/profile/",
    "meter/settle/",
    "teach/",
    "evidence/certificate/page/",
];

/// What the rooms that decide may not name, and what to use instead.
const BANNED: &[(&str, &str)] = &[
    ("std::fs", "take the text as an argument; files are read in `cli`"),
    ("std::io", "return values; printing is for `cli` and `terminal`"),
    ("std::net", "sockets belong in `meter`"),
    ("std::thread", "be a state machine; `walk` drives it"),
    ("std::time", "take a `jiff::Timestamp` as an argument"),
    ("std::env", "take the value as an argument"),
    ("Timestamp::now", "take the time as an argument"),
    ("Zoned::now", "take the time as an argument"),
    ("HashMap", "use BTreeMap: the order must not depend on a hash"),
    ("HashSet", "use BTreeSet: the order must not depend on a hash"),
    ("println!", "return what is to be shown"),
    ("eprintln!", "return what is to be shown"),
    ("tokio", "be a state machine; `walk` drives it"),
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

/// The text up to its tests.
fn without_tests(text: &str) -> &str {
    text.split("#[cfg(test)]").next().unwrap()
}

/// Files that hold nothing but tests, by their declaration in the map beside them.
fn test_only(sources: &[(String, String)]) -> Vec<String> {
    let mut found = Vec::new();
    for (file, text) in sources {
        let folder = file
            .strip_suffix("mod.rs")
            .map_or_else(|| file.replace(".rs", "/"), str::to_owned);
        for (at, mark) in text.match_indices("#[cfg(test)]\n") {
            let line = text[at + mark.len()..].lines().next().unwrap_or_default();
            if let Some((_, name)) = line.split_once("mod ").filter(|_| line.ends_with(';')) {
                found.push(format!("{folder}{}.rs", name.trim_end_matches(';')));
            }
        }
    }
    found
}

/// The sources without those that hold nothing but tests.
fn code() -> Vec<(String, String)> {
    let mut sources = all();
    let tests = test_only(&sources);
    sources.retain(|(file, _)| !tests.contains(file));
    sources
}

fn room(file: &str) -> &str {
    file.split('/').next().unwrap().trim_end_matches(".rs")
}

fn place(room: &str) -> Option<usize> {
    ROOMS.iter().position(|there| *there == room)
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
    (place(here)? < place(used)?).then(|| format!("{file} in `{here}` imports `{used}`, which comes after it"))
}

#[test]
fn a_room_imports_only_rooms_before_it() {
    let breaches: Vec<_> = code()
        .iter()
        .flat_map(|(file, text)| {
            rooms_used(without_tests(text))
                .into_iter()
                .filter_map(|used| breach(file, &used))
                .collect::<Vec<_>>()
        })
        .collect();
    assert!(breaches.is_empty(), "{}", breaches.join("\n"));
}

#[test]
fn an_import_of_a_later_room_would_be_found() {
    for (file, used, found) in [
        ("run/fold/run.rs", "meter", true),
        ("meter/port/source.rs", "run", false),
        ("judge/window.rs", "job", true),
        ("rehearsal/meter.rs", "meter", false),
        ("walk.rs", "cli", true),
        ("cli/run.rs", "run", false),
    ] {
        assert_eq!(breach(file, used).is_some(), found, "{file} uses {used}");
    }
}

#[test]
fn rooms_that_decide_name_nothing_impure() {
    let mut breaches = Vec::new();
    for (file, text) in code()
        .iter()
        .filter(|(file, _)| PURE.iter().any(|there| file.starts_with(there)))
    {
        let code = without_tests(text);
        for (n, line) in code
            .lines()
            .enumerate()
            .filter(|(_, l)| !l.trim_start().starts_with("//"))
        {
            for (name, instead) in BANNED {
                if line.contains(name) {
                    breaches.push(format!(
                        "src/{file}:{}: `{name}` in a room that decides: {instead}",
                        n + 1
                    ));
                }
            }
        }
    }
    assert!(breaches.is_empty(), "{}", breaches.join("\n"));
}

#[test]
fn every_file_says_its_purpose_and_keeps_its_size() {
    let mut breaches = Vec::new();
    let tests = test_only(&all());
    for (file, text) in all() {
        if !text.starts_with("//!") {
            breaches.push(format!("src/{file} does not begin with `//!`"));
        }
        let code = without_tests(&text);
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
