//! A reading against its window, as a small bar.
//!
//! The rule inside: places are worked out in exact decimals and only then rounded, to thousandths of the bar's width; what is beyond its
//! end is drawn there and marked.

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;

use crate::judge::window::Window;

/// Where the window and the reading lie on a bar, in thousandths of its width from the left.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Bar {
    /// Where the window begins.
    pub from: u16,
    /// Where it ends.
    pub to: u16,
    /// The reading; none where the display gave no number and no bound.
    pub at: Option<u16>,
    /// The reading lies beyond the end of the bar, or above the figure that is marked.
    pub beyond: bool,
}

/// Thousandths of a bar.
const WIDTH: u16 = 1000;

impl Bar {
    /// A value in the plain unit on the bar of its window; `above` where the display said "more than". None where nothing judges it.
    pub(super) fn of(window: &Window, value: Option<Decimal>, above: bool) -> Option<Bar> {
        let edge = |edge: &Option<crate::judge::window::Edge>| edge.as_ref().map(|edge| edge.amount.value());
        let (low, high) = (edge(&window.low), edge(&window.high));
        let (start, end) = match (low, high) {
            // a window with two edges lies in the middle third
            (Some(low), Some(high)) => (low - (high - low), high + (high - low)),
            (None, Some(high)) => (Decimal::ZERO, high * Decimal::TWO),
            (Some(low), None) => (Decimal::ZERO, low * Decimal::from(4)),
            (None, None) => return None,
        };
        let place = |value: Decimal| {
            let share = (value - start).checked_div(end - start)?;
            let share = share.clamp(Decimal::ZERO, Decimal::ONE) * Decimal::from(WIDTH);
            share.round().to_u16()
        };
        let is_past = value.is_some_and(|value| end < value || value < start);
        Some(Bar {
            from: low.map_or(Some(0), place)?,
            to: high.map_or(Some(WIDTH), place)?,
            at: match value {
                Some(value) => place(value),
                None => above.then_some(WIDTH),
            },
            beyond: above || is_past,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::value::quantity::{Amount, Unit};

    #[test]
    fn readings_stand_where_their_window_has_them() {
        let amount = |text: &str| Amount::parse(text).unwrap();
        let window = |low: &str, high: &str| {
            let edge = |text: &str| (!text.is_empty()).then(|| amount(text));
            Window::new(edge(low), edge(high), Unit::Ohm, Vec::new())
        };
        let bar = |from, to, at, beyond| Some(Bar { from, to, at, beyond });
        for (low, high, value, above, expected) in [
            ("", "0.80 ohm", Some("0.60"), false, bar(0, 500, Some(375), false)),
            ("", "0.80 ohm", Some("9"), false, bar(0, 500, Some(1000), true)),
            ("1 Mohm", "", Some("420000"), false, bar(250, 1000, Some(105), false)),
            ("1 Mohm", "", Some("299000000"), true, bar(250, 1000, Some(1000), true)),
            ("1 Mohm", "", None, true, bar(250, 1000, Some(1000), true)),
            (
                "216 ohm",
                "252 ohm",
                Some("234"),
                false,
                bar(333, 667, Some(500), false),
            ),
            ("216 ohm", "252 ohm", Some("0"), false, bar(333, 667, Some(0), true)),
            ("0 ohm", "0 ohm", Some("1"), false, None),
            ("", "", Some("1"), false, None),
            ("", "0.80 ohm", None, false, bar(0, 500, None, false)),
        ] {
            let value = value.map(|text| text.parse().unwrap());
            assert_eq!(
                Bar::of(&window(low, high), value, above),
                expected,
                "{low} {high} {value:?}"
            );
        }
    }
}
