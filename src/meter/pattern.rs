//! Frames of text: a regular expression takes a frame apart, maps give its parts a meaning, a template writes one.
//!
//! The rule inside: a part that no map knows never becomes a reading, and digits are kept as they were sent.

use regex::Regex;

use crate::pure::quantity::{Digits, Prefix, Shown, Unit};
use crate::pure::reading::{Flag, Function};

/// How frames of text are read and written.
#[derive(Debug, Clone)]
pub struct Pattern {
    /// Anchored at both ends, with the groups `value`, `function`, `unit` and `flags`.
    pub(super) regex: Regex,
    /// What the meter's word for a function means; the first word of a function is the one that is written.
    pub functions: Vec<(String, Dial)>,
    /// What the meter's word for a unit means.
    pub units: Vec<(String, (Prefix, Unit))>,
    /// Marks and what they mean; `None` is a mark that does not touch the value.
    pub flags: Vec<(String, Option<Flag>)>,
    /// Spellings of a bare over-range; the first is the one that is written.
    pub over: Vec<String>,
    /// What stands before a figure that the value lies above.
    pub above: Option<String>,
    pub(super) write: Vec<Piece>,
}

/// A dial position, with its unit where frames do not carry one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Dial {
    pub function: Function,
    pub unit: Option<(Prefix, Unit)>,
}

/// The parts of a frame that carry meaning.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Part {
    Value,
    Function,
    Unit,
    Flags,
}

impl Part {
    pub(super) const ALL: [Part; 4] = [Part::Value, Part::Function, Part::Unit, Part::Flags];

    /// The name of the group in the expression and of the blank in the template.
    pub(super) fn name(self) -> &'static str {
        match self {
            Part::Value => "value",
            Part::Function => "function",
            Part::Unit => "unit",
            Part::Flags => "flags",
        }
    }
}

/// A piece of the template that frames are written from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Piece {
    Text(String),
    Blank(Part),
}

/// What a frame of text says, before it is accepted as a reading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Parts {
    pub shown: Shown,
    pub prefix: Prefix,
    pub unit: Unit,
    pub function: Option<Function>,
    pub flags: Vec<Flag>,
}

/// Why a frame of text is no reading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Unread {
    /// The meter was understood and says something that cannot be taken.
    Refused(String),
    /// The text means nothing in this profile.
    NotUnderstood(String),
}

/// Positive infinity of IEEE 488.2 as instruments send it; at or above it a number means over-range.
const INFINITY_488: f64 = 9.9e37;
/// What IEEE 488.2 instruments send for "not a number".
const NOT_A_NUMBER_488: f64 = 9.91e37;

impl Pattern {
    pub(super) fn read(&self, text: &str) -> Result<Parts, Unread> {
        let groups = self
            .regex
            .captures(text)
            .ok_or_else(|| not_understood(format!("`{}` does not fit the profile's pattern", printable(text))))?;
        let part = |part: Part| groups.name(part.name()).map_or("", |found| found.as_str());
        let flags = self.read_flags(part(Part::Flags))?;
        let dial = self.read_function(part(Part::Function))?;
        let (prefix, unit) = self.read_unit(part(Part::Unit), dial)?;
        let shown = self.read_value(part(Part::Value))?;
        if let Shown::Digits(digits) | Shown::Above(digits) = &shown
            && unit == Unit::Ohm
            && digits.value() < rust_decimal::Decimal::ZERO
        {
            return Err(refused(format!(
                "the meter shows `{} {}{unit}`, below zero, which no resistance is: null the leads again",
                digits.text(),
                prefix.letter()
            )));
        }
        Ok(Parts {
            shown,
            prefix,
            unit,
            function: dial.map(|dial| dial.function),
            flags,
        })
    }

    fn read_function(&self, word: &str) -> Result<Option<Dial>, Unread> {
        if self.functions.is_empty() {
            return Ok(None);
        }
        lookup(&self.functions, word).map(Some).ok_or_else(|| {
            refused(format!(
                "the meter is set to `{}`, which is not used here: turn the dial to the function that is asked for",
                printable(word)
            ))
        })
    }

