//! The paths that a file names: those it imports, and those that it writes out in its code.
//!
//! The rule inside: every path of a file is found, in whatever way it is written; what it leads to is for `tree` to say.

use crate::source::{Source, closing};
use crate::token::{Kind, Token};

/// One path as it is written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    pub line: usize,
    /// The module in which it stands, from the root of the crate.
    pub module: Vec<String>,
    /// Its names; the last is `*` where everything is imported, or ends in `!` where it is a macro.
    pub names: Vec<String>,
    /// The name under which an import is known from there on; `None` in code.
    pub known_as: Option<String>,
}

impl Written {
    pub fn words(&self) -> String {
        self.names.join("::")
    }
}

/// Every path of a file.
pub fn written(source: &Source) -> Vec<Written> {
    let code = &source.code;
    let mut found = Vec::new();
    let mut modules = vec![(source.module(), code.len())];
    let mut at = 0;
    while at < code.len() {
        while modules.last().is_some_and(|(_, end)| *end <= at) && 1 < modules.len() {
            modules.pop();
        }
        let module = &modules.last().expect("the file itself is always there").0;
        let next = |ahead: usize| code.get(at + ahead);
        if code[at].is_word("use") && !at.checked_sub(1).is_some_and(|before| code[before].is("<")) {
            let end = (at..code.len()).find(|end| code[*end].is(";")).unwrap_or(code.len());
            for (names, known_as) in tree(&code[at + 1..end], &[]) {
                found.push(Written {
                    line: code[at].line,
                    module: module.clone(),
                    names,
                    known_as: Some(known_as),
                });
            }
            at = end + 1;
        } else if code[at].is_word("mod") && next(2).is_some_and(|token| token.is("{")) {
            let inner = [module.as_slice(), &[code[at + 1].text.clone()]].concat();
            modules.push((inner, closing(code, at + 2)));
            at += 3;
        } else if code[at].is_word("pub") && next(1).is_some_and(|token| token.is("(")) {
            // `pub(in crate::a)` imports nothing
            at = closing(code, at + 1) + 1;
        } else if code[at].kind == Kind::Word {
            let names = path(&code[at..]);
            let length = 2 * names.len() - 1;
            let is_macro = next(length).is_some_and(|token| token.is("!"))
                && next(length + 1).is_some_and(|token| ["(", "[", "{"].iter().any(|sign| token.is(sign)));
            if 1 < names.len() || is_macro {
                let mut names = names;
                if let (true, Some(last)) = (is_macro, names.last_mut()) {
                    last.push('!');
                }
                found.push(Written {
                    line: code[at].line,
                    module: module.clone(),
                    names,
                    known_as: None,
                });
            }
            at += length;
        } else {
            at += 1;
        }
    }
    found
}

/// The names of the path that begins here.
fn path(code: &[Token]) -> Vec<String> {
    let mut names = vec![code[0].text.clone()];
    for pair in code[1..].chunks(2) {
        match pair {
            [sign, name] if sign.is("::") && name.kind == Kind::Word => names.push(name.text.clone()),
            _ => break,
        }
    }
    names
}

/// The paths of an import with the names under which they are known, its groups spread out.
fn tree(tokens: &[Token], before: &[String]) -> Vec<(Vec<String>, String)> {
    let mut names = before.to_vec();
    let mut at = 0;
    while at < tokens.len() {
        let token = &tokens[at];
        if token.is("{") {
            let inner = &tokens[at + 1..closing(tokens, at).min(tokens.len())];
            return parts(inner).into_iter().flat_map(|part| tree(part, &names)).collect();
        }
        if token.is_word("as") {
            break;
        }
        if token.kind == Kind::Word || token.is("*") {
            names.push(token.text.clone());
        }
        at += 1;
    }
    // `a::{self}` is `a`
    if 1 < names.len() && names.last().is_some_and(|last| last == "self") {
        names.pop();
    }
    let alias = tokens.get(at + 1).map(|token| token.text.clone());
    let known_as = alias.or_else(|| names.last().cloned()).unwrap_or_default();
    if names.is_empty() {
        Vec::new()
    } else {
        vec![(names, known_as)]
    }
}

/// The parts between commas, groups kept whole.
fn parts(tokens: &[Token]) -> Vec<&[Token]> {
    let (mut depth, mut from) = (0, 0);
    let mut found = Vec::new();
    for (at, token) in tokens.iter().enumerate() {
        depth += crate::source::depth_of(token);
        if token.is(",") && depth == 0 {
            found.push(&tokens[from..at]);
            from = at + 1;
        }
    }
    found.push(&tokens[from..]);
    // a comma after the last part ends it
    found.retain(|part| !part.is_empty());
    found
}

#[test]
fn every_way_to_write_a_path_is_found() {
    let check = |text: &str, expected: &[&str]| {
        let sources = crate::source::made_up(&[("run/fold/apply.rs", text)]);
        let found: Vec<_> = written(&sources[0])
            .iter()
            .map(|path| {
                let module = path.module.join("/");
                let of = if module == "run/fold/apply" {
                    String::new()
                } else {
                    format!(" in {module}")
                };
                match &path.known_as {
                    Some(name) if path.names.last() != Some(name) => format!("{} as {name}{of}", path.words()),
                    _ => format!("{}{of}", path.words()),
                }
            })
            .collect();
        assert_eq!(found, expected, "{text}");
    };
    check("use crate::a::B;", &["crate::a::B"]);
    check(
        "pub use super::{a::{self, B as C}, d::*, e};",
        &["super::a", "super::a::B as C", "super::d::*", "super::e"],
    );
    check(
        "use std::{fs, io::{Read as _, Write},};",
        &["std::fs", "std::io::Read as _", "std::io::Write"],
    );
    check("fn f() { super::super::x::y(); }", &["super::super::x::y"]);
    check("fn f(a: crate::a::B<c::D>) {}", &["crate::a::B", "c::D"]);
    check("a::b::<c::D>(); e.f();", &["a::b", "c::D"]);
    check(
        "mod inner { use super::B; } c::d",
        &["super::B in run/fold/apply/inner", "c::d"],
    );
    check("pub(in crate::a) fn f() {}", &[]);
    check("mod b;", &[]);
    check("say!(\"x\"); a != b; crate::x::y!{}", &["say!", "crate::x::y!"]);
    check("// use crate::a::B;\n\"use crate::a::B;\"", &[]);
}
