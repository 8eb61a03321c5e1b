//! The run as a state machine: lines, meter readings and ticks in; prompts and journal events out.

pub mod answer;
mod asking;
mod hearing;
mod machine;
mod prompt;
mod typed;
#[cfg(test)]
mod walk;
mod watch;

pub use machine::{Engine, Heard, Output, PortInstrument};
pub use prompt::{Ask, Prompt, Show};
pub use watch::Watch;
