//! What the engineer types: the display of the meter, its unit and its function.
//!
//! The rule inside: digits are kept as they are shown, leading zeros and all, because a decoder is proved on them.

use std::fmt;

use crate::explain::Explain;
use crate::value::quantity::{Digits, Prefix, Shown, Unit, parse_unit, split_number};
use crate::value::reading::{Function, Multiple};

/// One display, as typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Display {
    /// The digits, or an over-range.
    pub shown: Shown,
    /// What the digits count.
    pub prefix: Prefix,
    /// The unit without its prefix.
    pub unit: Unit,
    /// What the meter is set to.
    pub function: Function,
}

/// What cannot be taken for a display.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DisplayError {
    /// It begins with no number and no over-range.
    #[error("`{text}` is no display")]
    NoNumber {
        /// The line as typed.
        text: String,
    },
    /// A number stands alone.
    #[error("`{text}` has no unit")]
    NoUnit {
        /// The line as typed.
        text: String,
    },
    /// A unit of which nothing is measured here.
    #[error("`{unit}` is not a unit that is read here")]
    OtherUnit {
        /// The unit as typed.
        unit: String,
    },
    /// The words after the unit name no position of a dial.
    #[error("`{words}` does not say what the meter is set to")]
    NoFunction {
        /// Those words.
        words: String,
    },
    /// More figures than any display has.
    #[error("`{text}` has {figures} figures, at most {FIGURES_MAX} are learnt")]
    TooLong {
        /// The line as typed.
        text: String,
        /// How many there are.
        figures: usize,
    },
}

/// Most figures of a display.
pub const FIGURES_MAX: usize = 15;

impl Explain for DisplayError {
    fn hint(&self) -> Option<String> {
        Some(match self {
            DisplayError::NoNumber { .. } | DisplayError::TooLong { .. } => {
                "type the digits with every zero that is lit, for example `12.34 ohm` or `OL Mohm`".into()
            }
            DisplayError::NoUnit { .. } | DisplayError::OtherUnit { .. } => {
                "type the unit with its prefix after the digits: `ohm`, `kohm`, `Mohm`, `Gohm`, `mV`, `V`, `kV`, `ms` or `s`"
                    .into()
            }
            DisplayError::NoFunction { .. } => "after a unit of volts type `ac` or `dc`; after one of ohms nothing, \
                 `continuity`, `loop`, or `insulation` and its test voltage; after one of time `trip half`, `trip once` or \
                 `trip five`"
                .into(),
        })
    }
}

impl Display {
    /// Reads `12.34 ohm`, `-0.21 mV dc`, `0.42 ohm continuity`, `>299 Mohm insulation 500`, `24.3 ms trip once` or `OL Mohm`.
    ///
    /// ```
    /// use coreproof::teach::display::Display;
    /// assert_eq!(Display::parse("230.1 V ac").unwrap().to_string(), "230.1 V ac");
    /// ```
    pub fn parse(text: &str) -> Result<Display, DisplayError> {
        let whole = || text.trim().to_owned();
        let (shown, rest) = if let Some(rest) = text.trim().strip_prefix("OL") {
            (Shown::Over, rest)
        } else {
            let (above, number) = match text.trim().strip_prefix('>') {
                Some(rest) => (true, rest.trim_start()),
                None => (false, text.trim()),
            };
            let (number, rest) = split_number(number);
            let figures = number.bytes().filter(u8::is_ascii_digit).count();
            if FIGURES_MAX < figures {
                return Err(DisplayError::TooLong { text: whole(), figures });
            }
            let digits = Digits::parse(number)
                .filter(|_| !number.contains(['e', 'E']))
                .ok_or_else(|| DisplayError::NoNumber { text: whole() })?;
            let shown = if above {
                Shown::Above(digits)
            } else {
                Shown::Digits(digits)
            };
            (shown, rest)
        };
        let mut words = rest.split_ascii_whitespace();
        let unit = words.next().ok_or_else(|| DisplayError::NoUnit { text: whole() })?;
        let (prefix, quantity) = parse_unit(unit)
            .filter(|(_, unit)| matches!(unit, Unit::Ohm | Unit::Volt | Unit::Second))
            .ok_or_else(|| DisplayError::OtherUnit { unit: unit.to_owned() })?;
        let words: Vec<String> = words.map(str::to_ascii_lowercase).collect();
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        let function = match (quantity, words.as_slice()) {
            (Unit::Volt, ["ac"]) => Some(Function::VoltageAc),
            (Unit::Volt, ["dc"]) => Some(Function::VoltageDc),
            (Unit::Ohm, []) => Some(Function::Resistance),
            (Unit::Ohm, ["continuity"]) => Some(Function::Continuity),
            (Unit::Ohm, ["loop"]) => Some(Function::Loop),
            (Unit::Second, ["trip", "half"]) => Some(Function::ResidualTrip(Multiple::Half)),
            (Unit::Second, ["trip", "once"]) => Some(Function::ResidualTrip(Multiple::Once)),
            (Unit::Second, ["trip", "five"]) => Some(Function::ResidualTrip(Multiple::FiveTimes)),
            (Unit::Ohm, ["insulation", volts]) => match volts.parse() {
                Ok(volts @ (250 | 500 | 1000)) => Some(Function::Insulation(volts)),
                _ => None,
            },
            _ => None,
        };
        Ok(Display {
            shown,
            prefix,
            unit: quantity,
            function: function.ok_or_else(|| DisplayError::NoFunction { words: words.join(" ") })?,
        })
    }

