//! Maps: `lib.rs` and every `mod.rs` say what is in a folder, and nothing else.
//!
//! The rule inside: who looks for code never finds it in a map.

use crate::source::{Source, closing};
use crate::tree::Tree;

/// The first thing in each map that is neither a module nor an import.
pub fn with_logic(sources: &[Source]) -> Vec<String> {
    sources
        .iter()
        .filter(|source| source.is_map() && !source.is_test)
        .filter_map(logic)
        .collect()
}

fn logic(source: &Source) -> Option<String> {
    let code = &source.code;
    let mut at = 0;
    while at < code.len() {
        let next = |ahead: usize| code.get(at + ahead);
        if code[at].is("#") {
            let open = (at..code.len()).find(|open| code[*open].is("["))?;
            at = closing(code, open) + 1;
        } else if code[at].is_word("pub") {
            at += 1;
            if code.get(at).is_some_and(|token| token.is("(")) {
                at = closing(code, at) + 1;
            }
        } else if code[at].is_word("use") {
            at = (at..code.len()).find(|end| code[*end].is(";")).unwrap_or(code.len()) + 1;
        } else if code[at].is_word("mod") && next(2).is_some_and(|token| token.is(";")) {
            at += 3;
        } else {
            return Some(format!(
                "src/{}:{} `{}` in a map: move it to a file named by its noun",
                source.file, code[at].line, code[at].text
            ));
        }
    }
    None
}

#[test]
fn maps_hold_no_logic() {
    crate::holds(with_logic(&Tree::real().sources));
}

#[test]
fn logic_in_a_map_would_be_found() {
    let check = |text: &str, expected: &[&str]| {
        let sources = crate::source::made_up(&[("job/mod.rs", text), ("job/model.rs", "fn f() {}")]);
        assert_eq!(with_logic(&sources), expected, "{text}");
    };
    check(
        "//! Map.\n#[cfg(feature = \"x\")]\npub mod a;\npub(in crate::a) mod b;\nuse a::{A, b::B};\n#[cfg(test)]\nmod tests { fn f() {} }",
        &[],
    );
    check(
        "pub mod a;\npub fn f() {}",
        &["src/job/mod.rs:2 `fn` in a map: move it to a file named by its noun"],
    );
    check(
        "mod a { }",
        &["src/job/mod.rs:1 `mod` in a map: move it to a file named by its noun"],
    );
    check(
        "const A: u8 = 1;",
        &["src/job/mod.rs:1 `const` in a map: move it to a file named by its noun"],
    );
}
