//! Exact amounts: a decimal with the digits as they were written or displayed, a unit and a prefix.
//!
//! The rule inside: no binary float ever stands between a display and a verdict, and digits are never lost
//! (`0.30` stays `0.30`). Over-range is a value of its own ([`Shown::Over`], [`Shown::Above`]), never a number.

use std::fmt;

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

pub use super::digits::Digits;
use super::spelt::plain;

/// The unit of an amount, without its prefix.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Unit {
    /// Of resistance and impedance.
    Ohm,
    /// Of a conductor, by its length.
    OhmPerMetre,
    /// Of voltage, alternating or direct.
    Volt,
    /// Of current.
    Ampere,
    /// Of power.
    Watt,
    /// Of frequency.
    Hertz,
    /// Of time.
    Second,
    /// Of length.
    Metre,
    /// Of a conductor's cross-section.
    SquareMillimetre,
    /// Of temperature.
    Celsius,
    /// Of a temperature coefficient.
    PerCelsius,
    /// Of a share.
    Percent,
    /// A factor or a multiple.
    Times,
    /// Of the time between inspections.
    Year,
    /// Of the capacitance between cores, by their length.
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
    ("mm\u{b2}", Unit::SquareMillimetre),
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
    /// A millionth.
    Micro,
    /// A thousandth.
    Milli,
    /// None: the plain unit.
    #[default]
    One,
    /// A thousand.
    Kilo,
    /// A million.
    Mega,
    /// A thousand million.
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

/// An exact amount with a unit, as written in a file: `"1.0 mm2"`, `"500 V"`, `"0.5 Mohm"`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Amount {
    /// As written, trailing zeros and all.
    pub digits: Digits,
    /// What the digits count.
    pub prefix: Prefix,
    /// The unit without its prefix.
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
        let spelt = plain(text.trim()).map_err(|why| format!("`{text}` {why}"))?;
        let (number, rest) = split_number(&spelt);
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

    #[test]
    fn amounts_have_units_and_prefixes() {
        let cases = [
            ("18.1 mohm/m", "0.0181", Unit::OhmPerMetre),
            ("1.0 mm2", "1.0", Unit::SquareMillimetre),
            ("0.5 Mohm", "500000.0", Unit::Ohm),
            ("0.5M\u{3a9}", "500000.0", Unit::Ohm),
            ("22 m", "22", Unit::Metre),
            ("12,5 m", "12.5", Unit::Metre),
            (".5 m", "0.5", Unit::Metre),
            ("1 mm\u{b2}", "1", Unit::SquareMillimetre),
            ("1,0 mm2", "1.0", Unit::SquareMillimetre),
            ("200R", "200", Unit::Ohm),
            ("2k2", "2200.0", Unit::Ohm),
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
            ("2 M", "`M` is not a unit known here"),
            (
                "1,234 m",
                "`1,234 m` may be thousands or thousandths: type a point, or no sign between the digits",
            ),
            ("5 furlong", "`furlong` is not a unit known here"),
            ("1.2.3 V", "`1.2.3 V` does not begin with a plain number"),
        ];
        for (text, expected) in cases {
            assert_eq!(Amount::parse(text).unwrap_err(), expected);
        }
    }
}
