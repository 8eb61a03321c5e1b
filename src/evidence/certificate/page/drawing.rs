//! The cable and its two ends as a drawing: each core between its terminals, and what hangs on them.
//!
//! The rule inside: it is made from the job alone, and nothing is drawn that the job does not state; only the readings come from the run.

use serde::Serialize;

use super::bar::Bar;
use super::pick::{Cell, When, Worst, bar, cell, figure_of, measure, together};
use super::words::amount;
use crate::job::{At, ControlPair, Core, End, Is, Job, Purpose};
use crate::judge::window::Outcome;
use crate::limits::Table;
use crate::plan::{Measure, Point, Probes, Stage, WindowRule};
use crate::run::fold::Run;
use crate::value::reading::Function;

/// One core, from terminal to terminal.
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
    /// What hangs on that terminal.
    pub near_hangs: String,
    /// Its terminal at the far end.
    pub far: String,
    /// What hangs on that terminal.
    pub far_hangs: String,
    /// It is the core that the others are read with.
    pub is_back: bool,
    /// Resistance with the return core in series, leads taken off; absent for the return core itself.
    pub continuity: Option<Cell>,
    /// What that had to be.
    pub window: Option<String>,
    /// That reading against its window.
    pub bar: Option<Bar>,
    /// Open to the other cores wherever one of them was linked, and with every link off.
    pub open: Option<Cell>,
    /// The lowest insulation of those that were measured; absent where none was.
    pub insulation: Option<Cell>,
}

/// A terminal that no core of the cable goes to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FreeTerminal {
    /// At which end, by its name.
    pub end: String,
    /// The terminal.
    pub terminal: String,
    /// What it takes, in words.
    pub takes: String,
    /// What hangs on it.
    pub hangs: String,
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

/// Terminals of either end that no core goes to.
pub(super) fn free(job: &Job) -> Vec<FreeTerminal> {
    let of = |end: End| {
        let there = job.end(end);
        let is_free = move |name: &str| !job.cores.iter().any(|core| core.terminal(end) == name);
        let free = there.terminals.iter().filter(move |terminal| is_free(&terminal.name));
        free.map(move |terminal| FreeTerminal {
            end: there.name.clone(),
            terminal: terminal.name.clone(),
            takes: terminal.takes.words().into(),
            hangs: hangs(job, end, &terminal.name),
        })
    };
    End::BOTH.into_iter().flat_map(of).collect()
}

/// The pieces of equipment wired to a terminal, by their names.
fn hangs(job: &Job, end: End, terminal: &str) -> String {
    let is_there = |at: &At| match (at, end) {
        (At::Near(name), End::Near) | (At::Far(name), End::Far) => name == terminal,
        _ => false,
    };
    let between = |is: &Is| match is {
        Is::Contact(contact) => contact.between.clone(),
        Is::Motor(motor) => motor.between.clone(),
        Is::Load(load) => load.between.clone(),
        Is::Supply(supply) => supply.between.clone(),
    };
    let pieces = job.equipment.iter().filter(|piece| {
        let (one, other) = between(&piece.is);
        is_there(&one) || is_there(&other)
    });
    let pair = |pair: &ControlPair| is_there(&pair.between.0) || is_there(&pair.between.1);
    let pair = job.control_pair.as_ref().filter(|there| pair(there));
    let names = pieces.map(|piece| piece.name.as_str());
    let names: Vec<_> = names.chain(pair.map(|_| "control pair")).collect();
    names.join(", ")
}

fn row(run: &Run, core: &Core) -> CoreRow {
    let job = &run.plan.job;
    let is_back = core.name == job.return_core().name;
    let steps = |test| steps_of(run, core, test);
    let continuity = if is_back { Vec::new() } else { steps(Test::Continuity) };
    let window = continuity
        .first()
        .and_then(|&step| Some(super::steps::must(run, measure(run, step)?).0));
    let open = if is_back { Vec::new() } else { steps(Test::Open) };
    CoreRow {
        name: core.name.clone(),
        sleeve: core.sleeve.clone(),
        size: amount(&core.size),
        carries: core.carries.words().into(),
        near: core.terminal(End::Near).into(),
        near_hangs: hangs(job, End::Near, core.terminal(End::Near)),
        far: core.terminal(End::Far).into(),
        far_hangs: hangs(job, End::Far, core.terminal(End::Far)),
        is_back,
        continuity: shown(run, &continuity, Worst::Highest),
        window,
        bar: bar(run, &continuity, Worst::Highest),
        open: (!open.is_empty()).then(|| {
            let passed = open.iter().filter(|&&step| run.verdict(step).outcome == Outcome::Pass);
            let text = format!("{} of {} open", passed.count(), open.len());
            cell(text, together(run, &open, When::Left))
        }),
        insulation: shown(run, &steps(Test::Insulation), Worst::Lowest),
    }
}

/// The figure of the steps about a core; steps that nothing was read at say so with their outcome alone.
fn shown(run: &Run, steps: &[usize], which: Worst) -> Option<Cell> {
    if steps.is_empty() {
        return None;
    }
    let figure = figure_of(run, steps, which, When::Left);
    Some(figure.unwrap_or_else(|| cell("", together(run, steps, When::Left))))
}

/// Dead tests about a core, by what they show.
fn steps_of(run: &Run, core: &Core, test: Test) -> Vec<usize> {
    let about = |step: &usize| {
        let Some(m) = measure(run, *step) else { return false };
        let planned = &run.plan.steps[*step];
        let told =
            planned.cores.contains(&core.name) && !is_in_rest(m, core) && !matches!(m.window, WindowRule::Solved(_));
        // the leads and the clip on the earth core are no tests of a core
        planned.stage == Stage::Test && !m.is_null && !m.is_join && told && test_of(m) == test
    };
    let all = 0..run.plan.steps.len();
    all.filter(about)
        .filter(|step| !super::steps::is_left_out(run, *step))
        .collect()
}

/// Whether a live core is one of the rest against which another is measured: what is low there is that other core's until they are
/// measured one by one.
fn is_in_rest(m: &Measure, core: &Core) -> bool {
    let Probes { first, second } = &m.probes;
    let of_another = matches!(second, Point::Core { core: other, .. } if *other != core.name);
    *first == Point::JoinedCores && of_another && core.carries != Purpose::Earth
}

fn test_of(m: &Measure) -> Test {
    if is_insulation(m) {
        Test::Insulation
    } else if m.is_of_cable() {
        Test::Continuity
    } else {
        Test::Open
    }
}

/// Whether a measurement is one of insulation, by its instrument or by what it is judged against.
pub(super) fn is_insulation(m: &Measure) -> bool {
    let by_window = match &m.window {
        WindowRule::Fixed(window) => window
            .basis
            .first()
            .is_some_and(|basis| basis.what.starts_with(Table::InsulationMinimum.words())),
        WindowRule::Like { .. } | WindowRule::Solved(_) => false,
    };
    matches!(m.used.function, Function::Insulation(_)) || by_window
}
