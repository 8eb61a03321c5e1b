//! What each step of a plan shows where it stands, and the set-up that it finds there.
//!
//! The rule inside: the acts before a step say where it stands; what its probes claim there and the model refutes it does not show.

use super::effects::{Place, Shown, shown};
use super::evidence::{Evidence, tried};
use super::facts::Facts;
use crate::job::End;
use crate::plan::Plan;

/// The set-up before a step.
pub(super) struct Before {
    /// Cores with a link on them.
    pub(super) links: Vec<usize>,
    pub(super) parted: bool,
    pub(super) earthed: bool,
    pub(super) neutral_off: bool,
    /// The ends whose earth conductor is off its terminal.
    pub(super) earths_off: Vec<End>,
}

/// What each step shows, the set-up before it, and what the model says of the steps.
pub(super) fn claims(plan: &Plan, facts: &Facts) -> (Vec<Shown>, Vec<Before>, Evidence) {
    let mut place = Place::default();
    let (mut all, mut places) = (Vec::new(), Vec::new());
    for step in &plan.steps {
        let links = place.set_up.links.iter().filter_map(|name| facts.core(name));
        places.push(Before {
            links: links.filter(|core| *core != facts.back()).collect(),
            parted: place.set_up.is_parted(),
            earthed: place.set_up.earthed,
            neutral_off: place.set_up.neutral_off,
            earths_off: place.set_up.earths_off.iter().copied().collect(),
        });
        all.push(shown(step, &place, &plan.job, facts));
        place.pass(step, &plan.job);
    }
    let evidence = tried(plan, facts, &mut all);
    (all, places, evidence)
}
