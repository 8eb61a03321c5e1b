//! Pass windows and the verdict on a reading.
//!
//! The rule inside: comparisons run along the number line on exact decimals, an over-range display is judged by what
//! it proves and no more, and an instrument that may not make a test can fail it but never pass it. Closeness to an edge and
//! the probability of a wrong decision stand beside the outcome and change it only where the job chose the guarded rule,
//! and then by exact comparison with the expanded uncertainty.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::accuracy::Accuracy;
use super::risk;
use super::rounding::float;
use crate::limits::Basis;
use crate::value::quantity::{Amount, Digits, Shown, Unit};
use crate::value::reading::Reading;

/// One edge of a window and whether the edge itself belongs to it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Edge {
    /// Where the edge lies.
    pub amount: Amount,
    /// Whether a value exactly on the edge passes: a limit that reads "at most" or "at least" includes it.
    pub included: bool,
}

/// The pass window of a step, with where each figure comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Window {
    /// The least that passes; `None` where any lower value does.
    pub low: Option<Edge>,
    /// The greatest that passes; `None` where any higher value does.
    pub high: Option<Edge>,
    /// The unit that a reading must have to be judged here.
    pub unit: Unit,
    /// A passing value below this asks why: table figures are greatest values, so well below them is not yet wrong.
    pub ask_below: Option<Amount>,
    /// No number passes, only over-range that proves the lower edge: a device that must not trip while the test lasts.
    #[serde(skip_serializing_if = "is_false")]
    pub must_not_trip: bool,
    /// The rows and expressions that the edges come from, for prompt, record and certificate.
    pub basis: Vec<Basis>,
}

#[allow(clippy::trivially_copy_pass_by_ref)] // the signature that serde calls
fn is_false(flag: &bool) -> bool {
    !flag
}

impl Edge {
    /// How far what passes reaches from a lower edge, in words.
    fn reaches(&self) -> &'static str {
        if self.included { "at least" } else { "more than" }
    }
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
            must_not_trip: false,
            basis,
        }
    }

    /// A window that no number passes: over-range has to prove that the device stayed on for this long.
    pub fn no_trip(lasts: Amount, basis: Vec<Basis>) -> Window {
        Window {
            must_not_trip: true,
            ..Window::new(Some(lasts), None, Unit::Second, basis)
        }
    }

    /// The window in words: `at least 1.0 Mohm`, `216.2 V to 253.0 V`, `no trip in at least 200 ms`.
    pub fn words(&self) -> String {
        if let (true, Some(low)) = (self.must_not_trip, &self.low) {
            return format!("no trip in at least {}", low.amount);
        }
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
    /// Inside the window, or seen as it should be.
    Pass,
    /// Outside the window, or not seen as it should be.
    Fail,
    /// Not measured, or measured with what its standard does not accept.
    NotTested,
    /// Under the guarded rule: nearer to an edge than the uncertainty, on either side; the reason says which.
    Conditional,
}

/// The decision rule of a job (ILAC-G8:09/2019).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum Decision {
    /// 4.2.1: what is within the window passes, as the trade does.
    #[default]
    Simple,
    /// 4.2.3: pass, conditional pass, conditional fail, fail, with a guard band of one expanded uncertainty.
    Guarded,
}

impl Decision {
    /// The rule in words, for documents.
    pub fn words(self) -> &'static str {
        match self {
            Decision::Simple => "simple acceptance: a reading within its window passes, whatever its uncertainty",
            Decision::Guarded => {
                "guarded (ILAC-G8:09/2019, w = U): a reading passes only further inside its window than its uncertainty"
            }
        }
    }
}

impl Outcome {
    /// Whether this speaks better of the wiring than the other: pass, conditional, not tested, fail.
    pub fn is_better_than(self, other: Outcome) -> bool {
        let rank = |outcome| match outcome {
            Outcome::Pass => 0,
            Outcome::Conditional => 1,
            Outcome::NotTested => 2,
            Outcome::Fail => 3,
        };
        rank(self) < rank(other)
    }

