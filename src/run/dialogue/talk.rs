//! What every dialogue keeps while it goes on: what is to come out, which prompt is asked, what the meter showed.
//!
//! The rule inside: one event at a time goes to the journal, and nothing is taken in while it is on its way.

use std::collections::VecDeque;

use super::prompt::{Last, Prompt};
use super::show::Show;
use super::watch::Watch;
use crate::run::fold::Run;
use crate::value::quantity::Digits;
use crate::value::reading::Reading;

/// What came from the meter.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Heard {
    /// A decoded reading.
    Reading {
        /// What it is.
        reading: Reading,
        /// Whether it stands still.
        settled: bool,
        /// How far it may still move, in its own unit, where it moves slowly enough for that to be known.
        to_go: Option<Box<Digits>>,
        /// How its movement is called.
        state: String,
    },
    /// Trouble with the meter or its cable, with the next act; empty when it is over.
    Trouble(String),
}

/// What a dialogue wants done.
#[derive(Debug, Clone)]
pub enum Output<E> {
    /// Append to the journal, sync, then call [`super::Dialogue::handle_recorded`].
    Record(E),
    /// Show this.
    Show(Show),
    /// Read this photograph's file and hash it, then call [`super::Dialogue::handle_photograph`].
    Photograph(String),
    /// Work out where the fault must be by all of this run, then call [`super::Dialogue::handle_located`].
    Locate(Box<Run>),
}

impl<E> From<Show> for Output<E> {
    fn from(show: Show) -> Output<E> {
        Output::Show(show)
    }
}

/// The talk of a dialogue.
#[derive(Debug)]
pub struct Talk<E> {
    outputs: VecDeque<Output<E>>,
    recording: bool,
    /// What the meter showed since the prompt.
    pub watch: Watch,
    watch_number: u64,
    asked: u64,
    last: Option<Last>,
    /// An answer that waits for an event before it.
    waiting: Option<String>,
}

impl<E> Default for Talk<E> {
    fn default() -> Talk<E> {
        Talk {
            outputs: VecDeque::new(),
            recording: false,
            watch: Watch::default(),
            watch_number: 0,
            asked: 0,
            last: None,
            waiting: None,
        }
    }
}

impl<E> Talk<E> {
    /// Gives something out: an event to be written down, something to be shown or done.
    ///
    /// # Panics
    /// When an event is given out while another is on its way to the disk, which would be a fault of the machine.
    pub fn give(&mut self, output: impl Into<Output<E>>) {
        let output = output.into();
        match &output {
            Output::Record(_) => {
                assert!(!self.recording, "one event at a time goes to the journal");
                self.recording = true;
            }
            Output::Show(show) => show.onto(&mut self.last),
            Output::Photograph(_) | Output::Locate(_) => {}
        }
        self.outputs.push_back(output);
    }

    /// Gives out an event that is written down before this answer is taken in.
    pub fn give_before(&mut self, event: E, line: String) {
        self.waiting = Some(line);
        self.give(Output::Record(event));
    }

    /// The answer that waited for the event.
    pub fn take_waiting(&mut self) -> Option<String> {
        self.waiting.take()
    }

    /// Shows a remark.
    pub fn notice(&mut self, text: impl Into<String>) {
        self.give(Show::Notice(text.into()));
    }

    /// A remark that is made once until something else happens; an empty one is the end of it.
    pub fn remark(&mut self, text: String) {
        if text.is_empty() {
            self.watch.remarked = None;
        } else if self.watch.remarked.as_ref() != Some(&text) {
            self.watch.remarked = Some(text.clone());
            self.notice(text);
        }
    }

    /// Something at the meter has to be seen to. Hands leave the probes for it, so neither what stood nor what was said of the probes
    /// counts any more.
    pub fn needs_hands(&mut self, text: String) {
        self.watch.last = None;
        if !std::mem::take(&mut self.watch.said_on) {
            return self.remark(text);
        }
        self.notice(format!(
            "{text}; then put both probes on the points and type `on` again"
        ));
        self.watch.remarked = Some(text);
    }

    /// Asks, under the next number; what the meter showed before counts no more.
    pub fn ask(&mut self, mut prompt: Prompt) {
        self.watch = Watch::default();
        self.watch_number += 1;
        self.asked += 1;
        prompt.number = self.asked;
        prompt.last = self.last.clone();
        self.give(Show::Prompt(Box::new(prompt)));
    }

    /// Probes are placed anew: what stood still before counts no more.
    pub fn watch_anew(&mut self) {
        self.watch.last = None;
        self.watch_number += 1;
    }

    /// Changes whenever probes are placed anew.
    pub fn watch_number(&self) -> u64 {
        self.watch_number
    }

    /// The number of the prompt that was asked last, from 1.
    pub fn asked(&self) -> u64 {
        self.asked
    }

    /// Whether an event is on its way to the disk.
    pub fn is_recording(&self) -> bool {
        self.recording
    }

    /// Whether nothing is left to be put out.
    pub fn is_silent(&self) -> bool {
        self.outputs.is_empty()
    }

    pub(super) fn next(&mut self) -> Option<Output<E>> {
        self.outputs.pop_front()
    }

    /// The event that was on its way is on the disk.
    pub fn recorded(&mut self) {
        self.recording = false;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    #[should_panic(expected = "one event at a time goes to the journal")]
    fn two_events_at_once_are_a_fault() {
        let mut talk = Talk::<()>::default();
        talk.give(Output::Record(()));
        talk.give(Output::Record(()));
    }

    #[test]
    fn a_prompt_has_its_number_and_what_was_taken_last() {
        let mut talk = Talk::<()>::default();
        talk.ask(Prompt::default());
        talk.give(Show::Taken {
            step: "continuity".into(),
            display: "0.42 ohm".into(),
            typed: true,
        });
        talk.ask(Prompt::default());
        let mut prompts = Vec::new();
        while let Some(output) = talk.next() {
            if let Output::Show(Show::Prompt(prompt)) = output {
                prompts.push((prompt.number, prompt.last.and_then(|last| last.display)));
            }
        }
        assert_eq!(prompts, [(1, None), (2, Some("0.42 ohm".into()))]);
    }
}
