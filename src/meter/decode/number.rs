//! Numbers in bits: packed decimal digits, integers and floats, and the display that they stand for.
//!
//! The rule inside: a count times its step is worked out in whole numbers, so that the digits are exact; what is
//! written must be what would be read.

use super::bits::Bits;
use super::meaning::{Unread, below_zero, no_value_yet, not_understood};

/// How a number stands in its bits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// Four bits a decimal digit; leading zeros are kept, because the display shows them.
    Bcd,
    /// A whole number without a sign.
    Unsigned,
    /// A whole number whose highest bit counts below zero.
    TwosComplement,
    /// The highest bit is the sign, the others are the size.
    SignBit,
    /// IEEE 754, of 32 or 64 bits.
    Float,
}

/// The weight of one count, or of the last digit shown: `factor` times ten to the power of minus `decimals`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Step {
    /// 1 to 999 999.
    pub factor: u32,
    /// 0 to 9.
    pub decimals: u32,
}

impl Step {
    pub(crate) const ONE: Step = Step { factor: 1, decimals: 0 };

    /// Reads `0.01`, `1`, `100` or `0.05`.
    pub(crate) fn parse(text: &str) -> Option<Step> {
        let (whole, fraction) = text.split_once('.').unwrap_or((text, ""));
        let digits = format!("{whole}{fraction}");
        let plain = digits.bytes().all(|b| b.is_ascii_digit()) && !whole.is_empty() && !text.ends_with('.');
        if !plain || 9 < fraction.len() || 12 < digits.len() {
            return None;
        }
        let factor = digits
            .parse::<u64>()
            .ok()
            .and_then(|factor| u32::try_from(factor).ok())?;
        (1..=999_999).contains(&factor).then_some(Step {
            factor,
            decimals: u32::try_from(fraction.len()).expect("at most 9"),
        })
    }
}

/// Where a step comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Steps {
    /// Floats only: the shortest digits that are this float and no other.
    Shortest,
    /// One step whatever the range.
    Always(Step),
    /// By a range code.
    By(Bits, Vec<(u64, Step)>),
}

/// A number in a frame.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Number {
    pub(crate) bits: Bits,
    pub(crate) form: Form,
    pub(crate) steps: Steps,
    /// Codes that are no number, and the word that stands for each.
    pub(crate) special: Vec<(u64, String)>,
}

impl Number {
    /// Adds the number's text.
    pub(crate) fn read(&self, frame: &[u8], out: &mut String) -> Result<(), Unread> {
        let code = self.bits.read(frame);
        if let Some((_, word)) = self.special.iter().find(|(special, _)| *special == code) {
            out.push_str(word);
            return Ok(());
        }
        let step = match &self.steps {
            Steps::Shortest => None,
            Steps::Always(step) => Some(*step),
            Steps::By(bits, steps) => {
                let range = bits.read(frame);
                let known = steps.iter().find(|(code, _)| *code == range);
                let (_, step) =
                    known.ok_or_else(|| not_understood(format!("range code {range:#x} is not of this profile")))?;
                Some(*step)
            }
        };
        self.text(code, step, out)
    }

    fn text(&self, code: u64, step: Option<Step>, out: &mut String) -> Result<(), Unread> {
        let width = self.bits.width();
        let (negative, size, digits_min) = match self.form {
            Form::Float => return float_text(code, width, step, out),
            Form::Bcd => (false, from_bcd(code, width)?, width / 4),
            Form::Unsigned => (false, code, 1),
            Form::TwosComplement => {
                let sign = code >> (width - 1) & 1 == 1;
                let ones = u64::MAX >> (64 - width);
                (sign, if sign { (!code & ones).wrapping_add(1) } else { code }, 1)
            }
            Form::SignBit => (code >> (width - 1) & 1 == 1, code & (u64::MAX >> (65 - width)), 1),
        };
        let step = step.unwrap_or(Step::ONE);
        if negative {
            out.push('-');
        }
        // digits are pushed from the end, with the point where it belongs
        let counts = u128::from(size) * u128::from(step.factor);
        let decimals = step.decimals as usize;
        let digits = format!("{counts:0least$}", least = (digits_min as usize).max(decimals + 1));
        let (whole, fraction) = digits.split_at(digits.len() - decimals);
        out.push_str(whole);
        if !fraction.is_empty() {
            out.push('.');
            out.push_str(fraction);
        }
        Ok(())
    }