    /// The word as printed everywhere.
    pub fn word(self) -> &'static str {
        match self {
            Outcome::Pass => "pass",
            Outcome::Fail => "FAIL",
            Outcome::NotTested => "not tested",
            Outcome::Conditional => "conditional",
        }
    }
}

/// A verdict with its reason in words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Verdict {
    /// The word that counts.
    pub outcome: Outcome,
    /// Why, with the value and the edge it was compared with.
    pub because: String,
    /// The value that was judged, after the lead resistance was subtracted; absent for over-range and observations.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<Amount>,
    /// A question that the value raises beside its outcome.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mark: Option<String>,
    /// Said where the value is nearer to an edge than its uncertainty.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub edge: Option<String>,
    /// The probability that the decision is wrong (JCGM 106), in words with two digits; it informs and never decides.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub risk: Option<String>,
}

impl Verdict {
    /// A verdict without a number.
    pub fn plain(outcome: Outcome, because: impl Into<String>) -> Verdict {
        Verdict {
            outcome,
            because: because.into(),
            value: None,
            mark: None,
            edge: None,
            risk: None,
        }
    }
}

/// What a reading is judged under, beside its window.
#[derive(Debug, Clone, PartialEq)]
pub struct Terms<'a> {
    /// The lead resistance in the plain unit, subtracted before the comparison.
    pub null: Decimal,
    /// The expanded uncertainty of the lead resistance.
    pub null_uncertainty: Decimal,
    /// The top of the range that a bare `OL` stands for.
    pub ceiling: Option<&'a Amount>,
    /// Of the instrument on the range that the step uses.
    pub accuracy: &'a Accuracy,
    /// Which rule makes an outcome of a value near an edge.
    pub decision: Decision,
}

/// Judges a reading.
///
/// A reading at an included edge is inside. Over-range passes a lower edge only where the figure it proves is at or above
/// that edge; where it proves too little the step is not tested.
pub fn judge(window: &Window, reading: &Reading, terms: &Terms<'_>) -> Verdict {
    assert_eq!(
        window.unit, reading.unit,
        "a reading reaches the judge in the unit of its window"
    );
    let factor = reading.prefix.factor();
    let uncertainty = |digits: &Digits| {
        terms
            .accuracy
            .uncertainty(digits.value() * factor, digits.last_digit() * factor)
            + terms.null_uncertainty
    };
    match &reading.shown {
        Shown::Digits(_) if window.must_not_trip => tripped(reading),
        Shown::Digits(digits) => judge_number(
            window,
            digits.value() * factor - terms.null,
            digits.last_digit() * factor,
            uncertainty(digits),
            terms.decision,
        ),
        Shown::Above(digits) => {
            let floor = Amount {
                digits: digits.clone(),
                prefix: reading.prefix,
                unit: reading.unit,
            };
            judge_above(window, Some(&floor), uncertainty(digits), terms.decision)
        }
        Shown::Over => {
            let top = terms.ceiling.map_or(Decimal::ZERO, |ceiling| {
                terms
                    .accuracy
                    .uncertainty(ceiling.value(), ceiling.digits.last_digit() * ceiling.prefix.factor())
            });
            judge_above(window, terms.ceiling, top, terms.decision)
        }
    }
}

/// A trip time where there may be none, however long it is.
fn tripped(reading: &Reading) -> Verdict {
    let because = format!("it tripped after {}, and must not trip", reading.display());
    Verdict {
        value: reading
            .amount()
            .map(|shown| Amount::new(shown.value().normalize(), reading.unit)),
        ..Verdict::plain(Outcome::Fail, because)
    }
}

/// How a value lies to one edge: the distance inside, below zero outside.
struct Margin<'a> {
    inside: bool,
    distance: Decimal,
    edge: &'a Edge,
    /// `is below` or `is above` once it is outside.
    relation: &'static str,
}

