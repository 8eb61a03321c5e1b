//! Sizes of files and functions, and the sentence that every file begins with.
//!
//! The rule inside: what is too long says more than one thing. The list of what is still too long only shrinks.

use crate::source::{Source, closing};
use crate::tree::Tree;

/// Lines of code in a file, tests, comments and blank lines not counted.
const FILE_LINES_MAX: usize = 500;
/// Lines of a function from `fn` to its closing brace.
const FUNCTION_LINES_MAX: usize = 69;

/// Functions that are still longer, with their lines: they may shrink, and one that is short enough is taken off the list.
const LONG: &[(&str, &str, usize)] = &[
    ("cli/plan.rs", "print_plan", 75),
    ("cli/start.rs", "command", 90),
    ("job/raw_job.rs", "checked", 94),
    ("teach/bits.rs", "decode", 70),
    ("teach/segments.rs", "value", 70),
];

/// Files without a purpose, and files of too many lines.
pub fn files(sources: &[Source]) -> Vec<String> {
    let mut found = Vec::new();
    for source in sources {
        let file = &source.file;
        if !source.text.starts_with("//!") {
            found.push(format!(
                "src/{file} does not begin with `//!`: say what it is for and the rule inside"
            ));
        }
        let mut lines: Vec<usize> = source.code.iter().flat_map(|token| token.line..=token.end).collect();
        lines.dedup();
        if FILE_LINES_MAX < lines.len() {
            let lines = lines.len();
            found.push(format!(
                "src/{file} has {lines} lines of code, more than {FILE_LINES_MAX}: split it by noun"
            ));
        }
    }
    found
}

/// Every function longer than allowed, with its file and lines.
fn long(sources: &[Source]) -> Vec<(&str, &str, usize)> {
    let mut found = Vec::new();
    for source in sources {
        let code = &source.code;
        for (at, token) in code.iter().enumerate().filter(|(_, token)| token.is_word("fn")) {
            let Some(name) = code.get(at + 1).filter(|name| !name.is("(")) else {
                continue;
            };
            let mut open = at;
            while open < code.len() && !code[open].is("{") && !code[open].is(";") {
                let is_group = ["(", "["].iter().any(|sign| code[open].is(sign));
                open = if is_group { closing(code, open) + 1 } else { open + 1 };
            }
            if let Some(end) = code.get(closing(code, open)).filter(|end| end.is("}")) {
                let lines = end.line + 1 - token.line;
                if FUNCTION_LINES_MAX < lines {
                    found.push((source.file.as_str(), name.text.as_str(), lines));
                }
            }
        }
    }
    found
}

/// Functions that are too long and not listed, or longer than listed, and listed ones that are short enough.
pub fn functions(sources: &[Source], listed: &[(&str, &str, usize)]) -> Vec<String> {
    let long = long(sources);
    let mut found = Vec::new();
    for (file, name, lines) in &long {
        let listed = listed.iter().filter(|(f, n, _)| (f, n) == (file, name));
        match listed.map(|(_, _, lines)| *lines).max() {
            None => found.push(format!(
                "src/{file}: `fn {name}` has {lines} lines, more than {FUNCTION_LINES_MAX}: split it by what it does"
            )),
            Some(before) if before < *lines => found.push(format!(
                "src/{file}: `fn {name}` has grown from {before} to {lines} lines: split it by what it does"
            )),
            Some(_) => {}
        }
    }
    for (file, name, _) in listed {
        if !long.iter().any(|(f, n, _)| (f, n) == (file, name)) {
            found.push(format!(
                "src/{file}: `fn {name}` is short enough now: take it off the list of long ones"
            ));
        }
    }
    found
}

#[test]
fn every_file_says_its_purpose_and_keeps_its_size() {
    crate::holds(files(&Tree::real().sources));
}

#[test]
fn functions_keep_their_size() {
    crate::holds(functions(&Tree::real().sources, LONG));
}

#[test]
fn a_file_without_a_purpose_or_of_too_many_lines_would_be_found() {
    let check = |text: &str, expected: &[&str]| {
        let found = files(&crate::source::made_up(&[("job/a.rs", text)]));
        assert_eq!(found, expected);
    };
    let code = |lines: usize| format!("//! A.\n{}", "x;\n// no code\n\n".repeat(lines));
    check(&code(500), &[]);
    check(
        &code(501),
        &["src/job/a.rs has 501 lines of code, more than 500: split it by noun"],
    );
    check(
        &format!("{}#[cfg(test)]\nmod tests {{\n{}}}", code(500), "x;\n".repeat(9)),
        &[],
    );
    let text = format!("//! A.\nconst A: &str = \"{}\";", "\n".repeat(500));
    check(
        &text,
        &["src/job/a.rs has 501 lines of code, more than 500: split it by noun"],
    );
    check(
        "x;",
        &["src/job/a.rs does not begin with `//!`: say what it is for and the rule inside"],
    );
}

#[test]
fn a_long_function_would_be_found_and_a_short_one_is_taken_off_the_list() {
    let check = |lines: usize, listed: &[(&str, &str, usize)], expected: &[&str]| {
        let text = format!(
            "trait T {{ fn none(a: [u8; 3]); }}\nfn f<A>(a: fn(u8) -> u8) -> [u8; 2]\nwhere A: B {{\n{}}}",
            "x;\n".repeat(lines - 3)
        );
        let sources = crate::source::made_up(&[("job/a.rs", &text)]);
        assert_eq!(functions(&sources, listed), expected, "{lines}");
    };
    check(69, &[], &[]);
    check(
        70,
        &[],
        &["src/job/a.rs: `fn f` has 70 lines, more than 69: split it by what it does"],
    );
    check(80, &[("job/a.rs", "f", 80)], &[]);
    check(75, &[("job/a.rs", "f", 80)], &[]);
    check(
        81,
        &[("job/a.rs", "f", 80)],
        &["src/job/a.rs: `fn f` has grown from 80 to 81 lines: split it by what it does"],
    );
    check(
        69,
        &[("job/a.rs", "f", 80)],
        &["src/job/a.rs: `fn f` is short enough now: take it off the list of long ones"],
    );
}
