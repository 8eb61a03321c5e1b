//! The clip that joins the earth core to the earth of the building while insulation is measured.
//!
//! The rule inside: a clip that does not bite leaves the earth core afloat, and what is read then is the insulation of the cable
//! alone. So no such reading is asked before the clip was read through, and none stands that was not followed by a reading through
//! the same clip.

use super::run::{Run, Status};
use crate::judge::window::Outcome;
use crate::plan::{charges, is_join, join_before, joins_after, read_through};

impl Run {
    /// A step came to something: a reading through the clip vouches for those before it or voids them, and one that rests on the clip
    /// waits for the next reading through it.
    pub(super) fn clip_settled(&mut self, step: usize, outcome: Outcome) {
        let here = &self.plan.steps[step];
        if is_join(here) {
            self.clip_read = outcome == Outcome::Pass;
            if outcome == Outcome::Fail {
                for i in read_through(&self.plan, &self.clipped, step) {
                    self.void_one(i);
                }
            }
        } else if charges(here) {
            for i in joins_after(&self.plan, &self.clipped, step) {
                self.void_one(i);
            }
        }
    }

    /// Whatever happened last: a clip that was put on anew is another clip, and a step that rests on one that was not read through
    /// waits until it was.
    pub(super) fn keep_clip(&mut self, was_on: bool) {
        let is_on = self.hands.is_earthed();
        self.clip_read &= is_on;
        if is_on && !was_on {
            let waits = |i: &usize| {
                let later = joins_after(&self.plan, &self.clipped, *i);
                later.iter().any(|&join| self.steps[join].status != Status::Passed)
            };
            let open: Vec<usize> = (0..self.steps.len()).filter(waits).collect();
            open.into_iter().for_each(|i| self.void_one(i));
        }
        if let Some(next) = self.cursor()
            && !self.clip_read
            && let Some(join) = join_before(&self.plan, &self.clipped, next)
            && self.steps[join].status == Status::Passed
        {
            self.void_one(join);
        }
    }
}
