//! Limit tables as data: every figure that judges a reading, with its edition, clause, source and confidence.
//!
//! The rule inside: a figure that is not in a table is refused with the nearest choices; nothing is interpolated.

use std::sync::LazyLock;

use serde::{Deserialize, Serialize};

use super::located;
use super::quantity::Amount;

/// How well a figure is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Confidence {
    /// Seen in print, some of it second-hand.
    Printed,
    /// Recalled, not checked against a copy; shown wherever it judges.
    Memory,
    /// Common practice of the trade, with no published source.
    Practice,
}

impl Confidence {
    /// The mark beside the source; empty where the figure was seen in print.
    pub fn mark(self) -> &'static str {
        match self {
            Confidence::Printed => "",
            Confidence::Memory => " [from memory: check your own copy]",
            Confidence::Practice => " [common practice]",
        }
    }
}

/// Which table a row belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Table {
    /// d.c. test voltage, in volts.
    InsulationVoltage,
    /// Least insulation resistance, in ohms.
    InsulationMinimum,
    /// Greatest resistance of a solid or stranded conductor at 20 °C, in ohms per metre.
    ConductorClass1And2,
    /// Greatest resistance of a flexible conductor at 20 °C, in ohms per metre.
    ConductorClass5,
    /// Change of copper's resistance per degree, on the 20 °C base.
    CopperCoefficient,
    SupplyVoltage,
    ExtraLowVoltage,
    Practice,
}

impl Table {
    /// The name a person reads.
    pub fn words(self) -> &'static str {
        match self {
            Table::InsulationVoltage => "insulation test voltage",
            Table::InsulationMinimum => "insulation minimum",
            Table::ConductorClass1And2 => "conductor resistance, class 1 and 2",
            Table::ConductorClass5 => "conductor resistance, class 5",
            Table::CopperCoefficient => "temperature coefficient of copper",
            Table::SupplyVoltage => "supply voltage",
            Table::ExtraLowVoltage => "extra-low voltage",
            Table::Practice => "practice",
        }
    }
}

/// One figure with everything that is known about it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Row {
    pub table: Table,
    pub of: String,
    pub value: Amount,
    pub clause: String,
    pub source: String,
    pub confidence: Confidence,
}

/// Where a figure in a window comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Basis {
    /// The figure in words: `conductor resistance, class 1 and 2, 1.0 mm2: 18.1 mohm/m`.
    pub what: String,
    pub source: String,
    pub confidence: Confidence,
}

impl Basis {
    /// The source with its mark.
    pub fn words(&self) -> String {
        format!("{}; {}{}", self.what, self.source, self.confidence.mark())
    }
}

impl Row {
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

/// One set of tables of one edition.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Limits {
    pub set: String,
    pub standard: String,
    pub edition: String,
    /// What a record judged by this set must say in words.
    pub caveat: String,
    pub rows: Vec<Row>,
}

impl Limits {
    /// The row of a table, or the choices that exist.
    ///
    /// ```
    /// use coreproof::pure::limits::{Table, shipped};
    /// let limits = &shipped()[0];
    /// assert_eq!(limits.row(Table::ConductorClass1And2, "1.0 mm2").unwrap().value.to_string(), "18.1 mohm/m");
    /// assert!(limits.row(Table::ConductorClass1And2, "1.2 mm2").unwrap_err().contains("1.0 mm2"));
    /// ```
    pub fn row(&self, table: Table, of: &str) -> Result<&Row, String> {
        self.rows
            .iter()
            .find(|row| row.table == table && row.of == of)
            .ok_or_else(|| {
                let known: Vec<_> = self
                    .rows
                    .iter()
                    .filter(|r| r.table == table)
                    .map(|r| format!("`{}`", r.of))
                    .collect();
                format!(
                    "no row `{of}` in the table of {}; it has {}",
                    table.words(),
                    known.join(", ")
                )
            })
    }
}

static SHIPPED: LazyLock<Vec<Limits>> =
    LazyLock::new(|| vec![located::read(include_str!("uk.ron")).expect("the shipped limit tables are read by a test")]);

/// Every set of limits in this program.
pub fn shipped() -> &'static [Limits] {
    &SHIPPED
}

/// The set of an edition, or the editions that exist.
pub fn edition(edition: &str) -> Result<&'static Limits, String> {
    shipped()
        .iter()
        .find(|limits| limits.edition == edition)
        .ok_or_else(|| {
            let known: Vec<_> = shipped()
                .iter()
                .map(|l| format!("`{}` ({})", l.edition, l.standard))
                .collect();
            format!("no limits of the edition `{edition}`; there is {}", known.join(", "))
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn insulation_minima_are_the_printed_ones() {
        // BS 7671:2018 Table 64: 250 V and 0.5 Mohm, 500 V and 1.0 Mohm (trade guidance, two printings)
        let limits = edition("2018+A2:2022").unwrap();
        let figures = [
            ("SELV or PELV", "250 V", "0.5 Mohm"),
            ("up to 500 V", "500 V", "1.0 Mohm"),
            ("equipment connected", "250 V", "1.0 Mohm"),
        ];
        for (of, volts, minimum) in figures {
            assert_eq!(
                limits.row(Table::InsulationVoltage, of).unwrap().value.to_string(),
                volts
            );
            assert_eq!(
                limits.row(Table::InsulationMinimum, of).unwrap().value.to_string(),
                minimum
            );
        }
    }

    #[test]
    fn supply_window_follows_from_230_volts() {
        // SI 1994/3021: 230 V +10 % -6 %
        let limits = edition("2018+A2:2022").unwrap();
        let nominal = rust_decimal::Decimal::from(230);
        let percent = |p: i64| nominal * rust_decimal::Decimal::new(p, 2);
        assert_eq!(
            limits.row(Table::SupplyVoltage, "lower").unwrap().value.value(),
            percent(94)
        );
        assert_eq!(
            limits.row(Table::SupplyVoltage, "upper").unwrap().value.value(),
            percent(110)
        );
    }

    #[test]
    fn an_unknown_edition_names_those_that_exist() {
        assert_eq!(
            edition("2031").unwrap_err(),
            "no limits of the edition `2031`; there is `2018+A2:2022` (BS 7671)"
        );
    }
}
