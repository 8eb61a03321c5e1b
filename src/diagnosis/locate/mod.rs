//! What must be wrong: the smallest sets of faults that agree with everything that was seen, and what to measure next.

pub mod consistency;
pub mod entropy;
mod far;
mod observed;
mod told;
mod replay;
mod measurements;
mod sizes;
mod tolerance;
mod problem;
mod together;
mod theory;
mod next;
mod halving;
mod located;
mod expected;

#[cfg(test)]
mod polybox;

pub use expected::{Sound, expected};
pub use far::FarAway;
pub use halving::Halving;
pub use located::{Diagnosis, Located, in_words, locate, locate_told};
pub use next::Next;
pub use observed::{Observation, Observed, Seen, TypedError};
