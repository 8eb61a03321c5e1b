//! Pass windows and the verdict on a reading.
//!
//! The rule inside: comparisons run along the number line on exact decimals, an over-range display is judged by what
//! it proves and no more, and an instrument that may not make a test can fail it but never pass it.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::limits::Basis;
use super::quantity::{Amount, Shown, Unit};
use super::reading::Reading;

/// One edge of a window and whether the edge itself belongs to it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Edge {
    pub amount: Amount,
    pub included: bool,
}

/// The pass window of a step, with where each figure comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Window {
    pub low: Option<Edge>,
    pub high: Option<Edge>,
    pub unit: Unit,
    /// A passing value below this asks why: table figures are greatest values, so well below them is not yet wrong.
    pub ask_below: Option<Amount>,
    pub basis: Vec<Basis>,
}

impl Window {
    /// A window with included edges.
    pub fn new(low: Option<Amount>, high: Option<Amount>, unit: Unit, basis: Vec<Basis>) -> Window {
        let edge = |amount: Option<Amount>| amount.map(|amount| Edge { amount, included: true });
        Window {
            low: edge(low),
            high: edge(high),
            unit,
            ask_below: None,
            basis,
        }
    }

    /// The window in words: `at least 1.0 Mohm`, `216.2 V to 253.0 V`.
    pub fn words(&self) -> String {
        let edge = |edge: &Edge, closed: &str, open: &str| {
            format!("{} {}", if edge.included { closed } else { open }, edge.amount)
        };
        match (&self.low, &self.high) {
            (Some(low), Some(high)) if low.included && high.included => format!("{} to {}", low.amount, high.amount),
            (Some(low), Some(high)) => format!(
                "{}, {}",
                edge(low, "at least", "more than"),
                edge(high, "at most", "less than")
            ),
            (Some(low), None) => edge(low, "at least", "more than"),
            (None, Some(high)) => edge(high, "at most", "less than"),
            (None, None) => "any value".into(),
        }
    }
}

/// The printed word.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    Pass,
    Fail,
    NotTested,
}

impl Outcome {
    /// The word as printed everywhere.
    pub fn word(self) -> &'static str {
        match self {
            Outcome::Pass => "pass",
            Outcome::Fail => "FAIL",
            Outcome::NotTested => "not tested",
        }
    }
}

/// A verdict with its reason in words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Verdict {
    pub outcome: Outcome,
    pub because: String,
    /// The value that was judged, after the lead resistance was subtracted; absent for over-range and observations.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<Amount>,
    /// A question that a passing value still raises.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mark: Option<String>,
}

impl Verdict {
    /// A verdict without a number.
    pub fn plain(outcome: Outcome, because: impl Into<String>) -> Verdict {
        Verdict {
            outcome,
            because: because.into(),
            value: None,
            mark: None,
        }
    }
}

/// Judges a reading.
///
/// `null` is the lead resistance in the plain unit, subtracted before the comparison; `ceiling` is the top of the range that a
/// bare `OL` stands for. A reading at an included edge passes. Over-range passes a lower edge only where the figure
/// it proves is at or above that edge; where it proves too little the step is not tested.
pub fn judge(window: &Window, reading: &Reading, null: Decimal, ceiling: Option<&Amount>) -> Verdict {
    assert_eq!(
        window.unit, reading.unit,
        "a reading reaches the judge in the unit of its window"
    );
    match &reading.shown {
        Shown::Digits(digits) => judge_number(
            window,
            digits.value() * reading.prefix.factor() - null,
            digits.last_digit() * reading.prefix.factor(),
        ),
        Shown::Above(digits) => {
            let floor = Amount {
                digits: digits.clone(),
                prefix: reading.prefix,
                unit: reading.unit,
            };
            judge_above(window, Some(&floor))
        }
        Shown::Over => judge_above(window, ceiling),
    }
}

fn judge_number(window: &Window, value: Decimal, last_digit: Decimal) -> Verdict {
    let readable = Amount::readable(value, window.unit, decimals_of(value, last_digit, window.unit));
    let verdict = |outcome, relation: &str| Verdict {
        outcome,
        because: format!("{readable} {relation}"),
        value: Some(Amount::new(value.normalize(), window.unit)),
        mark: None,
    };
    if let Some(low) = &window.low {
        let edge = low.amount.value();
        if !(edge < value || (low.included && edge == value)) {
            return verdict(Outcome::Fail, &format!("is below {}", low.amount));
        }
    }
    if let Some(high) = &window.high {
        let edge = high.amount.value();
        if !(value < edge || (high.included && value == edge)) {
            return verdict(Outcome::Fail, &format!("is above {}", high.amount));
        }
    }
    let mut passed = verdict(Outcome::Pass, &format!("is within the window: {}", window.words()));
    passed.mark = window.ask_below.as_ref().filter(|ask| value < ask.value()).map(|ask| {
        format!("well below what the cable data give (under {ask}): a parallel path, a shorter or another cable?")
    });
    passed
}

/// Shows a net value with as many decimals as its display had.
fn decimals_of(value: Decimal, last_digit: Decimal, unit: Unit) -> u32 {
    let shown = Amount::readable(value, unit, 12);
    let in_prefix = last_digit / shown.prefix.factor();
    in_prefix.normalize().scale()
}

