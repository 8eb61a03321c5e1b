//! coreproof: proves control wiring core by core with a meter, and leaves evidence that can be checked years later.

pub mod archive;
pub mod audit;
pub mod cli;
pub mod journal;
pub mod keys;
pub mod meter;
pub mod pure;
pub mod run;
pub mod terminal;
