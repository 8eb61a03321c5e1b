//! The run as a state machine: answers, meter readings and ticks in; prompts and journal events out.

pub mod answer;
mod machine;
mod hearing;
mod sighted;
mod held;
mod lock;
mod length;
mod others;
mod doubted;
mod corrected;
mod typed;
mod together;
mod asking;
mod by_eye;
mod circuit;
mod any_order;
mod choosing;

#[cfg(test)]
mod walk;

pub use choosing::{AsListed, Choosing, Chosen};
pub use machine::{Engine, PortInstrument};
pub use others::Others;
