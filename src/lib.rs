//! coreproof: proves control wiring core by core with a meter, and leaves evidence that can be checked years later.
//!
//! The rooms in reading order: each uses only rooms above it, which `tests/tidy` holds.

#![warn(unreachable_pub)] // of the library alone: what tests share with each other nobody else sees

pub mod located;
pub mod explain;
pub mod value;
pub mod system;
pub mod limits;
pub mod judge;
pub mod job;
pub mod plan;
pub mod model;
pub mod proof;
pub mod sequence;
pub mod drafting;
pub mod run;
pub mod identify;
pub mod diagnosis;
pub mod meter;
pub mod teach;
pub mod evidence;
pub mod rehearsal;
pub mod terminal;
#[cfg(feature = "page")]
pub mod page;
pub mod walk;
pub mod cli;
