//! What could be measured next: the steps of the plan that were not come to, and what the instruments can read on a dead cable.
//!
//! The rule inside: every measurement says what must stand before it; a live one is marked so that it is taken last.

use super::observed::Observed;
use crate::job::instrument::{Ability, choose};
use crate::job::{Core, End, Job, Terminal};
use crate::judge::accuracy::Accuracy;
use crate::model::meter::INPUT_OHMS;
use crate::model::wiring::float;
use crate::plan::{Kind, Plan, Point, Probes, Stage};
use crate::value::quantity::Amount;
use crate::value::reading::Function;

/// What the hands do before a measurement.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Before {
    /// Switched off and proved dead, every core in its terminal.
    Connected,
    /// Switched off and proved dead, every core off at both ends.
    Apart,
    /// The same, and this core linked to the earth core at the far end.
    Linked(String),
    /// Every step of the plan up to this one.
    Walked(usize),
}

/// What is read or looked at.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum What {
    /// A reading between two points.
    Reading {
        probes: Probes,
        function: Function,
        /// The top of the instrument's range, in ohms; above it the display tells no more.
        ceiling: f64,
        accuracy: Accuracy,
        input_ohms: f64,
    },
    /// What a step of the plan tells otherwise: what it looks at, or whether the device trips.
    Told,
}

/// One measurement that could be made.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Measurement {
    pub(super) before: Before,
    pub(super) what: What,
    instrument: String,
    pub(super) live: bool,
}

/// An instrument that measures ohms, with its dial and the top of its range.
#[derive(Debug, Clone)]
struct Meter {
    instrument: String,
    function: Function,
    ceiling: f64,
    accuracy: Accuracy,
}

impl Meter {
    /// The one for a function of dead tests.
    fn with(job: &Job, function: Function) -> Option<Meter> {
        let used = choose(&job.instruments, function, &job.limits)?;
        Some(Meter {
            ceiling: float(used.ceiling.as_ref()?.value()),
            instrument: used.instrument,
            function: used.function,
            accuracy: used.known.accuracy,
        })
    }

    /// The ohms range that goes highest, for loads: to find a fault needs no standard.
    fn of_loads(job: &Job) -> Option<Meter> {
        let abilities = job
            .instruments
            .iter()
            .flat_map(|there| there.can.iter().map(move |can| (there, can)));
        let ranges = abilities.filter_map(|(there, can)| match can {
            Ability::Resistance { ceiling, .. } => Some((there, can, Function::Resistance, ceiling)),
            Ability::Continuity { ceiling, .. } => Some((there, can, Function::Continuity, ceiling)),
            _ => None,
        });
        let (there, can, function, ceiling) = ranges.max_by_key(|(_, _, _, ceiling)| ceiling.value())?;
        Some(Meter {
            instrument: there.name.clone(),
            function,
            ceiling: float(ceiling.value()),
            accuracy: can.known(&there.name, &job.limits).ok()??.accuracy,
        })
    }

    fn measurement(&self, before: Before, first: Point, second: Point) -> Measurement {
        Measurement {
            before,
            what: What::Reading {
                probes: Probes { first, second },
                function: self.function,
                ceiling: self.ceiling,
                accuracy: self.accuracy.clone(),
                input_ohms: INPUT_OHMS,
            },
            instrument: self.instrument.clone(),
            live: false,
        }
    }
}

impl Measurement {
    /// The steps of the plan that nothing was seen at yet, in its order, then everything that the job's instruments can read.
    pub(super) fn all(observed: &Observed) -> Vec<Measurement> {
        let plan = &observed.plan;
        let job = &plan.job;
        let seen = |step: &usize| observed.list.iter().any(|there| there.step == *step);
        let left = (0..plan.steps.len()).filter(|step| !seen(step));
        let mut found: Vec<Measurement> = left.filter_map(|step| of_plan(plan, step)).collect();
        if let Some(meter) = Meter::with(job, Function::Continuity) {
            found.extend(continuity(job, &meter));
        }
        if let Some(meter) = Meter::of_loads(job) {
            found.extend(loads(job, &meter));
        }
        let insulation = plan.steps.iter().find_map(|step| match &step.kind {
            Kind::Measure(measure) if matches!(measure.used.function, Function::Insulation(_)) => {
                Some(measure.used.function)
            }
            _ => None,
        });
        // between cores only where the plan goes there: something may have to stay connected
        let insulation = insulation.filter(|_| job.stays_connected.is_none());
        if let Some(meter) = insulation.and_then(|function| Meter::with(job, function)) {
            let between = |(a, b)| meter.measurement(Before::Apart, core(a, End::Near), core(b, End::Near));
            found.extend(pairs(job).map(between));
        }
        found
    }

