//! The simulated meter: a display that speaks a profile on a real pseudo-terminal.
//!
//! The rule inside: it holds one end of the pair and nothing else of the program; whoever reads it opens the other end
//! by its path, as a cable would be opened. It sends the next frame only when the last was read.

use std::sync::{Arc, Mutex};
use std::time::Duration;

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::sync::Notify;
use tokio::task::JoinHandle;
use tokio::time::{sleep, timeout};
use tokio_serial::SerialStream;

use super::clock::SimClock;
use super::display::{Display, Face};
use super::error::RehearsalError;
use crate::job::instrument::Instrument;
use crate::meter::decode::encode::{Ear, EncodeError, Heard, encode, units};
use crate::meter::decode::{Profile, Talk};
use crate::system::pseudo_terminal::PseudoTerminal;
use crate::value::quantity::{Prefix, Shown, Unit};
use crate::value::reading::Function;

/// Real time after which a frame that was not read is sent again, as a meter would go on sending: a reader may have thrown
/// it away.
const SEND_AGAIN: Duration = Duration::from_millis(500);
/// Real time between two looks at a line that nobody holds at the other end.
const NOBODY_THERE: Duration = Duration::from_millis(10);

/// The display and dial, shared between whoever turns the dial and the task that speaks.
#[derive(Clone)]
pub(super) struct Panel {
    display: Arc<Mutex<Display>>,
    turned_on: Arc<Notify>,
}

impl Panel {
    /// A panel that is off.
    pub(super) fn new(display: Display) -> Panel {
        Panel {
            display: Arc::new(Mutex::new(display)),
            turned_on: Arc::new(Notify::new()),
        }
    }

    /// Uses the display.
    pub(super) fn with<T>(&self, act: impl FnOnce(&mut Display) -> T) -> T {
        act(&mut self.display.lock().expect("nothing panics while it holds the display"))
    }

    /// Turns the dial.
    pub(super) fn turn(&self, function: Function) {
        self.with(|display| display.turn(function));
        self.turned_on.notify_one();
    }

    /// Waits until the dial is on something: an instrument that is off says nothing.
    async fn on(&self) {
        while self.with(|display| display.dial().is_none()) {
            self.turned_on.notified().await;
        }
    }
}

/// The dial of a simulated meter, and which instrument of the job it is.
#[derive(Clone)]
pub struct Port {
    instrument: String,
    panel: Panel,
}

impl Port {
    pub(super) fn new(instrument: &str, panel: Panel) -> Port {
        Port {
            instrument: instrument.to_owned(),
            panel,
        }
    }

    /// The instrument that it is.
    pub fn instrument(&self) -> &str {
        &self.instrument
    }

    pub(super) fn panel(&self) -> &Panel {
        &self.panel
    }
}

/// A simulated meter that is running; it is switched off when dropped.
pub struct SimMeter {
    path: String,
    port: Port,
    task: JoinHandle<()>,
}

impl SimMeter {
    /// Starts the meter; called inside a Tokio runtime.
    ///
    /// On a runtime of one thread every frame is made after the hands have done what came before it, so that a rehearsal
    /// comes out the same each time; on several threads a frame may be one act late, as on a real cable.
    ///
    /// # Errors
    /// [`RehearsalError::ProfileDoesNotFit`] where the profile cannot say what the instrument shows,
    /// [`RehearsalError::NoPseudoTerminal`] where the system gives none.
    pub fn start(
        profile: &Profile,
        instrument: &Instrument,
        clock: &SimClock,
        seed: u64,
    ) -> Result<SimMeter, RehearsalError> {
        let display = Display::new(instrument, seed);
        check_profile(profile, instrument, &display)?;
        let no_terminal = |error: std::io::Error| RehearsalError::NoPseudoTerminal { why: error.to_string() };
        let PseudoTerminal { line, path } = PseudoTerminal::open().map_err(no_terminal)?;
        let panel = Panel::new(display);
        let speaker = Speaker {
            profile: profile.clone(),
            panel: panel.clone(),
            clock: clock.clone(),
            line,
        };
        Ok(SimMeter {
            path,
            port: Port::new(&instrument.name, panel),
            task: tokio::spawn(speaker.speak()),
        })
    }

    /// The path under which the meter is opened.
    pub fn path(&self) -> &str {
        &self.path
    }

    /// Its dial, for whoever walks.
    pub fn port(&self) -> Port {
        self.port.clone()
    }
}

impl Drop for SimMeter {
    fn drop(&mut self) {
        self.task.abort();
    }
}

/// Refuses a profile that has no words for a function, or none for over-range on ohms and trip times.
pub(super) fn check_profile(
    profile: &Profile,
    instrument: &Instrument,
    display: &Display,
) -> Result<(), RehearsalError> {
    let does_not_fit = |why: String| RehearsalError::ProfileDoesNotFit {
        profile: profile.name.clone(),
        instrument: instrument.name.clone(),
        why,
    };
    for function in display.functions() {
        let Some((prefix, _)) = units(profile, function).first().copied() else {
            return Err(does_not_fit(format!("it has no {}", function.dial())));
        };
        // volts have no top here; a trip test without a trip is over-range
        if function.unit() != Unit::Volt {
            let over = Face {
                function,
                shown: Shown::Over,
                prefix,
                unit: function.unit(),
            };
            frame(profile, &over).map_err(|error| does_not_fit(error.to_string()))?;
        }
    }
    Ok(())
}

