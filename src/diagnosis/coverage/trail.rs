//! A walk of sound wiring as it went, so that a walk with a fault takes from it whatever the fault does not touch.
//!
//! The rule inside: what is taken from it is what would come out anew, to the last digit: the line at a step where the same elements hang
//! together with the probes, and the run before a step where every line before it was the same at the same time.

use jiff::Timestamp;

use crate::model::bearing::Bearing;
use crate::model::installation::Installation;
use crate::model::probes::points;
use crate::plan::{Kind, Step};
use crate::run::event::Event;
use crate::run::fold::Run;
use crate::value::reading::Function;

/// The run is kept before one visit of so many; between them its events lead on.
const KEPT_EVERY: usize = 16;

/// One time that a step was done and answered.
#[derive(Debug)]
pub(super) struct Visit {
    pub(super) step: usize,
    /// When it was answered.
    pub(super) at: Timestamp,
    /// What was answered.
    pub(super) line: String,
    /// What was written down since the visit before.
    pub(super) events: Vec<(Timestamp, Event)>,
    /// What bore on that, where it was read between two points.
    bearing: Option<Bearing>,
}

/// The visits of a walk, in their order.
#[derive(Debug, Default)]
pub(super) struct Trail {
    pub(super) visits: Vec<Visit>,
    runs: Vec<Run>,
}

impl Trail {
    /// Keeps a visit, with the run before it.
    pub(super) fn keep(&mut self, mut visit: Visit, run: &Run, installation: &Installation) {
        visit.bearing = read_at(&run.plan.steps[visit.step]).map(|pair| installation.network().bearing(&pair));
        if self.visits.len().is_multiple_of(KEPT_EVERY) {
            self.runs.push(run.clone());
        }
        self.visits.push(visit);
    }

    /// What is read at a step; `None` where it has to be worked out, since something else bears on it here.
    pub(super) fn line(&self, step: usize, installation: &Installation) -> Option<&str> {
        let first = self.visits.partition_point(|visit| visit.step < step);
        let visit = self.visits.get(first).filter(|visit| visit.step == step)?;
        let alike = installation.indicator_works() && installation.network().has_bearing(visit.bearing.as_ref()?);
        alike.then_some(&*visit.line)
    }

    /// The run as it was before a visit.
    pub(super) fn run_before(&self, visit: usize) -> Run {
        let kept = visit / KEPT_EVERY;
        let mut run = self.runs[kept].clone();
        for visit in &self.visits[kept * KEPT_EVERY + 1..=visit] {
            for (at, event) in &visit.events {
                run.apply(*at, event).expect("it was taken in before");
            }
        }
        run
    }
}

impl Visit {
    pub(super) fn new(step: usize, at: Timestamp, line: &str, events: Vec<(Timestamp, Event)>) -> Visit {
        Visit {
            step,
            at,
            line: line.to_owned(),
            events,
            bearing: None,
        }
    }
}

/// The points between which a step is read, where the wiring alone tells what is read.
fn read_at(step: &Step) -> Option<[String; 2]> {
    match &step.kind {
        // the device itself bears on when it trips
        Kind::Measure(measure) if matches!(measure.used.function, Function::ResidualTrip(_)) => None,
        Kind::Measure(measure) => points(&measure.probes),
        Kind::Indicator { probes, .. } => points(probes),
        Kind::Do | Kind::Gate | Kind::Look(_) | Kind::Note { .. } | Kind::Connect { .. } => None,
    }
}
