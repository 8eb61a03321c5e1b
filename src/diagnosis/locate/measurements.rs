//! What could be measured next: dead measurements of one cable, and the live steps of the plan.
//!
//! The rule inside: every measurement says what must stand before it; a live one is marked so that it is taken last.

use crate::job::instrument::{Ability, Use, choose};
use crate::job::{Core, End, Job, Terminal};
use crate::judge::accuracy::Accuracy;
use crate::model::installation::Installation;
use crate::model::meter::INPUT_OHMS;
use crate::model::walked::{World, needed_where_sound};
use crate::model::wiring::float;
use crate::plan::{Act, Kind, Plan, Point, Probes, Stage};
use crate::value::reading::Function;

/// What the hands do before a measurement.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Before {
    /// Switched off and proved dead, every core in its terminal.
    Connected,
    /// Switched off and proved dead, every core off at both ends.
    Apart,
    /// The same, and this core linked to the earth core at the far end.
    Linked(String),
    /// Every step of the plan up to this one.
    Walked(usize),
}

/// One measurement that could be made.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Measurement {
    before: Before,
    pub(super) probes: Probes,
    pub(super) function: Function,
    /// The top of the instrument's range, in ohms; above it the display tells no more.
    pub(super) ceiling: f64,
    pub(super) accuracy: Accuracy,
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
            probes: Probes { first, second },
            function: self.function,
            ceiling: self.ceiling,
            accuracy: self.accuracy.clone(),
            instrument: self.instrument.clone(),
            live: false,
        }
    }
}

impl Measurement {
    /// Everything that the job's instruments can measure.
    pub(super) fn all(plan: &Plan) -> Vec<Measurement> {
        let job = &plan.job;
        let mut found = Vec::new();
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
        let steps = plan.steps.iter().enumerate();
        found.extend(
            steps
                .filter(|(_, step)| step.stage == Stage::Live)
                .filter_map(|(at, step)| {
                    let Kind::Measure(measure) = &step.kind else {
                        return None;
                    };
                    if matches!(measure.used.function, Function::ResidualTrip(_)) {
                        // it speaks of the device, not of the wiring
                        return None;
                    }
                    Some(Measurement {
                        before: Before::Walked(at),
                        probes: measure.probes.clone(),
                        function: measure.used.function,
                        ceiling: f64::INFINITY,
                        accuracy: measure.used.known.accuracy.clone(),
                        instrument: measure.used.instrument.clone(),
                        live: true,
                    })
                }),
        );
        found
    }

    /// The installation as it is when this is measured.
    pub(super) fn prepared(&self, plan: &Plan, mut installation: Installation) -> Installation {
        let apart = [Act::SwitchOff, Act::Disconnect(End::Near), Act::Disconnect(End::Far)];
        match &self.before {
            Before::Connected => installation.apply(&Act::SwitchOff),
            Before::Apart => apart.iter().for_each(|act| installation.apply(act)),
            Before::Linked(core) => {
                apart.iter().for_each(|act| installation.apply(act));
                installation.apply(&Act::LinkToEarth(core.clone()));
            }
            Before::Walked(step) => {
                let needed = needed_where_sound(plan);
                let mut world = World::new(plan, installation);
                let done = (0..=*step).filter(|at| needed[*at] || at == step);
                done.for_each(|at| world.come_to(at));
                return world.installation;
            }
        }
        installation
    }

    /// Input resistance of the instrument, in ohms.
    pub(super) fn input_ohms(&self, plan: &Plan) -> f64 {
        let Before::Walked(step) = &self.before else {
            return INPUT_OHMS;
        };
        let used: Option<&Use> = match &plan.steps[*step].kind {
            Kind::Measure(measure) => Some(&measure.used),
            _ => None,
        };
        let input = used.and_then(|used| used.input.as_ref());
        input.map_or(INPUT_OHMS, |input| float(input.value()))
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
            Before::Walked(step) => format!(
                "LIVE, only after isolation and every dead test: step `{}` of the plan",
                plan.steps[*step].id
            ),
        };
        let both_ends = matches!(
            (&self.probes.first, &self.probes.second),
            (Point::Core { end: one, .. }, Point::Core { end: other, .. }) if one != other
        );
        let long = if both_ends {
            ", with a long lead that is nulled"
        } else {
            ""
        };
        format!(
            "{before}: {} ({}) from {} to {}{long}",
            self.function.dial(),
            self.instrument,
            self.probes.first.words(job),
            self.probes.second.words(job)
        )
    }
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
