//! Four words of a frame, and what they mean: value, function, unit and flags, whatever they were taken out of.
//!
//! The rule inside: a word that no map knows never becomes a reading, and digits are kept as they were sent.

use std::borrow::Cow;

use super::lexicon::Lexicon;
use crate::value::quantity::{Digits, Prefix, Shown, Unit};
use crate::value::reading::{Flag, Function};

/// What the words of a frame mean.
#[derive(Debug, Clone, Default)]
pub struct Meaning {
    /// What the meter's word for a function means; the first word of a function is the one that is written.
    pub functions: Lexicon<Dial>,
    /// What the meter's word for a unit means.
    pub units: Lexicon<(Prefix, Unit)>,
    /// Marks and what they mean.
    pub flags: Vec<(String, Mark)>,
    /// Spellings of a bare over-range; the first is the one that is written.
    pub over: Vec<String>,
    /// What stands before a figure that the value lies above.
    pub above: Option<String>,
    /// What the meter sends for the decimal point, where it is another sign.
    pub point: Option<String>,
}

/// A dial position, with its unit where frames do not carry one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Dial {
    /// What the meter measures there.
    pub function: Function,
    /// The unit that its figures then have.
    pub unit: Option<(Prefix, Unit)>,
}

/// What a mark on the display does to the reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// It does not touch the value.
    Nothing,
    /// It refuses the reading and names the key to press.
    Flag(Flag),
    /// The value is above what the range holds, whatever the digits say.
    Over,
    /// Nobody knows yet what it means, so nothing is taken under it.
    Unknown,
}

/// The parts of a frame that carry meaning.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Part {
    Function,
    Unit,
    Flags,
    Value,
}

impl Part {
    pub(crate) const ALL: [Part; 4] = [Part::Function, Part::Unit, Part::Flags, Part::Value];

    /// The name of the group in the expression, of the blank in the template, and of the list of fields.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Part::Value => "value",
            Part::Function => "function",
            Part::Unit => "unit",
            Part::Flags => "flags",
        }
    }
}

/// The words of one frame.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Words<'a> {
    /// The digits with sign and point, or an over-range.
    pub value: Cow<'a, str>,
    /// The position of the dial.
    pub function: Cow<'a, str>,
    /// The unit with its prefix.
    pub unit: Cow<'a, str>,
    /// Every mark, one word after the other.
    pub flags: Cow<'a, str>,
}

impl Words<'_> {
    pub(crate) fn of(&self, part: Part) -> &str {
        match part {
            Part::Value => &self.value,
            Part::Function => &self.function,
            Part::Unit => &self.unit,
            Part::Flags => &self.flags,
        }
    }
}

/// What a frame says, before it is accepted as a reading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Parts {
    /// Digits as displayed, or over-range.
    pub shown: Shown,
    /// What the digits count.
    pub prefix: Prefix,
    /// The unit without its prefix.
    pub unit: Unit,
    /// What the meter is set to, where it says so.
    pub function: Option<Function>,
    /// Marks that change what the digits mean.
    pub flags: Vec<Flag>,
}

/// Why a frame is no reading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Unread {
    /// The meter was understood and says something that cannot be taken.
    Refused(String),
    /// The frame means nothing in this profile.
    NotUnderstood(String),
}

/// Positive infinity of IEEE 488.2 as instruments send it; at or above it a number means over-range.
const INFINITY_488: f64 = 9.9e37;
/// What IEEE 488.2 instruments send for "not a number".
const NOT_A_NUMBER_488: f64 = 9.91e37;

