//! Places that decide: they touch no file, clock, thread, socket, random source or hash-map order.
//!
//! The rule inside: neither do those that they import, so that nothing is reached by a detour.

use crate::tree::Tree;

/// Rooms and folders that decide.
const PURE: &[&str] = &[
    "located/",
    "explain.rs",
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
    "evidence/certificate/lid/",
    "evidence/copy_for.rs",
];

/// What they may not name, and what to do instead.
const BANNED: &[(&str, &str)] = &[
    ("std::fs", "take the text as an argument; files are read in `cli`"),
    ("std::io", "return values; printing is for `cli` and `terminal`"),
    ("std::net", "sockets belong in `meter`"),
    ("std::thread", "be a state machine; `walk` drives it"),
    ("std::time", "take a `jiff::Timestamp` as an argument"),
    ("std::env", "take the value as an argument"),
    ("std::process", "return an error; `cli` ends the program"),
    ("Timestamp::now", "take the time as an argument"),
    ("Zoned::now", "take the time as an argument"),
    ("HashMap", "use BTreeMap: the order must not depend on a hash"),
    ("HashSet", "use BTreeSet: the order must not depend on a hash"),
    ("print!", "return what is to be shown"),
    ("println!", "return what is to be shown"),
    ("eprint!", "return what is to be shown"),
    ("eprintln!", "return what is to be shown"),
    ("tokio", "be a state machine; `walk` drives it"),
    ("rand::", "take the seed as an argument"),
    ("Uuid::now", "take the id as an argument"),
];

fn is_pure(file: &str) -> bool {
    PURE.iter().any(|there| file.starts_with(there))
}

/// Banned names in places that decide, and imports of places that do not decide.
pub fn breaches(tree: &Tree) -> Vec<String> {
    let mut found = Vec::new();
    for foreign in tree.foreign.iter().filter(|foreign| is_pure(tree.file(foreign.file))) {
        let name = format!("::{}::", foreign.name);
        let banned = BANNED.iter().find(|(banned, _)| name.contains(&format!("::{banned}")));
        if let Some((_, instead)) = banned {
            found.push(format!(
                "src/{}:{} names `{}` in a place that decides: {instead}",
                tree.file(foreign.file),
                foreign.line,
                foreign.name
            ));
        }
    }
    for import in tree.between_files().filter(|import| is_pure(tree.file(import.from))) {
        let to = tree.file(import.to);
        if !is_pure(to) {
            found.push(format!(
                "{} of src/{to}, which does not only decide: take what it gives as an argument",
                tree.words(import)
            ));
        }
    }
    found
}

#[test]
fn places_that_decide_touch_nothing() {
    crate::holds(breaches(Tree::real()));
}

#[test]
fn what_touches_the_world_would_be_found() {
    let check = |text: &str, expected: &[&str]| {
        let tree = Tree::made_up(&[
            ("judge/window.rs", text),
            ("walk.rs", "use std::fs;"),
            ("meter/decode/frame.rs", ""),
            ("meter/port/serial.rs", "fn f() { println!() }"),
        ]);
        let found = breaches(&tree);
        let names: Vec<&str> = found.iter().map(|said| said.split('`').nth(1).unwrap()).collect();
        assert_eq!(names, expected, "{found:?}");
    };
    check("use std::{collections::BTreeMap, fmt, fs::{self}};", &["std::fs"]);
    check(
        "use std::fs as files; fn f() { files::read() }",
        &["std::fs", "std::fs::read"],
    );
    check("fn f() { std::env::var() }", &["std::env::var"]);
    check(
        "use jiff::Timestamp as Time; fn f() { Time::now() }",
        &["jiff::Timestamp::now"],
    );
    check(
        "fn f() { uuid::Uuid::now_v7(); rand::random() }",
        &["uuid::Uuid::now_v7", "rand::random"],
    );
    check("use std::collections::HashMap;", &["std::collections::HashMap"]);
    check("fn f() { println!() }", &["println!"]);
    check("use tokio_serial::X;", &["tokio_serial::X"]);
    check("use crate::meter::decode::frame::Frame;", &[]);
    check(
        "use crate::meter::port::serial::Serial;",
        &["crate::meter::port::serial::Serial"],
    );
    check("// std::fs\nfn f() { \"std::fs println!\"; }", &[]);
    check("#[cfg(test)] mod tests { use std::fs; }", &[]);
    let tree = Tree::made_up(&[("judge/window.rs", "\nuse std::fs;")]);
    assert_eq!(
        breaches(&tree),
        [
            "src/judge/window.rs:2 names `std::fs` in a place that decides: take the text as an argument; files are read in `cli`"
        ]
    );
}
