//! One port listened to at one setting after the other, until something that a profile reads is heard.
//!
//! The rule inside: nothing is sent; the port is opened once and set anew, since opening it again would raise its lines again. A burst of
//! bytes comes at any speed, as nonsense: a port that keeps silent needs one setting, one that sends is heard once at each.

use std::time::Duration;

use tokio::io::AsyncReadExt;
use tokio::time::{Instant, timeout_at};
use tokio_serial::SerialStream;

use super::fit::{Fit, fit, words};
use super::setting::{heard_as, levels, settings};
use crate::meter::decode::{Line, Profile, Talk};
use crate::meter::port::PortError;
use crate::meter::port::event::MeterEvent;
use crate::meter::port::serial::{SerialPath, retune};
use crate::meter::port::source::Meter;

/// How long a port is waited for that has said nothing yet: longer than half a second, the first time round; then longer than two.
const SILENT: [Duration; 2] = [Duration::from_millis(800), Duration::from_millis(2500)];
/// A pause between two sendings; bytes of one come closer together at any usual speed.
const PAUSE: Duration = Duration::from_millis(80);
/// How long one setting is listened to that gives bytes and no frame.
const SETTING: Duration = Duration::from_millis(1000);
/// How long a second frame is waited for.
const SECOND: Duration = Duration::from_millis(2500);
/// Bytes that are enough to tell.
const BYTES: usize = 2000;
/// How long an answer is waited for.
const ANSWER: Duration = Duration::from_millis(1200);

/// What was heard on a port.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Heard {
    /// Profiles that read it, by their places in the list, all at one setting.
    Reads(Vec<Match>),
    /// Bytes that no profile reads; at so many of so many settings.
    NotUnderstood {
        /// Settings that were listened at.
        tried: usize,
        /// Settings that there are.
        of: usize,
    },
    /// Not one byte.
    Nothing,
    /// It could not be opened, or vanished.
    Refused(PortError),
}

/// A profile that reads what a port sends.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Match {
    /// Its place in the list of profiles.
    pub profile: usize,
    /// The speed at which it was heard, in bits a second.
    pub baud: u32,
    /// What the display shows.
    pub shows: String,
}

/// Listens to a port until a profile reads it, or until then. Called inside a Tokio runtime; sends nothing.
pub async fn listen(path: &str, profiles: &[Profile], until: Instant) -> Heard {
    let levels = levels(profiles);
    let Some(level) = levels.first() else {
        return Heard::Nothing;
    };
    let Some(first) = settings(profiles, *level).into_iter().next() else {
        return Heard::Nothing;
    };
    let stream = match SerialPath::new(path, &first).open_stream() {
        Ok(stream) => stream,
        Err(error) => return Heard::Refused(error),
    };
    let mut ear = Ear {
        path: path.to_owned(),
        profiles,
        stream,
        until,
    };
    ear.listen(&levels).await.unwrap_or_else(Heard::Refused)
}

struct Ear<'p> {
    path: String,
    profiles: &'p [Profile],
    stream: SerialStream,
    until: Instant,
}

