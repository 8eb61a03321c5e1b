//! `meter watch`: live readings, their rate, and whether they stand still.
//!
//! The rule inside: a meter that is lost, silent or not understood is named and waited for; only `--count` gives up.

use std::collections::VecDeque;
use std::fs::{File, OpenOptions};
use std::io::{self, Write};
use std::path::Path;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};
use tokio::time::{Instant, sleep_until};

use super::args::Watch;
use super::error::{Failure, PASSED};
use super::meter::split;
use super::meter_view::{Form, Live, View};
use super::profiles;
use crate::meter::decode::{Decoded, Profile};
use crate::meter::port::event::MeterEvent;
use crate::meter::port::recording;
use crate::meter::port::source::Meter;
use crate::meter::port::spec::PortSpec;
use crate::meter::port::tap::Tap;
use crate::meter::settle::Settling;
use crate::system::signals;
use crate::terminal::input;
use crate::value::reading::Reading;
use crate::walk::state;

/// How long `--count` waits for a reading, in silences of the profile: longer than any meter needs between two readings, and
/// the silence was told before.
const PATIENCE_SILENCES: u32 = 3;
/// Seconds over which the rate is taken.
const RATE_SECONDS: f64 = 5.0;

/// Watches.
pub(super) async fn watch(args: &Watch, plain: bool) -> Result<u8, Failure> {
    let (port, profile) = named(&args.meter)?;
    let keeps_time = port.keeps_time();
    let began = Instant::now();
    let recorder = Arc::new(Mutex::new(Recorder::default()));
    let (raw_sender, raw) = unbounded_channel();
    let (record, show_raw) = (recorder.clone(), args.raw);
    let listener = move |bytes: &[u8]| {
        let ms = ms_since(began);
        record.lock().expect("nothing panics while recording").write(ms, bytes);
        if show_raw {
            // nobody to show them to is the end of the watching
            let _ = raw_sender.send((ms, bytes.to_vec()));
        }
    };
    let opener = Tap::new(port.opener(&profile.line), Box::new(listener));
    let meter = Meter::open(Box::new(opener), profile).await?;
    if let Some(path) = &args.record {
        recorder.lock().expect("nothing panics while recording").file = Some(create(path, &meter.profile().name)?);
    }
    let form = match (args.json, input::is_interactive() && !plain) {
        (true, _) => Form::Json,
        (false, true) => Form::InPlace,
        (false, false) => Form::Lines,
    };
    let silence = Duration::from_millis(u64::from(meter.profile().quiet_ms_max));
    let mut watching = Watching {
        patience: silence * PATIENCE_SILENCES,
        view: View::new(form, io::stdout(), io::stderr()),
        settling: Settling::new(None),
        rate: Rate::default(),
        began,
        keeps_time,
        readings: 0,
        last: began,
        trouble: None,
    };
    let ended = watching.go(meter, raw, args.count, &recorder).await;
    // a closed output is told by the next line, or not at all
    let _ = watching.view.end_in_place();
    ended
}

/// The port and profile that are named; a recording may name its own profile.
fn named(given: &str) -> Result<(PortSpec, Profile), Failure> {
    let (port_text, profile) = split(given);
    let port = PortSpec::read(port_text)?;
    let Some(name) = profile.or(port.profile()) else {
        return Err(Failure::refused(format!("`{given}` names no profile")).hint(format!(
            "write `{given},PROFILE`; `coreproof meter list` shows the profiles"
        )));
    };
    let profile = profiles::profile(name)?;
    Ok((port, profile))
}

fn create(path: &Path, profile: &str) -> Result<File, Failure> {
    let failed = |error: io::Error| {
        let what = format!("the recording `{}` cannot be written: {error}", path.display());
        if error.kind() == io::ErrorKind::AlreadyExists {
            Failure::refused(what).hint("name a file that is not there yet")
        } else {
            Failure::equipment(what).hint("name a file in a folder that you can write to")
        }
    };
    let mut file = OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(path)
        .map_err(failed)?;
    file.write_all(recording::head(Some(profile)).as_bytes())
        .map_err(failed)?;
    Ok(file)
}

/// Writes what is read, and keeps the first error.
#[derive(Debug, Default)]
struct Recorder {
    file: Option<File>,
    error: Option<io::Error>,
}

impl Recorder {
    fn write(&mut self, ms: u64, bytes: &[u8]) {
        if let Some(file) = &mut self.file
            && let Err(error) = file.write_all(recording::lines(ms, bytes).as_bytes())
        {
            self.error.get_or_insert(error);
            self.file = None;
        }
    }

    fn check(&mut self) -> Result<(), Failure> {
        match self.error.take() {
            None => Ok(()),
            Some(error) => {
                Err(Failure::equipment(format!("the recording cannot be written: {error}"))
                    .hint("make room on the disk"))
            }
        }
    }
}

/// Readings a second.
#[derive(Debug, Default)]
struct Rate {
    times: VecDeque<f64>,
}

