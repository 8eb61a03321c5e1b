//! Every step with the attempt that counts, in plan order; and every attempt that does not, behind them.
//!
//! The rule inside: nothing is left out. Steps that were never reached or left out for one reason share a row that names each.

use serde::Serialize;

use super::sources::Sources;
use super::words::{Clock, amount, net, symbols, what};
use crate::job::instrument::Ability;
use crate::judge::window::Outcome;
use crate::limits::Basis;
use crate::plan::{Kind, Measure, Stage, Timing, WindowRule};
use crate::run::event::Answer;
use crate::run::fold::{Attempt, Evidence, Run, Status};
use crate::value::quantity::Shown;
use crate::value::reading::{Origin, Reading};

/// The steps of one stage.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct StageRows {
    /// The stage in words.
    pub title: String,
    /// Its steps, in the order of the plan.
    pub steps: Vec<StepRow>,
}

/// One step that counts, or several in a row of which the same is to be said.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct StepRow {
    /// Its place in the plan, counted from 1: `68`, `69–106`.
    pub number: String,
    /// What was done or measured, and between which points; of several, their names.
    pub what: String,
    /// What the reading or answer must be.
    pub must: String,
    /// Numbers of the sources of that.
    pub sources: Vec<usize>,
    /// The instrument's mark in the list of instruments.
    pub by: Option<String>,
    /// What the step came to: `pass`, `FAIL` or `not tested`.
    pub verdict: String,
    /// The outcome behind that word, for its frame.
    pub outcome: Outcome,
    /// The attempt that counts; none where there is none.
    pub attempt: Option<AttemptRow>,
    /// Why the step did not pass or was left, where no attempt says so.
    pub note: Option<String>,
}

/// One attempt at a step.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct AttemptRow {
    /// When, to the second; with the day where it is not that of the beginning.
    pub time: String,
    /// As displayed or answered.
    pub read: String,
    /// `typed` or `meter`, for readings.
    pub origin: Option<String>,
    /// The value after the lead resistance was subtracted, where it was.
    pub net: Option<String>,
    /// What this attempt came to, in a word.
    pub verdict: String,
    /// The outcome behind that word, for its frame.
    pub outcome: Outcome,
    /// The reason of a verdict that is no pass, or the question that a pass still raises.
    pub note: Option<String>,
}

/// An attempt that does not count.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct VoidRow {
    /// The step, counted from 1.
    pub number: usize,
    /// The step by its name.
    pub id: String,
    /// The attempt.
    pub attempt: AttemptRow,
    /// What came between it and the next one, in words.
    pub void: String,
}

/// Every stage that has steps, in order.
pub(super) fn stages(run: &Run, sources: &mut Sources) -> Vec<StageRows> {
    let mut stages: Vec<(Stage, StageRows)> = Vec::new();
    let mut index = 0;
    while index < run.plan.steps.len() {
        let stage = run.plan.steps[index].stage;
        let same = alike(run, index);
        let row = match same {
            1 => row(run, index, sources),
            _ => together(run, index, same),
        };
        index += same;
        match stages.last_mut() {
            Some((last, rows)) if *last == stage => rows.steps.push(row),
            _ => stages.push((
                stage,
                StageRows {
                    title: stage.words().into(),
                    steps: vec![row],
                },
            )),
        }
    }
    stages.into_iter().map(|(_, rows)| rows).collect()
}

/// How many steps from here on, in this stage, were left out or never reached for one reason: one row tells them.
fn alike(run: &Run, from: usize) -> usize {
    let told = |index: usize| {
        let is_empty = run.steps[index].attempts.is_empty() || is_left_out(run, index);
        is_empty.then(|| (run.plan.steps[index].stage, run.verdict(index).because))
    };
    let Some(first) = told(from) else { return 1 };
    (from..run.plan.steps.len())
        .take_while(|index| told(*index).as_ref() == Some(&first))
        .count()
}

/// Whether the step was left out because its condition did not hold.
pub(in crate::evidence::certificate) fn is_left_out(run: &Run, step: usize) -> bool {
    let not_needed = |attempt: &Attempt| attempt.evidence == Evidence::Answer(Answer::NotNeeded);
    run.standing(step).is_some_and(not_needed)
}

