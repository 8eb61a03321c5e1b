//! One frame of voltage that no checksum guards.
//!
//! The rule inside: danger is shown at once and nothing is taken in until two further frames showed no voltage; silence, time or
//! another voltage is a voltage that was seen.

use jiff::Timestamp;

use super::machine::{Asking, Engine};
use crate::run::dialogue::Heard;
use crate::run::event::Event;
use crate::run::fold::{CLEAR_MS_MAX, clears};
use crate::value::reading::Reading;
use crate::value::sighting::{mention, sighting};

/// What is left of the time for a frame to be written down in.
const TO_WRITE_MS: i64 = 100;

impl Engine {
    /// A voltage came where everything was proved dead.
    pub(super) fn volts_heard(&mut self, step: usize, reading: Reading) {
        let step = self.step_id(step);
        let guarded = self.port.as_ref().is_none_or(|port| port.guarded);
        self.talk.give(match guarded {
            true => Event::LiveSeen { step, reading },
            false => Event::FrameDoubted { step, reading },
        });
    }

    /// Whether a frame holds the run; what the meter does meanwhile clears it up or makes it a voltage that was seen.
    pub(super) fn heard_while_held(&mut self, heard: &Heard, now: Timestamp) -> bool {
        let Some(Asking::Held(step)) = self.asking else {
            return false;
        };
        if self.held_too_long(now) {
            return true;
        }
        let step = self.step_id(step);
        match heard {
            Heard::Reading { reading, .. } if self.run.is_live(reading) => self.talk.give(Event::LiveSeen {
                step,
                reading: reading.clone(),
            }),
            Heard::Reading { reading, .. } if clears(&self.run, reading) => self.talk.give(Event::FrameCleared {
                step,
                reading: reading.clone(),
            }),
            Heard::Reading { .. } => {}
            Heard::Trouble(what) if what.is_empty() => {}
            Heard::Trouble(_) => self.held_is_seen(),
        }
        true
    }

    /// Time goes by; true where a frame holds the run.
    pub(super) fn held_too_long(&mut self, now: Timestamp) -> bool {
        let held = match (&self.asking, &self.run.held) {
            (Some(Asking::Held(_)), Some(held)) => held.ms(now),
            _ => return false,
        };
        let up = CLEAR_MS_MAX - TO_WRITE_MS < held;
        if up {
            self.held_is_seen();
        }
        up
    }

    /// What is typed meanwhile: a voltage, in a sentence too, or nothing. Here nobody is asked whether that is there now: the meter has shown it.
    pub(super) fn said_while_held(&mut self, line: &str) {
        let live = sighting(line)
            .or_else(|| mention(line))
            .filter(|reading| self.run.is_live(reading));
        let Some((held, reading)) = self.run.held.as_ref().zip(live) else {
            return self.talk.notice(
                "keep your hands away: nothing is taken in until the meter has shown twice that no voltage is there",
            );
        };
        let step = self.step_id(held.step);
        self.talk.give(Event::LiveSeen { step, reading });
    }

    /// Nothing cleared it up: it was there.
    fn held_is_seen(&mut self) {
        if let Some(held) = &self.run.held {
            let (step, reading) = (self.step_id(held.step), held.reading.clone());
            self.talk.give(Event::LiveSeen { step, reading });
        }
    }
}
