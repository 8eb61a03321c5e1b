//! An identification being walked: lines and readings in, prompts and events out.
//!
//! The rule inside: an answer or a reading is tried first and given out to be written down only where it is understood; it
//! counts, and is shown as taken, when it has come back from the journal.

use jiff::Timestamp;
use rust_decimal::Decimal;

use super::error::IdentifyError;
use super::event::Event;
use super::measured::Wants;
use super::session::Session;
use crate::explain::Explain;
use crate::run::dialogue::{Choice, Dialogue, Heard, Needle, Output, Prompt, Show, Talk};
use crate::run::folded::Folded;
use crate::value::quantity::Shown;
use crate::value::reading::{Flag, Function, Reading};
use crate::value::sighting::sighting;

/// An identification being walked.
#[derive(Debug)]
pub struct Identifying {
    session: Session,
    /// Whether a meter is on a port whose readings count by time.
    metered: bool,
    talk: Talk<Event>,
}

impl Identifying {
    /// One at its beginning, or after its events have been folded; `resumed` has the bytes that were dropped from a torn line.
    pub fn new(session: Session, metered: bool, resumed: Option<u64>) -> Identifying {
        let mut identifying = Identifying {
            session,
            metered,
            talk: Talk::default(),
        };
        match resumed {
            Some(torn_bytes) => identifying.talk.give(Event::Resumed { torn_bytes }),
            None => identifying.ask(),
        }
        identifying
    }

    /// What its events tell so far.
    pub fn session(&self) -> &Session {
        &self.session
    }

    /// Tries an event, and gives it out to be written down where it is understood.
    fn offer(&mut self, event: Event, now: Timestamp) -> Result<(), IdentifyError> {
        let mut tried = self.session.clone();
        Session::apply(&mut tried, now, &event)?;
        self.talk.give(tried.understood(event));
        Ok(())
    }

    /// The next question, or the end.
    fn ask(&mut self) {
        match (self.session.prompt(), self.session.told()) {
            (Some(prompt), _) => {
                let prompt = if self.metered {
                    with_meter(prompt, &self.session)
                } else {
                    prompt
                };
                self.talk.ask(prompt);
            }
            (None, Some(told)) if self.session.closed.is_none() => self.talk.give(Event::Closed { told }),
            _ => {}
        }
    }

    /// A reading that stands still between probes that were placed for it.
    fn settled(&mut self, reading: Reading, now: Timestamp) {
        let Some(to) = self.session.question() else { return };
        if let Err(error) = self.offer(Event::Taken { to, reading }, now) {
            self.talk.remark(match error.hint() {
                Some(hint) => format!("{error}: {hint}"),
                None => error.to_string(),
            });
        }
    }
}

