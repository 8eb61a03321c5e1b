//! The numbered list of where the figures of the windows come from.
//!
//! The rule inside: one figure has one number however many steps it judges, in the order of first use.

use serde::Serialize;

use super::words::symbols;
use crate::limits::Basis;

/// One numbered source.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SourceLine {
    /// From 1, as steps name it.
    pub number: usize,
    /// The figure in words.
    pub what: String,
    /// The standard with its clause, or the file that gave the figure.
    pub source: String,
    /// How well the figure is known, in words; empty where it was seen in print.
    pub mark: String,
}

/// Sources in the order of their first use.
#[derive(Debug, Default)]
pub(super) struct Sources {
    list: Vec<Basis>,
}

impl Sources {
    /// The number of a source, counted from 1.
    pub(super) fn number(&mut self, basis: &Basis) -> usize {
        let at = self.list.iter().position(|known| known == basis);
        1 + at.unwrap_or_else(|| {
            self.list.push(basis.clone());
            self.list.len() - 1
        })
    }

    /// The numbered list.
    pub(super) fn lines(&self) -> Vec<SourceLine> {
        (1..)
            .zip(&self.list)
            .map(|(number, basis)| SourceLine {
                number,
                what: symbols(&basis.what),
                source: basis.source.clone(),
                mark: basis.confidence.mark().trim().trim_matches(['[', ']']).to_owned(),
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::Confidence;

    #[test]
    fn one_figure_has_one_number_and_its_mark() {
        let basis = |what: &str, confidence| Basis {
            what: what.into(),
            source: "IEC 60228".into(),
            confidence,
        };
        let (a, b) = (
            basis("18.1 mohm/m", Confidence::Printed),
            basis("5 V", Confidence::Practice),
        );
        let mut sources = Sources::default();
        assert_eq!([&a, &b, &a].map(|basis| sources.number(basis)), [1, 2, 1]);
        let lines = sources.lines();
        assert_eq!(
            (lines[0].what.as_str(), lines[0].mark.as_str()),
            ("18.1 m\u{3a9}/m", "")
        );
        assert_eq!((lines[1].number, lines[1].mark.as_str()), (2, "common practice"));
    }
}