    fn read_unit(&self, word: &str, dial: Option<Dial>) -> Result<(Prefix, Unit), Unread> {
        let found = match dial.and_then(|dial| dial.unit) {
            Some(fixed) if word.is_empty() => fixed,
            _ => lookup(&self.units, word)
                .ok_or_else(|| not_understood(format!("`{}` is not a unit of this profile", printable(word))))?,
        };
        match dial {
            Some(dial) if dial.function.unit() != found.1 => Err(not_understood(format!(
                "{} in {}{}, which does not fit",
                dial.function.dial(),
                found.0.letter(),
                found.1
            ))),
            _ => Ok(found),
        }
    }

    fn read_flags(&self, marks: &str) -> Result<Vec<Flag>, Unread> {
        let mut flags = Vec::new();
        let mut rest = marks;
        while !rest.is_empty() {
            // the longest mark wins, so that one mark may begin another
            let (mark, flag) = self
                .flags
                .iter()
                .filter(|(mark, _)| rest.starts_with(mark.as_str()))
                .max_by_key(|(mark, _)| mark.len())
                .ok_or_else(|| not_understood(format!("`{}` is not a mark of this profile", printable(rest))))?;
            flags.extend(*flag);
            rest = &rest[mark.len()..];
        }
        flags.sort_unstable();
        flags.dedup();
        Ok(flags)
    }

    fn read_value(&self, text: &str) -> Result<Shown, Unread> {
        let text = text.trim();
        let is_over = |text: &str| self.over.iter().any(|over| over == text);
        if is_over(text) {
            return Ok(Shown::Over);
        }
        if text.strip_prefix('-').is_some_and(is_over) {
            return Err(below_zero());
        }
        if let Some(above) = &self.above
            && let Some(figure) = text.strip_prefix(above.as_str())
        {
            return Digits::parse(figure.trim())
                .map(Shown::Above)
                .ok_or_else(|| no_number(text));
        }
        match size_of_number(text) {
            Some(size) if size.abs() == NOT_A_NUMBER_488 => Err(refused(
                "the meter has no value yet: hold the probes still and wait".into(),
            )),
            Some(size) if INFINITY_488 <= size => Ok(Shown::Over),
            Some(size) if size <= -INFINITY_488 => Err(below_zero()),
            _ => Digits::parse(text).map(Shown::Digits).ok_or_else(|| no_number(text)),
        }
    }

    /// Writes a frame's text; `Err` is the part that the profile has no word for.
    pub(super) fn write(&self, parts: &Parts) -> Result<String, Part> {
        let dial = match parts.function {
            Some(function) => {
                let known = self.functions.iter().find(|(_, dial)| dial.function == function);
                Some(known.ok_or(Part::Function)?)
            }
            None => None,
        };
        let word = |part| match part {
            Part::Value => self.word_of_value(&parts.shown),
            Part::Function => Some(dial.map_or(String::new(), |(word, _)| word.clone())),
            Part::Unit => self.word_of_unit((parts.prefix, parts.unit), dial.and_then(|(_, dial)| dial.unit)),
            Part::Flags => self.words_of_flags(&parts.flags),
        };
        for part in Part::ALL {
            word(part).ok_or(part)?;
        }
        let pieces = self.write.iter().map(|piece| match piece {
            Piece::Text(text) => text.clone(),
            Piece::Blank(part) => word(*part).expect("asked for above"),
        });
        Ok(pieces.collect())
    }

    fn word_of_value(&self, shown: &Shown) -> Option<String> {
        match shown {
            Shown::Digits(digits) => Some(digits.text().to_owned()),
            Shown::Above(digits) => self.above.as_ref().map(|above| format!("{above}{}", digits.text())),
            Shown::Over => self.over.first().cloned(),
        }
    }

    fn word_of_unit(&self, unit: (Prefix, Unit), fixed: Option<(Prefix, Unit)>) -> Option<String> {
        if fixed == Some(unit) {
            return Some(String::new());
        }
        self.units
            .iter()
            .find(|(_, known)| *known == unit)
            .map(|(word, _)| word.clone())
    }

