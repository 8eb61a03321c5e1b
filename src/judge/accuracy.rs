//! What an instrument's accuracy figure makes of a reading: its expanded uncertainty, exact.
//!
//! The rule inside: the figure is taken as an expanded uncertainty of about 95 % (k = 2), percent of what is shown plus last
//! digits, and never less than half the last digit. Where two readings are subtracted their uncertainties add.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::value::quantity::{Amount, Digits};

/// Percent of the reading and last digits, as data sheets print it: `±(2 % + 2 digits)`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Accuracy {
    /// The share, in percent of the reading or of `of`; not below zero.
    pub percent: Digits,
    /// How many units of the last digit that the display shows are added.
    #[serde(default)]
    pub digits: u32,
    /// What the percentage is of, where it is not of what is shown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub of: Option<Amount>,
}

impl Accuracy {
    /// Percent alone.
    pub fn percent(percent: Decimal) -> Accuracy {
        Accuracy {
            percent: Digits::from_decimal(percent),
            digits: 0,
            of: None,
        }
    }

    /// The expanded uncertainty of a shown value, in its unit.
    ///
    /// ```
    /// use coreproof::judge::accuracy::Accuracy;
    /// use coreproof::value::quantity::Digits;
    /// let accuracy = Accuracy { percent: Digits::parse("2").unwrap(), digits: 2, of: None };
    /// let uncertainty = accuracy.uncertainty("0.50".parse().unwrap(), "0.01".parse().unwrap());
    /// assert_eq!(uncertainty.normalize().to_string(), "0.03");
    /// ```
    pub fn uncertainty(&self, shown: Decimal, last_digit: Decimal) -> Decimal {
        let base = self.of.as_ref().map_or(shown.abs(), Amount::value);
        let stated = base * self.percent.value() * Decimal::new(1, 2) + last_digit * Decimal::from(self.digits);
        stated.max(last_digit / Decimal::TWO)
    }

    /// The figure in words.
    pub fn words(&self) -> String {
        let of = self.of.as_ref().map_or(String::new(), |of| format!(" of {of}"));
        let percent = format!("{} %{of}", self.percent.text());
        match self.digits {
            0 => format!("\u{b1}{percent}"),
            1 => format!("\u{b1}({percent} + 1 digit)"),
            n => format!("\u{b1}({percent} + {n} digits)"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_of_a_fixed_value_does_not_fall_with_what_is_shown() {
        let accuracy = Accuracy {
            digits: 1,
            of: Some(Amount::parse("300 ms").unwrap()),
            ..Accuracy::percent(Decimal::TEN)
        };
        assert_eq!(accuracy.words(), "\u{b1}(10 % of 300 ms + 1 digit)");
        for shown in [Decimal::ZERO, Decimal::new(24, 3), Decimal::new(300, 3)] {
            assert_eq!(
                accuracy.uncertainty(shown, Decimal::new(1, 3)).normalize(),
                Decimal::new(31, 3)
            );
        }
    }
}
