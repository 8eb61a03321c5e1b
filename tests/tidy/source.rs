//! The files of `src`: their text, their tokens, and which of these are tests.
//!
//! The rule inside: what is compiled for tests only may import what it likes; it is left out before anything is looked at.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use crate::token::{Kind, Token, tokens};

/// One file.
#[derive(Debug)]
pub struct Source {
    /// Its path from `src`, with `/` between folders.
    pub file: String,
    pub text: String,
    /// Without what is compiled for tests only.
    pub code: Vec<Token>,
    /// The whole file is compiled for tests only.
    pub is_test: bool,
}

impl Source {
    /// Its module, from the root of the crate.
    pub fn module(&self) -> Vec<String> {
        module(&self.file)
    }

    /// The room it is in: its first folder, or its name.
    pub fn room(&self) -> &str {
        room(&self.file)
    }

    /// Whether it is a map of its folder.
    pub fn is_map(&self) -> bool {
        self.file == "lib.rs" || self.file.ends_with("mod.rs")
    }
}

/// The module of a file.
fn module(file: &str) -> Vec<String> {
    let mut names: Vec<String> = file.trim_end_matches(".rs").split('/').map(str::to_owned).collect();
    if names.last().is_some_and(|last| last == "mod") || file == "lib.rs" {
        names.pop();
    }
    names
}

/// The room of a file.
pub fn room(file: &str) -> &str {
    file.split('/').next().unwrap_or(file).trim_end_matches(".rs")
}

/// The files of this program.
pub fn all() -> Vec<Source> {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut paths = Vec::new();
    find(&src, &mut paths);
    assert!(30 < paths.len(), "the sources are where they were");
    let texts = paths.iter().map(|path| {
        let names: Vec<_> = path.strip_prefix(&src).unwrap().iter().collect();
        let names: Vec<_> = names.iter().map(|name| name.to_str().unwrap()).collect();
        (names.join("/"), std::fs::read_to_string(path).unwrap())
    });
    of(texts)
}

