//! What is known of the circuit where somebody stands, in one word.
//!
//! The rule inside: dead is a past fact of one position. It holds only where it was shown, only while nothing that could have ended it has
//! happened since, and never where anything says otherwise; a test voltage and a supply that is on hold everywhere.

use jiff::Timestamp;

use super::run::Run;
use crate::judge::window::Outcome;
use crate::plan::{Act, Stage, Stand, Step, Supply, charges, shows_dark};

/// What is known of the circuit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Circuit {
    /// Nothing: it may be live.
    #[default]
    NotProved,
    /// It was shown dead here, at this time.
    ProvedDead {
        /// When the last point here was shown dark; of several positions the earliest of these times.
        at: Timestamp,
    },
    /// A test voltage is on it, or its charge still is.
    TestVoltage,
    /// The supply is on, or a voltage was seen.
    Live,
}

impl Run {
    /// What is known at these positions while hands may be doing this step. What they were asked for last may be done, said or not.
    pub fn circuit(&self, positions: &[Stand], step: Option<usize>) -> Circuit {
        let doing = step.map(|step| &self.plan.steps[step]);
        let energises = |step: &Step| step.acts.contains(&Act::Energise);
        let works_live = |step: &Step| step.stage == Stage::Live && self.hands.supply != Supply::SwitchedOff;
        let live = self.hands.supply == Supply::SwitchedOn || self.hands.seen_live || self.held.is_some();
        if live || doing.is_some_and(|step| energises(step) || works_live(step)) {
            return Circuit::Live;
        }
        if self.hands.charged || doing.is_some_and(charges) {
            return Circuit::TestVoltage;
        }
        let claimed = self.hands.supply == Supply::SwitchedOff
            && self.ending.is_none()
            && self.made_safe.is_none()
            && self.broken.is_none()
            && self.isolating.is_none()
            && self.stage_passed(Stage::Isolate);
        let at = positions.iter().map(|position| self.shown_dark(*position)).min();
        match at.flatten().filter(|at| claimed && !self.ended_since(*at)) {
            Some(at) => Circuit::ProvedDead { at },
            None => Circuit::NotProved,
        }
    }

    /// When the last point at a position was shown dark by the proof of isolation; `None` where none was.
    fn shown_dark(&self, position: Stand) -> Option<Timestamp> {
        let here = |step: &usize| {
            let there = &self.plan.steps[*step];
            there.stage == Stage::Isolate && shows_dark(there) && there.stand(&self.plan.job) == Some(position)
        };
        let stands = |step: usize| self.standing(step).filter(|a| a.verdict.outcome == Outcome::Pass);
        (0..self.steps.len())
            .filter(here)
            .filter_map(stands)
            .map(|attempt| attempt.at)
            .max()
    }

    /// Whether anything has happened since that a proof of dead does not outlast: a repair, a break, the supply switched on or about to be.
    fn ended_since(&self, at: Timestamp) -> bool {
        let steps = self.plan.steps.iter().zip(&self.steps);
        let energised = steps
            .filter(|(step, _)| step.acts.contains(&Act::Energise))
            .flat_map(|(_, state)| state.attempts.iter().map(|attempt| attempt.at));
        let repaired = self.repairs.iter().map(|repair| repair.at);
        let resumed = self.resumptions.iter().copied();
        energised.chain(repaired).chain(resumed).any(|ended| at <= ended)
    }
}
