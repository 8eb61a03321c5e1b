//! Exact amounts: a decimal with the digits as they were written or displayed, a unit and a prefix.
//!
//! The rule inside: no binary float ever stands between a display and a verdict, and digits are never lost
//! (`0.30` stays `0.30`). Over-range is a value of its own ([`Shown::Over`], [`Shown::Above`]), never a number.

use std::fmt;

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// The unit of an amount, without its prefix.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Unit {
    Ohm,
    OhmPerMetre,
    Volt,
    Ampere,
    Watt,
    Hertz,
    Second,
    Metre,
    SquareMillimetre,
    Celsius,
    PerCelsius,
    Percent,
    /// A factor or a multiple.
    Times,
    Year,
    PicofaradPerMetre,
}

/// Longest symbols first, so that `mohm/m` is not read as a length.
const SYMBOLS: &[(&str, Unit)] = &[
    ("ohm/m", Unit::OhmPerMetre),
    ("pF/m", Unit::PicofaradPerMetre),
    ("times", Unit::Times),
    ("year", Unit::Year),
    ("%", Unit::Percent),
    ("/degC", Unit::PerCelsius),
    ("degC", Unit::Celsius),
    ("ohm", Unit::Ohm),
    ("Ohm", Unit::Ohm),
    ("mm2", Unit::SquareMillimetre),
    ("\u{3a9}", Unit::Ohm),
    ("\u{2126}", Unit::Ohm),
    ("Hz", Unit::Hertz),
    ("V", Unit::Volt),
    ("A", Unit::Ampere),
    ("W", Unit::Watt),
    ("s", Unit::Second),
    ("m", Unit::Metre),
];

impl Unit {
    /// The spelling used in files, on typed lines and in the journal.
    pub fn symbol(self) -> &'static str {
        SYMBOLS
            .iter()
            .find(|(_, unit)| *unit == self)
            .map(|(symbol, _)| *symbol)
            .expect("every unit has a symbol")
    }

    /// What the unit measures, in the words of a sentence.
    pub fn quantity(self) -> &'static str {
        match self {
            Unit::Ohm => "a resistance",
            Unit::OhmPerMetre => "a resistance per length",
            Unit::Volt => "a voltage",
            Unit::Ampere => "a current",
            Unit::Watt => "a power",
            Unit::Hertz => "a frequency",
            Unit::Second => "a time",
            Unit::Metre => "a length",
            Unit::SquareMillimetre => "a cross-section",
            Unit::Celsius => "a temperature",
            Unit::PerCelsius => "a temperature coefficient",
            Unit::Percent => "a percentage",
            Unit::Times => "a factor",
            Unit::Year => "a number of years",
            Unit::PicofaradPerMetre => "a capacitance per length",
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}

/// An SI prefix, from micro to giga.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Prefix {
    Micro,
    Milli,
    #[default]
    One,
    Kilo,
    Mega,
    Giga,
}

impl Prefix {
    const ALL: [Prefix; 6] = [
        Prefix::Micro,
        Prefix::Milli,
        Prefix::One,
        Prefix::Kilo,
        Prefix::Mega,
        Prefix::Giga,
    ];

    /// The letter before the unit; empty for no prefix.
    pub fn letter(self) -> &'static str {
        match self {
            Prefix::Micro => "u",
            Prefix::Milli => "m",
            Prefix::One => "",
            Prefix::Kilo => "k",
            Prefix::Mega => "M",
            Prefix::Giga => "G",
        }
    }

    /// The factor to the plain unit, exact.
    pub fn factor(self) -> Decimal {
        match self {
            Prefix::Micro => Decimal::new(1, 6),
            Prefix::Milli => Decimal::new(1, 3),
            Prefix::One => Decimal::ONE,
            Prefix::Kilo => Decimal::from(1_000),
            Prefix::Mega => Decimal::from(1_000_000),
            Prefix::Giga => Decimal::from(1_000_000_000),
        }
    }

    fn from_letters(text: &str) -> Option<Prefix> {
        if text == "\u{b5}" || text == "\u{3bc}" {
            return Some(Prefix::Micro);
        }
        Prefix::ALL.into_iter().find(|p| p.letter() == text)
    }
}

