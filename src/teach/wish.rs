//! The display that would settle most of what is open.
//!
//! The rule inside: a wish is something an engineer can make a meter show, and it says how it must differ from what was
//! shown before.

use std::fmt;

use super::display::Display;
use crate::value::quantity::Unit;
use crate::value::reading::Function;

/// What the meter should show next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Wish {
    /// A number whose digits all differ.
    Digits,
    /// A number below zero, else like the one before.
    Negative {
        /// The display whose function and range it should have.
        like: Display,
        /// Figures that were not seen yet, which are best shown.
        unseen: String,
    },
    /// Another function and unit.
    OtherQuantity {
        /// The display that it should differ from.
        than: Display,
        /// Figures that were not seen yet, which are best shown.
        unseen: String,
    },
    /// More than the meter can show, in the function of that display, in its range or another.
    OverRange {
        /// The display whose function it should have.
        like: Display,
        /// In another range than that display's.
        other_unit: bool,
    },
    /// Another function in the same unit, with the point at the same place, so that neither is taken for the other.
    OtherFunction {
        /// The display that it should differ from.
        than: Display,
        /// Figures that were not seen yet, which are best shown.
        unseen: String,
    },
    /// The same function in another unit or with the point elsewhere.
    OtherRange {
        /// The display that it should differ from.
        than: Display,
        /// Figures that were not seen yet, which are best shown.
        unseen: String,
    },
    /// The same function and range once more, with digits that are not those of the displays before.
    OtherDigits {
        /// The display whose function and range it should have.
        like: Display,
        /// Figures that were not seen yet, which are best shown.
        unseen: String,
    },
}

fn digits(unseen: &str) -> String {
    match unseen {
        "" => "digits in another order".into(),
        unseen => format!(
            "with as many of the digits {} as fit",
            unseen.chars().map(String::from).collect::<Vec<_>>().join(", ")
        ),
    }
}

impl fmt::Display for Wish {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Wish::Digits => write!(f, "a number whose digits all differ, not 0, for example `12.34 V dc`"),
            Wish::Negative { like, unseen } => write!(
                f,
                "a number below zero in the range of `{like}` (swap the probes), {}",
                digits(unseen)
            ),
            Wish::OtherQuantity { than, unseen } => {
                let other = if than.unit == Unit::Ohm { "d.c. volts" } else { "ohms" };
                write!(
                    f,
                    "another quantity than `{than}`, for example {other}, {}",
                    digits(unseen)
                )
            }
            Wish::OverRange { like, other_unit: true } => {
                write!(
                    f,
                    "over-range in the function of `{like}`, if it can be in another unit"
                )
            }
            Wish::OverRange {
                like,
                other_unit: false,
            } => {
                write!(f, "over-range in the function and, if it can be, the range of `{like}`")
            }
            Wish::OtherFunction { than, unseen } => {
                write!(
                    f,
                    "another function in the unit of `{than}` and with the point where it was, for example a.c. for d.c., {}",
                    digits(unseen)
                )
            }
            Wish::OtherRange { than, unseen } => {
                write!(f, "the function of `{than}` in another range, {}", digits(unseen))
            }
            Wish::OtherDigits { like, unseen } => {
                write!(f, "another number in the range of `{like}`, {}", digits(unseen))
            }
        }
    }
}

/// What is still open, the most telling display first; what the engineer cannot show is left out by the caller. Of
/// text, which says over-range in words, that display can show another unit as well.
pub(super) fn wishes(shown: &[Display], text: bool) -> Vec<Wish> {
    let numbers: Vec<&Display> = shown.iter().filter(|one| one.number().is_some()).collect();
    let Some(first) = numbers.first() else {
        return vec![Wish::Digits];
    };
    let last = *numbers.last().expect("there is a first");
    let seen: String = numbers.iter().map(|one| one.figures()).collect();
    let unseen: String = ('0'..='9').filter(|digit| !seen.contains(*digit)).collect();
    let mut wishes = Vec::new();
    // only d.c. volts go below zero
    let direct = numbers.iter().find(|one| one.function == Function::VoltageDc);
    if let Some(like) = direct
        && !numbers.iter().any(|one| one.is_negative())
    {
        wishes.push(Wish::Negative {
            like: (**like).clone(),
            unseen: unseen.clone(),
        });
    }
    if numbers.iter().all(|one| one.unit == first.unit) {
        wishes.push(Wish::OtherQuantity {
            than: (*first).clone(),
            unseen: unseen.clone(),
        });
    }
    let one_function = numbers.iter().all(|a| {
        numbers
            .iter()
            .all(|b| a.unit_text() != b.unit_text() || a.function == b.function)
    });
    if one_function {
        wishes.push(Wish::OtherFunction {
            than: (*first).clone(),
            unseen: unseen.clone(),
        });
    }
    if !shown.iter().any(Display::is_over) {
        let resistance = numbers.iter().rfind(|one| one.unit == Unit::Ohm);
        wishes.push(Wish::OverRange {
            like: (**resistance.unwrap_or(&last)).clone(),
            other_unit: text,
        });
    }
    if !unseen.is_empty() {
        wishes.push(Wish::OtherDigits {
            like: (*first).clone(),
            unseen: unseen.clone(),
        });
    }
    let one_unit = numbers.iter().all(|a| {
        numbers
            .iter()
            .all(|b| a.function != b.function || a.unit_text() == b.unit_text())
    });
    if one_unit {
        wishes.push(Wish::OtherRange {
            than: last.clone(),
            unseen,
        });
    }
    wishes
}
