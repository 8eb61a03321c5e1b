//! A file of limits: one country's or one body's rows for all its editions, and the sets it builds on.
//!
//! The rule inside: a country is data. A set says which editions it has, which rows hold for which, and which other sets
//! fill what it lacks; nothing here knows a country by name.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::edition::Limits;
use super::row::{Row, Saying, amount_key};

/// One edition of a set.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Edition {
    /// As it is cited and chosen: `2018+A2:2022`.
    pub name: String,
    /// The edition whose rows judge, where this one's own tables were not seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub values_of: Option<String>,
    /// What a record judged by this edition must say in words.
    pub caveat: String,
}

/// One file of limits.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Set {
    /// The name by which a job and other sets call it.
    pub set: String,
    /// The standard it holds figures of, as it is cited.
    pub standard: String,
    /// Sets that fill what this one lacks, the nearest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub builds_on: Vec<String>,
    /// None where the set only fills others.
    pub editions: Vec<Edition>,
    /// Its figures.
    pub rows: Vec<Row>,
    /// What its standard asks for in words.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub words: Vec<Saying>,
}

impl Set {
    /// What is wrong with the set in itself, in words.
    pub fn problems(&self) -> Vec<String> {
        let mut problems = Vec::new();
        if self.set.trim().is_empty() || self.standard.trim().is_empty() {
            problems.push("a set of limits has no name or no standard".to_owned());
        }
        let names: Vec<_> = self.editions.iter().map(|e| e.name.as_str()).collect();
        let known = |name: &str| names.contains(&name);
        for (i, edition) in self.editions.iter().enumerate() {
            if edition.name.trim().is_empty() || edition.caveat.trim().is_empty() {
                problems.push(format!("an edition of `{}` has no name or no caveat", self.set));
            }
            if names[..i].contains(&edition.name.as_str()) {
                problems.push(format!("two editions of `{}` are called `{}`", self.set, edition.name));
            }
            if let Some(of) = edition.values_of.as_ref().filter(|of| !known(of)) {
                problems.push(format!(
                    "`{}` takes the values of `{of}`, which `{}` does not have",
                    edition.name, self.set
                ));
            }
        }
        let keys: Vec<_> = self.rows.iter().map(|r| (r.table, amount_key(&r.of))).collect();
        for (i, row) in self.rows.iter().enumerate() {
            problems.extend(row.problems());
            let twice = (0..i).find(|&j| keys[j] == keys[i] && shared(&self.rows[j].editions, &row.editions));
            if let Some(other) = twice.map(|j| &self.rows[j]) {
                problems.push(format!(
                    "two rows `{}` in the table of {}: {} and {}",
                    row.of,
                    row.table.words(),
                    other.value,
                    row.value
                ));
            }
        }
        let marks = self
            .rows
            .iter()
            .map(|r| (&r.of, &r.source, &r.editions))
            .chain(self.words.iter().map(|w| (&w.of, &w.source, &w.editions)));
        for (of, source, editions) in marks {
            if source.trim().is_empty() {
                problems.push(format!("the row `{of}` of `{}` has no source", self.set));
            }
            for edition in editions.iter().filter(|e| !known(e)) {
                problems.push(format!(
                    "the row `{of}` is for the edition `{edition}`, which `{}` does not have",
                    self.set
                ));
            }
        }
        problems
    }
}

/// Whether two lists of editions have one in common; an empty list is every edition.
fn shared(a: &[String], b: &[String]) -> bool {
    a.is_empty() || b.is_empty() || a.iter().any(|edition| b.contains(edition))
}

/// Whether a row is one of a ladder of nominal voltages.
fn is_band(of: &str) -> bool {
    of.starts_with("up to ") || of.starts_with("above ")
}

/// One [`Limits`] for every edition of every set, filled from the sets it builds on; the error says what is wrong.
pub fn resolve(sets: &[Set]) -> Result<Vec<Limits>, String> {
    let mut all: Vec<Limits> = Vec::new();
    for set in sets {
        if let Some(problem) = set.problems().into_iter().next() {
            return Err(problem);
        }
        for edition in &set.editions {
            if let Some(other) = all.iter().find(|l| l.edition == edition.name) {
                return Err(format!(
                    "the edition `{}` is in `{}` and in `{}`",
                    edition.name, other.set, set.set
                ));
            }
            let judged_by = edition.values_of.as_ref().unwrap_or(&edition.name).clone();
            let mut limits = Limits {
                set: set.set.clone(),
                standard: set.standard.clone(),
                edition: edition.name.clone(),
                judged_by: judged_by.clone(),
                caveat: edition.caveat.clone(),
                rows: held(&set.rows, &judged_by, |r| &r.editions),
                words: held(&set.words, &judged_by, |w| &w.editions),
            };
            for name in &set.builds_on {
                let base = sets.iter().find(|s| s.set == *name).ok_or_else(|| {
                    let known: Vec<_> = sets.iter().map(|s| format!("`{}`", s.set)).collect();
                    format!("`{}` builds on `{name}`; there is {}", set.set, known.join(", "))
                })?;
                limits.fill(base);
            }
            all.push(limits);
        }
    }
    Ok(all)
}

