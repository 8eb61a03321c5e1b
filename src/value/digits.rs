//! Digits as a display shows them, and the exact decimal that they stand for.
//!
//! The rule inside: what cannot be held exactly is no number, and no digit is lost (`0.30` stays `0.30`).

use std::fmt;

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::packed::{self, decimal, pack, places};

/// Digits exactly as displayed, with the exact decimal they stand for.
///
/// The grammar is the NRf form of IEEE 488.2 without its oddities: an optional sign, digits with an optional point
/// between digits, and an optional exponent. At most 18 digits, no more than 18 decimals and below 1E15, so that every later
/// product with a prefix is exact; nothing a meter shows comes near.
///
/// ```
/// use coreproof::value::quantity::Digits;
/// let shown = Digits::parse("0.30").unwrap();
/// assert_eq!(shown.text(), "0.30");
/// assert_eq!(shown.value(), Digits::parse("3E-1").unwrap().value());
/// assert!(Digits::parse(".5").is_none() && Digits::parse("1_000").is_none());
/// ```
#[derive(Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Digits {
    /// The text, then zeros: in place, so that a reading is made without asking for memory.
    bytes: [u8; TEXT_MAX],
    length: u8,
    value: Decimal,
}

/// The longest text: a sign, a point and the 29 digits of a decimal that was computed.
const TEXT_MAX: usize = 31;

impl Digits {
    /// Reads digits; `None` where the text is not exactly one number of this grammar.
    #[inline(always)]
    pub fn parse(text: &str) -> Option<Digits> {
        if let Some(packed) = pack(text.as_bytes())
            && let Some(value) = short_value(packed, text.len())
        {
            let mut bytes = [0; TEXT_MAX];
            bytes[..packed::BYTES_MAX].copy_from_slice(&packed.to_le_bytes());
            return Some(Digits {
                bytes,
                length: u8::try_from(text.len()).expect("at most 8"),
                value,
            });
        }
        any_value(text).map(|value| Digits::of(text, value))
    }

    fn of(text: &str, value: Decimal) -> Digits {
        let mut bytes = [0; TEXT_MAX];
        bytes[..text.len()].copy_from_slice(text.as_bytes());
        Digits {
            bytes,
            length: u8::try_from(text.len()).expect("at most 31"),
            value,
        }
    }

    /// Digits for an exact decimal that was computed, not displayed.
    pub fn from_decimal(value: Decimal) -> Digits {
        Digits::of(&value.to_string(), value)
    }

    /// The digits as they were written.
    pub fn text(&self) -> &str {
        std::str::from_utf8(&self.bytes[..usize::from(self.length)]).expect("it was text")
    }

    /// The exact value of the digits.
    pub fn value(&self) -> Decimal {
        self.value
    }

    /// The weight of the last displayed digit, for example `0.01` for `2.34`.
    pub fn last_digit(&self) -> Decimal {
        let text = self.text();
        let mantissa = text.split(['E', 'e']).next().unwrap_or("");
        let decimals = mantissa.split_once('.').map_or(0, |(_, fraction)| fraction.len());
        let exponent = text
            .split_once(['E', 'e'])
            .and_then(|(_, e)| exponent_of(e))
            .unwrap_or(0);
        let mut weight = Decimal::new(1, u32::try_from(decimals).expect("at most 24 decimals"));
        for _ in 0..exponent.unsigned_abs() {
            let step = if exponent < 0 { Decimal::new(1, 1) } else { Decimal::TEN };
            weight = weight.checked_mul(step).unwrap_or(weight);
        }
        weight
    }
}

/// The value of what displays mostly show, of at most eight bytes: a sign, digits, and a point between them.
#[inline(always)]
fn short_value(packed: u64, length: usize) -> Option<Decimal> {
    let (negative, sign) = match packed.to_le_bytes()[0] {
        b'-' => (true, 1),
        b'+' => (false, 1),
        _ => (false, 0),
    };
    let count = length - sign;
    if count == 0 {
        return None;
    }
    // the last byte at the top, zeros before the first
    let room = 8 * (8 - count);
    let text = (packed >> (8 * sign)) << room | ZEROS & !(u64::MAX << room);
    let points = places(text, b'.');
    let (digits, decimals) = if points == 0 {
        (text, 0)
    } else {
        let at = points.trailing_zeros() & !7;
        if points & (points - 1) != 0 || at == 56 || at as usize == room {
            return None;
        }
        let before = text & !(u64::MAX << at);
        (before << 8 | text & (u64::MAX << at << 8) | 0x30, 7 - at / 8)
    };
    let number = i64::from(decimal(digits)?);
    Some(Decimal::new(if negative { -number } else { number }, decimals))
}

const ZEROS: u64 = 0x3030_3030_3030_3030;