    /// Every way to write a text: the code, and where a range code tells the step, its bits and code.
    pub(crate) fn codes(&self, text: &str) -> Vec<(u64, Option<(&Bits, u64)>)> {
        let special = self.special.iter().filter(|(_, word)| word == text);
        let mut codes: Vec<_> = special.map(|(code, _)| (*code, None)).collect();
        let mut with = |step: Option<Step>, range| {
            if let Some(code) = self.code(text, step) {
                codes.push((code, range));
            }
        };
        match &self.steps {
            Steps::Shortest => with(None, None),
            Steps::Always(step) => with(Some(*step), None),
            Steps::By(bits, steps) => steps
                .iter()
                .for_each(|(range, step)| with(Some(*step), Some((bits, *range)))),
        }
        codes
    }

    fn code(&self, text: &str, step: Option<Step>) -> Option<u64> {
        let width = self.bits.width();
        let code = if self.form == Form::Float {
            match width {
                32 => u64::from(text.parse::<f32>().ok()?.to_bits()),
                _ => text.parse::<f64>().ok()?.to_bits(),
            }
        } else {
            let size: u64 = text.trim_start_matches('-').replace('.', "").parse().ok()?;
            let factor = u64::from(step.unwrap_or(Step::ONE).factor);
            let size = size.is_multiple_of(factor).then_some(size / factor)?;
            match (self.form, text.starts_with('-')) {
                (Form::Bcd, _) => to_bcd(size)?,
                (Form::TwosComplement, true) => size.wrapping_neg() & (u64::MAX >> (64 - width)),
                (Form::SignBit, true) => size | 1 << (width - 1),
                _ => size,
            }
        };
        // what would not be read as the same text is not written
        let mut read = String::new();
        let same = self.bits.holds(code) && self.text(code, step, &mut read).is_ok() && read == text;
        let special = self.special.iter().any(|(special, _)| *special == code);
        (same && !special).then_some(code)
    }
}

fn from_bcd(code: u64, width: u32) -> Result<u64, Unread> {
    (0..width / 4)
        .rev()
        .try_fold(0, |number, at| match code >> (4 * at) & 0xf {
            digit @ 0..=9 => Ok(number * 10 + digit),
            other => Err(not_understood(format!("{other:#x} is no decimal digit"))),
        })
}

fn to_bcd(mut number: u64) -> Option<u64> {
    let mut code = 0;
    for at in 0..16 {
        code |= (number % 10) << (4 * at);
        number /= 10;
    }
    (number == 0).then_some(code)
}

