//! What the model tells of an observation that no meter between two points makes: a marking, what is looked at, a trip time.
//!
//! The rule inside: what is looked at agrees where it is the same words; a trip time, which every device has of its own, where both pass
//! or both fail.

use std::collections::BTreeSet;

use super::observed::Seen;
use crate::job::{End, Purpose};
use crate::judge::window::{Edge, Window};
use crate::model::installation::Installation;
use crate::model::meter::INPUT_OHMS;
use crate::model::wiring::float;
use crate::plan::{Kind, Step, WindowRule};
use crate::value::reading::Function;

/// What would be answered at a step.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Told {
    /// The marking of the terminal that a core goes into.
    Marked(Option<Purpose>),
    /// The words of what is looked at.
    Words(BTreeSet<String>),
    /// Seconds until the device trips; infinite where it does not.
    Trips(f64),
}

/// What an installation tells at a step; `None` where a meter or the indicator tells it.
pub(super) fn told(installation: &Installation, step: &Step) -> Option<Told> {
    match &step.kind {
        Kind::Connect { core, end, .. } => Some(Told::Marked(marking(installation, core, *end))),
        Kind::Look(look) => Some(Told::Words(installation.sees(look).into_iter().collect())),
        Kind::Measure(measure) if matches!(measure.used.function, Function::ResidualTrip(_)) => Some(Told::Trips(
            installation.shows(&measure.probes, measure.used.function, INPUT_OHMS),
        )),
        _ => None,
    }
}

impl Told {
    /// Whether it agrees with what was seen at the step.
    pub(super) fn agrees(&self, seen: &Seen, step: &Step) -> bool {
        match (self, seen, &step.kind) {
            (Told::Marked(marked), Seen::Marked(seen), _) => *marked == Some(*seen),
            (Told::Words(told), Seen::Words(seen), _) => told == seen,
            // what has no word cannot be compared; only that it is not what the step wants
            (Told::Words(told), Seen::Found, Kind::Look(look)) => {
                !told.iter().eq(look.expected.iter().collect::<BTreeSet<_>>())
            }
            (Told::Trips(told), Seen::Between { low, high }, Kind::Measure(measure)) => {
                let WindowRule::Fixed(window) = &measure.window else {
                    return true;
                };
                let over = high.is_infinite();
                let longer = if over { *low } else { 0.0 };
                passes(window, (*told, *told)) == passes(window, (*low, *high))
                    && (told.is_infinite() == over || over && longer <= *told)
            }
            _ => false,
        }
    }
}

fn passes(window: &Window, (low, high): (f64, f64)) -> bool {
    let edge = |edge: &Option<Edge>| edge.as_ref().map(|edge| float(edge.amount.value()));
    edge(&window.low).is_none_or(|least| least <= low) && edge(&window.high).is_none_or(|most| high <= most)
}

fn marking(installation: &Installation, core: &str, end: End) -> Option<Purpose> {
    let into = installation.terminal_of(core, end);
    let terminals = &installation.job().end(end).terminals;
    terminals
        .iter()
        .find(|there| there.name == into)
        .map(|there| there.takes)
}
