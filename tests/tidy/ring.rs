//! Rings: files that import each other, and folders that do.
//!
//! The rule inside: what stands in a ring can only be understood all at once, so none does, but for those listed, and the list is
//! exactly what is there.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use crate::tree::{Import, Tree};

/// Files that still import each other, each ring by its files in order. One that is broken is taken off the list.
const KNOWN_FILES: &[&[&str]] = &[];

/// Folders of one room that still import each other.
const KNOWN_FOLDERS: &[&[&str]] = &[];

/// What imports what, by name.
type Graph<'a> = BTreeMap<&'a str, BTreeMap<&'a str, &'a Import>>;

fn files(tree: &Tree) -> Graph<'_> {
    let mut graph = Graph::new();
    for import in tree.between_files() {
        let targets = graph.entry(tree.file(import.from)).or_default();
        targets.entry(tree.file(import.to)).or_insert(import);
    }
    graph
}

fn folders(tree: &Tree) -> Graph<'_> {
    let folder = |at: usize| {
        Path::new(tree.file(at))
            .parent()
            .and_then(Path::to_str)
            .unwrap_or_default()
    };
    let mut graph = Graph::new();
    for import in tree.between_files() {
        let (from, to) = (folder(import.from), folder(import.to));
        if from != to && tree.sources[import.from].room() == tree.sources[import.to].room() {
            graph.entry(from).or_default().entry(to).or_insert(import);
        }
    }
    graph
}

/// The nodes that can be reached from one, by the shortest way: each with the one before it.
fn reached<'a>(graph: &Graph<'a>, start: &'a str) -> BTreeMap<&'a str, &'a str> {
    let mut before = BTreeMap::new();
    let mut edge = vec![start];
    while !edge.is_empty() {
        let mut next = Vec::new();
        for from in edge {
            for to in graph.get(from).into_iter().flat_map(BTreeMap::keys) {
                if !before.contains_key(to) {
                    before.insert(*to, from);
                    next.push(*to);
                }
            }
        }
        edge = next;
    }
    before
}

/// Everything that stands in rings together, in order of names.
fn knots<'a>(graph: &Graph<'a>) -> BTreeSet<Vec<&'a str>> {
    let ways: BTreeMap<&str, _> = graph.keys().map(|name| (*name, reached(graph, name))).collect();
    let meet = |one: &str, other: &str| {
        ways[one].contains_key(other) && ways.get(other).is_some_and(|way| way.contains_key(one))
    };
    let in_ring = graph.keys().filter(|name| meet(name, name));
    in_ring
        .map(|name| graph.keys().copied().filter(|other| meet(name, other)).collect())
        .collect()
}

/// The shortest ring through the first of a knot, its imports in words.
fn ring(tree: &Tree, graph: &Graph<'_>, first: &str) -> Vec<String> {
    let before = reached(graph, graph.get_key_value(first).expect("it is in a knot").0);
    let mut words = Vec::new();
    let mut to = first;
    loop {
        let from = before[to];
        let import = graph[from][to];
        words.push(format!("{} of src/{}", tree.words(import), tree.file(import.to)));
        to = from;
        if to == first {
            words.reverse();
            return words;
        }
    }
}

/// Knots that are not known, and known ones that are no more.
fn breaches(tree: &Tree, graph: &Graph<'_>, known: &[&[&str]], what: &str) -> Vec<String> {
    let knots = knots(graph);
    let mut found = Vec::new();
    for knot in knots.iter().filter(|knot| !known.contains(&knot.as_slice())) {
        found.push(format!(
            "{what} import each other: {}\n  {}\n  move what they share to the {} below both that is named for it",
            knot.join(", "),
            ring(tree, graph, knot[0]).join("\n  "),
            what.trim_end_matches('s')
        ));
    }
    for known in known.iter().filter(|known| !knots.contains(**known)) {
        found.push(format!(
            "{} do not import each other any more as listed: take them off the list",
            known.join(", ")
        ));
    }
    found
}

#[test]
fn no_files_import_each_other() {
    let tree = Tree::real();
    crate::holds(breaches(tree, &files(tree), KNOWN_FILES, "files"));
}

#[test]
fn no_folders_of_a_room_import_each_other() {
    let tree = Tree::real();
    crate::holds(breaches(tree, &folders(tree), KNOWN_FOLDERS, "folders"));
}

#[cfg(test)]
mod tests {
    use super::*;

    const RING: &[(&str, &str)] = &[
        ("job/mod.rs", "mod a; mod b; mod c; mod d; pub use b::B;"),
        ("job/a.rs", "use crate::job::B;"),
        ("job/b.rs", "fn f() { super::c::f() }"),
        ("job/c.rs", "use super::{a::A as Other, d};"),
        ("job/d.rs", "#[cfg(test)] mod tests { use super::super::a::A; }"),
    ];

    #[test]
    fn a_ring_of_three_is_named_with_its_imports() {
        let tree = Tree::made_up(RING);
        assert_eq!(
            breaches(&tree, &files(&tree), &[], "files"),
            ["files import each other: job/a.rs, job/b.rs, job/c.rs\n  \
              src/job/a.rs:1 imports `crate::job::B` of src/job/b.rs\n  \
              src/job/b.rs:1 imports `super::c::f` of src/job/c.rs\n  \
              src/job/c.rs:1 imports `super::a::A` of src/job/a.rs\n  \
              move what they share to the file below both that is named for it"]
        );
    }

    #[test]
    fn the_list_of_known_rings_is_exactly_what_is_there() {
        let tree = Tree::made_up(RING);
        let check = |known: &[&[&str]], expected: usize| {
            assert_eq!(
                breaches(&tree, &files(&tree), known, "files").len(),
                expected,
                "{known:?}"
            );
        };
        check(&[&["job/a.rs", "job/b.rs", "job/c.rs"]], 0);
        check(&[&["job/a.rs", "job/b.rs"]], 2);
        let broken = Tree::made_up(&RING[..3]);
        assert_eq!(
            breaches(&broken, &files(&broken), &[&["job/a.rs", "job/b.rs"]], "files"),
            ["job/a.rs, job/b.rs do not import each other any more as listed: take them off the list"]
        );
    }

    #[test]
    fn folders_that_import_each_other_are_named_and_one_way_passes() {
        let check = |back: &str, expected: &[&str]| {
            let tree = Tree::made_up(&[
                ("run/event.rs", ""),
                ("run/engine/machine.rs", "use crate::run::event::Event;"),
                ("run/dialogue.rs", back),
                ("cli/run.rs", "use crate::run::dialogue::Dialogue;"),
            ]);
            assert_eq!(files(&tree).len(), 2 + usize::from(!back.is_empty()));
            assert_eq!(knots(&files(&tree)), BTreeSet::new());
            let found = breaches(&tree, &folders(&tree), &[], "folders");
            assert_eq!(found, expected);
        };
        check("", &[]);
        check(
            "use super::engine::machine::Machine;",
            &["folders import each other: run, run/engine\n  \
               src/run/dialogue.rs:1 imports `super::engine::machine::Machine` of src/run/engine/machine.rs\n  \
               src/run/engine/machine.rs:1 imports `crate::run::event::Event` of src/run/event.rs\n  \
               move what they share to the folder below both that is named for it"],
        );
    }
}
