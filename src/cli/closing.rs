//! The page to read before a run is sealed: what it came to, and what the engineer states by signing it.
//!
//! The rule inside: whatever speaks against the run or is missing in it stands on the page; a list that is too long for one says how much
//! is left out.

use jiff::Timestamp;
use jiff::tz::Offset;

use super::tables::table;
use crate::judge::window::Outcome;
use crate::plan::Step;
use crate::run::event::{Ending, Touched};
use crate::run::fold::{Evidence, Run, Status, StepState};
use crate::terminal::plain::clean;

/// Most lines under one heading: with eight headings the page still is one. The record has them all.
const LINES_MAX: usize = 8;

/// The page, line by line.
pub(super) fn page(run: &Run) -> Vec<String> {
    let mut page = totals(run);
    let headings = [
        ("left as they are", left(run)),
        ("not tested", not_tested(run)),
        ("found by eye", run.found_by_eye_words()),
        ("repaired", repaired(run)),
        ("taken back or done again", taken_back(run)),
        ("voltage seen where all was proved dead", live_seen(run)),
        ("used or judged otherwise than it should be", run.departures()),
        ("not shown", run.plan.limitations.clone()),
    ];
    for (heading, lines) in headings.iter().filter(|(_, lines)| !lines.is_empty()) {
        page.push(format!("\n{heading}"));
        page.extend(lines.iter().take(LINES_MAX).map(|line| format!("  {}", clean(line))));
        if let Some(more) = lines.len().checked_sub(LINES_MAX).filter(|more| 0 < *more) {
            page.push(format!("  and {more} more, which the record has"));
        }
    }
    page.push(format!("\n{}", statement(run)));
    page
}

/// How many steps passed, and those that did not.
pub(super) fn totals(run: &Run) -> Vec<String> {
    let verdicts: Vec<_> = (0..run.steps.len())
        .map(|i| (&run.plan.steps[i].id, run.verdict(i)))
        .collect();
    let count = |outcome| verdicts.iter().filter(|(_, v)| v.outcome == outcome).count();
    let conditional = match count(Outcome::Conditional) {
        0 => String::new(),
        n => format!(", {n} conditional"),
    };
    let mut lines = vec![format!(
        "{} of {} steps passed, {} failed{conditional}, {} not tested.",
        count(Outcome::Pass),
        verdicts.len(),
        count(Outcome::Fail),
        count(Outcome::NotTested)
    )];
    let failed: Vec<_> = verdicts
        .iter()
        .filter(|(_, v)| matches!(v.outcome, Outcome::Fail | Outcome::Conditional))
        .map(|(id, v)| vec![(*id).clone(), v.outcome.word().to_owned(), v.because.clone()])
        .collect();
    if !failed.is_empty() {
        lines.push(table(&["step", "verdict", "because"], &failed));
    }
    lines
}

fn left(run: &Run) -> Vec<String> {
    let of = |(step, state): (usize, &StepState)| match &state.status {
        Status::Left(reason) => Some(format!("{}: {reason}", run.plan.steps[step].id)),
        _ => None,
    };
    run.steps.iter().enumerate().filter_map(of).collect()
}

/// Runs of steps that follow each other are one line: an abandoned run has many.
fn not_tested(run: &Run) -> Vec<String> {
    let is = |step: usize| run.verdict(step).outcome == Outcome::NotTested;
    let mut lines = Vec::new();
    let mut step = 0;
    while step < run.steps.len() {
        let first = step;
        while step < run.steps.len() && is(step) {
            step += 1;
        }
        let id = |step: usize| &run.plan.steps[step].id;
        match step - first {
            0 => step += 1,
            1 => lines.push(id(first).clone()),
            many => lines.push(format!("{} to {}, {many} steps", id(first), id(step - 1))),
        }
    }
    lines
}

fn repaired(run: &Run) -> Vec<String> {
    let repairs = run.repairs.iter();
    let words = repairs.map(|repair| {
        let touched = match &repair.touched {
            Touched::Nothing => "no core".to_owned(),
            Touched::Everything => "any core".to_owned(),
            Touched::Cores(cores) => cores.join(", "),
        };
        format!("{}: {}; touched: {touched}", repair.step, repair.what)
    });
    words.collect()
}

/// Attempts that no longer stand, in the order of the plan.
fn taken_back(run: &Run) -> Vec<String> {
    let steps = run.plan.steps.iter().zip(&run.steps);
    let of = |(step, state): (&Step, &StepState)| {
        let last = state.attempts.len().saturating_sub(1);
        let gone = state.attempts.iter().enumerate();
        let gone = gone.filter(|(n, attempt)| attempt.void || *n < last);
        gone.map(|(_, attempt)| {
            let said = match &attempt.evidence {
                Evidence::Reading(reading) => format!("{}, ", reading.display()),
                Evidence::Answer(_) => String::new(),
            };
            format!(
                "{}: {said}{}: {}",
                step.id,
                attempt.verdict.outcome.word(),
                attempt.verdict.because
            )
        })
        .collect::<Vec<_>>()
    };
    steps.flat_map(of).collect()
}

fn live_seen(run: &Run) -> Vec<String> {
    let seen = run.live_seen.iter();
    seen.map(|(at, step, display)| format!("{step}: {display} at {}", moment(*at)))
        .collect()
}

fn moment(at: Timestamp) -> String {
    Offset::UTC.to_datetime(at).strftime("%Y-%m-%d %H:%M UTC").to_string()
}

/// What the signature says, in words. Nothing of it is more than the record itself holds.
fn statement(run: &Run) -> String {
    let job = &run.plan.job;
    let until = run.ending.as_ref().map_or(run.opened_at, |(_, at)| *at);
    let ended = match &run.ending {
        Some((Ending::Abandoned(_), _)) => "and gave the run up where it says so",
        _ => "and went through it to its end",
    };
    format!(
        "By signing it {} states:\n  \
         I made these tests at {}, {}, on the {}, from {} to {}, {ended}.\n  \
         What I typed is what I saw, and the instruments named are those that I used.\n  \
         What is listed above as failed, left, not tested or not shown is not proved by this record.\n  \
         It is a record of what was measured and no certificate under the wiring rules.",
        clean(&job.engineer),
        clean(&job.place.name),
        clean(&job.place.part),
        clean(&job.cable),
        moment(run.opened_at),
        moment(until),
    )
}
