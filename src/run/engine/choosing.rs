//! Which of the readings that are taken in any order comes next.
//!
//! The rule inside: whoever chooses sees the run as it is recorded and changes nothing; the choice is an event with its reason, so a
//! record is read again without choosing anew.

use std::fmt;

use crate::run::fold::Run;

/// The reading that comes next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Chosen {
    /// Its place in the plan.
    pub step: usize,
    /// Why it comes next.
    pub because: String,
    /// Which faults are left before it, in words.
    pub left: String,
}

/// Chooses what is read next.
pub trait Choosing: fmt::Debug + Send {
    /// One of the readings of a set that were not taken yet, of which there is at least one.
    fn choose(&self, run: &Run, unread: &[usize]) -> Chosen;
}

/// The readings as the sequence lists them.
#[derive(Debug)]
pub struct AsListed;

impl Choosing for AsListed {
    fn choose(&self, _: &Run, unread: &[usize]) -> Chosen {
        Chosen {
            step: unread[0],
            because: "the first in the sequence of those not read yet".into(),
            left: "which faults are left was not worked out".into(),
        }
    }
}
