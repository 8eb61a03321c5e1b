//! Every mistake of a RON text at once: after each error the text is mended in memory, so that the reader comes to the next one.
//!
//! The rule inside: what was mended is never used. A text with a mistake is refused whatever came after it, and what a check says of a
//! mended place is left out, since nobody wrote what stands there.

use std::ops::Range;

use ron::Error;
use serde::de::DeserializeOwned;

use super::edits::Edited;
use super::nearest::nearest;
use super::nesting::skipped;
use super::outline::{entries, value_end};
use super::problem::{Problem, Problems};
use super::read::{Unread, unread};

/// The longest text that is mended, in bytes; that of a job is a few kilobytes.
const MENDED_BYTES_MAX: usize = 64 << 10;
/// Most times that a text is read again.
const READ_AGAIN_MAX: usize = 400;
/// Most bytes that are read again in all: a file of a few kilobytes comes to its end, a large one to its first mistakes.
const READ_BYTES_MAX: usize = 1 << 20;
/// Most lists around a mistake whose entry is taken out: ours stand two or three deep.
const LISTS_MAX: usize = 8;
/// Most mistakes that are mended.
const MENDED_MAX: usize = 50;

/// Reads a RON text and checks what it holds.
///
/// # Errors
/// Every mistake of syntax and shape as far as the text can be mended past it, with what the check finds in the rest.
pub fn read_all<T: DeserializeOwned, R>(
    text: &str,
    check: impl FnOnce(T) -> Result<R, Problems>,
) -> Result<R, Problems> {
    let first = match unread::<T>(text) {
        Ok(value) => return check(value),
        Err(first) => first,
    };
    let mut mending = Mending {
        edited: Edited::new(text),
        problems: Problems::default(),
        reads: READ_AGAIN_MAX.min(READ_BYTES_MAX / text.len().max(1)),
        taken_out: false,
    };
    let value = mending.all::<T>(first).filter(|_| !mending.taken_out);
    let mut problems = mending.problems;
    if let Some(Err(more)) = value.map(check) {
        let written = more
            .iter()
            .filter(|problem| !mending.edited.is_exchanged(&problem.span));
        problems.extend(written.map(|problem| Problem {
            span: mending.edited.before(&problem.span),
            ..problem.clone()
        }));
    }
    problems.sort_by_key(|problem| problem.span.start);
    Err(problems)
}

struct Mending {
    edited: Edited,
    problems: Problems,
    reads: usize,
    /// An entry of a list was taken out, which what is said elsewhere may rest on.
    taken_out: bool,
}

impl Mending {
    /// Mends one mistake after the other; what the mended text holds, where it came to an end.
    fn all<T: DeserializeOwned>(&mut self, first: Box<Unread>) -> Option<T> {
        let mut now = first;
        for _ in 0..MENDED_MAX {
            let problem = Problem {
                span: self.edited.before(&now.problem.span),
                ..now.problem.clone()
            };
            self.problems.push(problem);
            if MENDED_BYTES_MAX < self.edited.text.len() {
                return None;
            }
            match self.past::<T>(&now)? {
                Ok(value) => return Some(value),
                Err(next) => now = next,
            }
        }
        None
    }

    /// Mends this mistake by the first way that lets the reader come further.
    fn past<T: DeserializeOwned>(&mut self, now: &Unread) -> Option<Result<T, Box<Unread>>> {
        let ways = ways(&self.edited.text, now);
        let mended = ways.len();
        let entries = around(&self.edited.text, now.problem.span.start);
        let entries = entries.into_iter().map(|entry| (entry, String::new()));
        for (n, (range, by)) in ways.into_iter().chain(entries).enumerate() {
            self.reads = self.reads.checked_sub(1)?;
            let mut tried = self.edited.clone();
            let end = range.start + by.len();
            tried.exchange(range, &by);
            let read = unread::<T>(&tried.text);
            let further = read.as_ref().err().is_none_or(|next| end <= next.problem.span.start);
            if further {
                self.edited = tried;
                self.taken_out |= mended <= n;
                return Some(read);
            }
        }
        None
    }
}

