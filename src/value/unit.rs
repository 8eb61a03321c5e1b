//! Units and prefixes, and how they are spelt.
//!
//! The rule inside: each has one spelling that this program writes.

use std::fmt;

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

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
