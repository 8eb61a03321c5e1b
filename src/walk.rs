//! The loop between a dialogue, the meter, the journal and the engineer.
//!
//! The rule inside: an event is appended and synced before the dialogue hears of it; if the journal fails, the walk stops.

use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::Timestamp;
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;
use serde::de::DeserializeOwned;
use tokio::sync::mpsc::UnboundedReceiver;
use tokio::task::JoinHandle;

use crate::diagnosis::locate;
use crate::evidence::journal::{self, Hash, Journal};
use crate::meter::decode::Decoded;
use crate::meter::port::event::MeterEvent;
use crate::meter::port::source::Meter;
use crate::meter::settle::{Motion, Settling};
use crate::run::dialogue::{Clock, Dialogue, Engineer, Heard, Output, Said};
use crate::run::event::Photograph;
use crate::run::folded::Folded;
use crate::system::disk;
use crate::system::{clock, signals};
use crate::value::quantity::Digits;
use crate::value::reading::Reading;

/// How often the dialogue is told that time went by.
const TICK: Duration = Duration::from_millis(100);

/// Why the walk stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stop {
    /// It is closed and can be signed.
    Closed,
    /// Ctrl-C; it can be gone on with.
    Interrupted,
    /// No more lines can be read; it can be gone on with.
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

/// What a walk needs around the dialogue.
pub struct Around<'a, E> {
    /// Where events are written down.
    pub journal: &'a mut Journal<E>,
    /// The meter on a port.
    pub meter: Option<&'a mut Meter>,
    /// What is said, as it comes in.
    pub said: &'a mut UnboundedReceiver<Said>,
    /// What is said on a page, where there is one; it is never taken for a passphrase, which is read from the lines above.
    pub page: Option<&'a mut UnboundedReceiver<Said>>,
    /// Whom things are shown to.
    pub engineer: &'a mut dyn Engineer,
    /// The time of day.
    pub clock: &'a dyn Clock,
}

