//! A rehearsal: simulated wiring, a simulated meter on a real pseudo-terminal, and a scripted engineer, in simulated time.

mod clock;
mod direct;
mod display;
mod engineer;
mod error;
mod meter;
mod world;

pub use clock::SimClock;
pub use direct::{DirectMeter, walk_direct};
pub use engineer::{Observer, Scripted, Seen};
pub use error::RehearsalError;
pub use meter::{Port, SimMeter};
pub use world::World;

#[cfg(test)]
mod trial;
