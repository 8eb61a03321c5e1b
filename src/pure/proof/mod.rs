//! The proof that no path through a plan is out of order, made before anyone picks up a probe.

mod asked;
mod breach;
mod build;
mod effects;
mod facts;
mod flow;
mod graph;
mod later;
mod outcome;
mod prove;
mod rules;
mod standing;
mod tables;
mod ties;

pub use breach::{Breach, Stop, problems};
pub use build::graph;
pub use facts::{Fact, Facts};
pub use flow::{Edge, Effect, Flow, Part, Reached};
pub use graph::{Graph, Label, Node, Numbers};
pub use prove::{BREACHES_MAX, CORES_MAX, Proof, STEPS_MAX, examine, prove};
pub use rules::{RULES, Rule};
pub use tables::{
    CLOSING_LIVE, Class, Earlier, ISOLATE_FIRST, NEEDS, Need, Of, SPREADS, Spread, TAKEN_OUT, charges, closing_needs,
    goes_back_to, is_arranged, may_follow, needs, reads_as_set, takes_off, touchable, waits_for_charge,
};