/// Walks until the dialogue is closed or the engineer stops.
///
/// Errors are those of the journal; the walk then stops where it is and can be resumed.
pub async fn walk<D>(dialogue: &mut D, around: Around<'_, <D::Folded as Folded>::Event>) -> Result<Stop, journal::Error>
where
    D: Dialogue,
    <D::Folded as Folded>::Event: Serialize + DeserializeOwned,
{
    let Around {
        journal,
        mut meter,
        said,
        mut page,
        engineer,
        clock,
    } = around;
    let mut settling = Settling::new(None).holding(dialogue.over_s());
    let mut watch_number = dialogue.watch_number();
    let mut photograph = None;
    let mut typing = true;
    let began = clock.now();
    let mut interrupted = std::pin::pin!(signals::asked_to_end());
    loop {
        engineer.beat();
        while let Some(output) = dialogue.poll_output() {
            match output {
                Output::Record(event) => {
                    let at = clock.now();
                    journal.append(&event, at)?;
                    dialogue.handle_recorded(&event, at);
                }
                Output::Photograph(file) => photograph = Some(bound_in(file)),
                Output::Locate(run) => dialogue.handle_located(&locate::in_words(&run)),
                Output::Show(show) => engineer.show(&show),
            }
        }
        if dialogue.is_finished() {
            return Ok(Stop::Closed);
        }
        if watch_number != dialogue.watch_number() {
            watch_number = dialogue.watch_number();
            settling = Settling::new(None).holding(dialogue.over_s());
        }
        tokio::select! {
            biased;
            () = &mut interrupted => return Ok(Stop::Interrupted),
            // answers wait for the photograph that the one before them named; danger does not
            line = said.recv(), if photograph.is_none() && typing => match line {
                Some(line) => dialogue.handle_answer(line, clock.now()),
                // the page goes on without its terminal
                None if page.is_some() => typing = false,
                None => return Ok(Stop::InputEnded),
            },
            Some(line) = said_on(&mut page), if photograph.is_none() => dialogue.handle_answer(line, clock.now()),
            read = hashed(&mut photograph) => dialogue.handle_photograph(read),
            event = next_event(&mut meter) => {
                if matches!(event, MeterEvent::Frame(_)) {
                    clock.frame_read();
                }
                let now = clock.now();
                let seconds = (now.as_millisecond() - began.as_millisecond()) as f64 / 1000.0;
                tracing::trace!(?event, "meter");
                if let Some(heard) = heard(event, &mut settling, (seconds, dialogue.over_s())) {
                    dialogue.handle_heard(heard, now);
                }
                dialogue.handle_tick(now);
            }
            () = tokio::time::sleep(TICK) => dialogue.handle_tick(clock.now()),
        }
    }
}

/// What is said on the page; without one nothing ever is.
async fn said_on(page: &mut Option<&mut UnboundedReceiver<Said>>) -> Option<Said> {
    match page {
        Some(page) => page.recv().await,
        None => std::future::pending().await,
    }
}

/// Hashes a photograph's file beside the loop: a large one must not keep a voltage from being shown.
fn bound_in(file: String) -> JoinHandle<Result<Photograph, String>> {
    tokio::task::spawn_blocking(move || {
        let path = PathBuf::from(&file);
        // only a regular file: a pipe that nobody writes to would be waited for
        let hash = disk::open(&path).map_err(std::io::Error::from).and_then(Hash::of_all);
        let hash =
            hash.map_err(|error| format!("`{file}` cannot be read ({error}): type its path again, or the text alone"))?;
        let name = Path::file_name(&path).map_or(file.as_str().into(), |name| name.to_string_lossy());
        Ok(Photograph {
            file: name.into_owned(),
            sha256: hash.to_string(),
        })
    })
}

/// The photograph that is being hashed; without one nothing ever comes.
async fn hashed(photograph: &mut Option<JoinHandle<Result<Photograph, String>>>) -> Result<Photograph, String> {
    let Some(reading) = photograph else {
        return std::future::pending().await;
    };
    let read = reading.await;
    *photograph = None;
    read.unwrap_or_else(|error| {
        Err(format!(
            "the photograph could not be read ({error}): type its path again"
        ))
    })
}

/// Without a meter nothing ever comes.
async fn next_event(meter: &mut Option<&mut Meter>) -> MeterEvent {
    match meter {
        Some(meter) => meter.next().await,
        None => std::future::pending().await,
    }
}

fn heard(event: MeterEvent, settling: &mut Settling, (seconds, over_s): (f64, f64)) -> Option<Heard> {
    match event {
        MeterEvent::Frame(Decoded::Reading(reading)) => Some(settled(reading, settling, seconds)),
        // one frame that means nothing is noise; a row of them comes as garbage
        MeterEvent::Frame(Decoded::NotUnderstood(_)) => None,
        other => {
            let words = words(&other);
            tracing::info!(%words, "meter");
            *settling = Settling::new(None).holding(over_s);
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
        to_go: to_go(&motion, &reading),
        state: state(&motion, &reading),
        reading,
    }
}

/// How far a display may still move, in its own unit, rounded up to two figures; `None` where that is not known.
fn to_go(motion: &Motion, reading: &Reading) -> Option<Box<Digits>> {
    let Motion::Drifting { bound } = motion else {
        return None;
    };
    let size = bound / reading.prefix.factor().to_f64().expect("a prefix has a size");
    let decimals = decimals_of(size);
    let scale = 10f64.powi(i32::try_from(decimals).expect("at most nine"));
    Digits::parse(&format!("{:.decimals$}", (size * scale).ceil() / scale)).map(Box::new)
}

/// How a display moves, in words.
pub fn state(motion: &Motion, reading: &Reading) -> String {
    match motion {
        Motion::Settled => "steady".into(),
        Motion::Moving => "moving".into(),
        Motion::Drifting { bound } => {
            let prefix = reading.prefix.factor().to_f64().expect("a prefix has a size");
            format!(
                "drifting, up to {} {}{} to go",
                two_figures(bound / prefix),
                reading.prefix.letter(),
                reading.unit
            )
        }
    }
}

/// A size with two figures or more, without an exponent.
fn two_figures(size: f64) -> String {
    format!("{size:.0$}", decimals_of(size))
}

/// The decimals with which a size has two figures, nine at most.
fn decimals_of(size: f64) -> usize {
    let enough = |decimals: &usize| 10.0 <= size * 10f64.powi(i32::try_from(*decimals).expect("at most nine"));
    (0..9).find(enough).unwrap_or(9)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::value::reading::Function;

    #[test]
    fn what_is_still_to_go_is_said_in_the_unit_of_the_display() {
        for (text, function, bound, expected) in [
            ("1.20 Mohm", Function::Insulation(500), 250_000.0, "0.25 Mohm"),
            ("299 Mohm", Function::Insulation(500), 31_400_000.0, "31 Mohm"),
            ("0.42 ohm", Function::Continuity, 0.034, "0.034 ohm"),
            ("230.1 V", Function::VoltageAc, 1.26, "1.3 V"),
        ] {
            let reading = Reading::typed(text, function).unwrap();
            let said = state(&Motion::Drifting { bound }, &reading);
            assert_eq!(said, format!("drifting, up to {expected} to go"));
        }
    }
}
