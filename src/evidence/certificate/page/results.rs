//! The one table of results, under the headings of the wiring rules: as found beside as left.
//!
//! The rule inside: each figure is the worst of the readings that it stands for, and a heading without a figure says why it has none.

use serde::Serialize;

use super::bar::Bar;
use super::drawing::is_insulation;
use super::pick::{Cell, When, Worst, attempt, bar, cell, figure, figure_of, measure, together, worst};
use super::steps::{is_left_out, must};
use super::words::{amount, symbols, what};
use crate::job::{Conductors, Job, Purpose};
use crate::judge::earth_loop;
use crate::judge::window::Outcome;
use crate::plan::{Came, Kind, Leads, Measure, Point, Stage, Subject, done_as_found};
use crate::run::fold::{Evidence, Run};
use crate::value::quantity::{Amount, Unit};
use crate::value::reading::Function;

/// One heading with its results.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ResultRow {
    /// The heading.
    pub name: String,
    /// Between what, and how.
    pub of: String,
    /// As found, where that is another reading than as left.
    pub found: Option<Cell>,
    /// As left.
    pub left: Option<Cell>,
    /// As found is the same reading: the cable was read once, as it was found, and left so.
    pub same: bool,
    /// What it had to be.
    pub must: Option<String>,
    /// As left against that.
    pub bar: Option<Bar>,
    /// Why there is no figure, or what the figure was made of.
    pub note: Option<String>,
}

/// The steps behind the headings that a form asks for too.
pub(super) struct Headings {
    pub(super) line_and_earth: Vec<usize>,
    pub(super) earth: Vec<usize>,
    pub(super) live_to_live: Vec<usize>,
    pub(super) live_to_earth: Vec<usize>,
    pub(super) to_mains: Vec<usize>,
    /// Insulation with everything connected, as it is left.
    pub(super) connected: Vec<usize>,
    pub(super) polarity: Vec<usize>,
    pub(super) earth_loop: Vec<usize>,
    pub(super) trips: Vec<usize>,
}

impl Headings {
    pub(super) fn of(run: &Run) -> Headings {
        let all = || (0..run.plan.steps.len()).filter(|step| !is_left_out(run, *step));
        let measured = |is: &dyn Fn(usize, &Measure) -> bool| -> Vec<usize> {
            all()
                .filter(|step| measure(run, *step).is_some_and(|m| is(*step, m)))
                .collect()
        };
        let job = &run.plan.job;
        let singled: Vec<usize> = all().filter_map(|step| stands_apart_from(run, step)).collect();
        let insulation = |wanted: fn(Sides) -> bool| {
            measured(&|step, m| {
                let of_cable = run.plan.steps[step].stage == Stage::Test && is_insulation(m);
                of_cable && !singled.contains(&step) && wanted(sides(job, m))
            })
        };
        Headings {
            line_and_earth: measured(&|step, m| {
                let core = run.plan.steps[step].cores.first().and_then(|name| job.core(name));
                let with_earth = job.return_core().carries == Purpose::Earth;
                let is_line = core.is_some_and(|core| is_line(core.carries));
                run.plan.steps[step].stage == Stage::Test && m.is_of_core() && !m.is_null && with_earth && is_line
            }),
            earth: measured(&|step, m| {
                let to_main_earth = [&m.probes.first, &m.probes.second].contains(&&Point::KnownEarth);
                let is_connected = run.plan.steps[step].stage == Stage::Connect;
                is_connected && to_main_earth && m.used.function == Function::Continuity && !m.is_null
            }),
            live_to_live: insulation(|sides| sides.live_to_live),
            live_to_earth: insulation(|sides| sides.live_to_earth),
            to_mains: insulation(|sides| sides.to_mains),
            connected: measured(&|step, m| run.plan.steps[step].stage == Stage::Connect && is_insulation(m)),
            polarity: all().filter(|step| is_polarity(&run.plan.steps[*step].kind)).collect(),
            earth_loop: measured(&|_, m| m.used.function == Function::Loop),
            trips: measured(&|_, m| matches!(m.used.function, Function::ResidualTrip(_))),
        }
    }
}

fn is_line(purpose: Purpose) -> bool {
    matches!(
        purpose,
        Purpose::PermanentLive
            | Purpose::SwitchedLive
            | Purpose::EndSwitch
            | Purpose::ProgrammedLive
            | Purpose::HotWaterSatisfied
    )
}

