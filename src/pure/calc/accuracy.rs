//! What an instrument's accuracy figure makes of a reading: its expanded uncertainty, exact.
//!
//! The rule inside: the figure is taken as an expanded uncertainty of about 95 % (k = 2), percent of what is shown plus last
//! digits, and never less than half the last digit. Where two readings are subtracted their uncertainties add.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::pure::quantity::Digits;

/// Percent of the reading and last digits, as data sheets print it: `±(2 % + 2 digits)`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Accuracy {
    pub percent: Digits,
    #[serde(default)]
    pub digits: u32,
}

impl Accuracy {
    /// Percent alone.
    pub fn percent(percent: Decimal) -> Accuracy {
        Accuracy {
            percent: Digits::from_decimal(percent),
            digits: 0,
        }
    }

    /// The expanded uncertainty of a shown value, in its unit.
    ///
    /// ```
    /// use coreproof::pure::calc::accuracy::Accuracy;
    /// use coreproof::pure::quantity::Digits;
    /// let accuracy = Accuracy { percent: Digits::parse("2").unwrap(), digits: 2 };
    /// let uncertainty = accuracy.uncertainty("0.50".parse().unwrap(), "0.01".parse().unwrap());
    /// assert_eq!(uncertainty.normalize().to_string(), "0.03");
    /// ```
    pub fn uncertainty(&self, shown: Decimal, last_digit: Decimal) -> Decimal {
        let stated = shown.abs() * self.percent.value() * Decimal::new(1, 2) + last_digit * Decimal::from(self.digits);
        stated.max(last_digit / Decimal::TWO)
    }

    /// The figure in words.
    pub fn words(&self) -> String {
        match self.digits {
            0 => format!("\u{b1}{} %", self.percent.text()),
            1 => format!("\u{b1}({} % + 1 digit)", self.percent.text()),
            n => format!("\u{b1}({} % + {n} digits)", self.percent.text()),
        }
    }
}