fn held<T: Clone>(rows: &[T], edition: &str, editions: impl Fn(&T) -> &Vec<String>) -> Vec<T> {
    let holds = |row: &&T| editions(row).is_empty() || editions(row).iter().any(|e| e == edition);
    rows.iter().filter(holds).cloned().collect()
}

impl Limits {
    /// Takes from another set, in its last edition, the rows that are lacking; a ladder of nominal voltages is never mixed.
    fn fill(&mut self, base: &Set) {
        let last = base.editions.last().map_or("", |e| e.name.as_str());
        let mut more = held(&base.rows, last, |r| &r.editions);
        let mut own = BTreeSet::new();
        let mut ladders = BTreeSet::new();
        for row in &self.rows {
            own.insert((row.table, amount_key(&row.of)));
            if is_band(&row.of) {
                ladders.insert(row.table);
            }
        }
        more.retain(|row| {
            let mixes = is_band(&row.of) && ladders.contains(&row.table);
            !mixes && !own.contains(&(row.table, amount_key(&row.of)))
        });
        self.rows.extend(more);
        let mut words = held(&base.words, last, |w| &w.editions);
        words.retain(|word| {
            !self
                .words
                .iter()
                .any(|own| (own.table, &own.of) == (word.table, &word.of))
        });
        self.words.extend(words);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::table::Table;
    use crate::limits::{edition, with};
    use crate::located;

    #[test]
    fn a_country_is_added_by_data_alone() {
        let set: Set = located::read(include_str!("../../fixtures/limits/examplia.ron")).unwrap();
        let all = with(&[set]).unwrap();
        let limits = edition(&all, "EX 1:2020").unwrap();
        assert_eq!(
            limits
                .row(Table::InsulationMinimum, "up to 500 V")
                .unwrap()
                .value
                .to_string(),
            "2.0 Mohm"
        );
        // what it lacks comes from the set it builds on, with that set's source
        assert_eq!(
            limits.row(Table::ConductorClass1And2, "1.5 mm2").unwrap().source,
            "IEC 60228"
        );
        assert!(
            limits
                .caveat
                .starts_with("Limits of the job's own, not of this program. ")
        );
    }

    #[test]
    fn a_set_that_cannot_be_believed_is_refused() {
        let good = include_str!("../../fixtures/limits/examplia.ron");
        let cases = [
            (
                "\"IEC\"",
                "\"ICE\"",
                "`Examplia` builds on `ICE`; there is `UK`, `IEC`, `Australia and New Zealand`, `North America`, `practice`, `Examplia`",
            ),
            (
                "2.0 Mohm",
                "2.0 V",
                "`2.0 V` in the table of insulation minimum is a voltage",
            ),
            (
                "2.0 Mohm",
                "0 Mohm",
                "`0 Mohm` in the table of insulation minimum is not above zero and at most 1000000000",
            ),
            (
                "2.0 Mohm",
                "2.0 Gohm",
                "`2.0 Gohm` in the table of insulation minimum is not above zero and at most 1000000000",
            ),
            (
                "of: \"above 500 V\"",
                "of: \"up to 500.0 V\"",
                "two rows `up to 500.0 V` in the table of insulation minimum: 2.0 Mohm and 3.0 Mohm",
            ),
            (
                "source: \"Examplian rules\"",
                "source: \" \"",
                "the row `up to 500 V` of `Examplia` has no source",
            ),
            (
                "editions: [\"EX 1:2020\"]",
                "editions: [\"EX 9\"]",
                "the row `above 500 V` is for the edition `EX 9`, which `Examplia` does not have",
            ),
            (
                "caveat: \"",
                "values_of: \"EX 0\", caveat: \"",
                "`EX 1:2020` takes the values of `EX 0`, which `Examplia` does not have",
            ),
            (
                "set: \"Examplia\"",
                "set: \"\"",
                "a set of limits has no name or no standard",
            ),
            (
                "(name: \"EX 1:2020\"",
                "(name: \"EX 1:2020\", caveat: \"x\"), (name: \"EX 1:2020\"",
                "two editions of `Examplia` are called `EX 1:2020`",
            ),
            (
                "(name: \"EX 1:2020\"",
                "(name: \" \"",
                "an edition of `Examplia` has no name or no caveat",
            ),
        ];
        let taken: Set = located::read(&good.replace("EX 1:2020", "2008")).unwrap();
        assert_eq!(
            with(&[taken]).unwrap_err(),
            "the edition `2008` is in `UK` and in `Examplia`"
        );
        for (from, to, expected) in cases {
            assert!(good.contains(from), "{from}");
            let set: Set = located::read(&good.replacen(from, to, 1)).unwrap();
            assert_eq!(with(&[set]).unwrap_err(), expected);
        }
    }
}
