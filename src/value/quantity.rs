//! Exact amounts: a decimal with the digits as they were written or displayed, a unit and a prefix.
//!
//! The rule inside: no binary float ever stands between a display and a verdict, and digits are never lost
//! (`0.30` stays `0.30`). Over-range is a value of its own ([`Shown::Over`], [`Shown::Above`]), never a number.

use std::fmt;

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

pub use super::digits::Digits;
use super::spelt::plain;
pub use super::unit::{Prefix, Unit, parse_prefix, parse_unit};
use super::written;

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

    /// Reads `"0.42 ohm"`; the error says what is wrong with the text and what to write.
    ///
    /// ```
    /// use coreproof::value::quantity::Amount;
    /// assert_eq!(Amount::parse("0,5 M").unwrap().to_string(), "0.5 Mohm");
    /// assert_eq!(Amount::parse("1.5 sqmm").unwrap().to_string(), "1.5 mm2");
    /// ```
    pub fn parse(text: &str) -> Result<Amount, String> {
        let spelt = plain(text.trim()).map_err(|why| format!("`{text}` {why}"))?;
        let (number, rest) = split_number(&spelt);
        let digits = Digits::parse(number)
            .ok_or_else(|| format!("`{text}` does not begin with a plain number: write it as `0.42 ohm`"))?;
        let unit = rest.trim();
        let (prefix, unit) = parse_unit(unit)
            .or_else(|| written::unit(unit))
            .ok_or_else(|| written::unknown(text, unit))?;
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
            ("2 M", "2000000", Unit::Ohm),
            ("12 mV", "0.012", Unit::Volt),
            ("47R", "47", Unit::Ohm),
            ("47 k", "47000", Unit::Ohm),
            ("47 kR", "47000", Unit::Ohm),
            ("0,5 M", "500000.0", Unit::Ohm),
            ("0,500 V", "0.500", Unit::Volt),
            ("15 C", "15", Unit::Celsius),
            ("15\u{b0}C", "15", Unit::Celsius),
            ("-5,5 C", "-5.5", Unit::Celsius),
            ("1.5 mm\u{b2}", "1.5", Unit::SquareMillimetre),
            ("1,5 sqmm", "1.5", Unit::SquareMillimetre),
            ("18 metres", "18", Unit::Metre),
            ("230 volts", "230", Unit::Volt),
            ("3 amp", "3", Unit::Ampere),
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
            (
                "ohm",
                "`ohm` does not begin with a plain number: write it as `0.42 ohm`",
            ),
            (
                "5",
                "`5` has no unit: write it behind the number, as in `5 ohm`, `5 V` or `5 m`",
            ),
            (
                "5 furlong",
                "`furlong` is not a unit known here: write one of `ohm`, `V`, `A`, `W`, `Hz`, `s`, `m`, `mm2`, `degC`, with `k`, `M` or `m` \
                 before it where it is needed",
            ),
            ("5 vlot", "`vlot` is not a unit known here: write `volt` or `V`"),
            (
                "1.2.3 V",
                "`1.2.3 V` does not begin with a plain number: write it as `0.42 ohm`",
            ),
            (
                "1,234 m",
                "`1,234 m` may be thousands or thousandths: type a point, or no sign between the digits",
            ),
        ];
        for (text, expected) in cases {
            assert_eq!(Amount::parse(text).unwrap_err(), expected);
        }
    }
}
