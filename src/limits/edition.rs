//! The limits of one edition, and looking a figure up in them.
//!
//! The rule inside: a figure that is not in a table is refused with the nearest choices; nothing is interpolated.

use rust_decimal::Decimal;
use serde::Serialize;

use super::row::{Row, Saying, amount_key};
use super::table::Table;
use crate::value::quantity::Amount;

/// The tables of one edition, complete with what other sets filled in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Limits {
    /// The set that was chosen, by its name.
    pub set: String,
    /// The standard that the edition is of, as it is cited.
    pub standard: String,
    /// The edition that was chosen: `2018+A2:2022`.
    pub edition: String,
    /// The edition whose rows judge; another one where this edition's tables were not seen.
    pub judged_by: String,
    /// What a record judged by this edition must say in words.
    pub caveat: String,
    /// Every figure, one row for each use of a table.
    pub rows: Vec<Row>,
    /// What the standards ask for in words.
    pub words: Vec<Saying>,
}

impl Limits {
    /// The row of a table, or the nearest choices.
    ///
    /// ```
    /// use coreproof::limits::{Table, edition, shipped};
    /// let limits = edition(shipped(), "2018+A2:2022").unwrap();
    /// assert_eq!(limits.row(Table::ConductorClass1And2, "1 mm2").unwrap().value.to_string(), "18.1 mohm/m");
    /// assert!(limits.row(Table::ConductorClass1And2, "1.2 mm2").unwrap_err().ends_with("nearest are `1.0 mm2` and `1.5 mm2`"));
    /// ```
    pub fn row(&self, table: Table, of: &str) -> Result<&Row, String> {
        let rows = || self.rows.iter().filter(|row| row.table == table);
        let same = || {
            let wanted = amount_key(of);
            rows().find(|row| amount_key(&row.of) == wanted)
        };
        // most are asked for by the very words, and the engine asks often
        let found = rows().find(|row| row.of == of).or_else(same);
        found.ok_or_else(|| {
            format!(
                "no row `{of}` in the table of {}; {}",
                table.words(),
                self.nearest(table, of)
            )
        })
    }

    /// The row `up to …` or `above …` that a nominal voltage falls under.
    pub fn band(&self, table: Table, nominal: &Amount) -> Result<&Row, String> {
        let edge = |row: &Row, word: &str| {
            let amount = Amount::parse(row.of.strip_prefix(word)?).ok()?;
            (amount.unit == nominal.unit).then(|| amount.value())
        };
        let rows = || self.rows.iter().filter(|row| row.table == table);
        let up_to = rows()
            .filter_map(|row| Some((edge(row, "up to ")?, row)))
            .filter(|(top, _)| nominal.value() <= *top)
            .min_by_key(|(top, _)| *top);
        let above = || {
            rows()
                .filter_map(|row| Some((edge(row, "above ")?, row)))
                .filter(|(bottom, _)| *bottom < nominal.value())
                .max_by_key(|(bottom, _)| *bottom)
        };
        up_to.or_else(above).map(|(_, row)| row).ok_or_else(|| {
            format!(
                "no row for a nominal `{nominal}` in the table of {}; {}",
                table.words(),
                self.nearest(table, "")
            )
        })
    }

    /// The choices beside what was asked for: the figures next to it, else everything the table has.
    fn nearest(&self, table: Table, of: &str) -> String {
        let rows: Vec<&str> = self
            .rows
            .iter()
            .filter(|r| r.table == table)
            .map(|r| r.of.as_str())
            .collect();
        let (words, asked) = amount_key(of);
        let quote = |names: &[&str]| names.iter().map(|n| format!("`{n}`")).collect::<Vec<_>>().join(" and ");
        if let Some((unit, asked)) = asked {
            let mut alike: Vec<(Decimal, &str)> = rows
                .iter()
                .filter_map(|name| match amount_key(name) {
                    (w, Some((u, v))) if w == words && u == unit => Some((v, *name)),
                    _ => None,
                })
                .collect();
            alike.sort();
            let below = alike.iter().rev().find(|(v, _)| *v < asked);
            let above = alike.iter().find(|(v, _)| asked < *v);
            let names: Vec<_> = below.into_iter().chain(above).map(|(_, name)| *name).collect();
            if !names.is_empty() {
                let verb = if names.len() == 1 { "is" } else { "are" };
                return format!("nearest {verb} {}", quote(&names));
            }
        }
        // a ladder of amounts after words is shown by its words alone: `BS 1362 3 A`, `BS 1362 13 A` are `BS 1362 …`
        let mut kinds: Vec<String> = Vec::new();
        for name in &rows {
            let kind = match amount_key(name) {
                (w, Some(_)) if !w.is_empty() => format!("`{w} \u{2026}`"),
                _ => format!("`{name}`"),
            };
            if !kinds.contains(&kind) {
                kinds.push(kind);
            }
        }
        if kinds.is_empty() {
            "it is empty in this edition".into()
        } else {
            format!("it has {}", kinds.join(", "))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::{edition, shipped};

    #[test]
    fn a_figure_that_is_lacking_names_the_nearest() {
        let limits = edition(shipped(), "2018+A2:2022").unwrap();
        let cases = [
            (
                Table::ConductorClass5,
                "1.2 mm2",
                "no row `1.2 mm2` in the table of conductor resistance, class 5; nearest are `1.0 mm2` and `1.5 mm2`",
            ),
            (
                Table::ConductorClass5,
                "50 mm2",
                "no row `50 mm2` in the table of conductor resistance, class 5; nearest is `35 mm2`",
            ),
            (
                Table::OperatingCurrent,
                "BS 1362 5 A",
                "no row `BS 1362 5 A` in the table of operating current; nearest are `BS 1362 3 A` and `BS 1362 13 A`",
            ),
            (
                Table::ExtraLowVoltage,
                "upper",
                "no row `upper` in the table of extra-low voltage; it has `a.c. upper`, `d.c. upper, ripple-free`, `a.c. upper, special locations`, `d.c. upper, special locations`",
            ),
            (
                Table::SafeIsolation,
                "lock",
                "no row `lock` in the table of safe isolation; it is empty in this edition",
            ),
        ];
        for (table, of, expected) in cases {
            assert_eq!(limits.row(table, of).unwrap_err(), expected);
        }
    }
}
