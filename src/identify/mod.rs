//! Which core is which in an unlabelled cable, which actuator belongs to which zone, and how far away a cable broke.

pub mod answer;
pub mod asking;

pub mod belongs;

#[cfg(test)]
mod cables;
pub mod consistent;
pub mod distance;
pub mod error;
pub mod event;
pub mod evidence;
pub mod figures;
pub mod found;
pub mod identifying;
pub mod kit;
pub mod measured;
pub mod naming;
pub mod next;
pub mod partition;
pub mod plan;
mod prompt;
pub mod resistors;
pub mod session;
pub mod structure;
mod telling;
pub mod walk;
pub mod words;
pub mod zones;
