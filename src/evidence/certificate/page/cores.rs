//! The cable core by core: what each core is and what the dead tests said about it.
//!
//! The rule inside: a cell sums up the standing results of every step about that core; the worst of them is its verdict.

use rust_decimal::Decimal;
use serde::Serialize;

use super::steps::net_of;
use super::words::{amount, symbols};
use crate::job::{Core, End, Purpose};
use crate::judge::window::Outcome;
use crate::limits::Table;
use crate::plan::{Kind, Measure, Point, Probes, Stage, WindowRule};
use crate::run::fold::{Evidence, Run};
use crate::value::quantity::Shown;
use crate::value::reading::{Function, Reading};

/// A result with its verdict word.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Cell {
    /// The reading, or the worst of several, as it is printed.
    pub text: String,
    /// The word of its verdict: `pass`, `FAIL`.
    pub verdict: String,
    /// The outcome behind that word, for its colour and sign.
    pub outcome: Outcome,
}

/// One core.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CoreRow {
    /// The core, by its name in the job.
    pub name: String,
    /// The colour of its sleeve, where it has one.
    pub sleeve: Option<String>,
    /// Its cross-section with its unit.
    pub size: String,
    /// What it carries, in words.
    pub carries: String,
    /// Its terminal at the near end.
    pub near: String,
    /// Its terminal at the far end.
    pub far: String,
    /// Resistance with the earth core in series, leads subtracted; absent for the earth core itself.
    pub continuity: Option<Cell>,
    /// What its continuity had to be.
    pub window: Option<String>,
    /// Open to the other cores wherever one of them was linked, and with every link off.
    pub open: Option<Cell>,
    /// The lowest insulation of those that were measured; absent where none was.
    pub insulation: Option<Cell>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Test {
    Continuity,
    Open,
    Insulation,
}

/// Every core of the job, in the job's order.
pub(super) fn rows(run: &Run) -> Vec<CoreRow> {
    run.plan.job.cores.iter().map(|core| row(run, core)).collect()
}

fn row(run: &Run, core: &Core) -> CoreRow {
    let steps = |test| steps_of(run, core, test);
    let continuity = steps(Test::Continuity);
    let window = continuity.first().map(|&i| {
        let Kind::Measure(m) = &run.plan.steps[i].kind else {
            unreachable!("chosen as a measurement")
        };
        super::steps::must(run, m).0
    });
    let is_earth = core.carries == Purpose::Earth;
    CoreRow {
        name: core.name.clone(),
        sleeve: core.sleeve.clone(),
        size: amount(&core.size),
        carries: core.carries.word().with_iec(),
        near: core.terminal(End::Near).into(),
        far: core.terminal(End::Far).into(),
        // the earth core is the other half of every continuity reading, not a row of its own
        continuity: if is_earth { None } else { cell(run, &continuity, values) },
        window: window.filter(|_| !is_earth),
        open: if is_earth {
            None
        } else {
            cell(run, &steps(Test::Open), |run, steps| {
                let open = steps
                    .iter()
                    .filter(|&&i| run.verdict(i).outcome == Outcome::Pass)
                    .count();
                format!("{open} of {} open", steps.len())
            })
        },
        insulation: cell(run, &steps(Test::Insulation), lowest),
    }
}

/// Dead tests about a core, by what they show.
fn steps_of(run: &Run, core: &Core, test: Test) -> Vec<usize> {
    let about = |i: &usize| {
        let step = &run.plan.steps[*i];
        let Kind::Measure(m) = &step.kind else { return false };
        let told =
            step.cores.contains(&core.name) && !is_in_rest(m, core) && !matches!(m.window, WindowRule::Solved(_));
        // the leads and the clip on the earth core are no tests of a core
        step.stage == Stage::Test && !m.is_null && !m.is_join && told && test_of(m) == test
    };
    (0..run.plan.steps.len()).filter(about).collect()
}

/// Whether a live core is one of the rest against which another is measured: what is low there is that other core's until they are
/// measured one by one.
fn is_in_rest(m: &Measure, core: &Core) -> bool {
    let Probes { first, second } = &m.probes;
    let of_another = matches!(second, Point::Core { core: other, .. } if *other != core.name);
    *first == Point::JoinedCores && of_another && core.carries != Purpose::Earth
}

fn test_of(m: &Measure) -> Test {
    let by_window = match &m.window {
        WindowRule::Fixed(window) => window
            .basis
            .first()
            .is_some_and(|basis| basis.what.starts_with(Table::InsulationMinimum.words())),
        WindowRule::Like { .. } | WindowRule::Solved(_) => false,
    };
    if matches!(m.used.function, Function::Insulation(_)) || by_window {
        Test::Insulation
    } else if m.is_of_cable() {
        Test::Continuity
    } else {
        Test::Open
    }
}

fn cell(run: &Run, steps: &[usize], text: impl Fn(&Run, &[usize]) -> String) -> Option<Cell> {
    let outcomes = || steps.iter().map(|&i| run.verdict(i).outcome);
    let outcome = if outcomes().any(|o| o == Outcome::Fail) {
        Outcome::Fail
    } else if outcomes().all(|o| o == Outcome::Pass) {
        Outcome::Pass
    } else {
        Outcome::NotTested
    };
    (!steps.is_empty()).then(|| Cell {
        text: text(run, steps),
        verdict: outcome.word().into(),
        outcome,
    })
}

fn values(run: &Run, steps: &[usize]) -> String {
    let value = |&i: &usize| {
        let attempt = run.standing(i)?;
        net_of(attempt).or_else(|| reading(run, i).map(|r| symbols(&r.display())))
    };
    steps.iter().filter_map(value).collect::<Vec<_>>().join(", ")
}

fn reading(run: &Run, step: usize) -> Option<&Reading> {
    match &run.standing(step)?.evidence {
        Evidence::Reading(reading) => Some(reading),
        Evidence::Answer(_) => None,
    }
}

/// The lowest of the standing readings; a bare over-range mark is above any number.
fn lowest(run: &Run, steps: &[usize]) -> String {
    let size = |reading: &Reading| match &reading.shown {
        Shown::Digits(digits) | Shown::Above(digits) => digits.value() * reading.prefix.factor(),
        Shown::Over => Decimal::MAX,
    };
    let readings = || steps.iter().filter_map(|&i| reading(run, i));
    let count = readings().count();
    match readings().min_by_key(|reading| size(reading)) {
        Some(reading) if steps.len() == 1 => symbols(&reading.display()),
        Some(reading) => format!("{}, lowest of {count}", symbols(&reading.display())),
        None => String::new(),
    }
}
