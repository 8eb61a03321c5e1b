//! What each step shows, tried on the model: a fact is shown only by a step that would not have passed had the fact been false.
//!
//! The rule inside: for each fact that a step claims by its probes, each opposite (`model/opposites.ron`) is put into the wiring as it
//! stands there and the reading predicted; where that would pass, the step does not give the fact, and what slipped through is kept for
//! the person who has to mend the sequence.

use std::collections::{BTreeMap, BTreeSet};

use super::effects::Shown;
use super::facts::{Fact, Facts};
use super::world::World;
use crate::job::Purpose;
use crate::judge::window::Outcome;
use crate::model::installation::Installation;
use crate::model::opposite::{About, Opposed, opposites};
use crate::model::probes::points;
use crate::plan::{Kind, Plan, Point, Probes, Stage, Step};

/// An opposite with which a step would pass all the same.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Slip {
    /// The step.
    pub step: usize,
    /// What it does not show for that.
    pub fact: Option<Fact>,
    /// What would be wrong: `core brown broken`.
    pub with: String,
    /// What would be read: `0.66 ohm`.
    pub reads: String,
    /// What would catch it.
    pub caught: String,
}

/// What the model says of every step of a plan.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Evidence {
    /// Opposites that slip through, in the order of steps.
    pub slips: Vec<Slip>,
    /// Steps that sound wiring would not pass, with what it reads.
    pub unsound: Vec<(usize, String)>,
    /// Steps that find no voltage though none was read before on the same points or on the source that it would come from.
    pub unproved: Vec<usize>,
    /// Why the job has no model, where it has none.
    pub no_model: Option<String>,
}

/// Tries every step of a plan; what slips through is taken off what it shows, and what only the model can tell is added.
pub(super) fn tried(plan: &Plan, facts: &Facts, shown: &mut [Shown]) -> Evidence {
    match Installation::of(&plan.job) {
        Ok(installation) => Trial::new(plan, facts).run(World::new(plan, installation), shown),
        Err(error) => Evidence {
            no_model: Some(error.to_string()),
            ..Evidence::default()
        },
    }
}

pub(super) struct Trial<'a> {
    pub(super) plan: &'a Plan,
    pub(super) facts: &'a Facts,
    pub(super) found: Evidence,
    /// Controls that call.
    pub(super) calling: BTreeSet<&'a str>,
    /// The world before each call, and the step that begins it.
    pub(super) before_call: BTreeMap<&'a str, (usize, World<'a>)>,
    /// Facts that a step which is always done has shown already.
    pub(super) shown: BTreeSet<Fact>,
}

impl<'a> Trial<'a> {
    fn new(plan: &'a Plan, facts: &'a Facts) -> Trial<'a> {
        Trial {
            plan,
            facts,
            found: Evidence::default(),
            calling: BTreeSet::new(),
            before_call: BTreeMap::new(),
            shown: BTreeSet::new(),
        }
    }

    fn run(mut self, mut sound: World<'a>, shown: &mut [Shown]) -> Evidence {
        let is_conditional = |step: &Step| !step.only_if.is_empty();
        // the same with every conditional step done as well
        let mut every = self.plan.steps.iter().any(is_conditional).then(|| sound.clone());
        for (i, shown) in shown.iter_mut().enumerate() {
            let step = &self.plan.steps[i];
            self.calls(i, step, &sound);
            if let Some(every) = &mut every {
                every.come_to(i);
            }
            let needed = sound.is_needed(step);
            if needed {
                sound.come_to(i);
            }
            let here = every.as_ref().filter(|_| !needed).unwrap_or(&sound);
            if !is_conditional(step) {
                self.look_at_sound(i, step, here);
            }
            self.try_facts(i, shown, here);
            if step.stage == Stage::Live {
                self.try_live(i, shown, here);
            }
        }
        self.found
    }

    fn look_at_sound(&mut self, i: usize, step: &Step, here: &World<'_>) {
        let seen = here.seen(step);
        if seen.outcome == Some(Outcome::Fail) {
            self.found.unsound.push((i, seen.reads));
        }
    }

    /// Every opposite of every fact that the step claims.
    fn try_facts(&mut self, i: usize, shown: &mut Shown, here: &World<'_>) {
        let step = &self.plan.steps[i];
        let claimed: Vec<Fact> = shown.shows.clone();
        for fact in claimed {
            let Some((of, about)) = self.of_fact(fact, step) else {
                continue;
            };
            for opposed in opposites(of, &about, &self.plan.job) {
                if let Some(reads) = passes_with(here, step, &opposed) {
                    shown.shows.retain(|there| *there != fact);
                    shown.fails.retain(|there| *there != fact);
                    self.slipped(i, Some(fact), &opposed, reads);
                }
            }
        }
    }

    pub(super) fn slipped(&mut self, step: usize, fact: Option<Fact>, opposed: &Opposed, reads: String) {
        self.found.slips.push(Slip {
            step,
            fact,
            with: opposed.fault.words.clone(),
            reads,
            caught: opposed.caught.clone(),
        });
    }

    /// The kind of thing that a fact is among the opposites, and where; `None` where no wiring can make it false: what hands say is
    /// done, what a plate says.
    fn of_fact(&self, fact: Fact, step: &Step) -> Option<(&'static str, About)> {
        let name = |core: usize| self.facts.name(core).to_owned();
        let cores = |a: usize, b: usize| About {
            a: name(a),
            b: name(b),
            ..About::default()
        };
        // against earth whatever the point's other pole; against anything else only a source between the two
        let to_earth = probes(step).is_some_and(|probes| self.is_earth(&probes.first));
        let points = || {
            let [other, point] = probes(step).and_then(points).unwrap_or_default();
            About {
                point,
                other,
                ..About::default()
            }
        };
        Some(match fact {
            Fact::Dark(_) => (if to_earth { "dark" } else { "dark between" }, points()),
            Fact::Quiet(_, false) if to_earth => ("no alternating voltage", points()),
            Fact::Quiet(_, false) => ("no alternating voltage between", points()),
            Fact::Quiet(_, true) if to_earth => ("no direct voltage", points()),
            Fact::Quiet(_, true) => ("no direct voltage between", points()),
            Fact::Continuous(a) => ("continuous", cores(a, self.facts.back())),
            Fact::ToldApart(a, b) => ("told apart", cores(a, b)),
            Fact::ToEarth(a) => ("insulated to earth", cores(a, self.facts.back())),
            Fact::Between(a, b) => ("insulated from each other", cores(a, b)),
            _ => return None,
        })
    }
}

impl Trial<'_> {
    /// Whether a point is an earth that a voltage would show against.
    fn is_earth(&self, point: &Point) -> bool {
        match point {
            Point::KnownEarth => true,
            Point::Terminal { terminal, end } => {
                let earth = self.plan.job.end(*end).terminal_for(Purpose::Earth);
                earth.is_some_and(|earth| earth.name == *terminal)
            }
            _ => false,
        }
    }
}

/// Where the probes of a step go.
pub(super) fn probes(step: &Step) -> Option<&Probes> {
    match &step.kind {
        Kind::Measure(measure) => Some(&measure.probes),
        Kind::Indicator { probes, .. } => Some(probes),
        _ => None,
    }
}

/// What a step would read with an opposite in the wiring as it stands, where that would pass. An opposite that has no place there is none.
pub(super) fn passes_with(here: &World<'_>, step: &Step, opposed: &Opposed) -> Option<String> {
    let mut world = here.clone();
    world.installation.put(&opposed.fault).ok()?;
    let seen = world.seen(step);
    seen.passes().then_some(seen.reads)
}