/// The entries of lists around a place, the innermost first, each with the comma behind it.
fn around(text: &str, at: usize) -> Vec<Range<usize>> {
    let bytes = text.as_bytes();
    let (mut here, mut lists) = (0, Vec::new());
    while here < at.min(bytes.len()) {
        match bytes[here] {
            b'[' => lists.push(here),
            b']' => drop(lists.pop()),
            _ => {}
        }
        here += skipped(&bytes[here..]).unwrap_or(1);
    }
    let entry = |list: usize| {
        let (all, _) = entries(text, list)?;
        let entry = all.into_iter().find(|entry| entry.start <= at && at <= entry.end)?;
        let comma = usize::from(bytes.get(entry.end) == Some(&b','));
        Some(entry.start..entry.end + comma)
    };
    lists.into_iter().rev().take(LISTS_MAX).filter_map(entry).collect()
}

/// Ways to mend a mistake, the likeliest first: what to put in place of which bytes.
fn ways(text: &str, now: &Unread) -> Vec<(Range<usize>, String)> {
    let at = now.problem.span.start.min(text.len());
    let mut ways = Vec::new();
    match &now.code {
        Error::ExpectedComma | Error::ExpectedArrayEnd | Error::ExpectedStructLikeEnd | Error::ExpectedMapEnd => {
            ways.extend([",", ")", "]", "),", "],"].map(|by| (at..at, by.to_owned())));
            ways.extend(closing(text));
        }
        Error::ExpectedMapColon => ways.push((at..at, ":".to_owned())),
        Error::Eof | Error::ExpectedStringEnd | Error::UnclosedBlockComment => ways.extend(closing(text)),
        Error::NoSuchStructField { expected, found, .. } => {
            if let Some(near) = nearest(found, expected.iter().copied()) {
                ways.push((now.problem.span.clone(), near.to_owned()));
            }
            ways.push((field(text, at), String::new()));
        }
        Error::DuplicateStructField { .. } => ways.push((field(text, at), String::new())),
        Error::NoSuchEnumVariant { expected, found, .. } => {
            let near = nearest(found, expected.iter().copied());
            let words = near.into_iter().chain(expected.iter().copied());
            ways.extend(words.map(|word| (now.problem.span.clone(), word.to_owned())));
        }
        Error::MissingStructField { field, .. } => {
            let end = struct_end(text, at);
            let before = text[..end].trim_end();
            let comma = if before.ends_with([',', '(']) { "" } else { "," };
            ways.extend(VALUES.map(|value| (end..end, format!("{comma}{field}:{value}"))));
        }
        _ => {}
    }
    let value = at..value_end(text, at);
    let places = std::iter::once(value).chain(now.within.clone());
    for place in places.filter(|place| !place.is_empty()) {
        let word = text[place.clone()].trim();
        if !word.contains(['"', '\\', '(', '[', '\n']) {
            ways.push((place.clone(), format!("\"{word}\"")));
        }
        ways.extend(VALUES.map(|value| (place.clone(), value.to_owned())));
    }
    ways
}

/// A value of each kind that stands in our files.
const VALUES: [&str; 7] = ["\"1 m\"", "[]", "1", "true", "()", "\"2026-01-01\"", "None"];

/// The brackets that the text leaves open, closed at its end.
fn closing(text: &str) -> Option<(Range<usize>, String)> {
    let bytes = text.as_bytes();
    let (mut at, mut open) = (0, Vec::new());
    while let Some(&byte) = bytes.get(at) {
        match byte {
            b'(' => open.push(')'),
            b'[' => open.push(']'),
            b'{' => open.push('}'),
            b')' | b']' | b'}' => drop(open.pop()),
            _ => {}
        }
        at += skipped(&bytes[at..]).unwrap_or(1);
    }
    let end = text.trim_end().len();
    (!open.is_empty()).then(|| (end..end, open.iter().rev().collect()))
}

