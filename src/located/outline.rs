//! Where the top fields of a RON text stand, read without reading the text.
//!
//! The rule inside: it works on a text with mistakes too, so that what depends on it never hides a mistake or adds one.

use std::ops::Range;

use super::nesting::skipped;

/// A field at the top of a text: from its name on, and where its value begins.
pub fn top_field(text: &str, name: &str) -> Option<(usize, usize)> {
    let bytes = text.as_bytes();
    let (mut at, mut open) = (0, 0_usize);
    while let Some(&byte) = bytes.get(at) {
        let begins = |at: usize| at == 0 || !is_of_word(bytes[at - 1]);
        if open == 1 && begins(at) && bytes[at..].starts_with(name.as_bytes()) {
            let behind = next(bytes, at + name.len());
            if bytes.get(behind) == Some(&b':') {
                return Some((at, next(bytes, behind + 1)));
            }
        }
        match byte {
            b'(' | b'[' | b'{' => open += 1,
            b')' | b']' | b'}' => open = open.saturating_sub(1),
            _ => {}
        }
        at += skipped(&bytes[at..]).unwrap_or(1);
    }
    None
}

/// The entries of the list that begins at this byte, each without blanks and comments around it, and where the list is closed; nothing
/// where no list begins or it is never closed.
pub fn entries(text: &str, from: usize) -> Option<(Vec<Range<usize>>, usize)> {
    let bytes = text.as_bytes();
    (bytes.get(from) == Some(&b'[')).then_some(())?;
    let (mut at, mut open) = (next(bytes, from + 1), 0_usize);
    let (mut found, mut begins, mut ends) = (Vec::new(), at, at);
    loop {
        match *bytes.get(at)? {
            b',' | b']' if open == 0 => {
                if begins < ends {
                    found.push(begins..ends);
                }
                if bytes[at] == b']' {
                    return Some((found, at));
                }
                at = next(bytes, at + 1);
                (begins, ends) = (at, at);
                continue;
            }
            b'(' | b'[' | b'{' => open += 1,
            b')' | b']' | b'}' => open = open.checked_sub(1)?,
            _ => {}
        }
        let behind = next(bytes, at);
        if at < behind {
            at = behind;
            continue;
        }
        at += skipped(&bytes[at..]).unwrap_or(1);
        ends = at.min(bytes.len());
    }
}

/// Where one more entry of the list that begins at this byte goes, and what must stand before it; nothing where no list begins.
pub fn end_of_list(text: &str, from: usize) -> Option<(usize, &'static str)> {
    let (all, end) = entries(text, from)?;
    // the comma may be missing behind the last one
    let last = all.last().map_or("", |last| &text[last.end..end]);
    let needs_comma = !all.is_empty() && !last.trim_start().starts_with(',');
    Some((end, if needs_comma { ",\n" } else { "" }))
}

/// The end of the value that begins here: before the comma or the bracket that closes what it stands in.
pub(super) fn value_end(text: &str, from: usize) -> usize {
    let bytes = text.as_bytes();
    let (mut at, mut open) = (from, 0_usize);
    while let Some(&byte) = bytes.get(at) {
        match byte {
            b'(' | b'[' | b'{' => open += 1,
            b')' | b']' | b'}' if open == 0 => break,
            b')' | b']' | b'}' => open -= 1,
            b',' if open == 0 => break,
            _ => {}
        }
        at += skipped(&bytes[at..]).unwrap_or(1);
    }
    at.min(bytes.len())
}

/// A field at the top of a text from its name on, with its value and the comma behind it.
pub fn field(text: &str, name: &str) -> Option<Range<usize>> {
    let (start, value) = top_field(text, name)?;
    let end = value_end(text, value);
    let comma = usize::from(text.as_bytes().get(end) == Some(&b','));
    Some(start..end + comma)
}

/// The last byte of a text that is neither blank nor of a comment; of a string it is its first.
pub fn last_sign(text: &str) -> Option<u8> {
    let bytes = text.as_bytes();
    let (mut at, mut last) = (next(bytes, 0), None);
    while let Some(&byte) = bytes.get(at) {
        last = Some(byte);
        at = next(bytes, at + skipped(&bytes[at..]).unwrap_or(1));
    }
    last
}

/// The value of a field inside fields: `["supply", "from"]`, without blanks and comments behind it.
pub fn value_at(text: &str, path: &[&str]) -> Option<Range<usize>> {
    let (mut from, mut to) = (0, text.len());
    for name in path {
        let (_, value) = top_field(&text[from..to], name)?;
        (from, to) = (from + value, value_end(text, from + value));
    }
    let value = &text[from..to];
    Some(from..from + value.trim_end().len())
}

fn is_of_word(byte: u8) -> bool {
    byte.is_ascii_alphanumeric() || byte == b'_' || !byte.is_ascii()
}

/// The first byte from here on that is neither blank nor of a comment.
fn next(bytes: &[u8], mut at: usize) -> usize {
    while let Some(&byte) = bytes.get(at) {
        at += match byte {
            b' ' | b'\t' | b'\r' | b'\n' => 1,
            b'/' => match skipped(&bytes[at..]) {
                Some(comment) => comment,
                None => break,
            },
            _ => break,
        };
    }
    at.min(bytes.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_field_is_found_at_the_top_alone() {
        let check = |text: &str, expected: Option<(&str, &str)>| {
            let found = top_field(text, "list").map(|(name, value)| (&text[name..], &text[value..]));
            assert_eq!(found, expected, "{text}");
        };
        check("(list: [1])", Some(("list: [1])", "[1])")));
        check(
            "Job(a: (list: 1), list /* x */ :\n // y\n 2)",
            Some(("list /* x */ :\n // y\n 2)", "2)")),
        );
        check("(a: \"list: 1\", listed: 2, my_list: 3)", None);
        check("(a: broken \"\\\" list: 4\" , list: 5", Some(("list: 5", "5")));
        check("", None);
    }

    #[test]
    fn a_value_is_found_inside_others() {
        let text = "(supply: (from: \"a, b)\", device: (kind: [1, 2] ), ), cable: ())";
        let check = |path: &[&str], expected: Option<&str>| {
            assert_eq!(value_at(text, path).map(|at| &text[at]), expected, "{path:?}");
        };
        check(&["supply", "from"], Some("\"a, b)\""));
        check(&["supply", "device", "kind"], Some("[1, 2]"));
        check(&["cable", "from"], None);
        check(&["from"], None);
    }

    #[test]
    fn entries_are_told_apart_whatever_is_in_them() {
        let check = |text: &str, expected: Option<&[&str]>| {
            let found = entries(text, 0).map(|(found, end)| {
                assert_eq!(&text[end..=end], "]");
                found.into_iter().map(|range| &text[range]).collect::<Vec<_>>()
            });
            assert_eq!(found.as_deref(), expected, "{text}");
        };
        check("[]", Some(&[]));
        check("[ // none, yet\n ]", Some(&[]));
        check(
            "[\"a\", (b: [1, 2], c: \"]\"), // d, e\n \"f\" /* g */ ,]",
            Some(&["\"a\"", "(b: [1, 2], c: \"]\")", "\"f\""]),
        );
        check("[\"a\", (", None);
        check("(1)", None);
        check("[1)", None);
        check("[\"a", None);
    }
}
