//! An identification being walked: lines and readings in, prompts and events out.
//!
//! The rule inside: an answer or a reading is tried first and given out to be written down only where it is understood; it
//! counts, and is shown as taken, when it has come back from the journal.

use std::collections::VecDeque;

use jiff::Timestamp;

use super::asking::Prompt;
use super::error::IdentifyError;
use super::event::Event;
use super::measured::Wants;
use super::session::Session;
use crate::run::dialogue::Dialogue;
use crate::run::engine::{Heard, Output, Show as Common, Watch};
use crate::value::quantity::Shown;
use crate::value::reading::{Flag, Function, Reading};

/// What is shown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Show {
    Question(Prompt),
    /// An answer that was not understood, and the next act.
    Refused {
        what: String,
        next: Option<String>,
    },
    /// The cable showed a fault.
    Fault(String),
    /// What every walk shows.
    Common(Common),
}

/// An identification being walked.
#[derive(Debug)]
pub struct Identifying {
    session: Session,
    /// Whether a meter is on a port.
    metered: bool,
    outputs: VecDeque<Output<Event, Show>>,
    /// An event is on its way to the disk; inputs wait.
    recording: bool,
    watch: Watch,
    watch_number: u64,
}

impl Identifying {
    /// One at its beginning, or after its events have been folded; `resumed` has the bytes that were dropped from a torn line.
    pub fn new(session: Session, metered: bool, resumed: Option<u64>) -> Identifying {
        let mut identifying = Identifying {
            session,
            metered,
            outputs: VecDeque::new(),
            recording: false,
            watch: Watch::default(),
            watch_number: 0,
        };
        match resumed {
            Some(torn_bytes) => identifying.record(Event::Resumed { torn_bytes }),
            None => identifying.ask(),
        }
        identifying
    }

    /// What its events tell so far.
    pub fn session(&self) -> &Session {
        &self.session
    }

    fn show(&mut self, show: Show) {
        self.outputs.push_back(Output::Show(show));
    }

    fn record(&mut self, event: Event) {
        self.recording = true;
        self.outputs.push_back(Output::Record(event));
    }

    /// Tries an event, and gives it out to be written down where it is understood.
    fn offer(&mut self, event: Event, now: Timestamp) -> Result<(), IdentifyError> {
        self.session.clone().apply(now, &event)?;
        self.record(event);
        Ok(())
    }

    /// The next question, or the end.
    fn ask(&mut self) {
        self.watch = Watch::default();
        self.watch_number += 1;
        match (self.session.prompt(), self.session.told()) {
            (Some(prompt), _) => {
                let prompt = if self.metered {
                    with_meter(prompt, &self.session)
                } else {
                    prompt
                };
                self.show(Show::Question(prompt));
            }
            (None, Some(told)) if self.session.closed.is_none() => self.record(Event::Closed { told }),
            _ => {}
        }
    }

    fn refused(&mut self, error: &IdentifyError) {
        self.show(Show::Refused {
            what: error.to_string(),
            next: error.hint(),
        });
    }

    /// A remark on the meter that is made once until something else happens.
    fn remark(&mut self, text: String) {
        if text.is_empty() {
            self.watch.remarked = None;
        } else if self.watch.remarked.as_ref() != Some(&text) {
            self.watch.remarked = Some(text.clone());
            self.show(Show::Common(Common::Notice(text)));
        }
    }

    /// A reading that stands still between probes that were placed for it.
    fn settled(&mut self, reading: Reading, now: Timestamp) {
        let Some(to) = self.session.question() else { return };
        if let Err(error) = self.offer(Event::Taken { to, reading }, now) {
            self.remark(match error.hint() {
                Some(hint) => format!("{error}: {hint}"),
                None => error.to_string(),
            });
        }
    }
}

/// The same question where the meter is read as well.
fn with_meter(mut prompt: Prompt, session: &Session) -> Prompt {
    match session.wants() {
        Wants::Nothing => {}
        Wants::Contact => {
            let measured = session.walk().map(super::walk::Walk::measured).unwrap_or_default();
            if !measured.is_empty() {
                prompt.answers = prompt.answers.replace("`none`, ", "");
                prompt.acts = vec![format!("Taken so far: {}.", measured.join(", "))];
            }
            let done = if measured.is_empty() {
                ""
            } else {
                "`done` when every pair was tried; "
            };
            prompt.answers = format!(
                "the meter is read: a contact that stands still is taken with a tone; {done}or typed: {}",
                prompt.answers
            );
        }
        Wants::Ohms => {
            prompt.answers = format!(
                "the meter is read; `on` says both probes are on the two; or typed: {}",
                prompt.answers
            );
        }
    }
    prompt
}

