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

/// What a replay leaves at the steps that were observed.
pub(super) struct Replayed {
    /// The wiring, by the first observation that was made on it.
    networks: BTreeMap<usize, Network>,
    /// What it tells where no meter is laid between two points, by observation.
    pub(super) told: BTreeMap<usize, Told>,
    /// Observations of steps that failed and would fail here as well.
    pub(super) fails: BTreeSet<usize>,
}

impl Replayed {
    /// The wiring on which an observation was made.
    pub(super) fn network(&self, observation: usize) -> &Network {
        let last = self.networks.range(..=observation).next_back();
        last.expect("the first observation has a network").1
    }

    /// The observations before which the wiring may have changed.
    pub(super) fn changes(&self) -> impl Iterator<Item = usize> {
        self.networks.keys().copied()
    }
}

/// What a replay with a fault leaves: how the wiring differs from the sound one, and not the wiring, of which there would be one for each step and fault.
pub(super) struct Beside {
    /// By the first observation from which on it is so.
    differences: BTreeMap<usize, Difference>,
    /// As in [`Replayed`].
    pub(super) told: BTreeMap<usize, Told>,
    pub(super) fails: BTreeSet<usize>,
}

impl Beside {
    /// How the wiring differs at an observation.
    pub(super) fn difference(&self, observation: usize) -> &Difference {
        let last = self.differences.range(..=observation).next_back();
        last.expect("the first observation has one").1
    }

    /// The observations before which that may have changed.
    pub(super) fn changes(&self) -> impl Iterator<Item = usize> {
        self.differences.keys().copied()
    }
}

/// Comes to every step up to the last observation, beside the replay of sound wiring.
pub(super) fn beside(observed: &Observed, installation: Installation, sound: &Replayed) -> Beside {
    let mut differences: BTreeMap<usize, Difference> = BTreeMap::new();
    let mut revision = None;
    let (told, fails) = replayed(observed, installation, |at, here| {
        let is_other = revision.replace(here.revision()) != Some(here.revision());
        if is_other || sound.networks.contains_key(&at) {
            let difference = Difference::between(sound.network(at), here.network());
            if differences.last_key_value().is_none_or(|(_, last)| *last != difference) {
                differences.insert(at, difference);
            }
        }
    });
    Beside {
        differences,
        told,
        fails,
    }
}

/// Comes to every step up to the last observation.
pub(super) fn replay(observed: &Observed, installation: Installation) -> Replayed {
    let mut networks = BTreeMap::new();
    let mut revision = None;
    let (told, fails) = replayed(observed, installation, |at, here| {
        if revision.replace(here.revision()) != Some(here.revision()) {
            networks.insert(at, here.network().clone());
        }
    });
    Replayed { networks, told, fails }
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
pub(super) fn states(sound: &Replayed, faulty: &[Beside]) -> Vec<usize> {
    let first: BTreeSet<usize> = sound.changes().chain(faulty.iter().flat_map(Beside::changes)).collect();
    first.into_iter().collect()
}
