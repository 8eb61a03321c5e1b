//! What is shown.
//!
//! The rule inside: faces render it and add nothing; what only moves is called live, and never looks like a result.

use super::bar::Needle;
use super::prompt::{Last, Prompt};
use crate::judge::window::{Outcome, Verdict};
use crate::plan::Stage;

/// One thing to show.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Show {
    /// Another stage of the work begins.
    Stage(Stage),
    /// A question.
    Prompt(Box<Prompt>),
    /// A remark: a meter in the wrong mode, what was bound in.
    Notice(String),
    /// A wait is over: what to do now.
    Now(String),
    /// An answer that was not understood, and the next act.
    Refused {
        /// What was not understood.
        what: String,
        /// What to do next.
        next: Option<String>,
    },
    /// Stop at once: what was proved dead is not.
    Danger(String),
    /// The wiring showed a fault that changes what is asked from here on.
    Fault(String),
    /// Digits that are still moving or not yet wanted; never a result.
    Live {
        /// What the display shows.
        digits: String,
        /// How it moves, and what is waited for.
        state: String,
        /// Where it stands among the edges of the window.
        needle: Needle,
    },
    /// The reading that was taken and is on disk.
    Taken {
        /// The step it was taken at; empty in an identification.
        step: String,
        /// What the display showed.
        display: String,
        /// Whether it was typed and not read from a port.
        typed: bool,
    },
    /// What a step came to.
    Verdict {
        /// The step.
        step: String,
        /// Its verdict.
        verdict: Verdict,
    },
    /// The end.
    Finished {
        /// What the whole came to.
        outcome: Outcome,
        /// How it ended, in words.
        ending: String,
    },
}

impl Show {
    /// What was taken or answered last once this is shown: a reading that was taken, and the verdict of the same step.
    pub fn onto(&self, last: &mut Option<Last>) {
        match self {
            Show::Taken { step, display, .. } => {
                *last = Some(Last {
                    step: step.clone(),
                    display: Some(display.clone()),
                    verdict: None,
                });
            }
            Show::Verdict { step, verdict } => {
                let taken = last.take().filter(|last| last.step == *step && last.verdict.is_none());
                *last = Some(Last {
                    step: step.clone(),
                    display: taken.and_then(|last| last.display),
                    verdict: Some(verdict.clone()),
                });
            }
            _ => {}
        }
    }
}
