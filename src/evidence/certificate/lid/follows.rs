//! What follows a control: what it was seen to move, run or feed while it called, and to let go when it no longer did.
//!
//! The rule inside: a thing follows a control only where it was looked at or measured with that call and without it, everything else set the
//! same, each came out as it must, and the two differ. What the job merely states is never a reason.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use crate::evidence::certificate::page::{between, is_left_out, symbols, what};
use crate::job::{At, End, Is, Job};
use crate::judge::window::Outcome;
use crate::plan::{Act, Kind, Look, Measure, Point, Stage, Subject};
use crate::run::fold::{Attempt, Evidence, Run};
use crate::value::reading::Function;

/// A control, and what was proved to follow it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct ControlRow {
    /// The thermostat or other control, by its name on site.
    pub control: String,
    /// The zones that it calls for, by their names on site.
    pub zones: Vec<String>,
    /// Valves and actuators that opened and shut with its call.
    pub moves: Vec<String>,
    /// Flow meters of loops that began and ceased to flow with its call.
    pub flows: Vec<String>,
    /// What ran and stood still with its call, or grew warm and cold.
    pub runs: Vec<String>,
    /// Where voltage came and went with its call.
    pub feeds: Vec<String>,
    /// Other controls that had to call as well.
    pub together_with: Vec<String>,
    /// What was seen first, where it was not what stands now.
    pub found: Vec<String>,
    /// What of it was not proved, each with the reason; left blank.
    pub not_proved: Vec<String>,
}

impl ControlRow {
    /// A control of which nothing is known, and why.
    pub(super) fn blank(job: &Job, control: &str, why: &str) -> ControlRow {
        ControlRow {
            control: control.to_owned(),
            zones: zones(job, control),
            not_proved: vec![why.to_owned()],
            ..ControlRow::default()
        }
    }

    /// Whether anything was proved to follow it.
    pub fn is_proved(&self) -> bool {
        [&self.moves, &self.flows, &self.runs, &self.feeds]
            .iter()
            .any(|things| !things.is_empty())
    }
}

/// In which way a thing follows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Way {
    Moves,
    Runs,
    Feeds,
}

/// The controls that call at a time.
type Calls = BTreeSet<String>;

/// What a thing must show in one state of the calls, by its last step there, and whether every step there passed.
#[derive(Debug, Clone)]
struct Shown {
    word: String,
    passed: bool,
    because: String,
}

/// Everything that was looked at or measured live, by what it is about and by which controls called.
#[derive(Debug, Default)]
struct Seen {
    of: BTreeMap<(Way, String), BTreeMap<Calls, Shown>>,
    /// What was seen first at a step and stands no more, by the calls.
    first: Vec<(Calls, String)>,
}

/// Every control of the job, in the job's order.
pub(super) fn rows(run: &Run) -> Vec<ControlRow> {
    let seen = seen(run);
    let job = &run.plan.job;
    let controls = job.controls();
    controls.into_iter().map(|control| row(job, &seen, control)).collect()
}

fn zones(job: &Job, control: &str) -> Vec<String> {
    let of = job.zones.iter().filter(|zone| zone.control == control);
    of.map(|zone| zone.name.clone()).collect()
}

fn row(job: &Job, seen: &Seen, control: &str) -> ControlRow {
    let mut row = ControlRow {
        control: control.to_owned(),
        zones: zones(job, control),
        ..ControlRow::default()
    };
    let mut others = Calls::new();
    for ((way, thing), states) in &seen.of {
        let Some(with) = follows(states, control) else { continue };
        others.extend(with);
        let is_meter = |zone: &crate::job::Zone| zone.meters.iter().any(|(meter, _)| meter == thing);
        let list = match way {
            Way::Moves if job.zones.iter().any(is_meter) => &mut row.flows,
            Way::Moves => &mut row.moves,
            Way::Runs => &mut row.runs,
            Way::Feeds => &mut row.feeds,
        };
        list.push(thing.clone());
    }
    row.together_with = others.into_iter().collect();
    row.not_proved = open(job, seen, &row);
    let first = seen.first.iter().filter(|(calls, _)| calls.contains(control));
    for (_, words) in first {
        if !row.found.contains(words) {
            row.found.push(words.clone());
        }
    }
    row
}

/// Whether a thing follows a control, and which others had to call as well.
fn follows(states: &BTreeMap<Calls, Shown>, control: &str) -> Option<Calls> {
    let is_one = |calls: &Calls| {
        let mut without = calls.clone();
        let (with, without_it) = (&states[calls], without.remove(control).then(|| states.get(&without))??);
        let differ = with.passed && without_it.passed && with.word != without_it.word;
        differ.then_some(without)
    };
    // with the fewest others
    states.keys().filter_map(is_one).min_by_key(BTreeSet::len)
}

/// What of a control is not proved: each actuator and flow meter of its zones that was not seen to follow, and what was looked at and came
/// out otherwise than it must.
fn open(job: &Job, seen: &Seen, row: &ControlRow) -> Vec<String> {
    let mut open = Vec::new();
    for zone in job.zones.iter().filter(|zone| zone.control == row.control) {
        let meters = zone.meters.iter().map(|(meter, _)| meter);
        let missing = zone.actuators.iter().chain(meters);
        let missing = missing.filter(|thing| !row.moves.contains(thing) && !row.flows.contains(thing));
        open.extend(missing.map(|thing| match why(seen, Way::Moves, thing, &row.control) {
            Some(because) => format!("{thing}: {because}"),
            None => format!("{thing}: no step of the record shows it"),
        }));
    }
    for (way, thing) in seen.of.keys() {
        if let Some(because) = why(seen, *way, thing, &row.control)
            && !open.iter().any(|words| words.starts_with(&format!("{thing}: ")))
        {
            open.push(format!("{thing}: {because}"));
        }
    }
    if open.is_empty() && !row.is_proved() {
        open.push("no step of the record shows what follows it".into());
    }
    open
}

