//! How deep the brackets of a RON text stand, before anything reads it.
//!
//! The rule inside: one pass over the bytes, which knows strings, characters and comments and nothing else. Readers go down one call
//! a bracket, so what is deeper than any file needs is refused here, with a text for the person who wrote it.

use std::ops::Range;

use super::problem::Problem;

/// Brackets inside each other; the shipped sequences have 7. The reader's own bound is 128 of its calls, at most three a bracket.
pub(super) const NESTED_MAX: usize = 40;

/// The problem with a text whose brackets stand too deep, at the first that does.
pub(super) fn too_deep(text: &str) -> Option<Problem> {
    let bytes = text.as_bytes();
    let (mut at, mut open) = (0, 0_usize);
    while let Some(&byte) = bytes.get(at) {
        match byte {
            b'(' | b'[' | b'{' => {
                open += 1;
                if NESTED_MAX < open {
                    return Some(problem(at..at + 1));
                }
            }
            b')' | b']' | b'}' => open = open.saturating_sub(1),
            _ => {}
        }
        at += skipped(&bytes[at..]).unwrap_or(1);
    }
    None
}

fn problem(span: Range<usize>) -> Problem {
    let what = format!("more than {NESTED_MAX} brackets are open here");
    Problem::new(&span, what).hint("close those before it; no file needs as many inside each other")
}

/// The length of a string, a character or a comment that begins here; to the end where it does not end.
pub(super) fn skipped(bytes: &[u8]) -> Option<usize> {
    match bytes {
        [b'"', ..] => Some(quoted(bytes, b'"')),
        [b'\'', ..] => Some(quoted(bytes, b'\'')),
        [b'r', rest @ ..] => {
            let marks = rest.iter().take_while(|byte| **byte == b'#').count();
            // `r#name` is a word
            rest.get(marks).filter(|byte| **byte == b'"')?;
            let from = marks + 2;
            let end = [b"\"".as_slice(), &b"#".repeat(marks)].concat();
            Some(from + find(&bytes[from..], &end))
        }
        [b'/', b'/', rest @ ..] => Some(2 + find(rest, b"\n")),
        [b'/', b'*', rest @ ..] => Some(2 + comment(rest)),
        _ => None,
    }
}

fn quoted(bytes: &[u8], mark: u8) -> usize {
    let mut at = 1;
    while let Some(&byte) = bytes.get(at) {
        at += if byte == b'\\' { 2 } else { 1 };
        if byte == mark {
            break;
        }
    }
    at.min(bytes.len())
}

/// Past the first place of `end`, or the whole length.
fn find(bytes: &[u8], end: &[u8]) -> usize {
    let found = bytes.windows(end.len()).position(|there| there == end);
    found.map_or(bytes.len(), |at| at + end.len())
}

/// Past the end of a comment whose mark was read; comments stand inside comments.
fn comment(bytes: &[u8]) -> usize {
    let (mut at, mut open) = (0, 1_usize);
    while 0 < open && at < bytes.len() {
        let step = match bytes[at..] {
            [b'/', b'*', ..] => (2, open + 1),
            [b'*', b'/', ..] => (2, open - 1),
            _ => (1, open),
        };
        (at, open) = (at + step.0, step.1);
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn brackets_count_but_not_those_in_strings_and_comments() {
        let check = |text: &str, expected: Option<usize>| {
            let found = too_deep(text).map(|problem| problem.span.start);
            assert_eq!(found, expected, "{text}");
        };
        let open = "(".repeat(NESTED_MAX);
        check(&open, None);
        for (more, expected) in [
            ("[", Some(NESTED_MAX)),
            (")[", None),
            ("\"([{\"", None),
            ("\"\\\"(\"", None),
            ("\"\\\\\"(", Some(NESTED_MAX + 4)),
            ("'('", None),
            ("'\\''(", Some(NESTED_MAX + 4)),
            ("r#\"\"(\"#", None),
            ("r#\"\"#(", Some(NESTED_MAX + 5)),
            ("r#name(", Some(NESTED_MAX + 6)),
            ("// (\n", None),
            ("// (\n(", Some(NESTED_MAX + 5)),
            ("/* /* */ ( */", None),
            ("/* /* */ */ (", Some(NESTED_MAX + 12)),
            ("\"unclosed (", None),
            ("r#\"unclosed (", None),
            ("/* unclosed (", None),
            ("\"\\", None),
        ] {
            check(&format!("{open}{more}"), expected);
        }
    }
}
