//! What a run measured of the cores, for what is worked out from it.
//!
//! The rule inside: only what passed against the cable's window counts, with the leads subtracted.

use super::run::{Evidence, Run};
use crate::judge::window::Outcome;
use crate::plan::{Kind, Stage};
use crate::sequence::worked::Measured;

impl Run {
    /// The cores that a run measured against the cable's window and passed, leads subtracted.
    pub fn measured(&self) -> Vec<Measured> {
        let of_step = |i: usize| {
            let step = &self.plan.steps[i];
            let Kind::Measure(measure) = &step.kind else {
                return None;
            };
            let attempt = self.standing(i)?;
            let (true, Stage::Test, Evidence::Reading(reading)) = (measure.is_of_core(), step.stage, &attempt.evidence)
            else {
                return None;
            };
            let amount = reading.amount()?;
            let value = attempt
                .verdict
                .value
                .as_ref()
                .filter(|_| attempt.verdict.outcome == Outcome::Pass)?;
            Some(Measured {
                core: step.cores.first()?.clone(),
                ohms: value.value(),
                uncertainty: measure
                    .used
                    .known
                    .accuracy
                    .uncertainty(amount.value(), amount.digits.last_digit() * amount.prefix.factor()),
            })
        };
        (0..self.steps.len()).filter_map(of_step).collect()
    }
}
