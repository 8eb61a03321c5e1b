//! A plan done on the model of its job by hands that make no mistake, up to any step, and what would be seen there.
//!
//! The rule inside: this is the one clock. The proof, `plan`, `coverage` and `locate` come to a step through here and so agree in which
//! state and at what time it is read. What is predicted is what a nominal instrument shows, judged by the window of the step as the run
//! judges it; the wiring, never the name of a step, decides.

use std::collections::{BTreeMap, BTreeSet};

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use super::installation::Installation;
use super::meter::leads_ohms;
use crate::judge::window::{Outcome, Terms, Window, judge};
use crate::plan::{Came, Kind, Measure, Plan, Stage, Step, Timing, WindowRule};
use crate::value::quantity::{Amount, Unit};
use crate::value::reading::Reading;

/// Time for one thing done with the hands, in seconds.
const HANDS_SECONDS: f64 = 2.0;
/// How often a voltage that must come within a time is looked at, in seconds.
const LOOK_SECONDS: f64 = 1.0;
/// Waits end on whole milliseconds, so that a time of the clock is exact in any form.
const MILLISECONDS: f64 = 1000.0;

/// What would be seen at a step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Seen {
    /// `None` where the step judges nothing.
    pub outcome: Option<Outcome>,
    /// As it would be read or typed: `0.66 ohm`, `lit`, `slack`.
    pub reads: String,
}

impl Seen {
    /// Whether that passes.
    pub fn passes(&self) -> bool {
        self.outcome == Some(Outcome::Pass)
    }
}

/// An installation at a place of a plan.
#[derive(Debug, Clone)]
pub struct World<'a> {
    plan: &'a Plan,
    /// The wiring as it stands there.
    pub installation: Installation,
    /// Seconds since the beginning.
    now: f64,
    /// Seconds of dead work for which the motors have not been moved yet: hands on cores change nothing for them, so it is done in one.
    owed: f64,
    /// When each step was done; not at all where it was not needed.
    done: BTreeMap<&'a str, f64>,
    /// What the steps read with which others are compared; `None` before.
    values: BTreeMap<&'a str, Option<Decimal>>,
}

