//! What must be wrong: the smallest sets of faults that agree with everything that was seen, and what to measure next.

pub mod consistency;
pub mod entropy;
mod expected;
mod far;
mod located;
mod measurements;
mod observed;
#[cfg(test)]
mod polybox;
mod replay;
mod sizes;
mod theory;
mod tolerance;

pub use expected::expected;
pub use far::FarAway;
pub use located::{Diagnosis, Located, Next, in_words, locate};
pub use observed::{Observation, Observed, Seen, TypedError};
