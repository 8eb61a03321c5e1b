//! coreproof: proves control wiring core by core with a meter, and leaves evidence that can be checked years later.

pub mod archive;
pub mod audit;
#[cfg(feature = "certificate")]
pub mod certificate;
pub mod cli;
pub mod journal;
pub mod keys;
pub mod meter;
pub mod pure;
pub mod rehearsal;
pub mod run;
pub mod terminal;
