//! What a sequence would find: every fault of the library put into the model one after the other, and the sequence walked.

pub mod error;
mod trail;
mod walk;
mod matrix;
mod picture;
#[cfg(test)]
mod valves;

pub use matrix::{Coverage, Row, Trials};
pub use picture::svg;
pub use walk::{Walked, run_of, unwalked, walk};
