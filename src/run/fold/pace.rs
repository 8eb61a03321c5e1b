//! Answers faster than hands can move.
//!
//! The rule inside: each act has the least time that hands need for it, a row of the limits' table of practice; where the answers of some
//! stretch of the work together needed less, by more than acts that are answered together explain, it is a remark. What came by a pipe is
//! called so instead: nobody's fingers typed it.

use jiff::Timestamp;
use rust_decimal::Decimal;

use super::run::Run;
use crate::limits::Table;
use crate::plan::hands_of;

/// What may be answered together once several acts are done.
const TOGETHER: &str = "hands: answers typed together";

/// A stretch of answers that no hands could give in the time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fast {
    /// How many answers.
    pub answers: usize,
    /// From the answer before the first of them.
    pub from: Timestamp,
    /// To the last of them.
    pub until: Timestamp,
    /// The least time that hands need for them, in seconds.
    pub least_s: Decimal,
}

impl Fast {
    /// The stretch in words, with where its figure comes from.
    pub fn words(&self) -> String {
        let took = Decimal::from(self.until.as_millisecond() - self.from.as_millisecond()) / Decimal::ONE_THOUSAND;
        format!(
            "{} answers from {} to {} came within {} s, and hands need {} s for what they say (practice)",
            self.answers,
            self.from,
            self.until,
            took.round_dp(1).normalize(),
            self.least_s.normalize()
        )
    }
}

impl Run {
    /// The stretch of answers that is the farthest from what hands can do; `None` where all of them can, or nothing was done by hand.
    pub fn fast(&self) -> Option<Fast> {
        if self.opened.rehearsal.is_some() {
            return None;
        }
        let seconds = |of: &str| Some(self.plan.job.limits.row(Table::Practice, of).ok()?.value.value());
        let together = seconds(TOGETHER)?;
        let mut worst: Option<(Decimal, Fast)> = None;
        // the stretch that ends at the answer before, and by how much it is too short
        let mut open: Option<(Decimal, Fast)> = None;
        for pair in self.by_hand.windows(2) {
            let ((from, _), (until, steps)) = (&pair[0], &pair[1]);
            let (from, until) = (*from, *until);
            // one answer for several steps comes after the hands of all
            let of_steps = steps.iter().filter_map(|step| hands_of(&self.plan.steps[*step]));
            let each: Option<Vec<Decimal>> = of_steps
                .map(|(what, times)| Some(seconds(&format!("hands: {what}"))? * Decimal::from(times)))
                .collect();
            let each = each?;
            if each.is_empty() {
                continue;
            }
            let least_s: Decimal = each.iter().sum();
            let took = Decimal::from(until.as_millisecond() - from.as_millisecond()) / Decimal::ONE_THOUSAND;
            let (short, stretch) = open
                .take()
                .filter(|(short, _)| Decimal::ZERO < *short)
                .unwrap_or_else(|| {
                    let none = Fast {
                        answers: 0,
                        from,
                        until: from,
                        least_s: Decimal::ZERO,
                    };
                    (Decimal::ZERO, none)
                });
            let here = (
                short + least_s - took.max(Decimal::ZERO),
                Fast {
                    answers: stretch.answers + 1,
                    until,
                    least_s: stretch.least_s + least_s,
                    ..stretch
                },
            );
            if together < here.0 && worst.as_ref().is_none_or(|(most, _)| *most < here.0) {
                worst = Some(here.clone());
            }
            open = Some(here);
        }
        worst.map(|(_, fast)| fast)
    }
}