/// The same question where the meter is read as well.
fn with_meter(mut prompt: Prompt, session: &Session) -> Prompt {
    let mut read = "the meter is read: a contact that stands still is taken with a tone";
    match session.wants() {
        Wants::Nothing => return prompt,
        Wants::Contact => {
            let measured = session.walk().map(super::walk::Walk::measured).unwrap_or_default();
            if !measured.is_empty() {
                prompt.choices.retain(|choice| choice.word != "none");
                prompt
                    .choices
                    .insert(0, Choice::new("done", "when every pair was tried"));
                prompt.todo = vec![format!("Taken so far: {}.", measured.join(", "))];
            }
        }
        Wants::Ohms => {
            read = "the meter is read";
            prompt
                .choices
                .insert(0, Choice::new("on", "when both probes are on the two"));
        }
    }
    prompt.free = Some(match prompt.free {
        Some(free) => format!("{read}; or typed: {free}"),
        None => read.to_owned(),
    });
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

impl From<Event> for Output<Event> {
    fn from(event: Event) -> Output<Event> {
        Output::Record(event)
    }
}

impl Dialogue for Identifying {
    type Folded = Session;

    fn folded(&self) -> &Session {
        &self.session
    }

    fn talk(&self) -> &Talk<Event> {
        &self.talk
    }

    fn talk_mut(&mut self) -> &mut Talk<Event> {
        &mut self.talk
    }

    fn is_closed(&self) -> bool {
        self.session.closed.is_some()
    }

    fn handle_recorded(&mut self, event: &Event, at: Timestamp) {
        self.talk.recorded();
        let was_faulty = self.session.walk().is_some_and(super::walk::Walk::is_faulty);
        if let Err(why) = Folded::apply(&mut self.session, at, event) {
            self.session.break_off(&why.what);
            let what = format!("it cannot go on: {}", why.what);
            let next = Some("begin the identification anew".to_owned());
            return self.talk.give(Show::Refused { what, next });
        }
        match event {
            Event::Taken { reading, .. } => self.talk.give(Show::Taken {
                step: String::new(),
                display: reading.display(),
                typed: false,
            }),
            Event::LiveSeen { reading } => self.talk.give(Show::Danger(format!(
                "{} on a cable that was proved dead. Stop. Take the probes off, find what feeds it, isolate it and lock it off.",
                reading.display()
            ))),
            _ => {}
        }
        if !was_faulty && self.session.walk().is_some_and(super::walk::Walk::is_faulty) {
            self.talk.give(Show::Fault(
                "No sound cable looks like this: a core is broken or two touch. Extra walks will say which.".into(),
            ));
        }
        self.ask();
    }

    fn answered(&mut self, line: &str, now: Timestamp) {
        if self.session.closed.is_some() {
            return;
        }
        if let Some(reading) = sighting(line).filter(|reading| self.session.is_live(reading)) {
            return self.talk.give(Event::LiveSeen { reading });
        }
        if self.metered && self.session.wants() == Wants::Ohms && line.trim().eq_ignore_ascii_case("on") {
            self.talk.watch.said_on = true;
            self.talk.watch_anew();
            return self.talk.notice("taken as soon as it stands still");
        }
        let Some(to) = self.session.question() else { return };
        let event = Event::Answered {
            to,
            line: line.trim().to_owned(),
            given: None,
        };
        if let Err(error) = self.offer(event, now) {
            let (what, next) = (error.to_string(), error.hint());
            self.talk.give(Show::Refused { what, next });
        }
    }

    fn heard(&mut self, heard: Heard, now: Timestamp) {
        let (reading, settled, state) = match heard {
            Heard::Trouble(text) => return self.talk.needs_hands(text),
            Heard::Reading {
                reading,
                settled,
                state,
                ..
            } => (reading, settled, state),
        };
        // whatever is asked: a voltage on a dead cable is never only a wrong dial
        if self.session.is_live(&reading) {
            return self.talk.give(Event::LiveSeen { reading });
        }
        let wants = self.session.wants();
        if wants == Wants::Nothing {
            return;
        }
        if let Some(flag) = reading.flags.first() {
            return self.talk.needs_hands(Flag::refusal(*flag).to_owned());
        }
        if !dial_fits(reading.function, wants) {
            let is = reading.function.map_or_else(String::new, Function::dial);
            return self
                .talk
                .needs_hands(format!("the meter is on {is}: turn the dial to ohms"));
        }
        let open = matches!(reading.shown, Shown::Over | Shown::Above(_));
        if self.talk.watch.hear(&reading, settled && self.metered) {
            return self.settled(reading, now);
        }
        if !open {
            self.talk.watch.remarked = None;
        }
        let contact = if !self.metered {
            ", sent on change: type what it shows"
        } else if settled && wants == Wants::Ohms {
            ", type `on` when both probes are on the two"
        } else {
            ""
        };
        self.talk.give(Show::Live {
            digits: reading.display(),
            state: format!("{state}{contact}"),
            needle: Needle::of(&reading, Decimal::ZERO),
        });
    }
}
