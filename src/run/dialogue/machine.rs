//! What the loop between meter, journal and engineer drives: a state machine that takes answers and readings and gives events
//! and prompts.
//!
//! The rule inside: an event is given out to be written down, and only [`Dialogue::handle_recorded`] makes it count; what is said
//! comes in by [`Dialogue::handle_answer`] alone, whichever face it was said to.

use jiff::Timestamp;

use super::said::{LINE_BYTES_MAX, Said, To, What, addressed, clean};
use super::show::Show;
use super::talk::{Heard, Output, Talk};
use crate::run::event::{Face, Photograph};
use crate::run::folded::Folded;

/// A dialogue of any kind.
pub trait Dialogue {
    /// What its events come to.
    type Folded: Folded;

    /// What its events came to so far.
    fn folded(&self) -> &Self::Folded;

    /// Its talk.
    fn talk(&self) -> &Talk<<Self::Folded as Folded>::Event>;

    /// Its talk, to go on with.
    fn talk_mut(&mut self) -> &mut Talk<<Self::Folded as Folded>::Event>;

    /// Whether it has come to its end.
    fn is_closed(&self) -> bool;

    /// The event is on the disk: now it counts. It is folded, what it brought is shown, and what comes next is asked.
    fn handle_recorded(&mut self, event: &<Self::Folded as Folded>::Event, at: Timestamp);

    /// The event that says that answers come by this face from here on, where they do not already and it can be told.
    fn turns_to(&self, _face: Face) -> Option<<Self::Folded as Folded>::Event> {
        None
    }

    /// An answer to what is asked.
    fn answered(&mut self, line: &str, now: Timestamp);

    /// Something from the meter.
    fn heard(&mut self, heard: Heard, now: Timestamp);

    /// Time goes by.
    fn ticked(&mut self, _now: Timestamp) {}

    /// The hash of a photograph's file that was asked for, or why it cannot be read; nothing to a dialogue that asks for none.
    fn handle_photograph(&mut self, _read: Result<Photograph, String>) {}

    /// Where the fault must be, in lines; nothing to a dialogue that never asks for it.
    fn handle_located(&mut self, _text: &str) {}

    /// The next thing to record or show.
    fn poll_output(&mut self) -> Option<Output<<Self::Folded as Folded>::Event>> {
        self.talk_mut().next()
    }

    /// Takes out everything there is, for whoever drives a dialogue in memory, where writing down cannot fail: each thing shown, and each
    /// event with its time before it counts. No file is read and no fault is sought.
    fn drain(
        &mut self,
        mut now: impl FnMut() -> Timestamp,
        mut written: impl FnMut(&<Self::Folded as Folded>::Event, Timestamp),
        mut shown: impl FnMut(&Show),
    ) {
        while let Some(output) = self.poll_output() {
            match output {
                Output::Record(event) => {
                    let at = now();
                    written(&event, at);
                    self.handle_recorded(&event, at);
                }
                Output::Show(show) => shown(&show),
                Output::Photograph(file) => self.handle_photograph(Err(format!("`{file}` is not read here"))),
                Output::Locate(_) => self.handle_located("the fault is not sought here"),
            }
        }
    }

    /// Whether everything is done and shown.
    fn is_finished(&self) -> bool {
        self.is_closed() && self.talk().is_silent()
    }

    /// Changes whenever probes are placed anew, so that settling starts afresh.
    fn watch_number(&self) -> u64 {
        self.talk().watch_number()
    }

    /// Seconds for which over-range must stand at what is asked now before it counts; the least that any test takes where it is 0.
    fn over_s(&self) -> f64 {
        0.0
    }

    /// The one door for what is typed and what is chosen. A line is cleaned of what is no text; one that answers an earlier prompt, or
    /// that is too long, is refused aloud and answers nothing.
    fn handle_answer(&mut self, said: impl Into<Said>, now: Timestamp) {
        let Said { to, what, face } = said.into();
        let asked = self.talk().asked();
        if self.talk().is_recording() {
            return;
        }
        let (what, next) = match &what {
            What::TooLong => (
                format!("the line is longer than {LINE_BYTES_MAX} bytes; nothing of it was taken"),
                "type a shorter line",
            ),
            What::Line(line) => match addressed(to, line) {
                (Some(number), _) if number != asked => (
                    match to {
                        To::OnScreen(_) => "that was typed before this question was shown".to_owned(),
                        To::Now | To::Named => format!("that does not answer question {asked}, which is asked now"),
                    },
                    "read the question and answer it",
                ),
                (_, line) => {
                    let line = clean(line);
                    return match face.and_then(|face| self.turns_to(face)) {
                        Some(event) => self.talk_mut().give_before(event, line),
                        None => self.answered(&line, now),
                    };
                }
            },
        };
        let next = Some(next.to_owned());
        self.talk_mut().give(Show::Refused { what, next });
    }

    /// Something from the meter; nothing is heard while an event is on its way to the disk.
    fn handle_heard(&mut self, heard: Heard, now: Timestamp) {
        if !self.talk().is_recording() {
            self.heard(heard, now);
        }
    }

    /// Time goes by.
    fn handle_tick(&mut self, now: Timestamp) {
        if !self.talk().is_recording() {
            self.ticked(now);
        }
    }
}
