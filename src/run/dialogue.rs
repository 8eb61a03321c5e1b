//! What the loop between meter, journal and engineer drives: a state machine that takes lines and readings and gives events
//! and prompts.
//!
//! The rule inside: an event is given out to be written down, and only [`Dialogue::handle_recorded`] makes it count.

use jiff::Timestamp;

use super::engine::{Engine, Heard, Output, Show};
use super::event::{Event, Photograph};

/// A walk of any kind.
pub trait Dialogue {
    /// What is written down.
    type Event;
    /// What is shown.
    type Show;

    /// The next thing to record or show.
    fn poll_output(&mut self) -> Option<Output<Self::Event, Self::Show>>;

    /// Whether everything is done and shown.
    fn is_finished(&self) -> bool;

    /// Changes whenever probes are placed anew, so that settling starts afresh.
    fn watch_number(&self) -> u64;

    /// The event is on the disk: now it counts.
    fn handle_recorded(&mut self, event: &Self::Event, at: Timestamp);

    /// A typed line.
    fn handle_line(&mut self, line: &str, now: Timestamp);

    /// Something from the meter.
    fn handle_heard(&mut self, heard: Heard, now: Timestamp);

    /// The hash of a photograph's file that was asked for, or why it cannot be read; nothing to a walk
    /// that asks for none.
    fn handle_photograph(&mut self, _read: Result<Photograph, String>) {}

    /// Where the fault must be, in lines; nothing to a walk that never asks for it.
    fn handle_located(&mut self, _text: &str) {}

    /// Time goes by.
    fn handle_tick(&mut self, now: Timestamp);

    /// Whether what is shown asks for an answer: what was typed before it is none.
    fn asks(show: &Self::Show) -> bool;
}

impl Dialogue for Engine {
    type Event = Event;
    type Show = Show;

    fn poll_output(&mut self) -> Option<Output> {
        Engine::poll_output(self)
    }

    fn is_finished(&self) -> bool {
        Engine::is_finished(self)
    }

    fn watch_number(&self) -> u64 {
        Engine::watch_number(self)
    }

    fn handle_recorded(&mut self, event: &Event, at: Timestamp) {
        Engine::handle_recorded(self, event, at);
    }

    fn handle_line(&mut self, line: &str, now: Timestamp) {
        Engine::handle_line(self, line, now);
    }

    fn handle_heard(&mut self, heard: Heard, now: Timestamp) {
        Engine::handle_heard(self, heard, now);
    }

    fn handle_photograph(&mut self, read: Result<Photograph, String>) {
        Engine::handle_photograph(self, read);
    }

    fn handle_located(&mut self, text: &str) {
        Engine::handle_located(self, text);
    }

    fn handle_tick(&mut self, now: Timestamp) {
        Engine::handle_tick(self, now);
    }

    fn asks(show: &Show) -> bool {
        matches!(show, Show::Prompt(_))
    }
}
