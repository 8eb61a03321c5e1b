//! The photographs that a record binds in.
//!
//! The rule inside: one is told wherever it was bound in, be the attempt void since; what was taken back before anything was judged is not told.

use jiff::Timestamp;

use super::run::{Evidence, Run};
use crate::run::event::{Answer, Photograph};

/// A photograph, and where it was bound in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BoundIn<'a> {
    /// When.
    pub at: Timestamp,
    /// The step, by its name in the plan.
    pub step: &'a str,
    /// What was written down with it.
    pub text: &'a str,
    /// Its file's name and hash.
    pub photograph: &'a Photograph,
}

impl Run {
    /// Every photograph that is bound in, in order of time; one file may be bound in more than once.
    pub fn photographs(&self) -> Vec<BoundIn<'_>> {
        let noted = self.plan.steps.iter().zip(&self.steps).flat_map(|(step, state)| {
            state.attempts.iter().filter_map(|attempt| match &attempt.evidence {
                Evidence::Answer(Answer::Note {
                    text,
                    photograph: Some(photograph),
                }) => Some(BoundIn {
                    at: attempt.at,
                    step: &step.id,
                    text,
                    photograph,
                }),
                _ => None,
            })
        });
        let seen = self.by_eye.iter().filter_map(|found| {
            Some(BoundIn {
                at: found.at,
                step: &found.step,
                text: &found.what,
                photograph: found.photograph.as_ref()?,
            })
        });
        let mut all: Vec<_> = noted.chain(seen).collect();
        all.sort_by_key(|bound| bound.at);
        all
    }
}
