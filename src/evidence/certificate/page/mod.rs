//! The page as data: what a certificate says of one record, before it is typeset.

mod words;
mod sources;
mod steps;
mod cores;
mod head;
mod model;

#[cfg(test)]
pub(in crate::evidence::certificate) mod sample;

pub use cores::{Cell, CoreRow};
pub use head::{Checking, Fact, Happening, InstrumentRow, Seal, VerdictBox};
pub use model::Page;
pub use sources::SourceLine;
pub use steps::{AttemptRow, StageRows, StepRow};
