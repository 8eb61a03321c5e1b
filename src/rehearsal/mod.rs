//! A rehearsal: simulated wiring, a simulated meter on a real pseudo-terminal, and a scripted engineer, in simulated time.

mod error;
mod world;
mod clock;
mod display;
mod meter;
mod direct;
mod engineer;

#[cfg(test)]
mod trial;

pub use clock::SimClock;
pub use direct::{DirectMeter, walk_direct};
pub use engineer::{Observer, Scripted, Seen};
pub use error::RehearsalError;
pub use meter::{Port, SimMeter};
pub use world::World;
