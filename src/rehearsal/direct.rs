//! The simulated meter without a terminal: the same bytes, cut, decoded and settled by the same code, in one thread.
//!
//! The rule inside: only the pseudo-terminal is left out. A walk of hours takes as long as its computing.

use jiff::Timestamp;
use tokio::sync::mpsc::UnboundedReceiver;

use super::clock::SimClock;
use super::display::Display;
use super::error::RehearsalError;
use super::meter::{Panel, Port, check_profile, frame_now};
use crate::job::instrument::Instrument;
use crate::meter::decode::frame::{Framer, Piece};
use crate::meter::decode::{Decoded, Profile, decode};
use crate::meter::settle::{Motion, Settling};
use crate::run::dialogue::{Clock, Dialogue, Engineer, Heard, Said};
use crate::run::engine::Engine;
use crate::run::event::Event;
use crate::value::reading::Reading;

/// A simulated meter whose bytes are handed over.
pub struct DirectMeter {
    profile: Profile,
    port: Port,
    clock: SimClock,
    framer: Framer,
}

impl DirectMeter {
    /// A meter that is off.
    ///
    /// # Errors
    /// [`RehearsalError::ProfileDoesNotFit`] where the profile cannot say what the instrument shows.
    pub fn new(
        profile: &Profile,
        instrument: &Instrument,
        clock: &SimClock,
        seed: u64,
    ) -> Result<DirectMeter, RehearsalError> {
        let display = Display::new(instrument, seed);
        check_profile(profile, instrument, &display)?;
        Ok(DirectMeter {
            profile: profile.clone(),
            port: Port::new(&instrument.name, Panel::new(display)),
            clock: clock.clone(),
            framer: Framer::new(&profile.frame, false),
        })
    }

    /// Its dial, for whoever walks.
    pub fn port(&self) -> Port {
        self.port.clone()
    }

    /// The next frame as a reading; `None` while the dial is off or where a frame means nothing.
    fn next(&mut self) -> Option<Reading> {
        let bytes = frame_now(&self.profile, self.port.panel(), &self.clock)?;
        self.framer.push(&bytes);
        match self.framer.poll()? {
            Piece::Frame { bytes, .. } => match decode(&self.profile, &bytes) {
                Decoded::Reading(reading) => Some(reading),
                Decoded::NotUnderstood(_) | Decoded::Refused(_) => None,
            },
            Piece::Dropped(_) | Piece::Unconfirmed => None,
        }
    }
}

/// Walks to the end. `record` is given every event with its time before the engine hears of it.
///
/// # Panics
/// When the engineer stops answering while nothing comes from a meter, which a scripted one never does.
pub fn walk_direct(
    engine: &mut Engine,
    engineer: &mut dyn Engineer,
    clock: &SimClock,
    mut meter: Option<&mut DirectMeter>,
    lines: &mut UnboundedReceiver<Said>,
    mut record: impl FnMut(&Event, Timestamp),
) {
    let (mut settling, mut watched) = (Settling::new(None).holding(engine.over_s()), engine.watch_number());
    loop {
        engine.drain(|| clock.now(), &mut record, |show| engineer.show(show));
        if engine.is_finished() {
            return;
        }
        if watched != engine.watch_number() {
            (settling, watched) = (Settling::new(None).holding(engine.over_s()), engine.watch_number());
        }
        if let Ok(line) = lines.try_recv() {
            engine.handle_answer(line, clock.now());
            continue;
        }
        let meter = meter.as_mut().expect("without a meter every answer is typed");
        let reading = meter.next();
        clock.frame_read();
        let now = clock.now();
        if let Some(reading) = reading {
            let motion = settling.push_reading(now.as_millisecond() as f64 / 1000.0, &reading);
            let heard = Heard::Reading {
                reading,
                settled: motion == Motion::Settled,
                to_go: None,
                state: String::new(),
            };
            engine.handle_heard(heard, now);
        }
        engine.handle_tick(now);
    }
}