/// The value of a number of the whole grammar.
fn any_value(text: &str) -> Option<Decimal> {
    let unsigned = text.strip_prefix(['+', '-']).unwrap_or(text);
    let (mantissa, exponent) = match unsigned.split_once(['E', 'e']) {
        Some((mantissa, exponent)) => (mantissa, exponent_of(exponent)?),
        None => (unsigned, 0),
    };
    let (whole, fraction) = mantissa.split_once('.').unwrap_or((mantissa, "0"));
    let all_digits = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
    if !all_digits(whole) || !all_digits(fraction) || whole.len() + fraction.len() > 19 {
        return None;
    }
    let mut value = Decimal::from_str_exact(mantissa).ok()?;
    let step = if exponent < 0 { Decimal::new(1, 1) } else { Decimal::TEN };
    for _ in 0..exponent.unsigned_abs() {
        // checked: an exponent that cannot be held exactly is no reading
        let next = value.checked_mul(step)?;
        if !value.is_zero() && next.checked_mul(if exponent < 0 { Decimal::TEN } else { Decimal::new(1, 1) })? != value
        {
            return None;
        }
        value = next;
    }
    if value.scale() > 18 || value >= Decimal::from(1_000_000_000_000_000_u64) {
        return None;
    }
    Some(if text.starts_with('-') { -value } else { value })
}

fn exponent_of(text: &str) -> Option<i32> {
    let digits = text.strip_prefix(['+', '-']).unwrap_or(text);
    if digits.is_empty() || digits.len() > 3 || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    // beyond these no amount is held exactly, so there is nothing to read
    text.parse().ok().filter(|exponent| (-30..=30).contains(exponent))
}

impl TryFrom<String> for Digits {
    type Error = String;
    fn try_from(text: String) -> Result<Digits, String> {
        Digits::parse(&text).ok_or_else(|| format!("`{text}` is not a number"))
    }
}

impl From<Digits> for String {
    fn from(digits: Digits) -> String {
        digits.text().to_owned()
    }
}

impl fmt::Debug for Digits {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Digits({})", self.text())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn value(text: &str) -> Option<String> {
        Digits::parse(text).map(|d| d.value().normalize().to_string())
    }

    #[test]
    fn number_forms_of_ieee_488_2_are_read_exactly() {
        // IEEE 488.2 NR1, NR2 and NR3 forms as instrument programming guides print them
        let cases = [
            ("42", Some("42")),
            ("+42", Some("42")),
            ("-0.30", Some("-0.3")),
            ("+1.23400E+02", Some("123.4")),
            ("4.2E-01", Some("0.42")),
            ("9.9E37", None),
            ("", None),
            ("+", None),
            (".5", None),
            ("5.", None),
            ("1_000", None),
            ("1,5", None),
            ("0x10", None),
            ("1E", None),
            ("1E123", None),
            ("+4.2E+001", Some("42")),
            ("0E-40", None),
            ("1E15", None),
            ("12345678901234567890.12345", None),
        ];
        for (text, expected) in cases {
            assert_eq!(value(text).as_deref(), expected, "{text}");
        }
    }

    #[test]
    fn the_short_way_reads_what_the_whole_grammar_reads() {
        let mut text = String::new();
        // every text of up to five characters of this alphabet
        let alphabet = ['0', '7', '.', '-', '+', 'E'];
        for n in 0..6_u32.pow(6) {
            text.clear();
            let mut rest = n;
            while 0 < rest {
                text.push(alphabet[(rest % 6) as usize]);
                rest /= 6;
            }
            let short = pack(text.as_bytes()).and_then(|packed| short_value(packed, text.len()));
            if let Some(value) = short {
                assert_eq!(Some(value), any_value(&text), "{text}");
            } else {
                assert!(any_value(&text).is_none() || text.contains('E'), "{text}");
            }
        }
        for text in ["99999999", "-9999999", "1.234567", "+0.00001", "12345.67"] {
            let packed = pack(text.as_bytes()).unwrap();
            assert_eq!(short_value(packed, text.len()), any_value(text), "{text}");
        }
        assert_eq!(
            value("9999999999999999"),
            None,
            "sixteen digits are beyond what is held"
        );
    }

    #[test]
    fn digits_as_displayed_are_kept() {
        for text in ["0.30", "000.42", "+1.0E+00"] {
            assert_eq!(Digits::parse(text).unwrap().text(), text);
        }
    }

    #[test]
    fn the_longest_texts_have_room() {
        for text in ["-0.000000000000000000E+030", "+123456789012345678.0E-003"] {
            assert_eq!(
                Digits::parse(text).map(|digits| digits.text().to_owned()).as_deref(),
                Some(text)
            );
        }
        let longest = -Decimal::from_i128_with_scale(i128::from(u64::MAX) << 32, 28);
        for value in [longest, Decimal::MIN, -Decimal::new(1, 28)] {
            assert_eq!(Digits::from_decimal(value).text(), value.to_string());
        }
    }

    #[test]
    fn last_digit_has_its_weight() {
        for (text, weight) in [
            ("0.42", "0.01"),
            ("231.4", "0.1"),
            ("17", "1"),
            ("4.20E-01", "0.001"),
            ("1.5E+3", "100"),
        ] {
            assert_eq!(
                Digits::parse(text).unwrap().last_digit().normalize().to_string(),
                weight,
                "{text}"
            );
        }
    }
}