/// The first reason for which a thing did not come out as it must, with the call of a control or without it.
fn why(seen: &Seen, way: Way, thing: &str, control: &str) -> Option<String> {
    let states = seen.of.get(&(way, thing.to_owned()))?;
    let reason = |calls: &Calls| {
        let mut without = calls.clone();
        let both = [calls, without.remove(control).then_some(&without)?];
        let shown = both.into_iter().filter_map(|calls| states.get(calls));
        let open: Vec<_> = shown.filter(|shown| !shown.passed).collect();
        open.first().map(|shown| shown.because.clone())
    };
    states.keys().find_map(reason)
}

/// Walks the plan with the calls as its acts set them.
fn seen(run: &Run) -> Seen {
    let (mut seen, mut calls) = (Seen::default(), Calls::new());
    for (step, planned) in run.plan.steps.iter().enumerate() {
        for act in &planned.acts {
            match act {
                Act::Call(control) => {
                    calls.insert(control.clone());
                }
                Act::Satisfy(control) => {
                    calls.remove(control);
                }
                // what energises asks for every call to be off
                Act::EveryCallOff | Act::Energise => calls.clear(),
                _ => {}
            }
        }
        if planned.stage != Stage::Live || is_left_out(run, step) {
            continue;
        }
        let shown = match &planned.kind {
            Kind::Look(look) => looked_at(look),
            Kind::Measure(measure) => measured(run, measure),
            _ => Vec::new(),
        };
        if shown.is_empty() {
            continue;
        }
        let verdict = run.verdict(step);
        for (way, thing, word) in shown {
            let of = seen.of.entry((way, thing)).or_default();
            let state = of.entry(calls.clone()).or_insert_with(|| Shown {
                word: String::new(),
                passed: true,
                because: String::new(),
            });
            state.word = word;
            if verdict.outcome != Outcome::Pass {
                state.passed = false;
                state.because = format!("{}, {}", verdict.outcome.word(), verdict.because);
            }
        }
        let first = run.steps[step]
            .attempts
            .first()
            .filter(|first| stands_no_more(run, step, first));
        seen.first.extend(first.map(|first| {
            (
                calls.clone(),
                format!("{}: {}", what(planned, &run.plan.job), told(first)),
            )
        }));
    }
    seen
}

/// What was read or answered.
fn told(attempt: &Attempt) -> String {
    match &attempt.evidence {
        Evidence::Reading(reading) => symbols(&reading.display()),
        Evidence::Answer(answer) => answer.words(),
    }
}

fn stands_no_more(run: &Run, step: usize, first: &Attempt) -> bool {
    let is_other = |stands: &Attempt| stands.at != first.at;
    first.verdict.outcome != Outcome::Pass && run.standing(step).is_none_or(is_other)
}

/// The things that a look is about, and what each must show.
fn looked_at(look: &Look) -> Vec<(Way, String, String)> {
    let expected = || look.expected.first().cloned().unwrap_or_default();
    match &look.subject {
        Subject::Lever(motor) | Subject::Pin(motor) => vec![(Way::Moves, motor.clone(), expected())],
        Subject::Load(load) => vec![(Way::Runs, load.clone(), expected())],
        Subject::Warmth(motor) => vec![(Way::Runs, format!("what {motor} feeds grows warm"), expected())],
        Subject::Moved => {
            let state = |thing: &String| match look.expected.contains(thing) {
                true => "moved",
                false => "still",
            };
            let one = |thing: &String| (Way::Moves, thing.clone(), state(thing).to_owned());
            look.words.iter().map(one).collect()
        }
        _ => Vec::new(),
    }
}

/// Where a voltage is read, and whether one must stand there.
fn measured(run: &Run, measure: &Measure) -> Vec<(Way, String, String)> {
    let is_voltage = matches!(measure.used.function, Function::VoltageAc | Function::VoltageDc);
    let Some(window) = run.window(measure).ok().filter(|_| is_voltage) else {
        return Vec::new();
    };
    let word = if window.low.is_some() { "voltage" } else { "none" };
    let probes = [&measure.probes.first, &measure.probes.second];
    let at = |point: &Point| match point {
        Point::Terminal {
            terminal,
            end: End::Near,
        } => Some(At::Near(terminal.clone())),
        Point::Terminal {
            terminal,
            end: End::Far,
        } => Some(At::Far(terminal.clone())),
        _ => None,
    };
    let across = |is: &Is| {
        let (one, other) = is.between();
        let read = probes.map(at);
        read == [Some(one.clone()), Some(other.clone())] || read == [Some(other.clone()), Some(one.clone())]
    };
    let takes = |is: &Is| matches!(is, Is::Motor(_) | Is::Load(_));
    let pieces = run.plan.job.equipment.iter();
    let pieces = pieces.filter(|piece| takes(&piece.is) && across(&piece.is));
    let mut things: Vec<String> = pieces.map(|piece| piece.name.clone()).collect();
    if things.is_empty() {
        things.push(between(&measure.probes, &run.plan.job));
    }
    let one = |thing| (Way::Feeds, thing, word.to_owned());
    things.into_iter().map(one).collect()
}