/// The bytes of what a display shows. A profile without a mark for "above" says over-range.
fn frame(profile: &Profile, face: &Face) -> Result<Vec<u8>, EncodeError> {
    let unit = (face.prefix, face.unit);
    match (encode(profile, face.function, &face.shown, unit, &[]), &face.shown) {
        (Err(EncodeError::NoOverRange { .. }), Shown::Above(_)) => {
            encode(profile, face.function, &Shown::Over, unit, &[])
        }
        (bytes, _) => bytes,
    }
}

/// The bytes of what the display shows now; `None` while it is off.
pub(super) fn frame_now(profile: &Profile, panel: &Panel, clock: &SimClock) -> Option<Vec<u8>> {
    let face = panel.with(|display| {
        let prefixes =
            |function| -> Vec<Prefix> { units(profile, function).into_iter().map(|(prefix, _)| prefix).collect() };
        let prefixes = display.dial().map(prefixes).unwrap_or_default();
        clock.with_world(|world, now| display.look(world, now, &prefixes))
    })?;
    Some(frame(profile, &face).unwrap_or_else(|error| panic!("checked at the start: {error}")))
}

struct Speaker {
    profile: Profile,
    panel: Panel,
    clock: SimClock,
    line: SerialStream,
}

impl Speaker {
    async fn speak(mut self) {
        match self.profile.talk {
            Talk::Stream => self.stream().await,
            Talk::Query { .. } => self.answer().await,
        }
    }

    async fn stream(&mut self) {
        let mut frames_read = self.clock.frames_read();
        loop {
            self.panel.on().await;
            frames_read.mark_unchanged();
            self.send().await;
            // the clock cannot go away: this task holds it
            let _ = timeout(SEND_AGAIN, frames_read.changed()).await;
        }
    }

    async fn answer(&mut self) {
        let mut ear = Ear::new(&self.profile);
        let mut bytes = [0; 256];
        loop {
            match self.line.read(&mut bytes).await {
                Ok(count) if 0 < count => ear.push(&bytes[..count]),
                // the other end is not open, or no longer
                _ => sleep(NOBODY_THERE).await,
            }
            while let Some(heard) = ear.poll() {
                if heard == Heard::Ask {
                    self.panel.on().await;
                    self.send().await;
                }
            }
        }
    }

    /// Shows what the display shows now.
    async fn send(&mut self) {
        let bytes = frame_now(&self.profile, &self.panel, &self.clock).expect("waited until it is on");
        while self.line.write_all(&bytes).await.is_err() {
            sleep(NOBODY_THERE).await;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::decode::Decoded;
    use crate::meter::port::event::MeterEvent;
    use crate::meter::port::source::Meter;
    use crate::meter::profile::find;
    use crate::rehearsal::World;
    use crate::rehearsal::trial::job;
    use crate::run::dialogue::Clock;

    use jiff::Timestamp;

    /// A simulated meter, and the reader that opened it by its path.
    fn bench(profile: &str, instrument: usize) -> (SimMeter, Meter, SimClock) {
        let clock = SimClock::new(Timestamp::UNIX_EPOCH, World::new(&job(), 1).unwrap());
        let profile = find(profile).unwrap();
        let sim = SimMeter::start(profile, &job().instruments[instrument], &clock, 1).unwrap();
        let meter = Meter::open_serial(sim.path(), profile.clone()).unwrap();
        (sim, meter, clock)
    }

    async fn reading(meter: &mut Meter) -> String {
        match meter.next().await {
            MeterEvent::Frame(Decoded::Reading(reading)) => reading.display(),
            other => panic!("{other:?}"),
        }
    }

    #[tokio::test]
    async fn a_meter_that_is_off_says_nothing() {
        for (profile, instrument, function) in [
            ("line-stream", 1, Function::Continuity),
            ("query-488", 2, Function::Resistance),
        ] {
            let (sim, mut meter, _) = bench(profile, instrument);
            let waited = timeout(Duration::from_millis(100), meter.next()).await;
            assert!(waited.is_err(), "{waited:?}");
            sim.port().panel().turn(function);
            assert_eq!(reading(&mut meter).await, "OL (ohm)");
        }
    }

    #[tokio::test]
    async fn the_next_frame_waits_until_the_last_was_read() {
        let (sim, mut meter, clock) = bench("line-stream", 1);
        sim.port().panel().turn(Function::Continuity);
        reading(&mut meter).await;
        let waited = timeout(Duration::from_millis(100), meter.next()).await;
        assert!(waited.is_err(), "nobody said that the frame was read: {waited:?}");
        clock.frame_read();
        reading(&mut meter).await;
    }

    #[tokio::test]
    async fn a_frame_that_was_thrown_away_is_sent_again() {
        let (sim, mut meter, _) = bench("line-stream", 1);
        sim.port().panel().turn(Function::Continuity);
        sleep(Duration::from_millis(50)).await;
        meter.discard().await;
        assert_eq!(reading(&mut meter).await, "OL (ohm)");
    }
}