fn is_polarity(kind: &Kind) -> bool {
    match kind {
        Kind::Connect { .. } => true,
        Kind::Look(look) => matches!(look.subject, Subject::Polarity { .. }),
        _ => false,
    }
}

/// The reading of one core against all others joined, which this step takes apart and shows where it is low. What no single pair shows low
/// stays with the joined reading.
fn stands_apart_from(run: &Run, step: usize) -> Option<usize> {
    let is_low = run.verdict(step).outcome == Outcome::Fail;
    let conditions = run.plan.steps[step].only_if.iter();
    let mut low = conditions.filter(|condition| matches!(condition.came, Came::Failed | Came::Passed | Came::Below(_)));
    let of = run.plan.index(&low.next()?.step)?;
    let both = [step, of].map(|step| measure(run, step).is_some_and(is_insulation));
    (is_low && both == [true, true]).then_some(of)
}

/// Between what an insulation reading is made; one core against all others and earth is between both.
#[derive(Debug, Clone, Copy)]
struct Sides {
    live_to_live: bool,
    live_to_earth: bool,
    /// A core that is not for mains, to the mains in the same box.
    to_mains: bool,
}

fn sides(job: &Job, m: &Measure) -> Sides {
    let back = job.return_core();
    let is_earth = |point: &Point| match point {
        Point::Core { core, .. } => job.core(core).is_some_and(|core| core.carries == Purpose::Earth),
        Point::JoinedCores | Point::JoinedTerminals => false,
        Point::Terminal { .. } | Point::EarthComingIn | Point::KnownEarth | Point::LongLead { .. } => true,
        Point::KnownSource | Point::Tip | Point::LongTip => false,
    };
    let [first, second] = [&m.probes.first, &m.probes.second];
    let is_joined = [first, second].contains(&&Point::JoinedCores);
    let against_back = [first, second]
        .into_iter()
        .any(|point| matches!(point, Point::Core { core, .. } if *core == back.name));
    let to_earth = is_earth(first) || is_earth(second);
    let to_mains = [first, second].contains(&&Point::JoinedTerminals);
    Sides {
        to_mains,
        live_to_live: !to_earth && !to_mains,
        // all but one are joined with the earth core
        live_to_earth: to_earth || (is_joined && !against_back && back.carries == Purpose::Earth),
    }
}

/// Every heading, in the order in which the work is done.
pub(super) fn rows(run: &Run) -> Vec<ResultRow> {
    let headings = Headings::of(run);
    let mut rows = vec![
        of_steps(run, "R1+R2", &headings.line_and_earth, Worst::Highest, line_words(run)),
        of_steps(
            run,
            "R2",
            &headings.earth,
            Worst::Highest,
            "protective conductor to the main earthing terminal, by a long lead, as reconnected".into(),
        ),
        insulation(run, "live to live", &headings.live_to_live),
        insulation(run, "live to earth", &headings.live_to_earth),
        polarity(run, &headings.polarity),
        loop_row(run, &headings),
    ];
    if rows[0].left.is_none() && rows[0].found.is_none() {
        rows[0].note = Some(why_no_line_and_earth(run, &headings.line_and_earth));
    }
    let mut further = Vec::new();
    if !headings.to_mains.is_empty() {
        further.push(insulation(run, "to mains in the same box", &headings.to_mains));
    }
    if !headings.connected.is_empty() {
        let of = "every live terminal joined, with what hangs on the cable".to_owned();
        further.push(ResultRow {
            of,
            ..insulation(run, "reconnected, live to earth", &headings.connected)
        });
    }
    // behind the other insulation tests
    rows.splice(4..4, further);
    rows.extend(trips(run, &headings.trips));
    rows.extend(functional(run));
    rows
}

fn line_words(run: &Run) -> String {
    let leads = match run.plan.lead_null(Leads::Own) {
        Some((_, null)) if null.used.nulls => "leads nulled in the tester",
        _ => "leads taken off",
    };
    format!("line and protective conductor in series, highest of the line cores, {leads}")
}

