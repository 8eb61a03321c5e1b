//! The journey of one typed reading, from the line that is read to the words that are shown.
//!
//! The rule inside: each function on the way hands the reading on to the next by name; what it calls only to look at the reading, and
//! gets back, is not on the way. Whoever follows a reading through the code reads these and no others.

use crate::source::Source;
use crate::tree::Tree;

/// The most functions that a reading may pass.
const FUNCTIONS_MAX: usize = 15;

/// A function on the way: its file, its name, and the names on the list that its body must call.
type Stop = (&'static str, &'static str, &'static [&'static str]);

/// The way, in the order in which it is first passed.
const JOURNEY: &[Stop] = &[
    ("terminal/input.rs", "read", &["send"]),
    (
        "walk.rs",
        "walk",
        &["recv", "handle_answer", "append", "handle_recorded", "show"],
    ),
    ("run/dialogue/machine.rs", "handle_answer", &["answered"]),
    ("run/engine/machine.rs", "answered", &["measure_line"]),
    ("run/engine/typed.rs", "measure_line", &["typed", "give"]),
    ("value/reading.rs", "typed", &[]),
    ("run/dialogue/talk.rs", "give", &[]),
    ("evidence/journal/file.rs", "append", &[]),
    ("run/engine/machine.rs", "handle_recorded", &["apply", "give"]),
    ("run/fold/apply.rs", "apply", &["judged_now"]),
    ("run/fold/judge.rs", "judged_given", &["judged_reading"]),
    ("run/fold/judge.rs", "judged_reading", &["judge"]),
    ("judge/window.rs", "judge", &[]),
    ("terminal/plain.rs", "show", &["field"]),
    ("terminal/plain.rs", "field", &["writeln"]),
];

/// The names in the bodies of the functions of a name in a file; a trait's declaration without a body has none.
fn bodies<'s>(sources: &'s [Source], file: &str, name: &str) -> Vec<Vec<&'s str>> {
    let Some(source) = sources.iter().find(|source| source.file == file) else {
        return Vec::new();
    };
    let mut found = Vec::new();
    for (i, pair) in source.code.windows(2).enumerate() {
        if pair[0].text == "fn" && pair[1].text == name {
            let (mut depth, mut body) = (0_i32, Vec::new());
            for token in &source.code[i + 2..] {
                match token.text.as_str() {
                    ";" if depth == 0 => break,
                    "{" => depth += 1,
                    "}" => depth -= 1,
                    _ if 0 < depth => body.push(token.text.as_str()),
                    _ => {}
                }
                if depth == 0 && token.text == "}" {
                    found.push(body);
                    break;
                }
            }
        }
    }
    found
}

/// What does not stand as the list says.
fn astray(sources: &[Source], journey: &[Stop]) -> Vec<String> {
    let mut found = Vec::new();
    if FUNCTIONS_MAX < journey.len() {
        let passed = journey.len();
        found.push(format!(
            "a typed reading passes {passed} functions, more than {FUNCTIONS_MAX}: make the way shorter"
        ));
    }
    for (file, name, calls) in journey {
        let bodies = bodies(sources, file, name);
        if bodies.is_empty() {
            found.push(format!(
                "src/{file}: `fn {name}` is not on the way any more: write the list as the way is"
            ));
        }
        for next in *calls {
            if !bodies.is_empty() && !bodies.iter().any(|body| body.contains(next)) {
                found.push(format!(
                    "src/{file}: `fn {name}` does not hand on to `{next}`: write the list as the way is"
                ));
            }
        }
    }
    found
}

#[test]
fn a_typed_reading_passes_few_functions() {
    crate::holds(astray(&Tree::real().sources, JOURNEY));
}

#[test]
fn a_longer_way_or_another_one_would_be_found() {
    let sources = crate::source::made_up(&[("walk.rs", "fn walk() { hand(1) }\nfn hand(_: i32) {}")]);
    let check = |journey: &[Stop], expected: &[&str]| assert_eq!(astray(&sources, journey), expected);
    check(&[("walk.rs", "walk", &["hand"]), ("walk.rs", "hand", &[])], &[]);
    check(
        &[("walk.rs", "walk", &["keep"])],
        &["src/walk.rs: `fn walk` does not hand on to `keep`: write the list as the way is"],
    );
    check(
        &[("walk.rs", "run", &[])],
        &["src/walk.rs: `fn run` is not on the way any more: write the list as the way is"],
    );
    check(
        &[("walk.rs", "walk", &[][..]); 16],
        &["a typed reading passes 16 functions, more than 15: make the way shorter"],
    );
}