fn float_text(code: u64, width: u32, step: Option<Step>, out: &mut String) -> Result<(), Unread> {
    let single = match width {
        32 => Some(f32::from_bits(u32::try_from(code).expect("32 bits"))),
        _ => None,
    };
    let float = single.map_or(f64::from_bits(code), f64::from);
    if float.is_nan() {
        return Err(no_value_yet());
    }
    // infinity, as IEEE 488.2 spells it
    let shortest = match single {
        _ if float.is_infinite() => "9.9E37".to_owned(),
        Some(single) => format!("{single}"),
        None => format!("{float}"),
    };
    if float.is_infinite() && float < 0.0 {
        return Err(below_zero());
    }
    match step {
        // the marks of IEEE 488.2 must not be rounded out of recognition
        Some(step) if float.abs() < 1e15 => {
            let decimals = step.decimals as usize;
            out.push_str(&format!("{float:.decimals$}"));
        }
        _ => out.push_str(&shortest),
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn number(bits: &str, form: Form, step: &str) -> Number {
        Number {
            bits: Bits::parse(bits).unwrap(),
            form,
            steps: Step::parse(step).map_or(Steps::Shortest, Steps::Always),
            special: Vec::new(),
        }
    }

    fn read(number: &Number, frame: &[u8]) -> String {
        let mut text = String::new();
        match number.read(frame, &mut text) {
            Ok(()) => text,
            Err(Unread::Refused(what) | Unread::NotUnderstood(what)) => what,
        }
    }

    #[test]
    fn numbers_are_read_and_written() {
        let check = |bits, form, step, frame: &[u8], expected: &str| {
            let number = number(bits, form, step);
            assert_eq!(read(&number, frame), expected);
            let code = number.bits.read(frame);
            assert_eq!(number.codes(expected), [(code, None)], "{expected}");
        };
        check("0 1", Form::Bcd, "0.01", &[0x00, 0x36], "00.36");
        check("0 1", Form::Bcd, "1", &[0x12, 0x34], "1234");
        check("0 1", Form::Bcd, "0.0001", &[0x12, 0x34], "0.1234");
        check("0 1", Form::Unsigned, "0.01", &[0xff, 0xff], "655.35");
        check("0 1", Form::Unsigned, "10", &[0x00, 0x2a], "420");
        check("0", Form::Unsigned, "0.05", &[3], "0.15");
        check("1 0", Form::TwosComplement, "0.1", &[0xff, 0xff], "-0.1");
        check("1 0", Form::TwosComplement, "1", &[0x00, 0x80], "-32768");
        check("0 1", Form::SignBit, "0.1", &[0x80, 0x7b], "-12.3");
        check("0 1", Form::SignBit, "0.1", &[0x80, 0x00], "-0.0");
        check("0 1 2 3 4 5 6 7", Form::TwosComplement, "1", &[0xff; 8], "-1");
        // IEEE 754 by hand: 0x3f000000 is a half, 0x41c80000 is 25, 0xbf800000 is minus one
        check("3 2 1 0", Form::Float, "0.001", &[0, 0, 0, 0x3f], "0.500");
        check("0 1 2 3", Form::Float, "", &[0x41, 0xc8, 0, 0], "25");
        check("0 1 2 3", Form::Float, "0.1", &[0xbf, 0x80, 0, 0], "-1.0");
        check(
            "0 1 2 3 4 5 6 7",
            Form::Float,
            "0.1",
            &[0x3f, 0xe0, 0, 0, 0, 0, 0, 0],
            "0.5",
        );
    }

    #[test]
    fn what_is_no_number_is_named() {
        let check = |bits, form, frame: &[u8], expected| {
            assert_eq!(read(&number(bits, form, "1"), frame), expected);
        };
        check("0", Form::Bcd, &[0x1a], "0xa is no decimal digit");
        let none = "the meter has no value yet: hold the probes still and wait";
        check("0 1 2 3", Form::Float, &[0x7f, 0xc0, 0, 0], none);
        check("0 1 2 3", Form::Float, &[0x7f, 0x80, 0, 0], "9.9E37");
        let below = "the meter is over-range below zero: swap the two probes";
        check("0 1 2 3", Form::Float, &[0xff, 0x80, 0, 0], below);
        let big = "99000000000000000000000000000000000000";
        let bytes = 9.9e37f32.to_be_bytes();
        check("0 1 2 3", Form::Float, &bytes, big);
        let ranges = Number {
            steps: Steps::By(Bits::parse("1").unwrap(), vec![(1, Step::parse("0.1").unwrap())]),
            special: vec![(0xff, "OL".into())],
            ..number("0", Form::Unsigned, "1")
        };
        assert_eq!(read(&ranges, &[42, 1]), "4.2");
        assert_eq!(read(&ranges, &[42, 2]), "range code 0x2 is not of this profile");
        assert_eq!(read(&ranges, &[0xff, 2]), "OL");
        assert_eq!(ranges.codes("25.5"), []);
        assert_eq!(ranges.codes("42"), []);
    }

    #[test]
    fn steps_are_read() {
        let check = |text, expected: Option<(u32, u32)>| {
            assert_eq!(Step::parse(text).map(|s| (s.factor, s.decimals)), expected, "{text}");
        };
        check("0.01", Some((1, 2)));
        check("1", Some((1, 0)));
        check("100", Some((100, 0)));
        check("0.05", Some((5, 2)));
        for text in ["0", "", ".1", "1.", "-1", "1e3", "0.0000000001", "1000000"] {
            check(text, None);
        }
    }
}
