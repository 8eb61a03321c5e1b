//! One figure, or one saying, with everything that is known about where it comes from.
//!
//! The rule inside: how well a figure is known goes with it wherever it judges.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::table::Table;
use crate::value::quantity::{Amount, Unit};

/// The largest figure of a row, in its plain unit: nothing in this trade comes near, and every product stays exact.
const VALUE_MAX: u32 = 1_000_000_000;

/// How well a figure is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Confidence {
    /// Seen in print, some of it second-hand.
    Printed,
    /// Worked out from a formula and figures that were seen.
    Computed,
    /// Recalled, not checked against a copy; shown wherever it judges.
    Memory,
    /// Common practice of the trade, with no published source.
    Practice,
}

impl Confidence {
    /// The word in tables.
    pub fn word(self) -> &'static str {
        match self {
            Confidence::Printed => "printed",
            Confidence::Computed => "computed",
            Confidence::Memory => "memory",
            Confidence::Practice => "practice",
        }
    }

    /// The mark beside the source; empty where the figure was seen in print.
    pub fn mark(self) -> &'static str {
        match self {
            Confidence::Printed => "",
            Confidence::Computed => " [computed from a seen formula]",
            Confidence::Memory => " [from memory: check your own copy]",
            Confidence::Practice => " [common practice]",
        }
    }
}

/// One figure.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Row {
    /// The table that it belongs to.
    pub table: Table,
    /// What the figure is for: `1.0 mm2`, `BS 1362 3 A`, `up to 500 V`.
    pub of: String,
    /// The figure as printed, with its unit.
    pub value: Amount,
    /// Editions of its set that it holds for; every one where none is named.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub editions: Vec<String>,
    /// Clause or table number; empty where it is not known.
    pub clause: String,
    /// The standard or public body, and how its text was seen.
    pub source: String,
    /// How well the figure is known.
    pub confidence: Confidence,
}

/// What a standard asks for in words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Saying {
    /// The table that it belongs to.
    pub table: Table,
    /// What it is about: `which tests`, `test button`.
    pub of: String,
    /// A paraphrase; the wording of a standard is its own.
    pub says: String,
    /// Editions of its set that it holds for; every one where none is named.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub editions: Vec<String>,
    /// Clause or table number; empty where it is not known.
    pub clause: String,
    /// The standard or public body, and how its text was seen.
    pub source: String,
    /// How well it is known.
    pub confidence: Confidence,
}

/// Where a figure in a window comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Basis {
    /// The figure in words: `conductor resistance, class 1 and 2, 1.0 mm2: 18.1 mohm/m`.
    pub what: String,
    /// The standard with its clause, or the file that gave the figure.
    pub source: String,
    /// How well the figure is known.
    pub confidence: Confidence,
}

impl Basis {
    /// The source with its mark.
    pub fn words(&self) -> String {
        format!("{}; {}{}", self.what, self.source, self.confidence.mark())
    }
}

impl Row {
    /// Whether its figure is one that its table can hold: the unit, above zero, and not beyond reckoning.
    pub fn problems(&self) -> Vec<String> {
        let mut problems = Vec::new();
        let words = self.table.words();
        if !self.table.units().contains(&self.value.unit) {
            let quantity = self.value.unit.quantity();
            problems.push(format!("`{}` in the table of {words} is {quantity}", self.value));
        }
        let value = self.value.value();
        let signed = self.table == Table::CopperTemperature;
        if (value <= Decimal::ZERO && !signed) || Decimal::from(VALUE_MAX) < value.abs() {
            problems.push(format!(
                "`{}` in the table of {words} is not above zero and at most {VALUE_MAX}",
                self.value
            ));
        }
        problems
    }

    /// This row as the basis of a window.
    pub fn basis(&self) -> Basis {
        let clause = if self.clause.is_empty() {
            String::new()
        } else {
            format!(", {}", self.clause)
        };
        Basis {
            what: format!("{}, {}: {}", self.table.words(), self.of, self.value),
            source: format!("{}{clause}", self.source),
            confidence: self.confidence,
        }
    }
}

/// The words of a row's name and the amount it ends in: `BS 1362 3 A` is `BS 1362` and 3 A; sizes are equal by value.
pub(super) fn amount_key(of: &str) -> (&str, Option<(Unit, Decimal)>) {
    let words: Vec<(usize, &str)> = of
        .split(' ')
        .scan(0, |at, word| {
            let start = *at;
            *at += word.len() + 1;
            Some((start, word))
        })
        .collect();
    if let [.., (start, _), _] = words[..]
        && let Ok(amount) = Amount::parse(&of[start..])
    {
        return (of[..start].trim_end(), Some((amount.unit, amount.value().normalize())));
    }
    (of, None)
}