fn find(folder: &Path, found: &mut Vec<PathBuf>) {
    let mut entries: Vec<_> = std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            find(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
}

/// Files by their paths from `src` and their texts.
pub fn of(texts: impl IntoIterator<Item = (String, String)>) -> Vec<Source> {
    let mut sources = Vec::new();
    let mut tests = BTreeSet::new();
    for (file, text) in texts {
        let read = without_tests(tokens(&text));
        tests.extend(
            read.test_modules
                .into_iter()
                .map(|name| [module(&file), vec![name]].concat()),
        );
        sources.push(Source {
            file,
            text,
            is_test: read.is_test,
            code: read.code,
        });
    }
    for source in &mut sources {
        let module = source.module();
        source.is_test |= (1..=module.len()).any(|end| tests.contains(&module[..end]));
        if source.is_test {
            source.code.clear();
        }
    }
    sources
}

/// A made-up tree.
#[cfg(test)]
pub fn made_up(texts: &[(&str, &str)]) -> Vec<Source> {
    of(texts
        .iter()
        .map(|(file, text)| ((*file).to_owned(), (*text).to_owned())))
}

/// A file read through once.
struct ReadThrough {
    code: Vec<Token>,
    /// Files that are declared for tests only.
    test_modules: Vec<String>,
    is_test: bool,
}

fn without_tests(tokens: Vec<Token>) -> ReadThrough {
    let mut read = ReadThrough {
        code: Vec::new(),
        test_modules: Vec::new(),
        is_test: false,
    };
    let mut at = 0;
    while at < tokens.len() {
        let inner = tokens[at].is("#") && tokens.get(at + 1).is_some_and(|next| next.is("!"));
        let open = at + 1 + usize::from(inner);
        if !tokens[at].is("#") || !tokens.get(open).is_some_and(|next| next.is("[")) {
            read.code.push(tokens[at].clone());
            at += 1;
            continue;
        }
        let end = closing(&tokens, open);
        let is_test = is_for_tests(&tokens[open + 1..end]);
        if !is_test {
            read.code.extend_from_slice(&tokens[at..=end.min(tokens.len() - 1)]);
            at = end + 1;
        } else if inner {
            read.is_test = true;
            at = end + 1;
        } else {
            let after = item_end(&tokens, end + 1);
            read.test_modules.extend(declared(&tokens[end + 1..after]));
            at = after;
        }
    }
    read
}

/// The module that an item declares as a file of its own.
fn declared(item: &[Token]) -> Option<String> {
    let at = item.iter().position(|token| token.is_word("mod"))?;
    let is_file = item.get(at + 2).is_some_and(|token| token.is(";"));
    is_file.then(|| item[at + 1].text.clone())
}

/// Whether an attribute leaves its item to tests: `test`, `tokio::test`, `cfg(test)`, `cfg(all(test, ...))`.
fn is_for_tests(attribute: &[Token]) -> bool {
    let words: Vec<&Token> = attribute.iter().collect();
    match words.as_slice() {
        [cfg, open, inner @ .., _] if cfg.is_word("cfg") && open.is("(") => asks_for_test(inner),
        words => {
            let path = words.iter().take_while(|token| !token.is("("));
            path.last().is_some_and(|last| last.is_word("test"))
        }
    }
}

fn asks_for_test(predicate: &[&Token]) -> bool {
    match predicate {
        [word] => word.is_word("test"),
        [all, open, inner @ .., _] if all.is_word("all") && open.is("(") => {
            let mut depth = 0;
            let mut parts = vec![Vec::new()];
            for token in inner {
                depth += i32::from(token.is("(")) - i32::from(token.is(")"));
                if token.is(",") && depth == 0 {
                    parts.push(Vec::new());
                } else {
                    parts.last_mut().expect("one is there").push(*token);
                }
            }
            parts.iter().any(|part| asks_for_test(part))
        }
        _ => false,
    }
}

/// The place of the bracket that closes the one at a place, or the end.
pub fn closing(tokens: &[Token], open: usize) -> usize {
    let mut depth = 0;
    for (at, token) in tokens.iter().enumerate().skip(open) {
        depth += depth_of(token);
        if depth == 0 {
            return at;
        }
    }
    tokens.len()
}

pub fn depth_of(token: &Token) -> i32 {
    if token.kind != Kind::Sign {
        return 0;
    }
    match token.text.as_str() {
        "(" | "[" | "{" => 1,
        ")" | "]" | "}" => -1,
        _ => 0,
    }
}

/// The place after the item that begins at a place, further attributes among it: after its `;`, its `,` or its body.
fn item_end(tokens: &[Token], from: usize) -> usize {
    const ITEMS: [&str; 11] = [
        "mod",
        "fn",
        "struct",
        "enum",
        "impl",
        "trait",
        "const",
        "static",
        "type",
        "use",
        "macro_rules",
    ];
    let (mut depth, mut is_item, mut is_use) = (0, false, false);
    for (at, token) in tokens.iter().enumerate().skip(from) {
        if depth == 0 {
            is_use |= token.is_word("use");
            is_item |= ITEMS.iter().any(|item| token.is_word(item));
        }
        depth += depth_of(token);
        let ends = token.is(";") || token.is(",") && !is_item || token.is("}") && is_item && !is_use;
        if depth < 0 {
            return at;
        }
        if depth == 0 && ends {
            return at + 1;
        }
    }
    tokens.len()
}

#[test]
fn what_is_for_tests_is_left_out() {
    let check = |text: &str, left: &str| {
        let sources = made_up(&[("a.rs", text)]);
        let words: Vec<_> = sources[0].code.iter().map(|token| token.text.as_str()).collect();
        assert_eq!(words.join(" "), left, "{text}");
    };
    check("a #[cfg(test)] mod tests { b { c } } d", "a d");
    check("#[cfg(test)]\n#[allow(x)]\nuse a::{b, c};\nd", "d");
    check("#[cfg(all(test, unix))] fn f<A, B>(x: [u8; 3]) -> u8 { g } h", "h");
    check("#[tokio::test] async fn f() { g } h", "h");
    check("#[tokio::test(start_paused = true)] async fn f() { g } h", "h");
    check("#[cfg(not(test))] fn f() {}", "# [ cfg ( not ( test ) ) ] fn f ( ) { }");
    check(
        "#[cfg(any(test, x))] fn f() {}",
        "# [ cfg ( any ( test , x ) ) ] fn f ( ) { }",
    );
    check("struct S { #[cfg(test)] a: u8, b: u8 }", "struct S { b : u8 }");
    check("enum E { #[cfg(test)] A }", "enum E { }");
    check("#![cfg(test)] use a::b;", "");
    check("#![allow(x)] a", "# ! [ allow ( x ) ] a");
}

#[test]
fn files_declared_for_tests_and_what_is_below_them_are_tests() {
    let sources = made_up(&[
        ("a/mod.rs", "#[cfg(test)]\npub(crate) mod sample;\nmod real;"),
        ("a/sample.rs", "use crate::z::Z;"),
        ("a/sample/deep.rs", "use crate::z::Z;"),
        ("a/real.rs", "use crate::b::B;"),
        ("c.rs", "#[cfg(test)] mod tests;"),
        ("c/tests.rs", "x"),
    ]);
    let tests: Vec<_> = sources.iter().filter(|s| s.is_test).map(|s| s.file.as_str()).collect();
    assert_eq!(tests, ["a/sample.rs", "a/sample/deep.rs", "c/tests.rs"]);
    assert!(sources.iter().filter(|s| s.is_test).all(|s| s.code.is_empty()));
}
