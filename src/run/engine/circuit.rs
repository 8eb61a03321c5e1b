//! What is known of the circuit at what is asked now.
//!
//! The rule inside: a question about a voltage shows it as there, and after a break nothing is proved dead before isolation is.

use super::machine::{Asking, Engine};
use crate::plan::{Stand, looks_as_found};
use crate::run::fold::Circuit;

impl Engine {
    /// What is known where the person stands; where nothing tells, they stand where they stood.
    pub(super) fn circuit(&mut self, asking: &Asking) -> Circuit {
        let about = match asking {
            Asking::Step(step)
            | Asking::Doubted(step, ..)
            | Asking::WhyNotDone(step)
            | Asking::Beside(step)
            | Asking::Held(step)
            | Asking::VoltsOrMegohm { step, .. } => vec![*step],
            Asking::Together(steps) => steps.clone(),
            // hands are where it was found
            Asking::RepairWhat(step) | Asking::RepairTouched(step, _)
                if looks_as_found(&self.run.plan.steps[*step]) =>
            {
                vec![*step]
            }
            _ => Vec::new(),
        };
        let job = &self.run.plan.job;
        let positions: Vec<Stand> = match asking {
            Asking::Arrange(_) | Asking::MakeSafe => vec![Stand::Near, Stand::Far],
            Asking::Further(_) | Asking::FurtherWhat(_) => vec![Stand::Isolator],
            _ => about
                .iter()
                .filter_map(|step| self.run.plan.steps[*step].stand(job))
                .collect(),
        };
        if !positions.is_empty() {
            self.stood = positions;
        }
        if matches!(
            asking,
            Asking::SeenNow { .. } | Asking::VoltsOrMegohm { .. } | Asking::Held(_)
        ) {
            return Circuit::Live;
        }
        // at these hands may be doing what was asked before them
        let cursor = match asking {
            Asking::WhyAbandon | Asking::MakeSafe | Asking::ResumeTouched { .. } => self.run.cursor(),
            _ => None,
        };
        let doing = about.into_iter().chain(cursor);
        let of = |step| self.run.circuit(&self.stood, step);
        let worst = doing
            .map(|step| of(Some(step)))
            .max_by_key(danger)
            .unwrap_or_else(|| of(None));
        match worst {
            Circuit::ProvedDead { .. } if self.goes_on_after_a_break() => Circuit::NotProved,
            known => known,
        }
    }
}

fn danger(circuit: &Circuit) -> u8 {
    match circuit {
        Circuit::ProvedDead { .. } => 0,
        Circuit::NotProved => 1,
        Circuit::TestVoltage => 2,
        Circuit::Live => 3,
    }
}