    /// The digits with sign and point, of a plain number.
    pub(super) fn number(&self) -> Option<&str> {
        match &self.shown {
            Shown::Digits(digits) => Some(digits.text()),
            Shown::Above(_) | Shown::Over => None,
        }
    }

    pub(super) fn is_over(&self) -> bool {
        self.shown == Shown::Over
    }

    pub(super) fn is_negative(&self) -> bool {
        self.number().is_some_and(|text| text.starts_with('-'))
    }

    /// The digits without sign and point.
    pub(super) fn figures(&self) -> String {
        let digits = self.number().unwrap_or_default().chars();
        digits.filter(char::is_ascii_digit).collect()
    }

    /// Figures after the point.
    pub(super) fn decimals(&self) -> usize {
        let text = self.number().unwrap_or_default();
        text.split_once('.').map_or(0, |(_, fraction)| fraction.len())
    }

    /// The unit with its prefix, as profiles write it.
    pub(super) fn unit_text(&self) -> String {
        format!("{}{}", self.prefix.letter(), self.unit)
    }

    /// The function, as profiles write it.
    pub(super) fn function_text(&self) -> String {
        match self.function {
            Function::Continuity => "continuity".into(),
            Function::Resistance => "resistance".into(),
            Function::Insulation(volts) => format!("insulation({volts})"),
            Function::VoltageAc => "voltage_ac".into(),
            Function::VoltageDc => "voltage_dc".into(),
            Function::Loop => "loop".into(),
            Function::ResidualTrip(Multiple::Half) => "residual_trip(half)".into(),
            Function::ResidualTrip(Multiple::Once) => "residual_trip(once)".into(),
            Function::ResidualTrip(Multiple::FiveTimes) => "residual_trip(five_times)".into(),
        }
    }
}

impl fmt::Display for Display {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.shown {
            Shown::Digits(digits) => write!(f, "{}", digits.text())?,
            Shown::Above(digits) => write!(f, ">{}", digits.text())?,
            Shown::Over => write!(f, "OL")?,
        }
        write!(f, " {}", self.unit_text())?;
        match self.function {
            Function::Continuity => write!(f, " continuity"),
            Function::Resistance => Ok(()),
            Function::Insulation(volts) => write!(f, " insulation {volts}"),
            Function::VoltageAc => write!(f, " ac"),
            Function::VoltageDc => write!(f, " dc"),
            Function::Loop => write!(f, " loop"),
            Function::ResidualTrip(Multiple::Half) => write!(f, " trip half"),
            Function::ResidualTrip(Multiple::Once) => write!(f, " trip once"),
            Function::ResidualTrip(Multiple::FiveTimes) => write!(f, " trip five"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn displays_are_read_and_written_alike() {
        for text in [
            "12.34 ohm",
            "00.36 ohm",
            "-0.21 mV dc",
            "230.1 V ac",
            "OL Mohm",
            "0.42 ohm continuity",
            ">299 Mohm insulation 500",
            "0.84 ohm loop",
            ">1999 ms trip half",
            "24.3 ms trip once",
            "OL ms trip five",
        ] {
            assert_eq!(Display::parse(text).unwrap().to_string(), text);
        }
    }

    #[test]
    fn what_is_no_display_is_named() {
        let units = "type the unit with its prefix after the digits: `ohm`, `kohm`, `Mohm`, `Gohm`, `mV`, `V`, `kV`, `ms` or `s`";
        let digits = "type the digits with every zero that is lit, for example `12.34 ohm` or `OL Mohm`";
        let function = "after a unit of volts type `ac` or `dc`; after one of ohms nothing, `continuity`, `loop`, or \
                        `insulation` and its test voltage; after one of time `trip half`, `trip once` or `trip five`";
        for (text, expected, hint) in [
            ("twelve", "`twelve` is no display", digits),
            ("12.34", "`12.34` has no unit", units),
            ("12.34 Hz", "`Hz` is not a unit that is read here", units),
            ("12.34 V", "`` does not say what the meter is set to", function),
            ("24.3 ms", "`` does not say what the meter is set to", function),
            ("12.34 ohm ac", "`ac` does not say what the meter is set to", function),
            (
                "1 ohm insulation 300",
                "`insulation 300` does not say what the meter is set to",
                function,
            ),
            (
                "1234567890123456 ohm",
                "`1234567890123456 ohm` has 16 figures, at most 15 are learnt",
                digits,
            ),
        ] {
            let error = Display::parse(text).unwrap_err();
            assert_eq!(error.to_string(), expected);
            assert_eq!(error.hint().as_deref(), Some(hint));
        }
    }
}