fn margins(window: &Window, value: Decimal) -> Vec<Margin<'_>> {
    let low = window
        .low
        .as_ref()
        .map(|edge| (edge, value - edge.amount.value(), "is below"));
    let high = window
        .high
        .as_ref()
        .map(|edge| (edge, edge.amount.value() - value, "is above"));
    low.into_iter()
        .chain(high)
        .map(|(edge, distance, relation)| Margin {
            inside: Decimal::ZERO < distance || (edge.included && distance.is_zero()),
            distance,
            edge,
            relation,
        })
        .collect()
}

fn judge_number(
    window: &Window,
    value: Decimal,
    last_digit: Decimal,
    uncertainty: Decimal,
    decision: Decision,
) -> Verdict {
    let decimals = decimals_of(value, last_digit, window.unit);
    let readable = Amount::readable(value, window.unit, decimals);
    let spread = shown_like(uncertainty, window.unit, last_digit);
    let margins = margins(window, value);
    let outside = margins.iter().find(|margin| !margin.inside);
    let nearest = margins.iter().min_by_key(|margin| margin.distance.abs());
    let is_near = |margin: &Margin<'_>| margin.distance.abs() < uncertainty;
    let guarded = decision == Decision::Guarded;
    let (outcome, because) = match outside {
        None if guarded && nearest.is_some_and(is_near) => (
            Outcome::Conditional,
            format!(
                "conditional pass: {readable} is within the window, {}, but nearer its edge than the uncertainty {spread}",
                window.words()
            ),
        ),
        None => (
            Outcome::Pass,
            format!("{readable} is within the window: {}", window.words()),
        ),
        Some(margin) if guarded && margin.distance.abs() <= uncertainty => (
            Outcome::Conditional,
            format!(
                "conditional fail: {readable} {} {} by no more than the uncertainty {spread}",
                margin.relation, margin.edge.amount
            ),
        ),
        Some(margin) => (
            Outcome::Fail,
            format!("{readable} {} {}", margin.relation, margin.edge.amount),
        ),
    };
    let accepted = outside.is_none();
    let asks = window.ask_below.as_ref().filter(|ask| accepted && value < ask.value());
    Verdict {
        outcome,
        because,
        value: Some(Amount::new(value.normalize(), window.unit)),
        mark: asks.map(|ask| {
            format!("well below what the cable data give (under {ask}): a parallel path, a shorter or another cable?")
        }),
        edge: nearest.filter(|margin| is_near(margin)).map(|margin| {
            format!(
                "{} from the edge {}, within the uncertainty {spread}",
                shown_like(margin.distance.abs(), window.unit, last_digit),
                margin.edge.amount
            )
        }),
        risk: nearest.map(|_| risk_words(window, value, uncertainty, accepted)),
    }
}

/// The probability that an accepted value is outside or a refused one inside; u is half the expanded uncertainty (k = 2).
fn risk_words(window: &Window, value: Decimal, uncertainty: Decimal, accepted: bool) -> String {
    let edge = |edge: &Option<Edge>| edge.as_ref().map(|e| float(e.amount.value()));
    let (low, high) = (edge(&window.low), edge(&window.high));
    let outside = risk::outside(float(value), float(uncertainty) / 2.0, low, high);
    if accepted {
        format!("false acceptance {}", risk::words(outside))
    } else {
        format!("false rejection {}", risk::words(1.0 - outside))
    }
}

/// A distance or an uncertainty with one digit more than the display has, in the prefix that reads best.
fn shown_like(value: Decimal, unit: Unit, last_digit: Decimal) -> Amount {
    let mut shown = Amount::readable(value, unit, decimals_of(value, last_digit, unit) + 1);
    shown.digits = Digits::from_decimal(shown.digits.value().normalize());
    shown
}

/// Shows a net value with as many decimals as its display had.
fn decimals_of(value: Decimal, last_digit: Decimal, unit: Unit) -> u32 {
    let shown = Amount::readable(value, unit, 12);
    let in_prefix = last_digit / shown.prefix.factor();
    in_prefix.normalize().scale()
}

