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

/// Comes to every step up to the last observation.
pub(super) fn replay(observed: &Observed, installation: Installation) -> Replayed {
    let mut found = Replayed {
        networks: BTreeMap::new(),
        told: BTreeMap::new(),
        fails: BTreeSet::new(),
    };
    let mut revision = None;
    each(observed, installation, |at, world| {
        let here = &world.installation;
        if revision.replace(here.revision()) != Some(here.revision()) {
            found.networks.insert(at, here.network().clone());
        }
        let observation = &observed.list[at];
        let step = &observed.plan.steps[observation.step];
        found.told.extend(told(here, step).map(|told| (at, told)));
        if observation.failed() && world.seen(step).outcome == Some(Outcome::Fail) {
            found.fails.insert(at);
        }
    });
    found
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
pub(super) fn states<'a>(replays: impl Iterator<Item = &'a Replayed>) -> Vec<usize> {
    let first: BTreeSet<usize> = replays.flat_map(Replayed::changes).collect();
    first.into_iter().collect()
}
