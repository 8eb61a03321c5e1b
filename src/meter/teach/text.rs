//! Text: a value among other words, in a line or between delimiters, with blanks or columns between.
//!
//! The rule inside: only words that were seen are accepted around the value, each exactly as it was seen; a word that
//! stands where nothing varied must stand there again.

use crate::pure::quantity::Shown;

use super::cut::{Cut, Form};
use super::display::Display;
use super::hypothesis::{Hypothesis, Seen};

/// A text in words and what stands between them.
struct Split {
    words: Vec<String>,
    /// What follows each word but the last: a run of blanks, or one sign.
    between: Vec<String>,
}

/// Text split at blanks and at signs that separate; blanks at the end say nothing.
fn split(text: &str) -> Split {
    let (mut words, mut between) = (vec![String::new()], Vec::<String>::new());
    let mut rest = text.trim_end_matches(' ');
    while let Some(c) = rest.chars().next() {
        if c == ' ' {
            let after = rest.trim_start_matches(' ');
            between.push(rest[..rest.len() - after.len()].to_owned());
            words.push(String::new());
            rest = after;
            continue;
        }
        if ";,:\t*=|/".contains(c) {
            between.push(c.to_string());
            words.push(String::new());
        } else {
            words.last_mut().expect("there is one").push(c);
        }
        rest = &rest[c.len_utf8()..];
    }
    Split { words, between }
}

/// Where a word comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Side {
    Before,
    After,
}

/// What stands before and after the value.
struct Around {
    before: String,
    /// Blanks between it and the value.
    gap_before: usize,
    value: String,
    gap_after: usize,
    after: String,
}

pub(super) fn hypotheses(cut: &Cut, seen: &[Seen<'_>]) -> Vec<Hypothesis> {
    let Form::Text { before, after } = cut.form else {
        return Vec::new();
    };
    let texts: Option<Vec<&str>> = seen
        .iter()
        .map(|one| std::str::from_utf8(one.frame.get(before..one.frame.len().checked_sub(after)?)?).ok())
        .collect();
    let Some(texts) = texts else { return Vec::new() };
    let splits: Vec<Split> = texts.iter().map(|text| split(text)).collect();
    let words = splits.first().map_or(0, |split| split.words.len());
    if splits.iter().any(|split| split.words.len() != words) {
        return Vec::new();
    }
    let mut found = Vec::new();
    for at in 0..words {
        let fits = seen
            .iter()
            .zip(&splits)
            .all(|(one, split)| shows(&split.words[at], one.display));
        if fits {
            let around: Vec<Around> = splits.iter().map(|split| around(split, at)).collect();
            for function in [Side::Before, Side::After] {
                for unit in [Side::Before, Side::After] {
                    found.extend(one(cut, seen, &around, at, (function, unit)));
                }
            }
        }
    }
    found
}

/// True where a word can be what the display shows; over-range may be spelt in any way that is no number.
fn shows(word: &str, display: &Display) -> bool {
    let number = word.strip_prefix('+').unwrap_or(word);
    match &display.shown {
        Shown::Digits(digits) => number == digits.text(),
        Shown::Above(digits) => number.strip_prefix('>') == Some(digits.text()),
        Shown::Over => !number.is_empty() && !number.bytes().any(|b| b.is_ascii_digit()) && number.len() <= 30,
    }
}

fn around(split: &Split, at: usize) -> Around {
    let join = |range: std::ops::Range<usize>| -> String {
        let piece = |n: usize| {
            let between = split.between.get(n).map_or("", String::as_str);
            // blanks beside other words are part of the wording; how many there are beside the value may vary
            format!("{}{between}", split.words[n])
        };
        range.map(piece).collect()
    };
    let before = join(0..at);
    let after = match split.between.get(at) {
        Some(between) => format!("{between}{}", join(at + 1..split.words.len())),
        None => String::new(),
    };
    let (trimmed, rest) = (before.trim_end_matches(' '), after.trim_start_matches(' '));
    Around {
        gap_before: before.len() - trimmed.len(),
        before: trimmed.to_owned(),
        value: split.words[at].clone(),
        gap_after: after.len() - rest.len(),
        after: rest.to_owned(),
    }
}

/// Blanks beside the value as an expression: as many as you like where there was always one.
fn blanks(seen: impl Iterator<Item = usize>) -> &'static str {
    let seen: Vec<usize> = seen.collect();
    match (seen.iter().all(|count| *count == 0), seen.contains(&0)) {
        (true, _) => "",
        (false, false) => " +",
        (false, true) => " *",
    }
}

/// A text as the words of an expression.
fn literal(text: &str) -> String {
    regex::escape(text)
}

