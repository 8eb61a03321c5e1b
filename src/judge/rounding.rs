//! The one rounding rule.
//!
//! The rule inside: everything is exact until a figure becomes an edge or is shown; then it is rounded once, to the nearest
//! milliohm for resistances, half to even. A figure that a table prints is never rounded again and never replaced by the
//! quotient it came from, even where the print was rounded up past that quotient; then the difference is said.

use rust_decimal::Decimal;

use crate::value::quantity::{Amount, Unit};

/// A computed resistance as an edge: the nearest milliohm, half to even.
///
/// ```
/// use coreproof::judge::rounding::edge;
/// assert_eq!(edge("0.42922".parse().unwrap()).to_string(), "0.429 ohm");
/// assert_eq!(edge("0.4285".parse().unwrap()).to_string(), "0.428 ohm");
/// ```
pub fn edge(ohms: Decimal) -> Amount {
    shown(ohms, Unit::Ohm, 3)
}

/// A computed figure as it is shown, with at most so many decimals, half to even.
pub fn shown(value: Decimal, unit: Unit, decimals: u32) -> Amount {
    Amount::new(value.round_dp(decimals).normalize(), unit)
}

/// A decimal as a binary float, for predictions and probabilities; through text, which is rounded the same everywhere.
pub fn float(value: Decimal) -> f64 {
    value.to_string().parse().expect("a decimal is a number")
}

/// How a printed figure stands to the exact quotient it came from; `None` where they are equal.
pub fn printed_against(printed: &Amount, exact: Decimal) -> Option<String> {
    let quotient = Amount::new(exact.round_dp(6).normalize(), printed.unit);
    match printed.value().cmp(&exact) {
        std::cmp::Ordering::Equal => None,
        std::cmp::Ordering::Greater => Some(format!(
            "printed {printed}, rounded up past the exact quotient {quotient}; the printed value is kept"
        )),
        std::cmp::Ordering::Less => Some(format!(
            "printed {printed}, below the exact quotient {quotient}; the printed value is kept"
        )),
    }
}