fn why_no_line_and_earth(run: &Run, steps: &[usize]) -> String {
    let job = &run.plan.job;
    match () {
        () if !steps.is_empty() => run.verdict(steps[0]).because,
        () if job.core_for(Purpose::Earth).is_none() => "the cable has no protective conductor".into(),
        () if !job.cores.iter().any(|core| is_line(core.carries)) => "the cable has no line conductor".into(),
        () => "not part of this proof".into(),
    }
}

/// A heading over steps that read figures.
fn of_steps(run: &Run, name: &str, steps: &[usize], which: Worst, of: String) -> ResultRow {
    let left = figure_of(run, steps, which, When::Left);
    let found = figure_of(run, steps, which, When::Found).filter(|found| Some(found) != left.as_ref());
    let judged = worst(run, steps, which, When::Left).or(steps.first().copied());
    let note = match (&left, steps.first()) {
        (Some(_), _) => None,
        (None, None) => Some("not part of this proof".into()),
        (None, Some(&step)) => Some(run.verdict(step).because),
    };
    ResultRow {
        name: name.into(),
        of,
        same: found.is_none() && left.is_some() && is_as_found(run, steps),
        found,
        left,
        must: judged.and_then(|step| Some(must(run, measure(run, step)?).0)),
        bar: bar(run, steps, which),
        note,
    }
}

/// Dead tests read the cable as it was found; what is read once it is connected again is as left.
fn is_as_found(run: &Run, steps: &[usize]) -> bool {
    steps.iter().all(|step| run.plan.steps[*step].stage <= Stage::Test)
}

fn insulation(run: &Run, between: &str, steps: &[usize]) -> ResultRow {
    let volts = steps.iter().find_map(|step| test_voltage(measure(run, *step)?));
    let volts = volts.map_or(String::new(), |volts| format!(", {volts}"));
    let joined = steps.iter().filter_map(|step| measure(run, *step));
    let joined = joined.into_iter().any(|m| m.probes.first == Point::JoinedCores);
    let how = if joined {
        "; each core against all the others joined"
    } else {
        ""
    };
    let name = format!("Insulation resistance, {between}{volts}");
    let read = steps
        .iter()
        .filter(|step| figure(run, **step, When::Left).is_some())
        .count();
    of_steps(run, &name, steps, Worst::Lowest, format!("{}{how}", counted(read)))
}

fn counted(readings: usize) -> String {
    match readings {
        0 => "not read".into(),
        1 => "one reading".into(),
        n => format!("lowest of {n} readings"),
    }
}

pub(super) fn test_voltage(m: &Measure) -> Option<String> {
    match m.used.function {
        Function::Insulation(volts) => Some(format!("{volts} V d.c.")),
        _ => None,
    }
}

fn polarity(run: &Run, steps: &[usize]) -> ResultRow {
    let confirmed = |when| -> Option<Cell> {
        let tried = steps.iter().filter(|step| attempt(run, **step, when).is_some()).count();
        let passed = steps
            .iter()
            .filter_map(|step| attempt(run, *step, when))
            .filter(|attempt| attempt.verdict.outcome == Outcome::Pass);
        let text = format!("right at {} of {}", passed.count(), steps.len());
        (tried > 0).then(|| cell(text, together(run, steps, when)))
    };
    let left = confirmed(When::Left);
    ResultRow {
        name: "Polarity".into(),
        of: "each core in a terminal for what it carries, at both ends".into(),
        found: confirmed(When::Found).filter(|found| Some(found) != left.as_ref()),
        same: false,
        note: match (&left, steps.first()) {
            (Some(_), _) => None,
            (None, None) => Some("not part of this proof".into()),
            (None, Some(&step)) => Some(run.verdict(step).because),
        },
        left,
        must: None,
        bar: None,
    }
}

fn loop_row(run: &Run, headings: &Headings) -> ResultRow {
    let name = "Earth fault loop impedance, Zs";
    let mut row = of_steps(run, name, &headings.earth_loop, Worst::Highest, "measured".into());
    if row.left.is_some() {
        return row;
    }
    match worked_loop(run, headings) {
        Some((sum, words)) => {
            row.of = "worked out, not measured".into();
            row.left = Some(Cell {
                text: amount(&sum),
                verdict: "worked out".into(),
                outcome: Outcome::NotTested,
            });
            row.note = Some(words);
        }
        None => {
            row.of = "neither measured nor worked out".into();
            row.note.get_or_insert_default();
        }
    }
    row
}