/// Several steps as one row.
fn together(run: &Run, from: usize, count: usize) -> StepRow {
    let verdict = run.verdict(from);
    let steps: Vec<usize> = (from..from + count).collect();
    let ids: Vec<_> = steps.iter().map(|step| run.plan.steps[*step].id.as_str()).collect();
    StepRow {
        number: format!("{}\u{2013}{}", from + 1, from + count),
        what: ids.join(", "),
        must: String::new(),
        sources: Vec::new(),
        by: None,
        verdict: verdict.outcome.word().into(),
        outcome: verdict.outcome,
        attempt: None,
        note: Some(verdict.because),
    }
}

/// Steps by their numbers: `step 7`, `steps 7 to 9`.
pub(super) fn span(steps: &[usize]) -> String {
    match steps {
        [] => String::new(),
        [one] => format!("step {}", one + 1),
        [first, .., last] => format!("steps {} to {}", first + 1, last + 1),
    }
}

fn row(run: &Run, index: usize, sources: &mut Sources) -> StepRow {
    let step = &run.plan.steps[index];
    let state = &run.steps[index];
    let verdict = run.verdict(index);
    let (must, basis, by) = match &step.kind {
        Kind::Do | Kind::Gate => ("done".into(), Vec::new(), None),
        Kind::Look(look) => (look.expected.join(", "), Vec::new(), None),
        Kind::Note { .. } => ("written down".into(), Vec::new(), None),
        Kind::Indicator { lit, .. } => {
            let must = if *lit { "lit" } else { "dark" };
            (must.into(), Vec::new(), indicator_mark(run))
        }
        Kind::Connect { carries, .. } => (format!("for {}", carries.words()), Vec::new(), None),
        Kind::Measure(m) => {
            let (must, basis) = must(run, m);
            (must, basis, instrument_mark(run, &m.used.instrument))
        }
    };
    let note = match &state.status {
        Status::Left(reason) => Some(format!("left: {reason}")),
        _ if run.standing(index).is_none() => Some(verdict.because.clone()),
        _ => None,
    };
    let standing = run
        .standing(index)
        .map(|_| attempt(run, index, state.attempts.len() - 1));
    StepRow {
        number: (index + 1).to_string(),
        what: what(step, &run.plan.job),
        must,
        sources: basis.iter().map(|basis| sources.number(basis)).collect(),
        by,
        verdict: verdict.outcome.word().into(),
        outcome: verdict.outcome,
        attempt: standing,
        note,
    }
}

/// Every attempt that does not count, in the order of the plan.
pub(super) fn void(run: &Run) -> Vec<VoidRow> {
    let of_step = |index: usize| {
        let all = run.steps[index].attempts.len();
        let counted = usize::from(run.standing(index).is_some());
        (0..all - counted).map(move |n| VoidRow {
            number: index + 1,
            id: run.plan.steps[index].id.clone(),
            attempt: attempt(run, index, n),
            void: void_words(run, index, n),
        })
    };
    (0..run.steps.len()).flat_map(of_step).collect()
}

/// The window with its conditions in words, and everything it rests on.
pub(super) fn must(run: &Run, m: &Measure) -> (String, Vec<Basis>) {
    let (mut words, mut basis) = match (run.window(m), &m.window) {
        (Ok(window), _) => (symbols(&window.words()), window.basis),
        (Err(_), WindowRule::Like { first, within, basis }) => {
            (format!("as `{first}`, within {}", amount(within)), vec![basis.clone()])
        }
        (Err(_), WindowRule::Solved(solved)) => (
            format!("each core solved, alike within {}", amount(&solved.within)),
            solved.basis.clone(),
        ),
        (Err(why), WindowRule::Fixed(_)) => (why, Vec::new()),
    };
    match &m.timing {
        Timing::Any => {}
        Timing::Within {
            since,
            limit,
            basis: from,
        } => {
            words.push_str(&format!("; within {} of `{since}`", amount(limit)));
            basis.push(from.clone());
        }
        Timing::After {
            since,
            wait,
            basis: from,
        } => {
            words.push_str(&format!("; {} or more after `{since}`", amount(wait)));
            basis.push(from.clone());
        }
    }
    if let Some((greatest, from)) = &m.input_max {
        words.push_str(&format!("; input {} or less", amount(greatest)));
        basis.push(from.clone());
    }
    basis.push(m.used.known.basis.clone());
    (words, basis)
}

