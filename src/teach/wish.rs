//! The display that would settle most of what is open.
//!
//! The rule inside: a wish is something an engineer can make a meter show, it says how it must differ from what was
//! shown before, and what the meter does not have is asked for once.

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
    },
    /// Another function in the same unit, with the point at the same place, so that neither is taken for the other.
    OtherFunction {
        /// The display that it should differ from.
        than: Display,
        /// Figures that were not seen yet, which are best shown.
        unseen: String,
    },
    /// The same function with another prefix.
    OtherPrefix {
        /// The display that it should differ from.
        than: Display,
        /// Figures that were not seen yet, which are best shown.
        unseen: String,
    },
    /// The same function and unit with the point elsewhere.
    OtherPoint {
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
    /// Nothing new, to be read before anything is learnt from it.
    Examination {
        /// The display whose function and range it should have.
        like: Display,
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

impl Wish {
    /// True where a meter that was not asked for it could be misread: the engineer shows it, or says that the meter has
    /// none.
    pub(super) fn is_needed(&self) -> bool {
        match self {
            Wish::OverRange { like } => opens(like.function),
            Wish::OtherFunction { .. } | Wish::OtherPrefix { .. } | Wish::OtherPoint { .. } => true,
            _ => false,
        }
    }

    /// What nobody knows without it.
    pub(super) fn about(&self) -> String {
        match self {
            Wish::OverRange { like } => format!("over-range where the display was `{like}`"),
            Wish::OtherFunction { than, .. } => format!("the function of `{than}`"),
            Wish::OtherPrefix { than, .. } => format!("the prefix of `{than}`"),
            Wish::OtherPoint { than, .. } => format!("the point of `{than}`"),
            other => other.to_string(),
        }
    }

    /// What a meter does not have that never shows it.
    pub(super) fn lacked(&self) -> String {
        match self {
            Wish::OverRange { like } => format!("over-range in the function of `{like}`"),
            Wish::OtherFunction { than, .. } => format!("other function in the unit of `{than}`"),
            Wish::OtherPrefix { than, .. } => format!("other prefix in the function of `{than}`"),
            Wish::OtherPoint { than, .. } => format!("other place of the point in the function and unit of `{than}`"),
            other => other.to_string(),
        }
    }

    /// Whether this asks for what that asked for, whatever has been shown since.
    pub(super) fn is_again(&self, that: &Wish) -> bool {
        match (self, that) {
            (Wish::Digits, Wish::Digits)
            | (Wish::OtherQuantity { .. }, Wish::OtherQuantity { .. })
            | (Wish::OtherDigits { .. }, Wish::OtherDigits { .. }) => true,
            (Wish::Negative { like: a, .. }, Wish::Negative { like: b, .. })
            | (Wish::OverRange { like: a }, Wish::OverRange { like: b })
            | (Wish::OtherPrefix { than: a, .. }, Wish::OtherPrefix { than: b, .. })
            | (Wish::OtherPoint { than: a, .. }, Wish::OtherPoint { than: b, .. }) => a.function == b.function,
            (Wish::OtherFunction { than: a, .. }, Wish::OtherFunction { than: b, .. }) => a.unit == b.unit,
            (Wish::Examination { like: a }, Wish::Examination { like: b }) => {
                a.function == b.function && a.unit_text() == b.unit_text()
            }
            _ => false,
        }
    }
}

/// True of functions in which open probes show over-range on any meter.
fn opens(function: Function) -> bool {
    matches!(
        function,
        Function::Resistance | Function::Continuity | Function::Insulation(_)
    )
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
            Wish::OverRange { like } if opens(like.function) => {
                write!(f, "over-range in the function of `{like}` (part the probes)")
            }
            Wish::OverRange { like } => write!(f, "over-range in the function of `{like}`"),
            Wish::OtherFunction { than, unseen } => {
                let other = match than.unit {
                    Unit::Volt if than.function == Function::VoltageAc => "d.c. for a.c.",
                    Unit::Volt => "a.c. for d.c.",
                    Unit::Ohm if than.function == Function::Resistance => "continuity for ohms",
                    Unit::Ohm => "ohms",
                    _ => "another trip test",
                };
                write!(
                    f,
                    "another function in the unit of `{than}` and with the point where it was, for example {other}, {}",
                    digits(unseen)
                )
            }
            Wish::OtherPrefix { than, unseen } => {
                let other = match (than.unit, than.unit_text().as_str()) {
                    (Unit::Volt, "V") => "in mV",
                    (Unit::Volt, _) => "in V",
                    (Unit::Ohm, "ohm") => "in kohm",
                    (Unit::Ohm, _) => "in ohm",
                    _ => "in s for ms",
                };
                write!(
                    f,
                    "the function of `{than}` with another prefix, {other}, {}",
                    digits(unseen)
                )
            }
            Wish::OtherPoint { than, unseen } => write!(
                f,
                "the function and unit of `{than}` with the point elsewhere, in another range, {}",
                digits(unseen)
            ),
            Wish::OtherDigits { like, unseen } => {
                write!(f, "another number in the range of `{like}`, {}", digits(unseen))
            }
            Wish::Examination { like } => {
                write!(
                    f,
                    "another number in the function and unit of `{like}`, to see whether it is read right"
                )
            }
        }
    }
}

