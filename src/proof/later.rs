//! What stands behind a step: whether everything waits for it, and what waits for it first.
//!
//! The rule inside: what a step needs follows from its kind alone, so the kinds that are left and the next step of each are enough.

use crate::plan::{Act, Of, Plan, Rests, Stage, Step, closing_needs, needs, tables};

/// Kinds of steps that a row of needs tells apart: each stage and the gate, by everything that a step may rest on.
pub(super) const KINDS: usize = Rests::ALL.len() * (Stage::ALL.len() + 1);

/// The number of a step's kind.
pub(super) fn kind(step: &Step) -> usize {
    let of = match tables::of(step) {
        Of::Stage(stage) => stage as usize,
        Of::Gate => Stage::ALL.len(),
    };
    let rests = Rests::of(step);
    let rests = Rests::ALL.iter().position(|there| *there == rests);
    Rests::ALL.len() * of + rests.expect("everything that a step can rest on is listed")
}

/// What a kind of step is, and what it rests on.
pub(super) fn of_kind(kind: usize) -> (Of, Rests) {
    let of = Stage::ALL
        .get(kind / Rests::ALL.len())
        .map_or(Of::Gate, |stage| Of::Stage(*stage));
    (of, Rests::ALL[kind % Rests::ALL.len()])
}

/// What stands behind a step: whether everything waits for it, and what waits for it first.
pub(super) struct Later {
    binding: Vec<bool>,
    needer: Vec<Option<usize>>,
    switches_on: bool,
}

impl Later {
    pub(super) fn of(plan: &Plan) -> Later {
        let steps = &plan.steps;
        let mut next: [Option<usize>; KINDS] = [None; KINDS];
        let mut later = Later {
            binding: vec![false; steps.len()],
            needer: vec![None; steps.len()],
            switches_on: steps.iter().any(|step| step.acts.contains(&Act::Energise)),
        };
        for (i, there) in steps.iter().enumerate().rev() {
            let needing = |here: &usize| needs(&steps[*here], there);
            later.needer[i] = next.iter().flatten().copied().filter(needing).min();
            later.binding[i] = if i + 1 == steps.len() {
                closing_needs(there, false)
            } else {
                next.iter().flatten().all(needing)
            };
            next[kind(there)] = Some(i);
        }
        later
    }

    /// Whether the walk cannot go on past a step that did not pass.
    pub(super) fn binds(&self, step: usize) -> bool {
        self.binding[step]
    }

    /// The first step that waits for it.
    pub(super) fn needer(&self, step: usize) -> Option<usize> {
        self.needer[step]
    }

    /// Whether the plan switches the supply on.
    pub(super) fn switches_on(&self) -> bool {
        self.switches_on
    }
}