fn judge_above(window: &Window, proved: Option<&Amount>, uncertainty: Decimal, decision: Decision) -> Verdict {
    let Some(proved) = proved else {
        return Verdict::plain(Outcome::NotTested, "over-range, and the top of the range is not known");
    };
    let value = proved.value();
    // what the figure proves beyond its own uncertainty
    let surely = |edge: &Edge| edge.amount.value() <= value - uncertainty;
    let conditional = |edge: &Edge| decision == Decision::Guarded && !surely(edge);
    match (&window.low, &window.high) {
        (_, Some(high)) if high.amount.value() <= value && conditional(high) => Verdict::plain(
            Outcome::Conditional,
            format!(
                "conditional fail: over-range: above {proved}, above {} by no more than the uncertainty of the range",
                high.amount
            ),
        ),
        (_, Some(high)) if high.amount.value() <= value => Verdict::plain(
            Outcome::Fail,
            format!("over-range: above {proved}, so above {}", high.amount),
        ),
        (_, Some(high)) => Verdict::plain(
            Outcome::NotTested,
            format!(
                "not proven by this instrument: over-range proves only more than {proved}, the window ends at {}",
                high.amount
            ),
        ),
        (Some(low), None) if low.amount.value() <= value && conditional(low) => Verdict::plain(
            Outcome::Conditional,
            format!(
                "conditional pass: over-range: above {proved}, nearer {} than the uncertainty of the range",
                low.amount
            ),
        ),
        (Some(low), None) if low.amount.value() <= value => Verdict::plain(
            Outcome::Pass,
            format!("over-range: above {proved}, so {} {}", low.reaches(), low.amount),
        ),
        (Some(low), None) => Verdict::plain(
            Outcome::NotTested,
            format!(
                "not proven by this instrument: over-range proves only more than {proved}, {} {} is needed",
                low.reaches(),
                low.amount
            ),
        ),
        (None, None) => Verdict::plain(Outcome::Pass, "any value is accepted"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::value::reading::{Function, Multiple};

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
            must_not_trip: false,
            basis: Vec::new(),
        }
    }

    /// A trip test judged: `>1999 ms` and a bare over-range mark of a range that ends there prove as much.
    #[test]
    fn where_nothing_may_trip_only_over_range_passes() {
        let check = |line: &str, ceiling: Option<&str>, outcome: Outcome, because: &str| {
            let reading = Reading::typed(line, Function::ResidualTrip(Multiple::Half)).unwrap();
            let ceiling = ceiling.map(|text| Amount::parse(text).unwrap());
            let accuracy = Accuracy::percent(Decimal::TEN);
            let window = Window::no_trip(Amount::parse("200 ms").unwrap(), Vec::new());
            let verdict = judge(&window, &reading, &terms(&accuracy, "0", ceiling.as_ref()));
            assert_eq!(
                (verdict.outcome, verdict.because.as_str()),
                (outcome, because),
                "{line}"
            );
        };
        let proved = "over-range: above 1999 ms, so at least 200 ms";
        check(">1999 ms", None, Outcome::Pass, proved);
        check("OL", Some("1999 ms"), Outcome::Pass, proved);
        // longer than the edge, and a trip all the same
        check(
            "250",
            Some("1999 ms"),
            Outcome::Fail,
            "it tripped after 250 ms, and must not trip",
        );
        check(
            ">100 ms",
            None,
            Outcome::NotTested,
            "not proven by this instrument: over-range proves only more than 100 ms, at least 200 ms is needed",
        );
        check(
            "OL",
            None,
            Outcome::NotTested,
            "over-range, and the top of the range is not known",
        );
    }

    #[test]
    fn trip_times_are_judged_in_milliseconds() {
        let once = Function::ResidualTrip(Multiple::Once);
        let check = |line, outcome, because| check(None, Some("300 ms"), once, line, Some("300 ms"), outcome, because);
        check("24.3", Outcome::Pass, "24.3 ms is within the window: at most 300 ms");
        check("300", Outcome::Pass, "300 ms is within the window: at most 300 ms");
        check("301", Outcome::Fail, "301 ms is above 300 ms");
        // no trip while the test lasted
        check(">300", Outcome::Fail, "over-range: above 300 ms, so above 300 ms");
        check("OL", Outcome::Fail, "over-range: above 300 ms, so above 300 ms");
    }

    fn terms<'a>(accuracy: &'a Accuracy, null: &str, ceiling: Option<&'a Amount>) -> Terms<'a> {
        Terms {
            null: null.parse().unwrap(),
            null_uncertainty: Decimal::ZERO,
            ceiling,
            accuracy,
            decision: Decision::Simple,
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
        let accuracy = Accuracy::percent(Decimal::TWO);
        let verdict = judge(&window(low, high), &reading, &terms(&accuracy, "0", ceiling.as_ref()));
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
            "not proven by this instrument: over-range proves only more than 500 kohm, at least 1.0 Mohm is needed",
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
            "not proven by this instrument: over-range proves only more than 1999 ohm, the window ends at 5 kohm",
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
        let accuracy = Accuracy::percent(Decimal::TWO);
        let verdict = judge(&window(None, Some("0.2 ohm")), &reading, &terms(&accuracy, "0.1", None));
        assert_eq!(verdict.outcome, Outcome::Pass);
        assert_eq!(verdict.value.unwrap().to_string(), "0.2 ohm");
        assert_eq!(verdict.because, "0.20 ohm is within the window: at most 0.2 ohm");
    }

    /// Outcome, reason, edge and risk of a typed reading under a decision rule, its accuracy in percent and last digits.
    fn decided(
        edges: (Option<&str>, Option<&str>),
        typed: &str,
        accuracy: (&str, u32),
        decision: Decision,
    ) -> (Outcome, String, Option<String>, Option<String>) {
        let accuracy = Accuracy {
            percent: Digits::parse(accuracy.0).unwrap(),
            digits: accuracy.1,
            of: None,
        };
        let window = window(edges.0, edges.1);
        let function = if window.unit == Unit::Ohm && edges.0.is_some() {
            Function::Insulation(500)
        } else {
            Function::Continuity
        };
        let reading = Reading::typed(typed, function).unwrap();
        let mut terms = terms(&accuracy, "0", None);
        terms.decision = decision;
        let verdict = judge(&window, &reading, &terms);
        (verdict.outcome, verdict.because, verdict.edge, verdict.risk)
    }

    fn check_decided(
        edges: (Option<&str>, Option<&str>),
        typed: &str,
        accuracy: (&str, u32),
        decision: Decision,
        expected: (Outcome, &str, Option<&str>, &str),
    ) {
        let found = decided(edges, typed, accuracy, decision);
        assert_eq!(
            (found.0, found.1.as_str(), found.2.as_deref(), found.3.as_deref()),
            (expected.0, expected.1, expected.2, Some(expected.3)),
            "{typed}"
        );
    }

    #[test]
    fn w9_4_to_w9_7_guarded() {
        use Decision::Guarded;
        // computed: Zs limit 1.37, U 0.10 (ten last digits): 1.30 is conditional, PFA 0.08076; 1.25 passes, PFA 0.00820
        let zs = (None, Some("1.37 ohm"));
        check_decided(
            zs,
            "1.30",
            ("0", 10),
            Guarded,
            (
                Outcome::Conditional,
                "conditional pass: 1.30 ohm is within the window, at most 1.37 ohm, but nearer its edge than the uncertainty 0.1 ohm",
                Some("0.07 ohm from the edge 1.37 ohm, within the uncertainty 0.1 ohm"),
                "false acceptance 0.081",
            ),
        );
        check_decided(
            zs,
            "1.25",
            ("0", 10),
            Guarded,
            (
                Outcome::Pass,
                "1.25 ohm is within the window: at most 1.37 ohm",
                None,
                "false acceptance 0.0082",
            ),
        );
        // insulation minimum 1.0, U 30 %: 1.2 is conditional (AL 1.36), PFA 0.13326; 1.43 passes (AL 1.429), PFA 0.02250
        let insulation = (Some("1.0 Mohm"), None);
        check_decided(
            insulation,
            "1.2",
            ("30", 0),
            Guarded,
            (
                Outcome::Conditional,
                "conditional pass: 1.2 Mohm is within the window, at least 1.0 Mohm, but nearer its edge than the uncertainty 360 kohm",
                Some("200 kohm from the edge 1.0 Mohm, within the uncertainty 360 kohm"),
                "false acceptance 0.13",
            ),
        );
        check_decided(
            insulation,
            "1.43",
            ("30", 0),
            Guarded,
            (
                Outcome::Pass,
                "1.43 Mohm is within the window: at least 1.0 Mohm",
                None,
                "false acceptance 0.022",
            ),
        );
    }

    #[test]
    fn w9_8_simple_acceptance_passes_at_the_edge() {
        // computed: insulation minimum 1.0, y 1.0, U 0.3: pass, PFA 0.5
        check_decided(
            (Some("1.0 Mohm"), None),
            "1.0",
            ("30", 0),
            Decision::Simple,
            (
                Outcome::Pass,
                "1.0 Mohm is within the window: at least 1.0 Mohm",
                Some("0 ohm from the edge 1.0 Mohm, within the uncertainty 300 kohm"),
                "false acceptance 0.50",
            ),
        );
    }

    #[test]
    fn a_guarded_reading_outside_by_less_than_its_uncertainty_fails_conditionally() {
        let zs = (None, Some("1.37 ohm"));
        for (typed, outcome, because, risk) in [
            (
                "1.40",
                Outcome::Conditional,
                "conditional fail: 1.40 ohm is above 1.37 ohm by no more than the uncertainty 0.1 ohm",
                "false rejection 0.27",
            ),
            (
                "1.47",
                Outcome::Conditional,
                "conditional fail: 1.47 ohm is above 1.37 ohm by no more than the uncertainty 0.1 ohm",
                "false rejection 0.023",
            ),
            (
                "1.48",
                Outcome::Fail,
                "1.48 ohm is above 1.37 ohm",
                "false rejection 0.014",
            ),
        ] {
            let (found, why, _, probability) = decided(zs, typed, ("0", 10), Decision::Guarded);
            assert_eq!(
                (found, why.as_str(), probability.as_deref()),
                (outcome, because, Some(risk))
            );
        }
        // the same readings under simple acceptance
        for (typed, outcome) in [("1.37", Outcome::Pass), ("1.38", Outcome::Fail)] {
            assert_eq!(decided(zs, typed, ("0", 10), Decision::Simple).0, outcome);
        }
    }

    #[test]
    fn a_guarded_over_range_proves_its_figure_less_its_uncertainty() {
        let found = |low: Option<&str>, high: Option<&str>, typed: &str| {
            let (outcome, because, edge, risk) = decided((low, high), typed, ("30", 0), Decision::Guarded);
            assert_eq!((edge, risk), (None, None), "over-range has no number");
            (outcome, because)
        };
        assert_eq!(found(Some("1.0 Mohm"), None, ">299").0, Outcome::Pass);
        assert_eq!(
            found(Some("1.0 Mohm"), None, ">1.2"),
            (
                Outcome::Conditional,
                "conditional pass: over-range: above 1.2 Mohm, nearer 1.0 Mohm than the uncertainty of the range"
                    .into()
            )
        );
        assert_eq!(
            found(None, Some("1.0 ohm"), ">1.2"),
            (
                Outcome::Conditional,
                "conditional fail: over-range: above 1.2 ohm, above 1.0 ohm by no more than the uncertainty of the range".into()
            )
        );
    }

    #[test]
    fn the_rules_have_words() {
        assert_eq!(
            Decision::default().words(),
            "simple acceptance: a reading within its window passes, whatever its uncertainty"
        );
        assert!(
            Decision::Guarded
                .words()
                .starts_with("guarded (ILAC-G8:09/2019, w = U)")
        );
    }

    /// Everything in whole micro-ohms times 100, so that the oracle has no decimals at all.
    #[derive(Debug, Clone)]
    struct Case {
        shown_thousandths: i128,
        null_thousandths: i128,
        low_thousandths: Option<i128>,
        high_thousandths: Option<i128>,
        included: bool,
        percent: i128,
        digits: i128,
        guarded: bool,
    }

    /// The rule of ILAC-G8 with acceptance limits moved, on integers: another way than by margins on decimals.
    fn oracle(case: &Case) -> Outcome {
        let scale = 100;
        let value = (case.shown_thousandths - case.null_thousandths) * scale;
        let twice_u = (case.shown_thousandths.abs() * case.percent + case.digits * scale).max(scale / 2) * 2;
        let holds = |shift: i128| {
            let low = case
                .low_thousandths
                .map_or(i128::MIN / 4, |low| 2 * low * scale + shift);
            let high = case
                .high_thousandths
                .map_or(i128::MAX / 4, |high| 2 * high * scale - shift);
            (low, high)
        };
        let (low, high) = holds(0);
        let v = 2 * value;
        let in_open = low < v && v < high;
        let inside = in_open || (case.included && low <= v && v <= high);
        if !case.guarded {
            return if inside { Outcome::Pass } else { Outcome::Fail };
        }
        let (guard_low, guard_high) = holds(twice_u);
        let (loose_low, loose_high) = holds(-twice_u);
        if inside && guard_low <= v && v <= guard_high {
            Outcome::Pass
        } else if inside || (loose_low <= v && v <= loose_high) {
            Outcome::Conditional
        } else {
            Outcome::Fail
        }
    }

    fn thousandths(n: i128) -> String {
        let sign = if n < 0 { "-" } else { "" };
        format!("{sign}{}.{:03}", n.abs() / 1000, n.abs() % 1000)
    }

    proptest::proptest! {
        #[test]
        fn verdicts_agree_with_whole_numbers(
            shown in 0_i128..3000, null in 0_i128..100, low in proptest::option::of(0_i128..2000), width in proptest::option::of(1_i128..1500),
            included: bool, percent in 0_i128..40, digits in 0_i128..30, guarded: bool,
        ) {
            let case = Case {
                shown_thousandths: shown,
                null_thousandths: null,
                low_thousandths: low,
                high_thousandths: width.map(|w| low.unwrap_or(0) + w),
                included,
                percent,
                digits,
                guarded,
            };
            let edge = |n: Option<i128>| n.map(|n| Edge {
                amount: Amount::parse(&format!("{} ohm", thousandths(n))).unwrap(),
                included,
            });
            let window = Window {
                low: edge(case.low_thousandths),
                high: edge(case.high_thousandths),
                unit: Unit::Ohm,
                ask_below: None,
                must_not_trip: false,
                basis: Vec::new(),
            };
            let accuracy = Accuracy {
                percent: Digits::parse(&percent.to_string()).unwrap(),
                digits: u32::try_from(digits).unwrap(),
                of: None,
            };
            let reading = Reading::typed(&thousandths(shown), Function::Continuity).unwrap();
            let null_text = thousandths(null);
            let mut terms = terms(&accuracy, &null_text, None);
            terms.decision = if guarded { Decision::Guarded } else { Decision::Simple };
            let verdict = judge(&window, &reading, &terms);
            proptest::prop_assert_eq!(verdict.outcome, oracle(&case), "{:?}: {}", case, verdict.because);
        }
    }

    #[test]
    fn edges_that_do_not_belong_are_outside() {
        let mut w = window(None, Some("5 V"));
        w.high.as_mut().unwrap().included = false;
        let reading = Reading::typed("5", Function::VoltageAc).unwrap();
        let accuracy = Accuracy::percent(Decimal::TWO);
        assert_eq!(judge(&w, &reading, &terms(&accuracy, "0", None)).outcome, Outcome::Fail);
        assert_eq!(w.words(), "less than 5 V");
    }
}
