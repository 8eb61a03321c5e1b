//! What is kept so that a verdict can be made again, and what it came to before.
//!
//! The rule inside: an old reading is judged by what stood when it came, never by what stands now: leads may have been changed since, and
//! what a time is counted from may have been done again.

use std::collections::{BTreeSet, VecDeque};

use jiff::Timestamp;
use rust_decimal::Decimal;

use crate::judge::window::Verdict;
use crate::value::quantity::Amount;

/// What a verdict rests on beside the plan and the evidence, as it stood when that came.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Given {
    /// The resistance of the leads that is taken off, in ohms, and its expanded uncertainty.
    pub(super) lead: (Decimal, Decimal),
    /// When the step was done from which its time is counted.
    pub(super) since: Option<Timestamp>,
    /// Why it was read next, where its set is read in any order.
    pub(super) chosen: Option<String>,
}

/// A verdict by a length of the cable that is no longer in force.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ByLength {
    /// That length.
    pub length: Amount,
    /// The verdict.
    pub verdict: Verdict,
}

impl ByLength {
    /// It in words.
    pub fn words(&self) -> String {
        let ByLength { length, verdict } = self;
        format!("with {length}: {}, {}", verdict.outcome.word(), verdict.because)
    }
}

/// What is judged again since the length was corrected.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct JudgedAgain {
    /// The length before.
    pub before: Amount,
    /// Steps that wait for their verdict, in the order of the plan.
    pub steps: VecDeque<usize>,
    /// Steps that passed before and pass no more.
    pub fallen: BTreeSet<usize>,
    /// Steps that pass now and did not before.
    pub risen: BTreeSet<usize>,
}
