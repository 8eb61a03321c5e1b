//! A window as a bar: where its edges stand and where the needle is.
//!
//! The rule inside: it places edges and needle and says nothing of either side; floats place, decimals decide.

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;

use crate::judge::window::{Edge, Window};
use crate::value::quantity::{Shown, Unit};
use crate::value::reading::{Function, Reading};

/// How far beyond an only edge the bar of an insulation test reaches on each side, as a factor.
const DECADES: f64 = 100.0;

/// A live reading in the plain unit of its window, as it is compared with the edges.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Needle {
    /// This value, the leads taken off.
    At(Decimal),
    /// Beyond the range, whatever that is.
    Over,
}

impl Needle {
    /// Of a reading, with what the leads add to it in the plain unit.
    pub fn of(reading: &Reading, leads: Decimal) -> Needle {
        match &reading.shown {
            Shown::Digits(digits) => Needle::At(digits.value() * reading.prefix.factor() - leads),
            Shown::Above(_) | Shown::Over => Needle::Over,
        }
    }
}

/// An edge on the bar.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BarEdge {
    /// From 0 at the left end to 1 at the right.
    pub place: f64,
    /// The edge with its unit.
    pub amount: String,
    /// Whether a value exactly on it is inside.
    pub included: bool,
}

/// The bar of a window.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Bar {
    /// The lower edge.
    pub low: Option<BarEdge>,
    /// The upper edge.
    pub high: Option<BarEdge>,
    /// The unit of both, plain.
    pub unit: Unit,
    /// Equal lengths are equal factors.
    pub logarithmic: bool,
    from: f64,
    to: f64,
}

impl Bar {
    /// The bar of a window that this is measured by; none where no number passes, or where there is no edge.
    pub fn of(window: &Window, function: Function) -> Option<Bar> {
        if window.must_not_trip {
            return None;
        }
        let float = |edge: &Option<Edge>| edge.as_ref().and_then(|edge| edge.amount.value().to_f64());
        let (low, high) = (float(&window.low), float(&window.high));
        let logarithmic = matches!(function, Function::Insulation(_)) && low.or(high).is_some_and(|edge| 0.0 < edge);
        let (from, to) = match (low, high) {
            (None, None) => return None,
            (Some(low), Some(high)) if logarithmic => (low / DECADES, high.max(low) * DECADES),
            (Some(edge), None) | (None, Some(edge)) if logarithmic => (edge / DECADES, edge * DECADES),
            (Some(low), Some(high)) => (low - (high - low) / 2.0, high + (high - low) / 2.0),
            (Some(edge), None) | (None, Some(edge)) => (0f64.min(2.0 * edge), 0f64.max(2.0 * edge)),
        };
        // an edge at zero alone has no length of its own
        let to = if from < to { to } else { from + 1.0 };
        let mut bar = Bar {
            low: None,
            high: None,
            unit: window.unit,
            logarithmic,
            from,
            to,
        };
        let edge = |edge: &Option<Edge>| {
            edge.as_ref().map(|edge| BarEdge {
                place: bar.place(Needle::At(edge.amount.value())),
                amount: edge.amount.to_string(),
                included: edge.included,
            })
        };
        let (low, high) = (edge(&window.low), edge(&window.high));
        (bar.low, bar.high) = (low, high);
        Some(bar)
    }

    /// Where a needle stands, from 0 to 1; what lies beyond an end stands at it.
    pub fn place(&self, needle: Needle) -> f64 {
        let Needle::At(value) = needle else { return 1.0 };
        let value = value.to_f64().unwrap_or(f64::MAX);
        let along = |value: f64| {
            if self.logarithmic {
                value.max(self.from).ln()
            } else {
                value
            }
        };
        let (from, to) = (along(self.from), along(self.to));
        ((along(value) - from) / (to - from)).clamp(0.0, 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::value::quantity::Amount;

    fn bar(low: Option<&str>, high: Option<&str>, function: Function) -> Option<Bar> {
        let amount = |text: &str| Amount::parse(text).unwrap();
        let window = Window::new(low.map(amount), high.map(amount), function.unit(), Vec::new());
        Bar::of(&window, function)
    }

    fn reading(text: &str, function: Function) -> Needle {
        Needle::of(&Reading::typed(text, function).unwrap(), Decimal::ZERO)
    }

    #[test]
    fn edges_and_needle_have_their_places() {
        let check = |low, high, function, edges: (Option<f64>, Option<f64>), needles: &[(&str, f64)]| {
            let bar = bar(low, high, function).unwrap();
            let place = |edge: &Option<BarEdge>| edge.as_ref().map(|edge| (edge.place * 1000.0).round() / 1000.0);
            assert_eq!((place(&bar.low), place(&bar.high)), edges);
            for (text, expected) in needles {
                let place = (bar.place(reading(text, function)) * 1000.0).round() / 1000.0;
                assert_eq!(place, *expected, "{text}");
            }
        };
        let volts = Function::VoltageAc;
        check(
            Some("216.2 V"),
            Some("253.0 V"),
            volts,
            (Some(0.25), Some(0.75)),
            &[("216.2", 0.25), ("0.0", 0.0), ("400", 1.0)],
        );
        check(
            None,
            Some("0.50 ohm"),
            Function::Continuity,
            (None, Some(0.5)),
            &[("0.25", 0.25), ("OL", 1.0), ("12", 1.0)],
        );
        let insulation = Function::Insulation(500);
        check(
            Some("1.0 Mohm"),
            None,
            insulation,
            (Some(0.5), None),
            &[("1.0 Mohm", 0.5), ("10 Mohm", 0.75), (">299", 1.0), ("0.00", 0.0)],
        );
    }

    #[test]
    fn a_window_without_a_number_that_passes_has_no_bar() {
        assert_eq!(bar(None, None, Function::VoltageAc), None);
        let lasts = Amount::parse("200 ms").unwrap();
        let no_trip = Window::no_trip(lasts, Vec::new());
        assert_eq!(Bar::of(&no_trip, Function::VoltageAc), None);
        // an edge at zero has its place too
        assert_eq!(
            bar(None, Some("0 V"), Function::VoltageAc).unwrap().high.unwrap().place,
            0.0
        );
    }

    #[test]
    fn the_needle_stands_where_the_judge_compares() {
        let shown = Reading::typed("0.55", Function::Continuity).unwrap();
        let leads = Decimal::new(10, 2);
        assert_eq!(Needle::of(&shown, leads), Needle::At(Decimal::new(45, 2)));
    }
}
