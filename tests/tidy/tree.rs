//! Which file imports which: every path of every file followed to the file that defines what it names.
//!
//! The rule inside: a map passes names on and is nobody's end; an import through it is an import of the file behind it.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

use crate::path::{Written, written};
use crate::source::Source;

/// One import of another file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Import {
    /// Places among the sources.
    pub from: usize,
    pub to: usize,
    pub line: usize,
    /// As it is written.
    pub words: String,
}

/// A name of something that is not of this crate, in full: `std::fs::read`, `println!`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Foreign {
    pub file: usize,
    pub line: usize,
    pub name: String,
}

/// The sources and what they import.
#[derive(Debug)]
pub struct Tree {
    pub sources: Vec<Source>,
    pub imports: Vec<Import>,
    pub foreign: Vec<Foreign>,
}

/// What a path begins from.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum Path {
    /// The root of the crate.
    Own(Vec<String>),
    /// A name that the module knows, or another crate.
    Known { module: Vec<String>, names: Vec<String> },
}

/// What names stand for.
struct Names {
    files: BTreeMap<Vec<String>, usize>,
    /// What is imported under a name, by the module and the name.
    bound: BTreeMap<(Vec<String>, String), Vec<Path>>,
}

/// Where a path leads to.
#[derive(Default)]
struct Ends {
    files: BTreeSet<usize>,
    foreign: BTreeSet<String>,
    seen: BTreeSet<Path>,
}

impl Tree {
    pub fn of(sources: Vec<Source>) -> Tree {
        let files = sources
            .iter()
            .enumerate()
            .map(|(at, source)| (source.module(), at))
            .collect();
        let mut names = Names {
            files,
            bound: BTreeMap::new(),
        };
        let paths: Vec<Vec<Written>> = sources
            .iter()
            .map(|source| {
                if source.file == "main.rs" {
                    Vec::new()
                } else {
                    written(source)
                }
            })
            .collect();
        // an import may go through another one of its own module, so the names are there before any is looked up
        for path in paths.iter().flatten() {
            if let Some(name) = &path.known_as {
                let bound = names.bound.entry((path.module.clone(), name.clone())).or_default();
                bound.push(begin(path));
            }
        }
        let (mut imports, mut foreign) = (Vec::new(), Vec::new());
        for (from, paths) in paths.iter().enumerate() {
            for path in paths {
                let mut ends = Ends::default();
                names.follow(&begin(path), &mut ends);
                for to in ends.files.into_iter().filter(|to| *to != from) {
                    imports.push(Import {
                        from,
                        to,
                        line: path.line,
                        words: path.words(),
                    });
                }
                let (file, line) = (from, path.line);
                foreign.extend(ends.foreign.into_iter().map(|name| Foreign { file, line, name }));
            }
        }
        Tree {
            sources,
            imports,
            foreign,
        }
    }

    /// The tree of this program, read once.
    pub fn real() -> &'static Tree {
        static REAL: LazyLock<Tree> = LazyLock::new(|| Tree::of(crate::source::all()));
        &REAL
    }

    #[cfg(test)]
    pub fn made_up(texts: &[(&str, &str)]) -> Tree {
        Tree::of(crate::source::made_up(texts))
    }

    pub fn file(&self, at: usize) -> &str {
        &self.sources[at].file
    }

    /// `src/run/fold/apply.rs:12 imports `super::run::Run``.
    pub fn words(&self, import: &Import) -> String {
        format!(
            "src/{}:{} imports `{}`",
            self.file(import.from),
            import.line,
            import.words
        )
    }

    /// Imports of one code file by another; a map only passes names on.
    pub fn between_files(&self) -> impl Iterator<Item = &Import> {
        let is_map = |at: usize| self.sources[at].is_map();
        self.imports
            .iter()
            .filter(move |import| !is_map(import.from) && !is_map(import.to))
    }
}

/// What a path begins from.
fn begin(path: &Written) -> Path {
    let mut names = path.names.as_slice();
    let mut base = match names.first().map(String::as_str) {
        Some("crate") => Vec::new(),
        Some("self" | "super") => path.module.clone(),
        _ => {
            let (module, names) = (path.module.clone(), path.names.clone());
            return Path::Known { module, names };
        }
    };
    while let Some((first, rest)) = names.split_first() {
        match first.as_str() {
            "crate" | "self" => {}
            "super" => drop(base.pop()),
            _ => break,
        }
        names = rest;
    }
    base.extend_from_slice(names);
    Path::Own(base)
}

impl Names {
    fn follow(&self, path: &Path, ends: &mut Ends) {
        let is_new = ends.seen.insert(path.clone());
        match path {
            Path::Own(names) => self.follow_own(names, is_new, ends),
            Path::Known { module, names } => {
                let (first, rest) = names.split_first().expect("a path has a name");
                let child = [module.as_slice(), names].concat();
                let is_child = self.files.contains_key(&child[..=module.len()]);
                // a longer path goes through the module of that name, a bare name is what is imported under it
                let is_bound = is_new && (rest.is_empty() || !is_child);
                if is_bound && self.follow_bound(module, first, rest, ends) {
                    return;
                }
                if is_child {
                    self.follow(&Path::Own(child), ends);
                } else {
                    ends.foreign.insert(names.join("::"));
                }
            }
        }
    }

