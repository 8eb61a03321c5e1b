//! The proof that no path through a plan is out of order, made before anyone picks up a probe.

mod dark;
mod fact;
mod said;
mod facts;
mod effects;
mod evidence;
mod live;
mod flow;
mod graph;
mod later;
mod outcome;
mod rules;
mod as_left;
mod asked;
mod breach;
mod standing;
mod ties;
mod claims;
mod build;
mod unshown;
mod prove;

pub use breach::{Breach, Stop};
pub use build::graph;
pub use evidence::{Evidence, Slip};
pub use fact::Fact;
pub use facts::Facts;
pub use flow::{Edge, Effect, Flow, Part, Reached};
pub use graph::{Graph, Label, Node, Numbers};
pub use prove::{BREACHES_MAX, CORES_MAX, Proof, STEPS_MAX, examine, problems, prove, steps_max};
pub use rules::{RULES, Rule};
pub use unshown::not_shown;