/// Ze and the highest R1+R2 of a line core, where both are there; nothing is taken for either.
pub(super) fn worked_loop(run: &Run, headings: &Headings) -> Option<(Amount, String)> {
    let ze = run.plan.job.supply.ze.as_ref()?;
    let steps = &headings.line_and_earth;
    if together(run, steps, When::Left) != Outcome::Pass {
        return None;
    }
    let step = worst(run, steps, Worst::Highest, When::Left)?;
    let measured = run.standing(step)?.verdict.value.as_ref()?;
    let sum = Amount::new(earth_loop::zs(ze.value(), measured.value()), Unit::Ohm);
    let words = format!(
        "up to the near end {}, as the job states it, and R1+R2 {} as measured",
        amount(ze),
        figure(run, step, When::Left)?
    );
    Some((sum, words))
}

fn trips(run: &Run, steps: &[usize]) -> Vec<ResultRow> {
    let row = |step: &usize| {
        let m = measure(run, *step)?;
        let Function::ResidualTrip(multiple) = m.used.function else {
            return None;
        };
        let name = format!("Residual-current device, disconnection time at {}", multiple.words());
        let rated = run
            .plan
            .job
            .supply
            .residual
            .as_ref()
            .map_or("not stated".into(), amount);
        let of = format!("rated residual operating current {rated}");
        Some(of_steps(run, &name, &[*step], Worst::Highest, of))
    };
    let rows: Vec<_> = steps.iter().filter_map(row).collect();
    if rows.is_empty() {
        let of = "no step of this proof tests one".to_owned();
        return vec![of_steps(
            run,
            "Residual-current device, disconnection time",
            &[],
            Worst::Highest,
            of,
        )];
    }
    rows
}

/// Functional tests by name: what was read or seen with the supply on, and on the pair as it was found.
fn functional(run: &Run) -> Vec<ResultRow> {
    let is_one = |step: &usize| {
        let planned = &run.plan.steps[*step];
        let live = (done_as_found(planned) || planned.stage == Stage::Live) && !is_left_out(run, *step);
        live && match &planned.kind {
            Kind::Measure(m) => matches!(m.used.function, Function::VoltageAc | Function::VoltageDc),
            Kind::Look(look) => !matches!(look.subject, Subject::Polarity { .. } | Subject::Identity { .. }),
            _ => false,
        }
    };
    (0..run.plan.steps.len())
        .filter(is_one)
        .map(|step| functional_row(run, step))
        .collect()
}

fn functional_row(run: &Run, step: usize) -> ResultRow {
    let planned = &run.plan.steps[step];
    let name = planned.id.replace('-', " ").replace('/', ", ");
    let of = what(planned, &run.plan.job);
    let mut row = match &planned.kind {
        Kind::Look(look) => ResultRow {
            must: Some(look.expected.join(", ")),
            ..seen(run, step, name, of)
        },
        _ => of_steps(run, &name, &[step], Worst::Highest, of),
    };
    // what was read before anything was done is as found; nobody read it again, but what was repaired is seen as left as well
    let repaired = run.repairs.iter().any(|repair| repair.step == planned.id);
    if done_as_found(planned) && row.left.is_some() && !repaired {
        row.found = row.left.take();
        row.same = false;
    }
    row
}

fn seen(run: &Run, step: usize, name: String, of: String) -> ResultRow {
    let told = |when| {
        let attempt = attempt(run, step, when)?;
        let Evidence::Answer(answer) = &attempt.evidence else {
            return None;
        };
        Some(cell(answer.words(), together(run, &[step], when)))
    };
    let left = told(When::Left);
    ResultRow {
        name,
        of,
        found: told(When::Found).filter(|found| Some(found) != left.as_ref()),
        same: false,
        note: left.is_none().then(|| symbols(&run.verdict(step).because)),
        left,
        must: None,
        bar: None,
    }
}

/// How the conductors are made, in words.
pub(super) fn conductors(job: &Job) -> &'static str {
    match job.conductors {
        Conductors::Solid => "solid conductors (class 1)",
        Conductors::Stranded => "stranded conductors (class 2)",
        Conductors::Flexible => "flexible conductors (class 5)",
    }
}