/// A whole field from its name to behind its comma.
fn field(text: &str, from: usize) -> Range<usize> {
    let end = value_end(text, from);
    let comma = usize::from(text.as_bytes().get(end) == Some(&b','));
    from..end + comma
}

/// The bracket that closes the structure in which this place is; a place behind it is that of the structure itself.
fn struct_end(text: &str, at: usize) -> usize {
    match text[..at].ends_with(')') {
        true => at - 1,
        false => {
            let mut end = value_end(text, at);
            while text.as_bytes().get(end) == Some(&b',') {
                end = value_end(text, end + 1);
            }
            end
        }
    }
}

#[cfg(test)]
mod tests {
    use serde::Deserialize;

    use super::*;
    use crate::located::Located;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Cable {
        name: Located<String>,
        kind: Kind,
        cores: Vec<Core>,
    }

    #[derive(Debug, PartialEq, Deserialize)]
    enum Kind {
        Solid,
        Stranded,
    }

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Core {
        size: Located<u8>,
        ends: Located<u8>,
    }

    /// What is said of a text, each with the bytes that it points at; the check calls every `ends` of nine and the name `x` wrong.
    fn said(text: &str) -> Vec<(String, String)> {
        let problems = read_all(text, |cable: Cable| {
            let mut found = Problems::default();
            if *cable.name == "x" || cable.kind == Kind::Stranded {
                found.push(Problem::new(&cable.name.span, "wrong name"));
            }
            let nine = cable
                .cores
                .iter()
                .filter(|core| core.ends.value == 9 && core.size.value != 0);
            found.extend(nine.map(|core| Problem::new(&core.ends.span, "nine ends")));
            if found.is_empty() { Ok(()) } else { Err(found) }
        });
        let problems = problems.err().unwrap_or_default();
        let told = problems.iter();
        told.map(|problem| (text[problem.span.clone()].to_owned(), problem.what.clone()))
            .collect()
    }

    #[test]
    fn mistakes_of_every_kind_are_told_at_once_and_in_their_places() {
        let check = |text: &str, expected: &[(&str, &str)]| {
            let said = said(text);
            let said: Vec<_> = said.iter().map(|(at, what)| (at.as_str(), what.as_str())).collect();
            assert_eq!(said, expected, "{text}");
        };
        check(r#"(name: "a", kind: Solid, cores: [(size: 1, ends: 2)])"#, &[]);
        check(
            r#"(name: "x", kind: Solid, cores: [(size: 1, ends: 9)])"#,
            &[("\"x\"", "wrong name"), ("9", "nine ends")],
        );
        check(
            r#"(nam: "x", kind: Sold, cores: [(sise: 1, ends: 9), (size: "b", ends: 9)])"#,
            &[
                (
                    "nam",
                    "unexpected field named `nam` in `Cable`, expected one of `name`, `kind`, or `cores` instead",
                ),
                ("\"x\"", "wrong name"),
                (
                    "Sold",
                    "unexpected variant named `Sold` in enum `Kind`, expected either `Solid` or `Stranded` instead",
                ),
                (
                    "sise",
                    "unexpected field named `sise` in `Core`, expected either `size` or `ends` instead",
                ),
                ("9", "nine ends"),
                ("", "expected integer"),
                ("9", "nine ends"),
            ],
        );
    }

    #[test]
    fn hostile_texts_end() {
        for text in [
            "(".repeat(30),
            "(name: \"a\",".repeat(2000),
            format!("(name: {}", "x ".repeat(20_000)),
            "\"".to_owned(),
            "(name: \"\u{1f980}\u{1f980}, kind: \u{1f980}".to_owned(),
            ")))]]]".to_owned(),
            String::new(),
        ] {
            assert!(!said(&text).is_empty(), "{text:.40}");
        }
    }
}
