//! Profiles as files: the shape as written, everything that is checked about one, and those that come with the program.

mod raw;
mod check;
mod owners;
mod number;
mod frame;
mod meaning;
mod file;
mod fields;
mod pattern;
mod examples;
mod shipped;

pub use file::FORMAT;
pub use shipped::{UnknownProfile, find, shipped};