impl Ear<'_> {
    async fn listen(&mut self, levels: &[(bool, bool)]) -> Result<Heard, PortError> {
        let mut told = Heard::Nothing;
        for round in 0.. {
            let silent = SILENT[SILENT.len().min(round + 1) - 1];
            for level in levels {
                let all = settings(self.profiles, *level);
                self.set(&all[0])?;
                if self.read(Instant::now() + silent).await?.is_empty() {
                    if self.until <= Instant::now() {
                        return Ok(told);
                    }
                    continue;
                }
                for (tried, line) in all.iter().enumerate() {
                    if self.until <= Instant::now() {
                        return Ok(told);
                    }
                    let matches = self.at(line).await?;
                    if !matches.is_empty() {
                        return Ok(Heard::Reads(self.at_their_own(matches, line).await?));
                    }
                    let of = all.len();
                    let tried = tried + 1;
                    if !matches!(told, Heard::NotUnderstood { tried: more, .. } if tried < more) {
                        told = Heard::NotUnderstood { tried, of };
                    }
                }
            }
        }
        unreachable!("the rounds end with the time")
    }

    fn set(&mut self, line: &Line) -> Result<(), PortError> {
        retune(&mut self.stream, &self.path, line)
    }

    /// Whatever comes next, until then; nothing where nothing does.
    async fn read(&mut self, until: Instant) -> Result<Vec<u8>, PortError> {
        let mut bytes = [0; 1024];
        match timeout_at(until.min(self.until), self.stream.read(&mut bytes)).await {
            Err(_) => Ok(Vec::new()),
            Ok(Ok(count)) if 0 < count => Ok(bytes[..count].to_vec()),
            Ok(_) => Err(PortError::Lost {
                path: self.path.clone(),
            }),
        }
    }

    /// Listens at one setting: the profiles that surely read it.
    async fn at(&mut self, line: &Line) -> Result<Vec<Match>, PortError> {
        self.set(line)?;
        let began = Instant::now();
        let mut end = began + SILENT[1];
        let mut heard: Vec<u8> = Vec::new();
        // the sending that goes on was heard from its beginning; a frame was read already
        let (mut whole, mut read, mut last) = (false, false, None::<Instant>);
        loop {
            let until = match last {
                Some(last) if !read => end.min(last + PAUSE),
                _ => end,
            };
            let some = self.read(until).await?;
            let now = Instant::now();
            if some.is_empty() {
                if end <= now || self.until <= now || whole {
                    return Ok(Vec::new());
                }
                // half a sending says nothing; the next one comes from its beginning
                (whole, last, end) = (true, None, now + SILENT[1]);
                continue;
            }
            if heard.is_empty() {
                whole = PAUSE < now - began;
                end = now + SETTING;
            }
            last = Some(now);
            heard.extend(some);
            let fits = self.fits(line, &heard);
            if fits.iter().any(|(_, fit)| fit.is_sure()) {
                let sure = fits.into_iter().filter(|(_, fit)| fit.is_sure());
                let told = sure.map(|(profile, fit)| Match {
                    profile,
                    baud: line.baud,
                    shows: fit.shows,
                });
                return Ok(told.collect());
            }
            if !read && !fits.is_empty() {
                (read, end) = (true, now + SECOND);
            }
            if BYTES <= heard.len() {
                return Ok(Vec::new());
            }
        }
    }

    /// What each profile for such a line makes of what was heard.
    fn fits(&self, line: &Line, heard: &[u8]) -> Vec<(usize, Fit)> {
        let all = self.profiles.iter().enumerate();
        let alike = all.filter(|(_, profile)| is_alike(&heard_as(&profile.line), line));
        alike
            .filter_map(|(n, profile)| Some((n, fit(profile, heard)?)))
            .collect()
    }

    /// The same at the speeds that the profiles name, where they are read there too: a cable without a real line gives the same bytes at
    /// any speed.
    async fn at_their_own(&mut self, matches: Vec<Match>, line: &Line) -> Result<Vec<Match>, PortError> {
        let mut told = Vec::new();
        for one in matches {
            let own = self.profiles[one.profile].line.baud;
            if own == one.baud {
                told.push(one);
                continue;
            }
            let own = Line {
                baud: own,
                ..line.clone()
            };
            let there = self
                .at(&own)
                .await?
                .into_iter()
                .find(|there| there.profile == one.profile);
            told.push(there.unwrap_or(one));
        }
        Ok(told)
    }
}

/// The same but for the speed and the levels.
fn is_alike(one: &Line, other: &Line) -> bool {
    (one.data_bits, one.parity) == (other.data_bits, other.parity)
}

/// Asks on a port that a person named, by each profile of a meter that answers, at the speed that it names.
pub async fn ask(path: &str, profiles: &[Profile]) -> Heard {
    for (n, profile) in profiles.iter().enumerate() {
        if profile.talk == Talk::Stream {
            continue;
        }
        let mut meter = match Meter::open_serial(path, profile.clone()) {
            Ok(meter) => meter,
            Err(error) => return Heard::Refused(error),
        };
        let until = Instant::now() + ANSWER;
        while let Ok(event) = timeout_at(until, meter.next()).await {
            let MeterEvent::Frame(decoded) = event else { continue };
            if let Some(shows) = words(decoded) {
                return Heard::Reads(vec![Match {
                    profile: n,
                    baud: profile.line.baud,
                    shows,
                }]);
            }
        }
    }
    Heard::Nothing
}