    fn words_of_flags(&self, flags: &[Flag]) -> Option<String> {
        let mark_of = |flag: Option<Flag>| {
            self.flags
                .iter()
                .find(|(_, known)| *known == flag)
                .map(|(mark, _)| mark)
        };
        if flags.is_empty() {
            return Some(mark_of(None).cloned().unwrap_or_default());
        }
        flags.iter().map(|flag| mark_of(Some(*flag)).cloned()).collect()
    }
}

/// A meter's own text, made fit for a message: no control characters, at most 60 characters.
pub(super) fn printable(text: &str) -> String {
    let mut shown = String::new();
    for c in text.chars().take(60) {
        if matches!(c, '"' | '\'') {
            shown.push(c);
        } else {
            shown.extend(c.escape_debug());
        }
    }
    if text.chars().nth(60).is_some() {
        shown + "..."
    } else {
        shown
    }
}

fn lookup<T: Copy>(map: &[(String, T)], word: &str) -> Option<T> {
    map.iter().find(|(known, _)| known == word).map(|(_, meaning)| *meaning)
}

/// The size of a number in any NRf spelling, only to recognise the three marks above; never a reading.
fn size_of_number(text: &str) -> Option<f64> {
    let plain = text.bytes().all(|b| b.is_ascii_digit() || b"+-.eE".contains(&b));
    if plain { text.parse().ok() } else { None }
}

fn refused(why: String) -> Unread {
    Unread::Refused(why)
}

fn not_understood(why: String) -> Unread {
    Unread::NotUnderstood(why)
}

fn no_number(text: &str) -> Unread {
    not_understood(format!(
        "`{}` is not a number that can be held exactly",
        printable(text)
    ))
}

fn below_zero() -> Unread {
    refused("the meter is over-range below zero: swap the two probes".into())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::profile::{Decode, find};

    fn value(text: &str) -> String {
        let Decode::Pattern(pattern) = &find("line-stream").unwrap().decode;
        match pattern.read_value(text) {
            Ok(Shown::Digits(digits)) => digits.text().to_owned(),
            Ok(Shown::Above(digits)) => format!("above {}", digits.text()),
            Ok(Shown::Over) => "over".into(),
            Err(Unread::Refused(why)) => format!("refused: {why}"),
            Err(Unread::NotUnderstood(what)) => format!("not understood: {what}"),
        }
    }

    #[test]
    fn values_are_read() {
        let below = "refused: the meter is over-range below zero: swap the two probes";
        let none = "refused: the meter has no value yet: hold the probes still and wait";
        let cases = [
            ("0.30", "0.30"),
            ("-0.3", "-0.3"),
            ("+42", "+42"),
            ("+1.23400E+02", "+1.23400E+02"),
            (">299", "above 299"),
            ("> 299", "above 299"),
            ("OL", "over"),
            ("-OL", below),
            // infinities and not-a-number of IEEE 488.2 in spellings that instruments use
            ("9.9E37", "over"),
            ("+9.9E+37", "over"),
            ("+9.90000000E+37", "over"),
            ("9.9e+037", "over"),
            ("99E36", "over"),
            ("1.0E38", "over"),
            ("-9.9E37", below),
            ("9.91E37", none),
            ("9.91000E+37", none),
            ("-9.91000E+37", none),
            ("+9.91E+037", none),
            // just below infinity: a number, and one that cannot be held
            (
                "9.8E37",
                "not understood: `9.8E37` is not a number that can be held exactly",
            ),
            ("inf", "not understood: `inf` is not a number that can be held exactly"),
            ("NaN", "not understood: `NaN` is not a number that can be held exactly"),
            (">", "not understood: `>` is not a number that can be held exactly"),
            ("", "not understood: `` is not a number that can be held exactly"),
            ("1,5", "not understood: `1,5` is not a number that can be held exactly"),
            (".5", "not understood: `.5` is not a number that can be held exactly"),
        ];
        for (text, expected) in cases {
            assert_eq!(value(text), expected, "{text}");
        }
    }

    #[test]
    fn a_meters_own_text_is_made_fit_for_a_message() {
        assert_eq!(printable("a\u{1b}[31m"), "a\\u{1b}[31m");
        assert_eq!(printable(&"x".repeat(61)), format!("{}...", "x".repeat(60)));
    }
}
