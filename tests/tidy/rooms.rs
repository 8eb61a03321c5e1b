//! The rooms: their order, and their size.
//!
//! The rule inside: whoever reads the rooms in order meets nothing that is explained only later.

use std::collections::BTreeMap;

use crate::source::{Source, room};
use crate::tree::Tree;

/// The rooms in reading order; a room may use those before it, and itself.
pub const ROOMS: &[&str] = &[
    "located",
    "explain",
    "value",
    "system",
    "limits",
    "judge",
    "job",
    "plan",
    "model",
    "proof",
    "sequence",
    "drafting",
    "run",
    "identify",
    "diagnosis",
    "meter",
    "teach",
    "evidence",
    "rehearsal",
    "terminal",
    "page",
    "walk",
    "cli",
];

/// Imports of a later room, and files in no room at all.
pub fn out_of_order(tree: &Tree) -> Vec<String> {
    let place = |file: usize| ROOMS.iter().position(|there| *there == tree.sources[file].room());
    let mut found = Vec::new();
    for source in &tree.sources {
        if !["lib.rs", "main.rs"].contains(&source.file.as_str()) && !ROOMS.contains(&source.room()) {
            found.push(format!(
                "src/{} is in no room: give `{}` its place in ROOMS",
                source.file,
                source.room()
            ));
        }
    }
    for import in &tree.imports {
        if let (Some(here), Some(there)) = (place(import.from), place(import.to))
            && here < there
        {
            let (later, to) = (room(tree.file(import.to)), tree.file(import.to));
            found.push(format!(
                "{} from src/{to}, and `{later}` comes after `{}`: move what both need to the earlier room, or take it as an \
                 argument",
                tree.words(import),
                tree.sources[import.from].room()
            ));
        }
    }
    found.dedup();
    found
}

/// Rooms of more than a fifth of all lines.
pub fn too_large(sources: &[Source]) -> Vec<String> {
    let mut lines: BTreeMap<&str, usize> = BTreeMap::new();
    for source in sources {
        *lines.entry(source.room()).or_default() += source.text.lines().count();
    }
    let all: usize = lines.values().sum();
    let large = lines.into_iter().filter(|(_, of_room)| all < 5 * of_room);
    large
        .map(|(room, of_room)| {
            format!("`src/{room}` has {of_room} of {all} lines, more than a fifth: divide it into two rooms by what they are for")
        })
        .collect()
}

#[test]
fn a_room_imports_only_rooms_before_it() {
    crate::holds(out_of_order(Tree::real()));
}

#[test]
fn no_room_is_more_than_a_fifth_of_the_house() {
    crate::holds(too_large(&Tree::real().sources));
}

#[test]
fn an_import_of_a_later_room_would_be_found() {
    let check = |file: &str, text: &str, expected: &[&str]| {
        let tree = Tree::made_up(&[
            ("job/mod.rs", "mod model;\npub use model::Job;"),
            ("job/model.rs", "pub struct Job;"),
            ("meter/mod.rs", "pub mod port;"),
            ("meter/port.rs", "pub struct Port;"),
            ("walk.rs", ""),
            (file, text),
        ]);
        assert_eq!(out_of_order(&tree), expected, "{text}");
    };
    check("sequence/bind.rs", "use crate::job::Job;", &[]);
    check("meter/decode.rs", "use super::port::Port;", &[]);
    check(
        "run/fold/run.rs",
        "use crate::{job::Job,\n    meter::port::{self, Port as P}};",
        &[
            "src/run/fold/run.rs:1 imports `crate::meter::port` from src/meter/port.rs, and `meter` comes after `run`: move what \
             both need to the earlier room, or take it as an argument",
            "src/run/fold/run.rs:1 imports `crate::meter::port::Port` from src/meter/port.rs, and `meter` comes after `run`: move \
             what both need to the earlier room, or take it as an argument",
        ],
    );
    check(
        "judge/window.rs",
        "fn f(job: super::super::job::Job) {}",
        &[
            "src/judge/window.rs:1 imports `super::super::job::Job` from src/job/model.rs, and `job` comes after `judge`: move what \
             both need to the earlier room, or take it as an argument",
        ],
    );
    check(
        "attic/old.rs",
        "",
        &["src/attic/old.rs is in no room: give `attic` its place in ROOMS"],
    );
}

#[test]
fn a_room_of_more_than_a_fifth_would_be_found() {
    let lines = |count: usize| "x\n".repeat(count);
    let house = |large: usize| {
        let small = lines(20);
        crate::source::made_up(&[
            ("job/a.rs", &lines(large)),
            ("plan.rs", &small),
            ("model.rs", &small),
            ("run.rs", &small),
            ("cli.rs", &small),
        ])
    };
    assert_eq!(too_large(&house(20)), Vec::<String>::new());
    assert_eq!(
        too_large(&house(21)),
        ["`src/job` has 21 of 101 lines, more than a fifth: divide it into two rooms by what they are for"]
    );
}
