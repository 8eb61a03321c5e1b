//! A frame of voltage that holds the run.
//!
//! The rule inside: what clears it up, and within what time, are two figures of our own choice.

use jiff::Timestamp;

use crate::value::reading::Reading;

/// Frames without voltage that clear one with it.
pub(super) const CLEAR_FRAMES: u8 = 2;
/// Within so many milliseconds of it they must come. Our own choice: a reading a second is enough, and hands stay away for that long.
pub const CLEAR_MS_MAX: i64 = 3_000;

/// The frame that holds the run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Held {
    /// The step at which it came.
    pub step: usize,
    /// When it was written down.
    pub at: Timestamp,
    /// What it showed.
    pub reading: Reading,
    pub(super) cleared: u8,
}

impl Held {
    /// How long it has held the run, in milliseconds.
    pub fn ms(&self, now: Timestamp) -> i64 {
        now.as_millisecond() - self.at.as_millisecond()
    }
}
