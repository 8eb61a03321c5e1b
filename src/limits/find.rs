//! Finding rows by what they are called or by a figure, and comparing two editions row by row.

use super::edition::Limits;
use super::row::{Confidence, Row, Saying};
use super::set::Set;
use super::table::Table;
use crate::value::quantity::{Amount, Digits};

/// A row or a saying, as a list shows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry<'a> {
    /// The set that it stands in, by its name.
    pub set: &'a str,
    /// The table that it belongs to.
    pub table: Table,
    /// What it is for, as its row says.
    pub of: &'a str,
    /// The figure or the saying.
    pub value: String,
    /// The figure; `None` of a saying.
    pub amount: Option<&'a Amount>,
    /// Empty for every edition of its set.
    pub editions: &'a [String],
    /// Clause or table number; empty where it is not known.
    pub clause: &'a str,
    /// Where the figure or the words were seen.
    pub source: &'a str,
    /// How well it is known.
    pub confidence: Confidence,
}

impl<'a> Entry<'a> {
    fn of_row(set: &'a str, row: &'a Row) -> Entry<'a> {
        Entry {
            set,
            table: row.table,
            of: &row.of,
            value: row.value.to_string(),
            amount: Some(&row.value),
            editions: &row.editions,
            clause: &row.clause,
            source: &row.source,
            confidence: row.confidence,
        }
    }

    fn of_saying(set: &'a str, word: &'a Saying) -> Entry<'a> {
        Entry {
            set,
            table: word.table,
            of: &word.of,
            value: word.says.clone(),
            amount: None,
            editions: &word.editions,
            clause: &word.clause,
            source: &word.source,
            confidence: word.confidence,
        }
    }

    /// Whether a search finds it: a figure by its value (`1.37`, `1.37 ohm`, `500 kohm`), anything else by every word of it.
    fn is_found(&self, wanted: &str) -> bool {
        let by_value = self.amount.is_some_and(|amount| {
            Amount::parse(wanted).is_ok_and(|a| (a.unit, a.value()) == (amount.unit, amount.value()))
                || Digits::parse(wanted).is_some_and(|d| d.value() == amount.digits.value())
        });
        let text = format!(
            "{} {} {} {} {} {} {}",
            self.set,
            self.table.words(),
            self.of,
            self.value,
            self.clause,
            self.source,
            self.confidence.word()
        )
        .to_lowercase();
        let is_number = Digits::parse(wanted).is_some() || Amount::parse(wanted).is_ok();
        by_value || (!is_number && wanted.to_lowercase().split_whitespace().all(|word| text.contains(word)))
    }
}

/// Every row and saying of some sets, table by table.
pub fn entries(sets: &[Set]) -> Vec<Entry<'_>> {
    let mut all: Vec<Entry<'_>> = sets
        .iter()
        .flat_map(|set| {
            let rows = set.rows.iter().map(|row| Entry::of_row(&set.set, row));
            rows.chain(set.words.iter().map(|word| Entry::of_saying(&set.set, word)))
        })
        .collect();
    all.sort_by_key(|entry| entry.table);
    all
}

/// The rows and sayings that a search finds: those of a table or of a row by its exact name, else by figure or words.
pub fn find<'a>(sets: &'a [Set], wanted: &str) -> Vec<Entry<'a>> {
    let wanted = wanted.trim();
    let named =
        |entry: &Entry<'_>| entry.table.words().eq_ignore_ascii_case(wanted) || entry.of.eq_ignore_ascii_case(wanted);
    let all = entries(sets);
    if all.iter().any(named) {
        return all.into_iter().filter(named).collect();
    }
    all.into_iter().filter(|entry| entry.is_found(wanted)).collect()
}

/// One row in two editions.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Compared<'a> {
    /// The table that both rows belong to.
    pub table: Table,
    /// What both rows are for.
    pub of: &'a str,
    /// As the first edition has it; `None` where it has no such row.
    pub first: Option<&'a Row>,
    /// As the second edition has it; `None` where it has no such row.
    pub second: Option<&'a Row>,
}

impl Compared<'_> {
    /// Whether both editions have the same figure.
    pub fn is_same(&self) -> bool {
        match (self.first, self.second) {
            (Some(a), Some(b)) => a.value.value() == b.value.value(),
            _ => false,
        }
    }

    /// What became of the row, in a word or two.
    pub fn word(&self) -> &'static str {
        match (self.first, self.second) {
            (Some(_), None) => "only in the first",
            (None, _) => "only in the second",
            (Some(_), Some(_)) if self.is_same() => "same",
            (Some(_), Some(_)) => "changed",
        }
    }
}

/// Two editions row by row, table by table.
pub fn compare<'a>(first: &'a Limits, second: &'a Limits) -> Vec<Compared<'a>> {
    let in_second = |row: &Row| second.row(row.table, &row.of).ok();
    let mut all: Vec<Compared<'a>> = first
        .rows
        .iter()
        .map(|row| Compared {
            table: row.table,
            of: &row.of,
            first: Some(row),
            second: in_second(row),
        })
        .collect();
    all.extend(
        second
            .rows
            .iter()
            .filter(|row| first.row(row.table, &row.of).is_err())
            .map(|row| Compared {
                table: row.table,
                of: &row.of,
                first: None,
                second: Some(row),
            }),
    );
    all.sort_by_key(|row| row.table);
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::{edition, sets, shipped};

    #[test]
    fn a_search_finds_figures_by_value_and_rows_by_words() {
        let found = |wanted: &str| find(sets(), wanted).iter().map(|e| e.of.to_owned()).collect::<Vec<_>>();
        assert!(found("1.37").contains(&"type B 32 A".to_owned()));
        assert_eq!(found("1.37 ohm"), found("1370 mohm"));
        assert_eq!(found("36.2"), Vec::<String>::new());
        assert!(found("core colours").iter().any(|of| of == "protective"));
        assert_eq!(found("bs 1362 3 a").len(), 5);
        assert!(find(sets(), "core colours").iter().all(|e| e.value.contains("never")));
    }

    #[test]
    fn two_editions_are_compared_row_by_row() {
        let (old, new) = (edition(shipped(), "2008").unwrap(), edition(shipped(), "2018").unwrap());
        let rows = compare(&old, &new);
        let word = |of: &str, table| rows.iter().find(|r| r.of == of && r.table == table).unwrap().word();
        assert_eq!(word("type B 32 A", Table::LoopImpedance), "changed");
        assert_eq!(word("up to 500 V", Table::InsulationMinimum), "same");
        assert_eq!(word("BS 1361 5 A", Table::LoopImpedance), "only in the first");
        assert_eq!(word("BS 3036 3 A", Table::LoopImpedance), "only in the second");
        assert!(compare(&new, &new).iter().all(Compared::is_same));
    }
}
