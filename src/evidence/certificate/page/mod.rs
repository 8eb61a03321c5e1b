//! The page as data: what a certificate says of one record, before it is typeset.

mod words;

mod sources;

mod cores;

mod steps;

mod head;

mod model;

#[cfg(test)]
pub(in crate::evidence::certificate) mod sample;

pub use cores::{Cell, CoreRow};
pub use model::{Checking, Fact, Happening, InstrumentRow, Page, Seal, VerdictBox};
pub use sources::SourceLine;
pub use steps::{AttemptRow, StageRows, StepRow};
