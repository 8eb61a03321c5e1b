//! The page as data: what a certificate says of one record, before it is typeset.

mod bar;
mod fact;
mod words;
mod sources;
mod steps;
mod pick;
mod drawing;
mod photographs;
mod results;
mod sheet;
mod head;
mod overall;
mod model;

#[cfg(test)]
pub(in crate::evidence::certificate) mod sample;

pub(in crate::evidence::certificate) use head::cautions;
pub(in crate::evidence::certificate) use steps::is_left_out;
pub(in crate::evidence::certificate) use words::{Clock, between, symbols, what};

pub use bar::Bar;
pub use drawing::{CoreRow, FreeTerminal};
pub use fact::Fact;
pub use head::{Checking, InstrumentRow, Seal};
pub use model::Page;
pub use overall::Overall;
pub use photographs::{Attached, PhotographRow, Small};
pub use pick::Cell;
pub use results::ResultRow;
pub use sources::SourceLine;
pub use steps::{AttemptRow, StageRows, StepRow, VoidRow};