    fn follow_own(&self, names: &[String], is_new: bool, ends: &mut Ends) {
        let is_file = |end: &usize| self.files.contains_key(&names[..*end]);
        let Some(end) = (0..=names.len()).rev().find(is_file) else {
            return;
        };
        let file = self.files[&names[..end]];
        if !is_new {
            ends.files.insert(file);
        } else if end == names.len() {
            // a module, or what its parent passes on under the same name
            let is_passed_on = names
                .split_last()
                .is_some_and(|(last, parent)| self.follow_bound(parent, last, &[], ends));
            if !is_passed_on {
                ends.files.insert(file);
            }
        } else if names[end] == "*" {
            ends.files.insert(file);
            let of_module = self.bound.iter().filter(|((module, _), _)| module == &names[..end]);
            of_module
                .flat_map(|(_, paths)| paths)
                .for_each(|path| self.follow(path, ends));
        } else {
            // modules inside the file stand between it and the name
            let found =
                (end..names.len()).any(|at| self.follow_bound(&names[..at], &names[at], &names[at + 1..], ends));
            if !found {
                ends.files.insert(file);
            }
        }
    }

    /// Follows what a module imports under a name; false where that leads nowhere new.
    fn follow_bound(&self, module: &[String], name: &str, rest: &[String], ends: &mut Ends) -> bool {
        let key = (module.to_vec(), name.trim_end_matches('!').to_owned());
        let Some(paths) = self.bound.get(&key) else {
            return false;
        };
        let mut is_followed = false;
        for path in paths {
            let mut path = path.clone();
            let (Path::Own(names) | Path::Known { names, .. }) = &mut path;
            names.extend_from_slice(rest);
            if !ends.seen.contains(&path) {
                self.follow(&path, ends);
                is_followed = true;
            }
        }
        is_followed
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A small house: maps that pass names on, an alias, and inline modules.
    fn house(text: &str) -> Tree {
        Tree::made_up(&[
            (
                "lib.rs",
                "pub mod job;\npub mod plan;\npub mod run;\npub use job::Job as Work;",
            ),
            (
                "job/mod.rs",
                "mod check;\nmod model;\npub use check::read;\npub use model::{Core as Wire, Job};",
            ),
            ("job/check.rs", "pub fn read() {}"),
            ("job/model.rs", "pub struct Job; pub struct Core;"),
            (
                "plan/mod.rs",
                "mod bind;\npub use bind::bind;\npub use crate::job::Job;",
            ),
            ("plan/bind.rs", "pub fn bind() {}"),
            ("run/mod.rs", "pub mod fold;\nuse crate::plan::bind as binds;"),
            ("run/fold/mod.rs", "mod apply;\npub mod run;"),
            ("run/fold/run.rs", "pub struct Run;"),
            ("run/fold/apply.rs", text),
        ])
    }

    fn check(text: &str, expected: &[&str]) {
        let tree = house(text);
        let of = tree
            .imports
            .iter()
            .filter(|import| tree.file(import.from) == "run/fold/apply.rs");
        let found: BTreeSet<&str> = of.map(|import| tree.file(import.to)).collect();
        assert_eq!(found.into_iter().collect::<Vec<_>>(), expected, "{text}");
    }

    #[test]
    fn every_import_leads_to_the_file_that_defines_it() {
        check("use crate::job::{Job, read};", &["job/check.rs", "job/model.rs"]);
        check("use crate::job::Wire as W;", &["job/model.rs"]);
        check("use crate::Work;", &["job/model.rs"]);
        check("use crate::plan::Job;", &["job/model.rs"]);
        check("use crate::plan::bind;", &["plan/bind.rs"]);
        check("use super::run::Run;", &["run/fold/run.rs"]);
        check("use super::super::fold::run::{self, Run};", &["run/fold/run.rs"]);
        check("fn f() { super::run::Run::new() }", &["run/fold/run.rs"]);
        check("use super::super::binds;", &["plan/bind.rs"]);
        check("fn f(a: crate::job::Wire) {}", &["job/model.rs"]);
        check(
            "mod inner { use super::super::run; fn f() { run::Run; } }",
            &["run/fold/run.rs"],
        );
        check("use crate::job::*;", &["job/check.rs", "job/mod.rs", "job/model.rs"]);
        check("struct Own; impl Own { fn f() { Own::g(); Self::h() } }", &[]);
    }

    #[test]
    fn a_name_that_a_file_knows_leads_on_in_its_code() {
        check(
            "use crate::job; fn f() { job::read() }",
            &["job/check.rs", "job/mod.rs"],
        );
        check(
            "use crate::job as work; fn f(a: work::Job) {}",
            &["job/mod.rs", "job/model.rs"],
        );
        check(
            "use crate::{job, plan::{self}}; fn f() { plan::bind() }",
            &["job/mod.rs", "plan/bind.rs", "plan/mod.rs"],
        );
        check("#[cfg(test)] mod tests { use crate::job::Job; }", &[]);
    }

    #[test]
    fn what_is_foreign_is_named_in_full() {
        let check = |text: &str, expected: &[&str]| {
            let tree = house(text);
            let names: Vec<&str> = tree.foreign.iter().map(|foreign| foreign.name.as_str()).collect();
            assert_eq!(names, expected, "{text}");
        };
        check(
            "use std::{fs, io::Read}; fn f() { fs::read() }",
            &["std::fs", "std::io::Read", "std::fs::read"],
        );
        check(
            "use jiff::Timestamp as Time; fn f() { Time::now() }",
            &["jiff::Timestamp", "jiff::Timestamp::now"],
        );
        check("println!(\"x\");", &["println!"]);
        check("use rand;", &["rand"]);
    }
}
