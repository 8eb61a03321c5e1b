//! Text: a value among other words, in a line or between delimiters, with blanks or columns between.
//!
//! The rule inside: only words that were seen are accepted around the value, each exactly as it was seen; a word that
//! stands where nothing varied must stand there again. A number with an exponent is in plain units and may carry more digits
//! than the display; it is the display's if it rounds to it.

use super::cut::{Cut, Form};
use super::display::Display;
use super::guard::Sealed;
use super::hypothesis::{Hypothesis, Seen, near};
use crate::value::quantity::{Digits, Shown};

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
    let shortest = splits.iter().map(|split| split.words.len()).min().unwrap_or(0);
    let alike = splits.iter().all(|split| split.words.len() == shortest);
    let mut found = Vec::new();
    // a name with a separator in it, as `VOLT:AC` beside `VOLT`, moves the value, but not from both ends
    let counts: &[bool] = if alike { &[false] } else { &[false, true] };
    for (from_end, at) in counts
        .iter()
        .flat_map(|from_end| (0..shortest).map(|at| (*from_end, at)))
    {
        let place = |split: &Split| if from_end { split.words.len() - 1 - at } else { at };
        let fits = seen
            .iter()
            .zip(&splits)
            .all(|(one, split)| shows(&split.words[place(split)], one.display));
        if fits {
            let around: Vec<Around> = splits.iter().map(|split| around(split, place(split))).collect();
            let word = format!("word {}{}", at + 1, if from_end { " from the end" } else { "" });
            for function in [Side::Before, Side::After] {
                for unit in [Side::Before, Side::After] {
                    found.extend(one(cut, seen, &around, &word, (function, unit)));
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
        Shown::Digits(digits) => {
            number == digits.text() || Digits::parse(word).is_some_and(|sent| near(&sent, display))
        }
        Shown::Above(digits) => number.strip_prefix('>') == Some(digits.text()),
        // infinity as IEEE 488.2 instruments send it
        Shown::Over if number.contains(['e', 'E']) && number.parse::<f64>().is_ok_and(|size| 9.9e37 <= size) => true,
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

/// One way to read the texts, with the value in one word and the words for function and unit on either side.
struct Reading<'a> {
    seen: &'a [Seen<'a>],
    around: &'a [Around],
    function: Side,
    unit: Side,
    /// Numbers are sent with an exponent in plain units, whatever prefix is on the display.
    scaled: bool,
    sealed: Option<&'a Sealed>,
}

fn one(
    cut: &Cut,
    seen: &[Seen<'_>],
    around: &[Around],
    word: &str,
    (function, unit): (Side, Side),
) -> Option<Hypothesis> {
    let reading = Reading {
        sealed: cut.sealed.as_ref(),
        seen,
        around,
        function,
        unit,
        scaled: seen
            .iter()
            .zip(around)
            .any(|(one, around)| !one.display.is_over() && around.value.contains(['e', 'E'])),
    };
    let decode = reading.decode()?;
    let examples: Vec<String> = seen
        .iter()
        .filter_map(|one| Some(quoted(std::str::from_utf8(one.frame).ok()?)))
        .collect();
    let name = |side| match side {
        Side::Before => "before",
        Side::After => "after",
    };
    let what = format!(
        "text, the value {}in {word}, the function {} it, the unit {} it",
        if reading.scaled { "with an exponent " } else { "" },
        name(function),
        name(unit)
    );
    Hypothesis::prove((what, word.to_owned()), cut, &decode, seen, &examples)
}

impl Reading<'_> {
    /// The words on one side of the value, display by display.
    fn side(&self, which: Side) -> impl Iterator<Item = &str> {
        self.around.iter().map(move |one| match which {
            Side::Before => one.before.as_str(),
            Side::After => one.after.as_str(),
        })
    }

    /// How over-range was spelt; a number that stands for it needs no spelling.
    fn overs(&self) -> Vec<&str> {
        let overs = self
            .around
            .iter()
            .zip(self.seen)
            .filter(|(_, one)| one.display.is_over());
        overs
            .map(|(one, _)| one.value.as_str())
            .filter(|word| !word.bytes().any(|b| b.is_ascii_digit()))
            .collect()
    }

    fn unit_text(&self, display: &Display) -> String {
        if self.scaled {
            display.unit.symbol().to_owned()
        } else {
            display.unit_text()
        }
    }

    fn decode(&self) -> Option<String> {
        let functions = self
            .seen
            .iter()
            .map(|one| format!("(is: {})", one.display.function_text()));
        let functions = map(self.side(self.function).zip(functions))?;
        let units = self.seen.iter().map(|one| quoted(&self.unit_text(one.display)));
        let units = map(self.side(self.unit).zip(units))?;
        let mut over: Vec<String> = self.overs().into_iter().map(quoted).collect();
        over.dedup();
        let over = match over.as_slice() {
            [] => String::new(),
            words => format!(" over: [{}],", words.join(", ")),
        };
        let above = if self.has_above() { " above: \">\"," } else { "" };
        Some(format!(
            "Pattern(\n        pattern: {},\n        write: {},\n        EXAMPLES\n        functions: {{{functions}}},\n        \
             units: {{{units}}},\n       {over}{above}\n    )",
            quoted(&self.pattern()),
            quoted(&(write(&self.around[0], (self.function, self.unit)) + &self.seal()))
        ))
    }

    /// What stands for the checksum in the template, before it is put in.
    fn seal(&self) -> String {
        self.sealed.map_or(String::new(), |sealed| {
            let mark = sealed.mark.map_or(String::new(), String::from);
            mark + &"0".repeat(sealed.digits)
        })
    }

    fn has_above(&self) -> bool {
        self.seen.iter().any(|one| matches!(one.display.shown, Shown::Above(_)))
    }

    /// The expression over the whole text.
    fn pattern(&self) -> String {
        let group = |which: Side| {
            let mut group = format!("(?:{})", alternatives(self.side(which)));
            for (name, from) in [("unit", self.unit), ("function", self.function)] {
                if from == which {
                    group = format!("(?P<{name}>{group})");
                }
            }
            group
        };
        let number = format!(
            "{}[+-]?[0-9]+(?:\\.[0-9]+)?{}",
            if self.has_above() { ">?" } else { "" },
            if self.scaled { "(?:[eE][+-]?[0-9]+)?" } else { "" }
        );
        let value = match self.overs().as_slice() {
            [] => number,
            overs => format!("(?:{number}|{})", alternatives(overs.iter().copied())),
        };
        let padded = self.seen.iter().any(|one| one.frame.ends_with(b" "));
        format!(
            "{}{}(?P<value>{value}){}{}{}{}",
            group(Side::Before),
            blanks(self.around.iter().map(|one| one.gap_before)),
            blanks(self.around.iter().map(|one| one.gap_after)),
            group(Side::After),
            if padded { " *" } else { "" },
            self.sealed.map_or(String::new(), |sealed| {
                let mark = sealed.mark.map_or(String::new(), |mark| literal(&mark.to_string()));
                format!("{mark}[0-9A-Fa-f]{{{}}}", sealed.digits)
            })
        )
    }
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

#[cfg(test)]
mod tests {
    use crate::meter::decode::{Decoded, decode};
    use crate::meter::profile::find;
    use crate::teach::display::Display;
    use crate::teach::learner::Learner;

    /// Teaches the displays with their lines, then reads another line.
    fn check(shown: &[(&str, &str)], readings: &[(&str, &str)]) {
        let mut learner = Learner::new();
        for (display, line) in shown {
            let bytes = format!("{line}\r\n").repeat(6).into_bytes();
            learner.show(Display::parse(display).unwrap(), &bytes).unwrap();
        }
        let learnt = learner
            .finish("learnt", &find("line-stream").unwrap().line, true)
            .unwrap();
        for (line, expected) in readings {
            let said = match decode(&learnt.profile, line.as_bytes()) {
                Decoded::Reading(reading) => format!("{}, {}", reading.display(), reading.function.unwrap().dial()),
                _ => "refused".into(),
            };
            assert_eq!(said, *expected, "{line}");
        }
    }

    #[test]
    fn a_separator_in_a_name_moves_the_value_on_one_side_only() {
        let displays = ["12.34 V dc", "-56.78 V dc", "9.012 ohm", "230.1 V ac"];
        let before = ["VOLT;12.34", "VOLT;-56.78", "RES;9.012", "VOLT:AC;230.1"];
        let shown: Vec<_> = displays.into_iter().zip(before).collect();
        check(
            &shown,
            &[
                ("VOLT:AC;99.5", "99.5 V, a.c. volts"),
                ("VOLT;99.5", "99.5 V, d.c. volts"),
                ("VOLT:DC;99.5", "refused"),
                ("AC;99.5", "refused"),
            ],
        );
        let after = ["12.34;VOLT", "-56.78;VOLT", "9.012;RES", "230.1;VOLT:AC"];
        let shown: Vec<_> = displays.into_iter().zip(after).collect();
        check(
            &shown,
            &[
                ("99.5;VOLT:AC", "99.5 V, a.c. volts"),
                ("99.5;RES", "99.5 ohm, ohms"),
                ("99.5;VOLT:DC", "refused"),
            ],
        );
    }
}