/// Digits exactly as displayed, with the exact decimal they stand for.
///
/// The grammar is the NRf form of IEEE 488.2 without its oddities: an optional sign, digits with an optional point
/// between digits, and an optional exponent. At most 18 digits, no more than 18 decimals and below 1E15, so that every later
/// product with a prefix is exact; nothing a meter shows comes near.
///
/// ```
/// use coreproof::pure::quantity::Digits;
/// let shown = Digits::parse("0.30").unwrap();
/// assert_eq!(shown.text(), "0.30");
/// assert_eq!(shown.value(), Digits::parse("3E-1").unwrap().value());
/// assert!(Digits::parse(".5").is_none() && Digits::parse("1_000").is_none());
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Digits {
    text: String,
    value: Decimal,
}

impl Digits {
    /// Reads digits; `None` where the text is not exactly one number of this grammar.
    pub fn parse(text: &str) -> Option<Digits> {
        let value = plain_value(text).or_else(|| any_value(text))?;
        Some(Digits {
            text: text.to_owned(),
            value,
        })
    }

    /// Digits for an exact decimal that was computed, not displayed.
    pub fn from_decimal(value: Decimal) -> Digits {
        Digits {
            text: value.to_string(),
            value,
        }
    }

    /// The digits as they were written.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The exact value of the digits.
    pub fn value(&self) -> Decimal {
        self.value
    }

    /// The weight of the last displayed digit, for example `0.01` for `2.34`.
    pub fn last_digit(&self) -> Decimal {
        let mantissa = self.text.split(['E', 'e']).next().unwrap_or("");
        let decimals = mantissa.split_once('.').map_or(0, |(_, fraction)| fraction.len());
        let exponent = self
            .text
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

/// The value of what displays mostly show: a sign, at most fifteen digits and a point between them.
fn plain_value(text: &str) -> Option<Decimal> {
    let unsigned = text.strip_prefix(['+', '-']).unwrap_or(text).as_bytes();
    let (mut number, mut decimals, mut pointed) = (0_i64, 0, false);
    if 16 < unsigned.len() || !unsigned.first()?.is_ascii_digit() || !unsigned.last()?.is_ascii_digit() {
        return None;
    }
    for byte in unsigned {
        match byte {
            b'0'..=b'9' => {
                number = number * 10 + i64::from(byte - b'0');
                decimals += u32::from(pointed);
            }
            b'.' if !pointed => pointed = true,
            _ => return None,
        }
    }
    let value = Decimal::new(number, decimals);
    // sixteen digits without a point may be too large, which is for the full grammar to say
    (pointed || unsigned.len() < 16).then(|| if text.starts_with('-') { -value } else { value })
}

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
        digits.text
    }
}

/// An exact amount with a unit, as written in a file: `"1.0 mm2"`, `"500 V"`, `"0.5 Mohm"`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Amount {
    pub digits: Digits,
    pub prefix: Prefix,
    pub unit: Unit,
}

impl Amount {
    /// An amount in the plain unit from an exact decimal.
    pub fn new(value: Decimal, unit: Unit) -> Amount {
        Amount {
            digits: Digits::from_decimal(value),
            prefix: Prefix::One,
            unit,
        }
    }

    /// Reads `"0.42 ohm"`; the error says what is wrong with the text.
    pub fn parse(text: &str) -> Result<Amount, String> {
        let (number, rest) = split_number(text.trim());
        let digits = Digits::parse(number).ok_or_else(|| format!("`{text}` does not begin with a plain number"))?;
        let (prefix, unit) = parse_unit(rest.trim()).ok_or_else(|| {
            if rest.trim().is_empty() {
                format!("`{text}` has no unit")
            } else {
                format!("`{}` is not a unit known here", rest.trim())
            }
        })?;
        Ok(Amount { digits, prefix, unit })
    }

    /// The exact value in the plain unit (ohms, volts, metres).
    pub fn value(&self) -> Decimal {
        self.digits.value() * self.prefix.factor()
    }