impl<'a> World<'a> {
    /// An installation of a plan's job before the first step.
    pub fn new(plan: &'a Plan, installation: Installation) -> World<'a> {
        let compared = plan.steps.iter().filter_map(|step| match &step.kind {
            Kind::Measure(measure) => match &measure.window {
                WindowRule::Like { first, .. } => Some((first.as_str(), None)),
                WindowRule::Fixed(_) | WindowRule::Solved(_) => None,
            },
            _ => None,
        });
        let mut installation = installation;
        let taken_over = plan.taken_over().into_iter().flat_map(|i| &plan.steps[i].acts);
        taken_over.for_each(|act| installation.apply(act));
        World {
            plan,
            installation,
            now: 0.0,
            owed: 0.0,
            done: BTreeMap::new(),
            values: compared.collect(),
        }
    }

    /// Comes to a step: its acts are done, its time is waited for, and what it reads is kept.
    ///
    /// # Panics
    /// When the plan has no such step, or is of another job than the installation.
    pub fn come_to(&mut self, i: usize) {
        self.come_to_after(i, HANDS_SECONDS);
    }

    /// The same where the hands took at least so many seconds.
    ///
    /// # Panics
    /// As [`World::come_to`].
    pub fn come_to_after(&mut self, i: usize, seconds: f64) {
        let seconds = seconds.max(HANDS_SECONDS);
        let step = &self.plan.steps[i];
        let is_dead = (Stage::Disconnect..=Stage::Connect).contains(&step.stage);
        if !is_dead && 0.0 < self.owed {
            self.installation.advance(std::mem::take(&mut self.owed));
        }
        step.acts.iter().for_each(|act| self.installation.apply(act));
        if is_dead {
            self.now += seconds;
            self.owed += seconds;
        } else {
            self.pass(seconds);
        }
        if let Some(timing) = step.timing() {
            self.wait(i, timing);
        }
        self.done.insert(&step.id, self.now);
        if let Kind::Measure(measure) = &step.kind
            && self.values.contains_key(step.id.as_str())
        {
            let value = self.value(measure);
            self.values.insert(&step.id, value);
        }
    }

    /// Milliseconds since the beginning.
    pub fn milliseconds(&self) -> i64 {
        (self.now * MILLISECONDS).round() as i64
    }

    /// Whether a step is done where every step before it came out as it should.
    pub fn is_needed(&self, step: &Step) -> bool {
        needed(self.plan, step, |earlier| self.done.contains_key(earlier))
    }

    /// What would be seen at a step, its acts done.
    pub fn seen(&self, step: &Step) -> Seen {
        let of = |passes: bool, reads: &str| Seen {
            outcome: Some(if passes { Outcome::Pass } else { Outcome::Fail }),
            reads: reads.to_owned(),
        };
        match &step.kind {
            Kind::Measure(measure) => self.measured(measure),
            Kind::Indicator { probes, lit } => {
                let shows = self.installation.answers_lit(probes, *lit);
                of(shows == *lit, if shows { "lit" } else { "dark" })
            }
            Kind::Look(look) => {
                let seen = self.installation.sees(look);
                of(seen == look.expected, &seen.join(", "))
            }
            Kind::Do | Kind::Note { .. } | Kind::Connect { .. } | Kind::Gate => Seen {
                outcome: None,
                reads: String::new(),
            },
        }
    }

    fn measured(&self, measure: &Measure) -> Seen {
        let line = self.installation.typed(measure);
        let reading = Reading::typed(&line, measure.used.function);
        let outcome = match (reading, self.window(measure)) {
            (Ok(reading), Some(window)) => {
                let terms = Terms {
                    null: null(measure),
                    null_uncertainty: Decimal::ZERO,
                    ceiling: measure.used.ceiling.as_ref(),
                    accuracy: &measure.used.known.accuracy,
                    decision: self.plan.job.decision,
                };
                judge(&window, &reading, &terms).outcome
            }
            _ => Outcome::NotTested,
        };
        Seen {
            outcome: Some(outcome),
            reads: line,
        }
    }

    /// The number that is read, where it is one, without the leads.
    fn value(&self, measure: &Measure) -> Option<Decimal> {
        let reading = Reading::typed(&self.installation.typed(measure), measure.used.function).ok()?;
        reading.amount().map(|amount| amount.value() - null(measure))
    }

    fn window(&self, measure: &Measure) -> Option<Window> {
        match &measure.window {
            WindowRule::Fixed(window) => Some(window.clone()),
            // with the pair linked each of the two reads against the return core what it read alone
            WindowRule::Solved(solved) => {
                let again = |id: &String| match &self.plan.steps[self.plan.index(id)?].kind {
                    Kind::Measure(measure) => self.value(measure),
                    _ => None,
                };
                let [a, b] = &solved.with_return;
                Some(solved.window([again(a)?, again(b)?]))
            }
            WindowRule::Like { first, within, .. } => {
                let value = self.values.get(first.as_str())?.as_ref()?;
                let edge = |value: Decimal| Some(Amount::new(value.normalize(), Unit::Ohm));
                let low = (*value - within.value()).max(Decimal::ZERO);
                Some(Window::new(
                    edge(low),
                    edge(*value + within.value()),
                    Unit::Ohm,
                    Vec::new(),
                ))
            }
        }
    }

    /// Waits until what is read or seen counts, or until it passes where it must come within a time.
    fn wait(&mut self, i: usize, timing: &Timing) {
        let (since, seconds, early) = match timing {
            Timing::Any => return,
            Timing::Within { since, limit, .. } => (since, limit.value(), true),
            Timing::After { since, wait, .. } => (since, wait.value(), false),
        };
        let Some(then) = self.done.get(since.as_str()) else {
            return;
        };
        let whole = seconds.to_f64().expect("every decimal has a nearest float");
        let until = ((then + whole) * MILLISECONDS).ceil() / MILLISECONDS;
        let mut looked_at = None;
        while self.now < until {
            // what has not changed is not looked at again
            let revision = Some(self.installation.revision());
            if early && looked_at != revision && self.seen(&self.plan.steps[i]).passes() {
                return;
            }
            looked_at = revision;
            let step = if early { LOOK_SECONDS } else { until - self.now };
            self.pass(step.min(until - self.now));
            if until - self.now < 0.5 / MILLISECONDS {
                self.now = until;
            }
        }
    }

    fn pass(&mut self, seconds: f64) {
        self.now += seconds;
        self.installation.advance(seconds);
    }
}

/// Which steps of a plan are done where every step comes out as it should.
pub fn needed_where_sound(plan: &Plan) -> Vec<bool> {
    let mut done = BTreeSet::new();
    let one = |step| {
        let needed = needed(plan, step, |earlier| done.contains(earlier));
        if needed {
            done.insert(step.id.as_str());
        }
        needed
    };
    plan.steps.iter().map(one).collect()
}

fn needed(plan: &Plan, step: &Step, done: impl Fn(&str) -> bool) -> bool {
    step.only_if.iter().all(|condition| {
        let there = plan.index(&condition.step).map(|i| &plan.steps[i]);
        let came = match (&condition.came, there.map(|there| &there.kind)) {
            (Came::Passed, _) => done(&condition.step),
            (Came::Saw(word), Some(Kind::Look(look))) => look.expected.contains(word),
            _ => false,
        };
        came != condition.not
    })
}

/// What the leads of a nominal instrument have, where they are subtracted.
fn null(measure: &Measure) -> Decimal {
    if measure.subtract_null {
        Decimal::from_f64_retain(leads_ohms(measure.probes.leads())).map_or(Decimal::ZERO, |leads| leads.round_dp(3))
    } else {
        Decimal::ZERO
    }
}