fn alternatives<'a>(words: impl Iterator<Item = &'a str>) -> String {
    let mut all: Vec<String> = words.map(literal).collect();
    all.sort();
    all.dedup();
    // the longest first, so that a word that begins another does not hide it
    all.sort_by_key(|word| std::cmp::Reverse(word.len()));
    all.join("|")
}

/// Text as a profile writes it.
fn quoted(text: &str) -> String {
    format!("{text:?}")
}

fn map<'a>(entries: impl Iterator<Item = (&'a str, String)>) -> Option<String> {
    let mut known: Vec<(&str, String)> = Vec::new();
    for (word, meaning) in entries {
        match known.iter().find(|(earlier, _)| *earlier == word) {
            // one word for two things explains nothing
            Some((_, other)) if *other != meaning => return None,
            Some(_) => {}
            None if word.is_empty() || 32 < word.len() => return None,
            None => known.push((word, meaning)),
        }
    }
    let entries = known
        .into_iter()
        .map(|(word, meaning)| format!("{}: {meaning}", quoted(word)));
    Some(entries.collect::<Vec<_>>().join(", "))
}

fn one(
    cut: &Cut,
    seen: &[Seen<'_>],
    around: &[Around],
    at: usize,
    (function, unit): (Side, Side),
) -> Option<Hypothesis> {
    let side = |which: Side| {
        around.iter().map(move |one| match which {
            Side::Before => one.before.as_str(),
            Side::After => one.after.as_str(),
        })
    };
    let functions = map(side(function).zip(seen.iter().map(|one| format!("(is: {})", one.display.function_text()))))?;
    let units = map(side(unit).zip(seen.iter().map(|one| quoted(&one.display.unit_text()))))?;
    let group = |which: Side| {
        let text = alternatives(side(which));
        let mut group = format!("(?:{text})");
        for (name, from) in [("unit", unit), ("function", function)] {
            if from == which {
                group = format!("(?P<{name}>{group})");
            }
        }
        group
    };
    let overs: Vec<&str> = around
        .iter()
        .zip(seen)
        .filter(|(_, one)| one.display.is_over())
        .map(|(one, _)| one.value.as_str())
        .collect();
    let above = seen.iter().any(|one| matches!(one.display.shown, Shown::Above(_)));
    let number = format!("{}[+-]?[0-9]+(?:\\.[0-9]+)?", if above { ">?" } else { "" });
    let value = match overs.as_slice() {
        [] => number,
        overs => format!("(?:{number}|{})", alternatives(overs.iter().copied())),
    };
    let padded = seen.iter().any(|one| one.frame.ends_with(b" "));
    let pattern = format!(
        "{}{}(?P<value>{value}){}{}{}",
        group(Side::Before),
        blanks(around.iter().map(|one| one.gap_before)),
        blanks(around.iter().map(|one| one.gap_after)),
        group(Side::After),
        if padded { " *" } else { "" }
    );
    let write = write(&around[0], (function, unit));
    let over = match overs.first() {
        Some(_) => {
            let mut words: Vec<String> = overs.iter().map(|word| quoted(word)).collect();
            words.dedup();
            format!(" over: [{}],", words.join(", "))
        }
        None => String::new(),
    };
    let above = if above { " above: \">\"," } else { "" };
    let decode = format!(
        "Pattern(\n        pattern: {},\n        write: {},\n        EXAMPLES\n        functions: {{{functions}}},\n        \
         units: {{{units}}},\n       {over}{above}\n    )",
        quoted(&pattern),
        quoted(&write)
    );
    let examples: Vec<String> = seen
        .iter()
        .filter_map(|one| Some(quoted(std::str::from_utf8(one.frame).ok()?)))
        .collect();
    let name = |side| match side {
        Side::Before => "before",
        Side::After => "after",
    };
    let what = format!(
        "text, the value in word {}, the function {} it, the unit {} it",
        at + 1,
        name(function),
        name(unit)
    );
    Hypothesis::prove((what, format!("word {}", at + 1)), cut, &decode, seen, &examples)
}

/// The template: what stands around the value, with a blank where it is looked up.
fn write(one: &Around, (function, unit): (Side, Side)) -> String {
    let side = |which: Side, words: &str| match (function == which, unit == which) {
        (true, _) => "{function}".to_owned(),
        (false, true) => "{unit}".to_owned(),
        (false, false) => words.to_owned(),
    };
    format!(
        "{}{}{{value}}{}{}",
        side(Side::Before, &one.before),
        " ".repeat(one.gap_before),
        " ".repeat(one.gap_after),
        side(Side::After, &one.after)
    )
}
