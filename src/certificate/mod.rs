//! The certificate: a page that shows one record, and the PDF that carries the record inside.

mod attached;
mod carried;
mod cores;
mod error;
mod fonts;
mod head;
mod model;
mod render;
#[cfg(test)]
mod sample;
mod sources;
mod steps;
mod words;

pub use carried::{Carried, PDF_BYTES_MAX, RECORD_BYTES_MAX, carried};
pub use cores::{Cell, CoreRow};
pub use error::{Damage, Error, PUBLIC_KEY, RECORD, SIGNATURE};
pub use model::{Checking, Fact, Happening, InstrumentRow, Page, Seal, VerdictBox};
pub use render::{Attachments, render};
pub use sources::SourceLine;
pub use steps::{AttemptRow, StageRows, StepRow};