impl Rate {
    fn push(&mut self, seconds: f64) -> Option<f64> {
        self.times.push_back(seconds);
        while 2 < self.times.len() && RATE_SECONDS < seconds - self.times[0] {
            self.times.pop_front();
        }
        let span = seconds - self.times[0];
        (0.0 < span).then(|| (self.times.len() - 1) as f64 / span)
    }
}

struct Watching {
    /// How long `--count` waits for a reading.
    patience: Duration,
    view: View<io::Stdout, io::Stderr>,
    settling: Settling,
    rate: Rate,
    began: Instant,
    keeps_time: bool,
    readings: u32,
    /// When the last reading came.
    last: Instant,
    /// What was wrong last since then, with the next act.
    trouble: Option<(String, Option<String>)>,
}

impl Watching {
    async fn go(
        &mut self,
        mut meter: Meter,
        mut raw: UnboundedReceiver<(u64, Vec<u8>)>,
        count: Option<u32>,
        recorder: &Mutex<Recorder>,
    ) -> Result<u8, Failure> {
        let interrupted = signals::asked_to_end();
        tokio::pin!(interrupted);
        loop {
            recorder.lock().expect("nothing panics while recording").check()?;
            if count.is_some_and(|count| count <= self.readings) {
                return Ok(PASSED);
            }
            let shown = tokio::select! {
                biased;
                _ = &mut interrupted => return Ok(PASSED),
                Some((ms, bytes)) = raw.recv() => self.view.raw(ms, &bytes),
                event = meter.next() => {
                    tracing::trace!(?event, "meter");
                    if let MeterEvent::Ended { port } = &event {
                        while let Ok((ms, bytes)) = raw.try_recv() {
                            // the end is told all the same
                            let _ = self.view.raw(ms, &bytes);
                        }
                        return self.ended(port, count);
                    }
                    self.show(&event)
                }
                () = sleep_until(self.last + self.patience), if count.is_some() => return Err(self.impatient()),
            };
            // whoever read the output has gone
            if shown.is_err() {
                return Ok(PASSED);
            }
        }
    }

    fn show(&mut self, event: &MeterEvent) -> io::Result<()> {
        let ms = ms_since(self.began);
        if let MeterEvent::Frame(Decoded::Reading(reading)) = event {
            return self.reading(ms, reading);
        }
        // one frame that means nothing is noise; everything else breaks what was seen so far
        if !matches!(event, MeterEvent::Frame(Decoded::NotUnderstood(_))) {
            self.settling = Settling::new(None);
            self.rate = Rate::default();
        }
        let message = event.message().unwrap_or_default();
        let hint = event.hint();
        let shown = self.view.trouble(ms, &message, hint.as_deref());
        self.trouble = Some((message, hint));
        shown
    }

    fn reading(&mut self, ms: u64, reading: &Reading) -> io::Result<()> {
        self.readings += 1;
        self.last = Instant::now();
        self.trouble = None;
        let seconds = self.last.duration_since(self.began).as_secs_f64();
        let (mut shown_state, mut rate) = (None, None);
        if self.keeps_time {
            shown_state = Some(state(&self.settling.push_reading(seconds, reading), reading));
            rate = self.rate.push(seconds);
        }
        self.view.reading(&Live {
            ms,
            reading,
            state: shown_state,
            rate,
        })
    }

    fn ended(&self, port: &str, count: Option<u32>) -> Result<u8, Failure> {
        match count {
            Some(count) => {
                let what = format!("`{port}` is over after {} of {count} readings", self.readings);
                Err(Failure::equipment(what).hint("play a longer capture, or ask for fewer readings"))
            }
            None => Ok(PASSED),
        }
    }

    fn impatient(&self) -> Failure {
        let seconds = self.patience.as_secs_f64();
        match &self.trouble {
            Some((message, hint)) => {
                let failure = Failure::equipment(format!("no reading came for {seconds} s: {message}"));
                match hint {
                    Some(hint) => failure.hint(hint),
                    None => failure,
                }
            }
            None => Failure::equipment(format!("no reading came for {seconds} s"))
                .hint("switch the meter on, switch its data output on, and check the cable at both ends"),
        }
    }
}

fn ms_since(began: Instant) -> u64 {
    u64::try_from(began.elapsed().as_millis()).expect("a watch is shorter than the age of the sun")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rate_is_that_of_the_last_seconds() {
        let mut rate = Rate::default();
        assert_eq!(rate.push(0.0), None);
        assert_eq!(rate.push(0.25), Some(4.0));
        for n in 2..40 {
            assert_eq!(rate.push(f64::from(n) * 0.25), Some(4.0));
        }
        // two seconds' worth at ten a second do not hide what went before, seven do
        let last = (1..=70).map(|n| rate.push(9.75 + f64::from(n) * 0.1)).last();
        assert!((last.flatten().unwrap() - 10.0).abs() < 0.1, "{last:?}");
        // after a long pause the rate is that of the pause
        assert_eq!(rate.push(116.75), Some(0.01));
    }
}
