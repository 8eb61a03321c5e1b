//! What a run came to: one fold of its events, used by the walk, the closing table, the certificate and the audit alike.

mod by_eye;
mod run;
mod again;
mod any_order;
mod apply;
mod circuit;
mod arranged;
mod clip;
mod parted;
mod drop;
mod faced;
mod solved;
mod judge;
mod frame;
mod last;
mod length;
mod held;
mod pace;
mod taken_back;
mod together;
mod worded;
mod measured;
mod reach;
mod repaired;
mod rest;

pub use again::{ByLength, Given};
pub use any_order::IN_PLACE;
pub use by_eye::ByEye;
pub use circuit::Circuit;
pub use frame::{CLEAR_MS_MAX, Held};
pub use held::clears;
pub use length::Uncorrected;
pub use pace::Fast;
pub use run::{Attempt, Evidence, Further, Run, Status, StepState};
pub use taken_back::Back;
pub use worded::WORDS_CHARS_MAX;
