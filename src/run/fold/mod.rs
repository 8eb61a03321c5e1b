//! What a run came to: one fold of its events, used by the walk, the closing table, the certificate and the audit alike.

mod apply;
mod judge;
mod measured;
mod reach;
mod run;

pub use run::{Attempt, Evidence, Run, Status, StepState};
