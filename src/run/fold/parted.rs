//! The supply's neutral, off its terminal while everything that is connected is measured.
//!
//! The rule inside: a neutral that another circuit borrows turns live each time it is parted, so what an indicator showed counts only while it stays
//! off: whoever parts it anew, after a break say, tries it anew before hands are on its terminal.

use super::run::{Run, Status};
use crate::plan::{is_arranged, takes_off, tried_since_parted};

impl Run {
    /// Whatever happened last: where the next step would have the neutral parted anew, what was shown of it before is void.
    pub(super) fn keep_parted(&mut self) {
        let Some(next) = self.cursor() else { return };
        let step = &self.plan.steps[next];
        if self.hands.is_neutral_off() || !is_arranged(step) || takes_off(step) {
            return;
        }
        for i in tried_since_parted(&self.plan, next) {
            if self.steps[i].status == Status::Passed {
                self.void_one(i);
            }
        }
    }
}
