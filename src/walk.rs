//! The loop between engine, meter, journal and engineer.
//!
//! The rule inside: an event is appended and synced before the engine hears of it; if the journal fails, the walk stops.

use std::path::Path;
use std::time::Duration;

use jiff::Timestamp;
use serde::Serialize;
use serde::de::DeserializeOwned;
use tokio::sync::mpsc::UnboundedReceiver;

use crate::diagnosis::locate;
use crate::evidence::journal::{self, Hash, Journal};
use crate::meter::decode::Decoded;
use crate::meter::port::event::MeterEvent;
use crate::meter::port::source::Meter;
use crate::meter::settle::{Motion, Settling};
use crate::run::dialogue::Dialogue;
use crate::run::engine::{Engine, Heard, Output};
use crate::run::event::Photograph;
use crate::run::people::{Clock, Engineer};
use crate::system::{clock, signals};
use crate::value::reading::Reading;

/// How often the engine is told that time went by.
const TICK: Duration = Duration::from_millis(100);

/// Why the walk stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stop {
    /// The run is closed and can be sealed.
    Closed,
    /// Ctrl-C; the run can be resumed.
    Interrupted,
    /// No more lines can be read; the run can be resumed.
    InputEnded,
}

/// The clock on the wall as it stood when the program began, carried on by a clock that nobody sets and that runs on while the
/// machine sleeps: a wall clock that is set while a valve travels changes no measured time, and a laptop that was shut tells how
/// long the work was left.
#[derive(Debug, Clone, Copy)]
pub struct WallClock {
    began: Timestamp,
    since: Duration,
}

impl WallClock {
    /// Reads the wall clock once.
    pub fn start() -> WallClock {
        WallClock {
            began: Timestamp::now(),
            since: clock::since_start(),
        }
    }
}

impl Clock for WallClock {
    fn now(&self) -> Timestamp {
        let elapsed = jiff::SignedDuration::try_from(clock::since_start().saturating_sub(self.since))
            .unwrap_or(jiff::SignedDuration::MAX);
        to_millisecond(self.began.checked_add(elapsed).unwrap_or(Timestamp::MAX))
    }
}

/// Cuts a time to whole milliseconds, so that what is judged is what is written.
pub fn to_millisecond(time: Timestamp) -> Timestamp {
    Timestamp::from_millisecond(time.as_millisecond()).expect("a time cut to milliseconds stays in range")
}

/// What a walk needs around the engine.
pub struct Around<'a, D: Dialogue = Engine> {
    pub journal: &'a mut Journal<D::Event>,
    pub meter: Option<&'a mut Meter>,
    pub lines: &'a mut UnboundedReceiver<String>,
    pub engineer: &'a mut dyn Engineer<D::Show>,
    pub clock: &'a dyn Clock,
    /// Lines typed before a prompt was shown are dropped: a slip of cold fingers answers nothing. Off for a pipe.
    pub drops_typed_ahead: bool,
}