    /// The same amount with a value in the plain unit shown with the prefix that reads best.
    pub fn readable(value: Decimal, unit: Unit, decimals: u32) -> Amount {
        let size = value.abs();
        let prefix = match unit {
            Unit::Ohm if size >= Decimal::from(1_000_000) => Prefix::Mega,
            Unit::Ohm if size >= Decimal::from(1_000) => Prefix::Kilo,
            Unit::Second if size < Decimal::ONE => Prefix::Milli,
            _ => Prefix::One,
        };
        let mut rounded = (value / prefix.factor()).round_dp(decimals);
        // a division drops trailing zeros, a display does not
        rounded.rescale(decimals);
        let digits = Digits::from_decimal(rounded);
        Amount { digits, prefix, unit }
    }
}

impl fmt::Display for Amount {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}{}", self.digits.text(), self.prefix.letter(), self.unit)
    }
}

impl TryFrom<String> for Amount {
    type Error = String;
    fn try_from(text: String) -> Result<Amount, String> {
        Amount::parse(&text)
    }
}

impl From<Amount> for String {
    fn from(amount: Amount) -> String {
        amount.to_string()
    }
}

/// Splits off the leading number of a text; an `E` counts only when an exponent follows it.
pub fn split_number(text: &str) -> (&str, &str) {
    let bytes = text.as_bytes();
    let mut end = 0;
    while end < bytes.len() {
        let b = bytes[end];
        let sign_in_place = (b == b'+' || b == b'-') && (end == 0 || matches!(bytes[end - 1], b'E' | b'e'));
        let exponent = matches!(b, b'E' | b'e')
            && bytes.get(end + 1).is_some_and(|n| {
                n.is_ascii_digit() || ((*n == b'+' || *n == b'-') && bytes.get(end + 2).is_some_and(u8::is_ascii_digit))
            });
        if b.is_ascii_digit() || b == b'.' || sign_in_place || exponent {
            end += 1;
        } else {
            break;
        }
    }
    text.split_at(end)
}

/// Reads a prefix and unit such as `Mohm`, `mV`, `kΩ`.
pub fn parse_unit(text: &str) -> Option<(Prefix, Unit)> {
    SYMBOLS.iter().find_map(|(symbol, unit)| {
        let letters = text.strip_suffix(symbol)?;
        Prefix::from_letters(letters).map(|prefix| (prefix, *unit))
    })
}

/// Reads a bare prefix such as the `k` of `1.2k`.
pub fn parse_prefix(text: &str) -> Option<Prefix> {
    Prefix::from_letters(text)
}

/// What a display said: digits, digits behind a `>`, or a bare over-range mark.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Shown {
    /// `0.42`
    Digits(Digits),
    /// `>299`: above a figure the display itself gives.
    Above(Digits),
    /// `OL`: above whatever the range holds.
    Over,
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
            if let Some(value) = plain_value(&text) {
                assert_eq!(Some(value), any_value(&text), "{text}");
            }
        }
        assert_eq!(
            plain_value("999999999999.999").unwrap(),
            any_value("999999999999.999").unwrap()
        );
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

    #[test]
    fn amounts_have_units_and_prefixes() {
        let cases = [
            ("18.1 mohm/m", "0.0181", Unit::OhmPerMetre),
            ("1.0 mm2", "1.0", Unit::SquareMillimetre),
            ("0.5 Mohm", "500000.0", Unit::Ohm),
            ("0.5M\u{3a9}", "500000.0", Unit::Ohm),
            ("22 m", "22", Unit::Metre),
            ("250 ms", "0.250", Unit::Second),
            ("20 degC", "20", Unit::Celsius),
            ("12 mV", "0.012", Unit::Volt),
        ];
        for (text, expected, unit) in cases {
            let amount = Amount::parse(text).unwrap();
            assert_eq!(
                (amount.value().to_string().as_str(), amount.unit),
                (expected, unit),
                "{text}"
            );
        }
    }

    #[test]
    fn bad_amounts_say_what_is_wrong() {
        let cases = [
            ("ohm", "`ohm` does not begin with a plain number"),
            ("5", "`5` has no unit"),
            ("5 furlong", "`furlong` is not a unit known here"),
            ("1.2.3 V", "`1.2.3 V` does not begin with a plain number"),
        ];
        for (text, expected) in cases {
            assert_eq!(Amount::parse(text).unwrap_err(), expected);
        }
    }
}