impl Meaning {
    #[inline(always)]
    pub(crate) fn read(&self, words: &Words<'_>) -> Result<Parts, Unread> {
        let (flags, over) = self.read_flags(&words.flags)?;
        let dial = self.read_function(&words.function)?;
        let (prefix, unit) = self.read_unit(&words.unit, dial)?;
        let shown = if over {
            over_of(&words.value)?
        } else {
            self.read_value(&words.value)?
        };
        let never_below_zero = match unit {
            Unit::Ohm if dial.is_some_and(|dial| dial.function == Function::Loop) => {
                Some("loop impedance is: make the test again")
            }
            Unit::Ohm => Some("resistance is: null the leads again"),
            Unit::Second => Some("trip time is: make the test again"),
            _ => None,
        };
        if let Shown::Digits(digits) | Shown::Above(digits) = &shown
            && let Some(what) = never_below_zero
            && digits.value().is_sign_negative()
            && !digits.value().is_zero()
        {
            return Err(refused(format!(
                "the meter shows `{} {}{unit}`, below zero, which no {what}",
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

    #[inline(always)]
    fn read_function(&self, word: &str) -> Result<Option<Dial>, Unread> {
        if self.functions.is_empty() {
            return Ok(None);
        }
        self.functions
            .find(word)
            .map(Some)
            .ok_or_else(|| unknown_function(word))
    }

    #[inline(always)]
    fn read_unit(&self, word: &str, dial: Option<Dial>) -> Result<(Prefix, Unit), Unread> {
        let found = match dial.and_then(|dial| dial.unit) {
            Some(fixed) if word.is_empty() => fixed,
            _ => self
                .units
                .find(word)
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

    #[inline(always)]
    fn read_flags(&self, marks: &str) -> Result<(Vec<Flag>, bool), Unread> {
        let (mut flags, mut over) = (Vec::new(), false);
        let mut rest = marks;
        while !rest.is_empty() {
            // the longest mark wins, so that one mark may begin another
            let (mark, means) = self
                .flags
                .iter()
                .filter(|(mark, _)| rest.starts_with(mark.as_str()))
                .max_by_key(|(mark, _)| mark.len())
                .ok_or_else(|| not_understood(format!("`{}` is not a mark of this profile", printable(rest))))?;
            match means {
                Mark::Nothing => {}
                Mark::Flag(flag) => flags.push(*flag),
                Mark::Over => over = true,
                Mark::Unknown => return Err(unexplained(&format!("`{}`", printable(mark)))),
            }
            rest = &rest[mark.len()..];
        }
        flags.sort_unstable();
        flags.dedup();
        Ok((flags, over))
    }

    #[inline(always)]
    fn read_value(&self, text: &str) -> Result<Shown, Unread> {
        let text = text.trim_ascii();
        if let Some(text) = self.pointed(text) {
            return self.read_plain(&text);
        }
        self.read_plain(text)
    }

    /// The number as it is read everywhere, where the meter writes it otherwise: with another sign for the point, or with
    /// blanks after its sign.
    fn pointed(&self, text: &str) -> Option<String> {
        let other = self.point.as_ref().filter(|point| text.contains(point.as_str()));
        let apart = text.strip_prefix(['+', '-']).filter(|rest| rest.starts_with(' '));
        if other.is_none() && apart.is_none() {
            return None;
        }
        let joined = apart.map_or_else(
            || text.to_owned(),
            |rest| format!("{}{}", &text[..1], rest.trim_start()),
        );
        Some(match other {
            // a point beside a comma groups digits, which nothing here reads
            Some(_) if joined.contains('.') => joined,
            Some(point) => joined.replacen(point.as_str(), ".", 1),
            None => joined,
        })
    }

    #[inline(always)]
    fn read_plain(&self, text: &str) -> Result<Shown, Unread> {
        // most frames carry a plain number, which no spelling of over-range is
        let number = Digits::parse(text);
        let is_over = |text: &str| self.over.iter().any(|over| over == text);
        if is_over(text) {
            return Ok(Shown::Over);
        }
        if let Some(digits) = number {
            return Ok(Shown::Digits(digits));
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
            Some(size) if size.abs() == NOT_A_NUMBER_488 => Err(no_value_yet()),
            Some(size) if INFINITY_488 <= size => Ok(Shown::Over),
            Some(size) if size <= -INFINITY_488 => Err(below_zero()),
            _ => Err(no_number(text)),
        }
    }

    /// The words for a frame; `Err` is the part that the profile has no word for.
    pub(crate) fn write(&self, parts: &Parts) -> Result<Words<'static>, Part> {
        let dial = match parts.function {
            Some(function) => {
                let known = self.functions.iter().find(|(_, dial)| dial.function == function);
                Some(known.ok_or(Part::Function)?)
            }
            None => None,
        };
        let fixed = dial.and_then(|(_, dial)| dial.unit);
        let mut flags = self.words_of_flags(&parts.flags).ok_or(Part::Flags)?;
        let value = match &parts.shown {
            Shown::Digits(digits) => self.written(digits.text()),
            Shown::Above(digits) => format!(
                "{}{}",
                self.above.as_ref().ok_or(Part::Value)?,
                self.written(digits.text())
            ),
            Shown::Over => match (self.over.first(), mark_of(&self.flags, Mark::Over)) {
                (Some(over), _) => over.clone(),
                (None, Some(mark)) => {
                    flags.push_str(mark);
                    "0".into()
                }
                (None, None) => return Err(Part::Value),
            },
        };
        Ok(Words {
            value: value.into(),
            function: dial.map_or(String::new(), |(word, _)| word.to_owned()).into(),
            unit: self
                .word_of_unit((parts.prefix, parts.unit), fixed)
                .ok_or(Part::Unit)?
                .into(),
            flags: flags.into(),
        })
    }

    /// Digits as the meter writes them.
    fn written(&self, digits: &str) -> String {
        self.point
            .as_ref()
            .map_or_else(|| digits.to_owned(), |point| digits.replace('.', point))
    }

    /// True where over-range is said by a mark alone, so that the digits mean nothing.
    pub(crate) fn over_is_a_mark(&self) -> bool {
        self.over.is_empty() && mark_of(&self.flags, Mark::Over).is_some()
    }

    fn word_of_unit(&self, unit: (Prefix, Unit), fixed: Option<(Prefix, Unit)>) -> Option<String> {
        if fixed == Some(unit) {
            return Some(String::new());
        }
        let known = self.units.iter().find(|(_, known)| *known == unit);
        known.map(|(word, _)| word.to_owned())
    }

    fn words_of_flags(&self, flags: &[Flag]) -> Option<String> {
        if flags.is_empty() {
            return Some(mark_of(&self.flags, Mark::Nothing).unwrap_or_default().to_owned());
        }
        flags
            .iter()
            .map(|flag| mark_of(&self.flags, Mark::Flag(*flag)))
            .collect()
    }
}

fn mark_of(flags: &[(String, Mark)], means: Mark) -> Option<&str> {
    let found = flags.iter().find(|(_, known)| *known == means);
    found.map(|(mark, _)| mark.as_str())
}

fn over_of(value: &str) -> Result<Shown, Unread> {
    if value.trim_start().starts_with('-') {
        Err(below_zero())
    } else {
        Ok(Shown::Over)
    }
}

/// A meter's own text, made fit for a message: no control characters, at most 60 characters.
pub(crate) fn printable(text: &str) -> String {
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

/// The size of a number in any NRf spelling, only to recognise the three marks above; never a reading.
fn size_of_number(text: &str) -> Option<f64> {
    let plain = text.bytes().all(|b| b.is_ascii_digit() || b"+-.eE".contains(&b));
    if plain { text.parse().ok() } else { None }
}

pub(crate) fn refused(why: String) -> Unread {
    Unread::Refused(why)
}

pub(crate) fn not_understood(why: String) -> Unread {
    Unread::NotUnderstood(why)
}

pub(crate) fn unknown_function(word: &str) -> Unread {
    refused(format!(
        "the meter is set to `{}`, which is not used here: turn the dial to the function that is asked for",
        printable(word)
    ))
}

pub(crate) fn unexplained(mark: &str) -> Unread {
    refused(format!(
        "the meter shows a mark that its profile does not explain ({mark}): read the display, and type what it shows"
    ))
}

pub(crate) fn no_value_yet() -> Unread {
    refused("the meter has no value yet: hold the probes still and wait".into())
}

fn no_number(text: &str) -> Unread {
    not_understood(format!(
        "`{}` is not a number that can be held exactly",
        printable(text)
    ))
}

pub(crate) fn below_zero() -> Unread {
    refused("the meter is over-range below zero: swap the two probes".into())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::profile::find;

    fn value(text: &str) -> String {
        match find("line-stream").unwrap().decode.meaning.read_value(text) {
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
    fn a_sign_may_stand_apart_and_another_sign_for_the_point() {
        let mut meaning = find("line-stream").unwrap().decode.meaning.clone();
        let read = |meaning: &Meaning, text: &str| match meaning.read_value(text) {
            Ok(Shown::Digits(digits)) => digits.text().to_owned(),
            other => format!("{other:?}"),
        };
        assert_eq!(read(&meaning, "-  12.3"), "-12.3");
        assert!(read(&meaning, "12,3").starts_with("Err"));
        meaning.point = Some(",".into());
        assert_eq!(read(&meaning, "12,3"), "12.3");
        assert_eq!(read(&meaning, "- 12,3"), "-12.3");
        assert_eq!(read(&meaning, "123"), "123");
        assert!(read(&meaning, "1.234,5").starts_with("Err"));
        assert!(read(&meaning, "1,234,5").starts_with("Err"));
        assert_eq!(meaning.written("12.3"), "12,3");
    }

    #[test]
    fn a_meters_own_text_is_made_fit_for_a_message() {
        assert_eq!(printable("a\u{1b}[31m"), "a\\u{1b}[31m");
        assert_eq!(printable(&"x".repeat(61)), format!("{}...", "x".repeat(60)));
    }
}