fn attempt(run: &Run, index: usize, n: usize) -> AttemptRow {
    let step = &run.plan.steps[index];
    let attempts = &run.steps[index].attempts;
    let this = &attempts[n];
    let (read, origin, net) = match (&this.evidence, &step.kind) {
        (Evidence::Answer(answer), _) => (answer.words(), None, None),
        (Evidence::Reading(reading), Kind::Measure(m)) => (
            symbols(&reading.display()),
            Some(origin(reading)),
            m.subtract_null.then(|| net_of(this)).flatten(),
        ),
        (Evidence::Reading(reading), _) => (symbols(&reading.display()), Some(origin(reading)), None),
    };
    let is_measured = matches!(this.evidence, Evidence::Reading(_));
    let because = (this.verdict.outcome != Outcome::Pass).then(|| this.verdict.because.clone());
    let parts = [
        because,
        this.verdict.mark.clone(),
        this.verdict.edge.clone(),
        this.verdict.risk.clone(),
        this.by_length_words(),
    ];
    let note = parts.into_iter().flatten().reduce(|all, part| format!("{all}; {part}"));
    AttemptRow {
        time: Clock::of(run).time(this.at),
        read,
        origin: origin.map(str::to_owned),
        net,
        verdict: this.verdict.outcome.word().into(),
        outcome: this.verdict.outcome,
        // an answer's reason may be a person's words, which stay as they are
        note: note.map(|note| if is_measured { symbols(&note) } else { note }),
    }
}

/// The value that was judged, with the decimals of the display; absent for over-range.
pub(super) fn net_of(attempt: &Attempt) -> Option<String> {
    let value = attempt.verdict.value.as_ref()?;
    match &attempt.evidence {
        Evidence::Reading(Reading {
            shown: Shown::Digits(digits),
            prefix,
            ..
        }) => Some(net(value.value(), value.unit, digits.last_digit() * prefix.factor())),
        _ => None,
    }
}

fn origin(reading: &Reading) -> &'static str {
    match reading.origin {
        Origin::Typed { .. } => "typed",
        Origin::Meter { .. } => "meter",
    }
}

/// What came between a void attempt and the next one. The record does not name one cause, so every repair and break in
/// between is named and none is chosen.
fn void_words(run: &Run, index: usize, n: usize) -> String {
    let attempts = &run.steps[index].attempts;
    let from = attempts[n].at;
    let until = attempts.get(n + 1).map(|next| next.at);
    let between = |at: jiff::Timestamp| from <= at && until.is_none_or(|until| at <= until);
    let numbered = |word: &str, times: &mut dyn Iterator<Item = jiff::Timestamp>| {
        (1..)
            .zip(times)
            .filter(|(_, at)| between(*at))
            .map(|(number, _)| format!("{word} {number}"))
            .collect::<Vec<_>>()
    };
    let mut since = numbered("repair", &mut run.repairs.iter().map(|repair| repair.at));
    since.extend(numbered("break", &mut run.resumptions.iter().copied()));
    match (since.is_empty(), until) {
        (false, _) => format!("taken before {}", since.join(", ")),
        (true, Some(_)) => "done again".into(),
        (true, None) => "to be done again".into(),
    }
}

/// The marks of instruments in the list: `I1`, `I2`, in the job's order.
pub(super) fn mark(index: usize) -> String {
    format!("I{}", index + 1)
}

fn instrument_mark(run: &Run, name: &str) -> Option<String> {
    let at = run.plan.job.instruments.iter().position(|i| i.name == name)?;
    Some(mark(at))
}

/// The indicator's mark where the job lists exactly one; the record does not say which of several was used.
fn indicator_mark(run: &Run) -> Option<String> {
    let instruments = run.plan.job.instruments.iter().enumerate();
    let mut able = instruments.filter(|(_, i)| i.can.contains(&Ability::ProveDead));
    match (able.next(), able.next()) {
        (Some((at, _)), None) => Some(mark(at)),
        _ => None,
    }
}