/// Whether the dial stands where the question needs it.
fn dial_fits(function: Option<Function>, wants: Wants) -> bool {
    match function {
        None | Some(Function::Resistance) => true,
        // a continuity range ends below the resistors
        Some(Function::Continuity) => wants == Wants::Contact,
        Some(_) => false,
    }
}

impl Dialogue for Identifying {
    type Event = Event;
    type Show = Show;

    fn poll_output(&mut self) -> Option<Output<Event, Show>> {
        self.outputs.pop_front()
    }

    fn is_finished(&self) -> bool {
        self.session.closed.is_some() && self.outputs.is_empty()
    }

    fn watch_number(&self) -> u64 {
        self.watch_number
    }

    fn handle_recorded(&mut self, event: &Event, at: Timestamp) {
        self.recording = false;
        let was_faulty = self.session.walk().is_some_and(super::walk::Walk::is_faulty);
        self.session
            .apply(at, event)
            .expect("it was tried before it was written");
        match event {
            Event::Taken { reading, .. } => self.show(Show::Common(Common::Taken {
                step: String::new(),
                display: reading.display(),
                typed: false,
            })),
            Event::LiveSeen { reading } => self.show(Show::Common(Common::Danger(format!(
                "{} on a cable that was proved dead. Stop. Take the probes off, find what feeds it, isolate it and lock it off.",
                reading.display()
            )))),
            _ => {}
        }
        if !was_faulty && self.session.walk().is_some_and(super::walk::Walk::is_faulty) {
            self.show(Show::Fault(
                "No sound cable looks like this: a core is broken or two touch. Extra walks will say which.".into(),
            ));
        }
        self.ask();
    }

    fn handle_line(&mut self, line: &str, now: Timestamp) {
        if self.recording || self.session.closed.is_some() {
            return;
        }
        let voltage = Reading::typed(line, Function::VoltageAc)
            .ok()
            .filter(|_| line.trim().ends_with(['V', 'v']));
        if let Some(reading) = voltage.filter(|reading| self.session.is_live(reading)) {
            return self.record(Event::LiveSeen { reading });
        }
        if self.metered && self.session.wants() == Wants::Ohms && line.trim().eq_ignore_ascii_case("on") {
            self.watch.said_on = true;
            return;
        }
        let Some(to) = self.session.question() else { return };
        let event = Event::Answered {
            to,
            line: line.trim().to_owned(),
        };
        if let Err(error) = self.offer(event, now) {
            self.refused(&error);
        }
    }

    fn handle_heard(&mut self, heard: Heard, now: Timestamp) {
        if self.recording {
            return;
        }
        let (reading, settled, state) = match heard {
            Heard::Trouble(text) => return self.remark(text),
            Heard::Reading {
                reading,
                settled,
                state,
            } => (reading, settled, state),
        };
        // whatever is asked: a voltage on a dead cable is never only a wrong dial
        if self.session.is_live(&reading) {
            return self.record(Event::LiveSeen { reading });
        }
        let wants = self.session.wants();
        if wants == Wants::Nothing {
            return;
        }
        if let Some(flag) = reading.flags.first() {
            return self.remark(Flag::refusal(*flag).to_owned());
        }
        if !dial_fits(reading.function, wants) {
            let is = reading.function.map_or_else(String::new, Function::dial);
            return self.remark(format!("the meter is on {is}: turn the dial to ohms"));
        }
        let open = matches!(reading.shown, Shown::Over | Shown::Above(_));
        if self.watch.hear(&reading, settled) {
            return self.settled(reading, now);
        }
        if !open {
            self.watch.remarked = None;
        }
        let contact = if settled && wants == Wants::Ohms {
            ", type `on` when both probes are on the two"
        } else {
            ""
        };
        self.show(Show::Common(Common::Live {
            digits: reading.display(),
            state: format!("{state}{contact}"),
        }));
    }

    fn handle_tick(&mut self, _now: Timestamp) {}

    fn asks(show: &Show) -> bool {
        matches!(show, Show::Question(_))
    }
}
