//! A rehearsal: simulated wiring, a simulated meter on a real pseudo-terminal, and a scripted engineer, in simulated time.

mod clock;
mod display;
mod engineer;
mod error;
mod fault;
mod meter;
mod noise;
mod valve;
mod wiring;
mod world;

pub use clock::SimClock;
pub use engineer::{Observer, Scripted, Seen};
pub use error::RehearsalError;
pub use fault::Fault;
pub use meter::SimMeter;
pub use world::World;

#[cfg(test)]
mod trial;