/// What is still open, the most telling display first. Text sends its digits and its point as they are.
pub(super) fn wishes(shown: &[Display], text: bool, examined: usize) -> Vec<Wish> {
    let numbers: Vec<&Display> = shown.iter().filter(|one| one.number().is_some()).collect();
    let Some(first) = numbers.first() else {
        return vec![Wish::Digits];
    };
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
    for (n, than) in numbers.iter().enumerate() {
        let of_unit = || numbers.iter().filter(|one| one.unit == than.unit);
        if numbers[..n].iter().all(|one| one.unit != than.unit) && of_unit().all(|one| one.function == than.function) {
            wishes.push(Wish::OtherFunction {
                than: (*than).clone(),
                unseen: unseen.clone(),
            });
        }
    }
    let mut functions: Vec<&Display> = Vec::new();
    for one in numbers.iter().filter(|one| !one.is_negative()) {
        if functions.iter().all(|other| other.function != one.function) {
            functions.push(one);
        }
    }
    for one in &functions {
        wishes.extend(of_function(one, shown, text, &unseen));
    }
    if !unseen.is_empty() && !text {
        wishes.push(Wish::OtherDigits {
            like: (*first).clone(),
            unseen,
        });
    }
    // the function that was shown least is examined first
    let times = |one: &&&Display| numbers.iter().filter(|other| other.function == one.function).count();
    if examined < super::error::EXAMINED_MIN {
        let mut order: Vec<&&Display> = functions.iter().collect();
        order.sort_by_key(times);
        wishes.extend(
            order
                .into_iter()
                .map(|like| Wish::Examination { like: (**like).clone() }),
        );
    }
    wishes
}

/// What is open in the function of a display.
fn of_function(one: &Display, shown: &[Display], text: bool, unseen: &str) -> Vec<Wish> {
    let mine: Vec<&Display> = shown.iter().filter(|other| other.function == one.function).collect();
    let mut wishes = Vec::new();
    let over = mine.iter().any(|other| other.number().is_none());
    // open probes show it at once, where any function has them
    let parts_nowhere = || {
        shown
            .iter()
            .all(|other| other.number().is_some() && !opens(other.function))
    };
    if !over && (opens(one.function) || parts_nowhere()) {
        wishes.push(Wish::OverRange { like: one.clone() });
    }
    let numbers = || mine.iter().filter(|other| other.number().is_some());
    if numbers().all(|other| other.prefix == one.prefix) {
        wishes.push(Wish::OtherPrefix {
            than: one.clone(),
            unseen: unseen.into(),
        });
    }
    let same_unit = |a: &Display, b: &Display| a.prefix == b.prefix && a.decimals() != b.decimals();
    if !text && !numbers().any(|a| numbers().any(|b| same_unit(a, b))) {
        wishes.push(Wish::OtherPoint {
            than: one.clone(),
            unseen: unseen.into(),
        });
    }
    wishes
}
