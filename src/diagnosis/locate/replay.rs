//! A plan done again on the wiring, with whatever faults are in it, up to the last observation.
//!
//! The rule inside: every step is come to by the one clock of the model, as late as the record says it was; the network is kept
//! wherever it may have changed since the observation before.

use std::collections::{BTreeMap, BTreeSet};

use super::observed::Observed;
use super::told::{Told, told};
use crate::judge::window::Outcome;
use crate::model::installation::Installation;
use crate::model::network::Network;
use crate::model::variants::Difference;
use crate::model::walked::World;

/// What a replay leaves at the steps that were observed: of sound wiring its network; with a fault how it differs from that, and not the
/// network, of which there would be one for each step and fault.
pub(super) struct Replayed<T> {
    /// By the first observation from which on it is so.
    states: BTreeMap<usize, T>,
    /// What it tells where no meter is laid between two points, by observation.
    pub(super) told: BTreeMap<usize, Told>,
    /// Observations of steps that failed and would fail here as well.
    pub(super) fails: BTreeSet<usize>,
}

impl<T> Replayed<T> {
    /// What was so at an observation.
    pub(super) fn state(&self, observation: usize) -> &T {
        let last = self.states.range(..=observation).next_back();
        last.expect("the first observation has one").1
    }

    /// The observations before which that may have changed.
    fn changes(&self) -> impl Iterator<Item = usize> {
        self.states.keys().copied()
    }
}

/// Comes to every step up to the last observation, beside the replay of sound wiring.
pub(super) fn beside(
    observed: &Observed,
    installation: Installation,
    sound: &Replayed<Network>,
) -> Replayed<Difference> {
    let mut states: BTreeMap<usize, Difference> = BTreeMap::new();
    let mut revision = None;
    let (told, fails) = replayed(observed, installation, |at, here| {
        let is_other = revision.replace(here.revision()) != Some(here.revision());
        if is_other || sound.states.contains_key(&at) {
            let difference = Difference::between(sound.state(at), here.network());
            if states.last_key_value().is_none_or(|(_, last)| *last != difference) {
                states.insert(at, difference);
            }
        }
    });
    Replayed { states, told, fails }
}

/// Comes to every step up to the last observation.
pub(super) fn replay(observed: &Observed, installation: Installation) -> Replayed<Network> {
    let mut states = BTreeMap::new();
    let mut revision = None;
    let (told, fails) = replayed(observed, installation, |at, here| {
        if revision.replace(here.revision()) != Some(here.revision()) {
            states.insert(at, here.network().clone());
        }
    });
    Replayed { states, told, fails }
}

/// What is told and what fails; `kept` is told of the installation at each observation.
fn replayed(
    observed: &Observed,
    installation: Installation,
    mut kept: impl FnMut(usize, &Installation),
) -> (BTreeMap<usize, Told>, BTreeSet<usize>) {
    let (mut all, mut fails) = (BTreeMap::new(), BTreeSet::new());
    each(observed, installation, |at, world| {
        let here = &world.installation;
        kept(at, here);
        let observation = &observed.list[at];
        let step = &observed.plan.steps[observation.step];
        all.extend(told(here, step).map(|told| (at, told)));
        if observation.failed() && world.seen(step).outcome == Some(Outcome::Fail) {
            fails.insert(at);
        }
    });
    (all, fails)
}

/// Comes to every step up to the last observation, and stops at each that was observed.
pub(super) fn each<'a>(observed: &'a Observed, installation: Installation, mut stop: impl FnMut(usize, &World<'a>)) {
    let mut world = World::new(&observed.plan, installation);
    let mut from = 0;
    for (at, observation) in observed.list.iter().enumerate() {
        for step in from..=observation.step {
            if observed.needed[step] {
                world.come_to_after(step, observed.took[step]);
            }
        }
        stop(at, &world);
        from = observation.step + 1;
    }
}

/// The first observations of the states in which anything was observed, whichever of these replays is the true one.
pub(super) fn states(sound: &Replayed<Network>, faulty: &[Replayed<Difference>]) -> Vec<usize> {
    let first: BTreeSet<usize> = sound
        .changes()
        .chain(faulty.iter().flat_map(Replayed::changes))
        .collect();
    first.into_iter().collect()
}
