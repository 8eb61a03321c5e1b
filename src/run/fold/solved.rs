//! The window of a pair of cores in which each core is solved, and what was solved.
//!
//! The rule inside: it rests on what the two cores read against the return core and passed or not; without both it is no window.

use rust_decimal::Decimal;

use super::run::Run;
use crate::judge::solved::Pairs;
use crate::judge::window::{Decision, Verdict, Window};
use crate::plan::{Measure, Solved};
use crate::value::quantity::{Amount, Unit};

impl Run {
    /// The window in force.
    ///
    /// # Errors
    /// Which reading it still rests on.
    pub(super) fn solved_window(&self, solved: &Solved, measure: &Measure) -> Result<Window, String> {
        let mut window = solved.window(self.with_return(solved)?);
        if self.plan.job.decision == Decision::Guarded {
            window.basis.push(measure.used.known.basis.clone());
        }
        Ok(window)
    }

    fn with_return(&self, solved: &Solved) -> Result<[Decimal; 2], String> {
        let value = |id: &String| {
            let standing = self.plan.index(id).and_then(|step| self.standing(step));
            let value = standing.and_then(|attempt| attempt.verdict.value.as_ref());
            value
                .map(Amount::value)
                .ok_or_else(|| format!("`{id}`, with which each core is solved, has no value"))
        };
        let [a, b] = &solved.with_return;
        Ok([value(a)?, value(b)?])
    }

    /// Says what each core has by itself.
    pub(super) fn mark_solved(&self, solved: &Solved, verdict: &mut Verdict) {
        if let (Some(two), Ok(with_return)) = (&verdict.value, self.with_return(solved)) {
            let pairs = Pairs {
                two: two.value(),
                with_return,
            };
            let each: Vec<String> = (solved.cores.iter().zip(pairs.cores()))
                .map(|(core, ohms)| format!("{core} {}", Amount::new(ohms.round_dp(3).normalize(), Unit::Ohm)))
                .collect();
            verdict.mark = Some(format!("each core solved: {}", each.join(", ")));
        }
    }
}
