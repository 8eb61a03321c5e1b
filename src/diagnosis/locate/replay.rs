//! A plan done again on the wiring, with whatever faults are in it, up to the last observation.
//!
//! The rule inside: every act is done in its order and every wait waited; the network is kept once for each state that was
//! looked at.

use std::collections::BTreeMap;

use super::observed::Observed;
use crate::job::Purpose;
use crate::model::installation::Installation;
use crate::model::network::Network;
use crate::model::wiring::float;
use crate::plan::{Kind, Step, Timing};

/// What a replay leaves at the steps that were observed.
pub(super) struct Replayed {
    pub(super) networks: Vec<Network>,
    pub(super) markings: BTreeMap<usize, Option<Purpose>>,
}

/// The state of the wiring in which each observation was made, and how many there are.
pub(super) fn states(observed: &Observed) -> (Vec<usize>, usize) {
    let (mut of, mut count, mut acted, mut from) = (Vec::new(), 0_usize, true, 0);
    for observation in &observed.list {
        let since = &observed.plan.steps[from..=observation.step];
        let waits = |step: &Step| step.timing().is_some_and(|timing| *timing != Timing::Any);
        acted |= since.iter().any(|step| !step.acts.is_empty() || waits(step));
        count += usize::from(acted);
        of.push(count - 1);
        (acted, from) = (false, observation.step + 1);
    }
    (of, count)
}

/// Does every act up to the last observation, and looks at the wiring in each state.
pub(super) fn replay(observed: &Observed, state_of: &[usize], mut installation: Installation) -> Replayed {
    let mut found = Replayed {
        networks: Vec::new(),
        markings: BTreeMap::new(),
    };
    let mut at = 0;
    for (index, step) in observed.plan.steps.iter().enumerate() {
        if state_of.len() <= at {
            break;
        }
        do_step(&mut installation, step);
        if observed.list[at].step == index {
            if found.networks.len() == state_of[at] {
                found.networks.push(installation.network().clone());
            }
            if let Kind::Connect { core, end, .. } = &step.kind {
                found.markings.insert(at, marking(&installation, core, *end));
            }
            at += 1;
        }
    }
    found
}

/// Does a step and waits as long as it says.
pub(super) fn do_step(installation: &mut Installation, step: &Step) {
    step.acts.iter().for_each(|act| installation.apply(act));
    if let Some(Timing::Within { limit: time, .. } | Timing::After { wait: time, .. }) = step.timing() {
        installation.advance(float(time.value()));
    }
}

fn marking(installation: &Installation, core: &str, end: crate::job::End) -> Option<Purpose> {
    let into = installation.terminal_of(core, end);
    let terminals = &installation.job().end(end).terminals;
    terminals
        .iter()
        .find(|there| there.name == into)
        .map(|there| there.takes)
}