    /// The measurement in the words of a prompt.
    pub(super) fn words(&self, plan: &Plan) -> String {
        let job = &plan.job;
        let before = match &self.before {
            Before::Connected => "Switched off, locked off, proved dead, cores in their terminals".to_owned(),
            Before::Apart => "Switched off, locked off, proved dead, every core off at both ends".to_owned(),
            Before::Linked(core) => format!(
                "Switched off, locked off, proved dead, every core off at both ends, core {core} linked to {} at the {}",
                job.return_words(),
                job.far.name
            ),
            Before::Walked(step) if self.live => format!(
                "LIVE, only after isolation and every dead test: step `{}` of the plan",
                plan.steps[*step].id
            ),
            Before::Walked(step) => format!(
                "Switched off, locked off, proved dead, as the plan has it there: step `{}` of the plan",
                plan.steps[*step].id
            ),
        };
        let What::Reading { probes, function, .. } = &self.what else {
            return before;
        };
        let both_ends = matches!(
            (&probes.first, &probes.second),
            (Point::Core { end: one, .. }, Point::Core { end: other, .. }) if one != other
        );
        let long = if both_ends {
            ", with a long lead that is read first and subtracted"
        } else {
            ""
        };
        format!(
            "{before}: {} ({}) from {} to {}{long}",
            function.dial(),
            self.instrument,
            probes.first.words(job),
            probes.second.words(job)
        )
    }
}

/// What a step of the plan would tell; `None` where it tells nothing of the wiring.
fn of_plan(plan: &Plan, at: usize) -> Option<Measurement> {
    let step = &plan.steps[at];
    if !matches!(step.stage, Stage::Test | Stage::Connect | Stage::Live) {
        return None;
    }
    let (what, instrument) = match &step.kind {
        Kind::Look(_) => (What::Told, String::new()),
        Kind::Measure(measure) if measure.is_null => return None,
        Kind::Measure(measure) if matches!(measure.used.function, Function::ResidualTrip(_)) => {
            (What::Told, measure.used.instrument.clone())
        }
        Kind::Measure(measure) => {
            let used = &measure.used;
            let figure =
                |amount: &Option<Amount>, without| amount.as_ref().map_or(without, |there| float(there.value()));
            let what = What::Reading {
                probes: measure.probes.clone(),
                function: used.function,
                ceiling: figure(&used.ceiling, f64::INFINITY),
                accuracy: used.known.accuracy.clone(),
                input_ohms: figure(&used.input, INPUT_OHMS),
            };
            (what, used.instrument.clone())
        }
        Kind::Do | Kind::Gate | Kind::Note { .. } | Kind::Indicator { .. } | Kind::Connect { .. } => return None,
    };
    Some(Measurement {
        before: Before::Walked(at),
        what,
        instrument,
        live: step.stage == Stage::Live,
    })
}

fn continuity(job: &Job, meter: &Meter) -> Vec<Measurement> {
    let with = |before, first, second| meter.measurement(before, first, second);
    let mut found = Vec::new();
    for one in &job.cores {
        found.push(with(Before::Apart, core(one, End::Near), core(one, End::Far)));
        for end in End::BOTH {
            let terminal = Point::Terminal {
                terminal: one.terminal(end).to_owned(),
                end,
            };
            found.push(with(Before::Connected, terminal, core(one, end)));
        }
    }
    for one in job.test_cores() {
        let linked = || Before::Linked(one.name.clone());
        for other in job.test_cores() {
            found.push(with(
                linked(),
                core(job.return_core(), End::Near),
                core(other, End::Near),
            ));
        }
    }
    found
}

/// Between every two terminals of an end: loads and contacts.
fn loads(job: &Job, meter: &Meter) -> Vec<Measurement> {
    let mut found = Vec::new();
    for end in End::BOTH {
        let terminals = &job.end(end).terminals;
        for (at, one) in terminals.iter().enumerate() {
            for other in &terminals[at + 1..] {
                let point = |terminal: &Terminal| Point::Terminal {
                    terminal: terminal.name.clone(),
                    end,
                };
                found.push(meter.measurement(Before::Connected, point(one), point(other)));
            }
        }
    }
    found
}

fn pairs(job: &Job) -> impl Iterator<Item = (&Core, &Core)> {
    let each = job.cores.iter().enumerate();
    each.flat_map(|(at, one)| job.cores[at + 1..].iter().map(move |other| (one, other)))
}

fn core(core: &Core, end: End) -> Point {
    Point::Core {
        core: core.name.clone(),
        end,
    }
}
