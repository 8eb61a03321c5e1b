//! The lock that others rest on: nobody switches on behind their back.
//!
//! The rule inside: who else rests on it is asked of whoever knows at the moment of switching on, before the prompt and again at its answer.

use super::machine::{Asking, Engine};
use super::others::Others;
use crate::plan::Act;

impl Engine {
    /// The same engine, at a place where others may rest on its lock.
    #[must_use]
    pub fn beside(mut self, others: Others) -> Engine {
        self.others = Some(others);
        self
    }

    /// Those who rest on the lock, where a step takes it off.
    pub(super) fn resting_others(&self, step: usize) -> Vec<String> {
        let takes_off = self.run.plan.steps[step].acts.contains(&Act::Energise);
        let others = self.others.as_ref().filter(|_| takes_off);
        others.map_or_else(Vec::new, Others::tell)
    }

    /// What is said where the lock stays on.
    pub(super) fn locked_words(&self, step: usize) -> String {
        let others = self.resting_others(step);
        if others.is_empty() {
            return "Nobody else rests on the lock any more.".to_owned();
        }
        format!(
            "The lock stays on, and nothing is switched on at the {}: {} rests on it and is unfinished. Finish it or abandon it first. If the supply \
             is on already, switch it off and lock it off now.",
            self.run.plan.job.supply.from,
            others.join(", ")
        )
    }

    /// What was answered while the lock stays on.
    pub(super) fn locked_line(&mut self, step: usize, line: &str) {
        if !line.trim().eq_ignore_ascii_case("again") {
            let what = format!("`{}` is neither `again` nor `abandon`", line.trim());
            return self.talk.notice(what);
        }
        match self.resting_others(step).is_empty() {
            true => self.go_on(),
            false => self.ask(Asking::Locked(step)),
        }
    }
}
