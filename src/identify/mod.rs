//! Which core is which in an unlabelled cable, which actuator belongs to which zone, and how far away a cable broke.

pub mod belongs;
pub mod error;
pub mod distance;
pub mod figures;
pub mod kit;
pub mod partition;
pub mod evidence;
pub mod consistent;
pub mod next;
mod prompt;
pub mod resistors;
pub mod structure;
pub mod plan;
pub mod words;
pub mod answer;
pub mod found;
pub mod checking;
pub mod naming;
pub mod event;
pub mod walk;
pub mod asking;
pub mod measured;
mod telling;
mod checked;
pub mod zones;
pub mod session;
pub mod identifying;

#[cfg(test)]
mod cables;
