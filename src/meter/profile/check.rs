//! What was found wrong with a profile file, and the checks that every part of one needs.
//!
//! The rule inside: checks never stop at the first error; each adds a problem at its place.

use std::fmt;
use std::ops::Range;

use crate::located::{Located, Problem, Problems};

/// Longest text in a profile apart from the expression, in bytes.
pub(super) const TEXT_BYTES_MAX: usize = 256;
/// Most entries of one map or list.
pub(super) const ENTRIES_MAX: usize = 64;

/// Everything that was found wrong so far.
pub(super) struct Check {
    pub(super) problems: Problems,
}

impl Check {
    pub(super) fn add(&mut self, span: &Range<usize>, what: impl Into<String>) {
        self.problems.push(Problem::new(span, what));
    }

    pub(super) fn add_with_hint(&mut self, span: &Range<usize>, what: impl Into<String>, hint: impl Into<String>) {
        self.problems.push(Problem::new(span, what).hint(hint));
    }

    pub(super) fn length(&mut self, text: &Located<String>, low: usize, high: usize) {
        if text.len() < low || high < text.len() {
            self.add(
                &text.span,
                format!("this holds {} bytes, {low} to {high} are allowed", text.len()),
            );
        }
    }

    pub(super) fn number<T: PartialOrd + fmt::Display + Copy>(&mut self, number: &Located<T>, low: T, high: T) {
        if !(low <= number.value && number.value <= high) {
            self.add(&number.span, format!("{} is outside {low} to {high}", number.value));
        }
    }

    pub(super) fn entries(&mut self, span: &Range<usize>, count: usize) {
        if ENTRIES_MAX < count {
            self.add(span, format!("{count} entries, at most {ENTRIES_MAX} are allowed"));
        }
    }
}