fn judge_above(window: &Window, proved: Option<&Amount>) -> Verdict {
    let Some(proved) = proved else {
        return Verdict::plain(Outcome::NotTested, "over-range, and the top of the range is not known");
    };
    let value = proved.value();
    match (&window.low, &window.high) {
        (_, Some(high)) if high.amount.value() <= value => Verdict::plain(
            Outcome::Fail,
            format!("over-range: above {proved}, so above {}", high.amount),
        ),
        (_, Some(high)) => Verdict::plain(
            Outcome::NotTested,
            format!(
                "over-range proves only more than {proved}, the window ends at {}",
                high.amount
            ),
        ),
        (Some(low), None) if low.amount.value() <= value => Verdict::plain(
            Outcome::Pass,
            format!("over-range: above {proved}, so at least {}", low.amount),
        ),
        (Some(low), None) => Verdict::plain(
            Outcome::NotTested,
            format!(
                "over-range proves only more than {proved}, {} is needed: use a range that reaches it",
                low.amount
            ),
        ),
        (None, None) => Verdict::plain(Outcome::Pass, "any value is accepted"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pure::reading::Function;

    fn window(low: Option<&str>, high: Option<&str>) -> Window {
        let edge = |text: &str| Edge {
            amount: Amount::parse(text).unwrap(),
            included: true,
        };
        let low = low.map(edge);
        let high = high.map(edge);
        let unit = low.as_ref().or(high.as_ref()).unwrap().amount.unit;
        Window {
            low,
            high,
            unit,
            ask_below: None,
            basis: Vec::new(),
        }
    }

    fn check(
        low: Option<&str>,
        high: Option<&str>,
        function: Function,
        typed: &str,
        ceiling: Option<&str>,
        outcome: Outcome,
        because: &str,
    ) {
        let reading = Reading::typed(typed, function).unwrap();
        let ceiling = ceiling.map(|c| Amount::parse(c).unwrap());
        let verdict = judge(&window(low, high), &reading, Decimal::ZERO, ceiling.as_ref());
        assert_eq!(
            (verdict.outcome, verdict.because.as_str()),
            (outcome, because),
            "{typed}"
        );
    }

    #[test]
    fn readings_are_judged() {
        use Function::{Continuity, Insulation, VoltageAc};
        use Outcome::{Fail, NotTested, Pass};
        // insulation minimum 1.0 Mohm at 500 V: BS 7671:2018 Table 64 as printed in trade guidance
        check(
            Some("1.0 Mohm"),
            None,
            Insulation(500),
            "1.00",
            None,
            Pass,
            "1.00 Mohm is within the window: at least 1.0 Mohm",
        );
        check(
            Some("1.0 Mohm"),
            None,
            Insulation(500),
            "0.99",
            None,
            Fail,
            "990 kohm is below 1.0 Mohm",
        );
        check(
            Some("1.0 Mohm"),
            None,
            Insulation(500),
            ">299",
            None,
            Pass,
            "over-range: above 299 Mohm, so at least 1.0 Mohm",
        );
        check(
            Some("1.0 Mohm"),
            None,
            Insulation(500),
            "OL",
            Some("500 kohm"),
            NotTested,
            "over-range proves only more than 500 kohm, 1.0 Mohm is needed: use a range that reaches it",
        );
        check(
            Some("1.0 Mohm"),
            None,
            Insulation(500),
            "OL",
            None,
            NotTested,
            "over-range, and the top of the range is not known",
        );
        check(
            None,
            Some("0.64 ohm"),
            Continuity,
            "0.64",
            None,
            Pass,
            "0.64 ohm is within the window: at most 0.64 ohm",
        );
        check(
            None,
            Some("0.64 ohm"),
            Continuity,
            "0.65",
            None,
            Fail,
            "0.65 ohm is above 0.64 ohm",
        );
        check(
            None,
            Some("0.64 ohm"),
            Continuity,
            "OL",
            Some("1999 ohm"),
            Fail,
            "over-range: above 1999 ohm, so above 0.64 ohm",
        );
        check(
            None,
            Some("5 kohm"),
            Continuity,
            "OL",
            Some("1999 ohm"),
            NotTested,
            "over-range proves only more than 1999 ohm, the window ends at 5 kohm",
        );
        // 230 V +10 % -6 %: SI 1994/3021
        check(
            Some("216.2 V"),
            Some("253.0 V"),
            VoltageAc,
            "216.2",
            None,
            Pass,
            "216.2 V is within the window: 216.2 V to 253.0 V",
        );
        check(
            Some("216.2 V"),
            Some("253.0 V"),
            VoltageAc,
            "253.1",
            None,
            Fail,
            "253.1 V is above 253.0 V",
        );
        check(
            Some("216.2 V"),
            Some("253.0 V"),
            VoltageAc,
            "0.4",
            None,
            Fail,
            "0.4 V is below 216.2 V",
        );
    }

    #[test]
    fn the_lead_resistance_is_subtracted_exactly() {
        let reading = Reading::typed("0.30", Function::Continuity).unwrap();
        let verdict = judge(&window(None, Some("0.2 ohm")), &reading, "0.1".parse().unwrap(), None);
        assert_eq!(verdict.outcome, Outcome::Pass);
        assert_eq!(verdict.value.unwrap().to_string(), "0.2 ohm");
        assert_eq!(verdict.because, "0.20 ohm is within the window: at most 0.2 ohm");
    }

    #[test]
    fn edges_that_do_not_belong_are_outside() {
        let mut w = window(None, Some("5 V"));
        w.high.as_mut().unwrap().included = false;
        let reading = Reading::typed("5", Function::VoltageAc).unwrap();
        assert_eq!(judge(&w, &reading, Decimal::ZERO, None).outcome, Outcome::Fail);
        assert_eq!(w.words(), "less than 5 V");
    }
}
