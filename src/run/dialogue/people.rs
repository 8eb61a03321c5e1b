//! Whom and what the walk talks to: the engineer and the clock, so that a test or a rehearsal can stand in for either.

use jiff::Timestamp;

use super::show::Show;

/// The time of day, and a notice of every meter frame that was read.
pub trait Clock {
    /// The time now, to the millisecond.
    fn now(&self) -> Timestamp;

    /// One frame from the meter was read; simulated time goes on by one frame.
    fn frame_read(&self) {}
}

/// Whoever reads the prompts; the answers come back as lines beside this trait.
pub trait Engineer {
    /// Shows one thing.
    fn show(&mut self, show: &Show);

    /// The walk lives: told several times a second for as long as it does.
    fn beat(&mut self) {}
}