/// Walks until the run is closed or the engineer stops.
///
/// Errors are those of the journal; the run then stops where it is and can be resumed.
pub async fn walk<D>(engine: &mut D, around: Around<'_, D>) -> Result<Stop, journal::Error>
where
    D: Dialogue,
    D::Event: Serialize + DeserializeOwned,
{
    let Around {
        journal,
        mut meter,
        lines,
        engineer,
        clock,
        drops_typed_ahead,
    } = around;
    let mut settling = Settling::new(None);
    let mut watch_number = engine.watch_number();
    let began = clock.now();
    let mut interrupted = std::pin::pin!(signals::asked_to_end());
    loop {
        if drain(engine, journal, engineer, clock)? && drops_typed_ahead {
            while lines.try_recv().is_ok() {}
        }
        if engine.is_finished() {
            return Ok(Stop::Closed);
        }
        if watch_number != engine.watch_number() {
            watch_number = engine.watch_number();
            settling = Settling::new(None);
        }
        tokio::select! {
            biased;
            () = &mut interrupted => return Ok(Stop::Interrupted),
            line = lines.recv() => match line {
                Some(line) => engine.handle_line(&line, clock.now()),
                None => return Ok(Stop::InputEnded),
            },
            event = next_event(&mut meter) => {
                if matches!(event, MeterEvent::Frame(_)) {
                    clock.frame_read();
                }
                let now = clock.now();
                let seconds = (now.as_millisecond() - began.as_millisecond()) as f64 / 1000.0;
                tracing::trace!(?event, "meter");
                if let Some(heard) = heard(event, &mut settling, seconds) {
                    engine.handle_heard(heard, now);
                }
                engine.handle_tick(now);
            }
            () = tokio::time::sleep(TICK) => engine.handle_tick(clock.now()),
        }
    }
}

/// Puts out what the engine has; true when a prompt was among it.
fn drain<D>(
    engine: &mut D,
    journal: &mut Journal<D::Event>,
    engineer: &mut dyn Engineer<D::Show>,
    clock: &dyn Clock,
) -> Result<bool, journal::Error>
where
    D: Dialogue,
    D::Event: Serialize + DeserializeOwned,
{
    let mut prompted = false;
    while let Some(output) = engine.poll_output() {
        match output {
            Output::Record(event) => {
                let at = clock.now();
                journal.append(&event, at)?;
                engine.handle_recorded(&event, at);
            }
            Output::Photograph(file) => engine.handle_photograph(photograph(&file)),
            Output::Locate(run) => engine.handle_located(&locate::in_words(&run)),
            Output::Show(show) => {
                prompted |= D::asks(&show);
                engineer.show(&show);
            }
        }
    }
    Ok(prompted)
}

/// A photograph's file by its name and hash; it stays where it is.
fn photograph(file: &str) -> Result<Photograph, String> {
    let path = Path::new(file);
    let hash = std::fs::File::open(path).and_then(Hash::of_all);
    let hash =
        hash.map_err(|error| format!("`{file}` cannot be read ({error}): type its path again, or the text alone"))?;
    let name = path.file_name().map_or(file.into(), |name| name.to_string_lossy());
    Ok(Photograph {
        file: name.into_owned(),
        sha256: hash.to_string(),
    })
}

/// Without a meter nothing ever comes.
async fn next_event(meter: &mut Option<&mut Meter>) -> MeterEvent {
    match meter {
        Some(meter) => meter.next().await,
        None => std::future::pending().await,
    }
}

fn heard(event: MeterEvent, settling: &mut Settling, seconds: f64) -> Option<Heard> {
    match event {
        MeterEvent::Frame(Decoded::Reading(reading)) => Some(settled(reading, settling, seconds)),
        // one frame that means nothing is noise; a row of them comes as garbage
        MeterEvent::Frame(Decoded::NotUnderstood(_)) => None,
        other => {
            let words = words(&other);
            tracing::info!(%words, "meter");
            *settling = Settling::new(None);
            Some(Heard::Trouble(words))
        }
    }
}

fn words(event: &MeterEvent) -> String {
    let message = event.message().unwrap_or_default();
    match event.hint() {
        Some(hint) => format!("{message}: {hint}"),
        None => message,
    }
}

/// Asks whether a reading stands still. Floats serve this prediction only; the verdict is on the exact digits.
fn settled(reading: Reading, settling: &mut Settling, seconds: f64) -> Heard {
    let motion = settling.push_reading(seconds, &reading);
    Heard::Reading {
        settled: matches!(motion, Motion::Settled),
        state: state(&motion, &reading),
        reading,
    }
}

/// How a display moves, in words.
pub fn state(motion: &Motion, reading: &Reading) -> String {
    match motion {
        Motion::Settled => "steady".into(),
        Motion::Moving => "moving".into(),
        Motion::Drifting { bound } => format!("drifting, up to {bound:.2} {} to go", reading.unit),
    }
}
