//! One figure out of several readings: the highest or the lowest, as found and as left.
//!
//! The rule inside: as found is the first attempt at a step, as left the one that stands; a figure is always one that a display showed, less
//! the leads where they are taken off.

use rust_decimal::Decimal;
use serde::Serialize;

use super::bar::Bar;
use super::steps::net_of;
use super::words::symbols;
use crate::judge::window::Outcome;
use crate::plan::{Kind, Measure};
use crate::run::fold::{Attempt, Evidence, Run};
use crate::value::quantity::Shown;
use crate::value::reading::Reading;

/// A result with its verdict word.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Cell {
    /// The reading, or the worst of several, as it is printed.
    pub text: String,
    /// The word of its verdict: `pass`, `FAIL`.
    pub verdict: String,
    /// The outcome behind that word, for its frame.
    pub outcome: Outcome,
}

/// Which of several readings stands for them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Worst {
    Highest,
    Lowest,
}

/// Which attempt at a step is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum When {
    /// The first.
    Found,
    /// The one that stands.
    Left,
}

pub(super) fn cell(text: impl Into<String>, outcome: Outcome) -> Cell {
    Cell {
        text: text.into(),
        verdict: outcome.word().into(),
        outcome,
    }
}

/// The measurement of a step; none where it is none.
pub(super) fn measure(run: &Run, step: usize) -> Option<&Measure> {
    match &run.plan.steps[step].kind {
        Kind::Measure(measure) => Some(measure),
        _ => None,
    }
}

pub(super) fn attempt(run: &Run, step: usize, when: When) -> Option<&Attempt> {
    match when {
        When::Found => run.steps[step].attempts.first(),
        When::Left => run.standing(step),
    }
}

fn outcome(run: &Run, step: usize, when: When) -> Option<Outcome> {
    match when {
        When::Found => attempt(run, step, when).map(|attempt| attempt.verdict.outcome),
        When::Left => Some(run.verdict(step).outcome),
    }
}

pub(super) fn reading(attempt: &Attempt) -> Option<&Reading> {
    match &attempt.evidence {
        Evidence::Reading(reading) => Some(reading),
        Evidence::Answer(_) => None,
    }
}

/// What several steps came to together: one failure fails them, and all must have passed to pass.
pub(super) fn together(run: &Run, steps: &[usize], when: When) -> Outcome {
    let outcomes = || steps.iter().filter_map(|&step| outcome(run, step, when));
    if outcomes().any(|o| o == Outcome::Fail) {
        Outcome::Fail
    } else if outcomes().any(|o| o == Outcome::NotTested) || outcomes().next().is_none() {
        Outcome::NotTested
    } else if outcomes().any(|o| o == Outcome::Conditional) {
        Outcome::Conditional
    } else {
        Outcome::Pass
    }
}

/// The size of a reading as it was judged; a bare over-range mark is above any number.
fn size(attempt: &Attempt, reading: &Reading) -> Decimal {
    match (&attempt.verdict.value, &reading.shown) {
        (Some(value), _) => value.value(),
        (None, Shown::Digits(digits) | Shown::Above(digits)) => digits.value() * reading.prefix.factor(),
        (None, Shown::Over) => Decimal::MAX,
    }
}

/// The reading that stands for several steps, by its place among all steps.
pub(super) fn worst(run: &Run, steps: &[usize], which: Worst, when: When) -> Option<usize> {
    let known = steps.iter().filter_map(|&step| {
        let attempt = attempt(run, step, when)?;
        Some((size(attempt, reading(attempt)?), step))
    });
    let worst = match which {
        Worst::Highest => known.max_by_key(|(size, _)| *size),
        Worst::Lowest => known.min_by_key(|(size, _)| *size),
    };
    worst.map(|(_, step)| step)
}

/// A reading as it counts: without the leads where they are taken off, else as it was displayed.
pub(super) fn figure(run: &Run, step: usize, when: When) -> Option<String> {
    let attempt = attempt(run, step, when)?;
    let reading = reading(attempt)?;
    let net = measure(run, step)
        .filter(|m| m.subtract_null)
        .and_then(|_| net_of(attempt));
    Some(net.unwrap_or_else(|| symbols(&reading.display())))
}

/// The figure of several steps with what they came to; none where none of them was read.
pub(super) fn figure_of(run: &Run, steps: &[usize], which: Worst, when: When) -> Option<Cell> {
    let step = worst(run, steps, which, when)?;
    let all = cell(figure(run, step, when)?, together(run, steps, when));
    // a figure of some of the readings is not the figure of all
    let in_part = all.outcome == Outcome::NotTested && steps.iter().any(|step| attempt(run, *step, when).is_none());
    Some(match in_part {
        true => Cell {
            verdict: "tested in part".into(),
            ..all
        },
        false => all,
    })
}

/// The reading that stands for several steps against its window.
pub(super) fn bar(run: &Run, steps: &[usize], which: Worst) -> Option<Bar> {
    let step = worst(run, steps, which, When::Left)?;
    let attempt = run.standing(step)?;
    let reading = reading(attempt)?;
    let window = run.window(measure(run, step)?).ok()?;
    let value = match &reading.shown {
        Shown::Over => None,
        _ => Some(size(attempt, reading)),
    };
    Bar::of(&window, value, !matches!(reading.shown, Shown::Digits(_)))
}
