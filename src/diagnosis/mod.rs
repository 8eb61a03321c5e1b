//! What a sequence would find in faulty wiring, and where a fault must be by what was read.

pub mod coverage;
pub mod locate;
