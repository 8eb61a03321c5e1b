//! A meter: a port, a profile, and what comes out of the two together.
//!
//! The rule inside: all state lives in the [`Meter`], none in the future of [`Meter::next`], so that dropping the
//! future at any moment loses no byte and sends nothing twice. A meter that is asked never has two questions open.

use std::time::Duration;

use tokio::time::Instant;

use super::event::MeterEvent;
use super::link::{Link, Traffic};
use super::serial::SerialPath;
use super::{Opener, PortError};
use crate::meter::decode::frame::{Framer, Piece};
use crate::meter::decode::{Decoded, Period, Profile, Talk, decode};

/// Frames in a row that mean nothing before the profile itself is doubted.
const MISFITS_MAX: u32 = 5;

/// Longer than anybody listens.
const NEVER: Duration = Duration::from_secs(365 * 24 * 3600);

/// Whether a question to the meter is open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Asking {
    /// This meter is not asked.
    Never,
    Idle,
    Waiting,
    /// Waiting for an answer that was asked for before [`Meter::discard`], and will be dropped.
    WaitingStale,
}

/// A meter on an open port.
pub struct Meter {
    link: Link,
    profile: Profile,
    framer: Framer,
    asking: Asking,
    /// Since when nothing was heard.
    quiet_since: Instant,
    /// Bytes that arrived since then without ending a frame.
    unframed: usize,
    misfits: u32,
}

impl Meter {
    /// Opens a meter; called inside a Tokio runtime.
    pub async fn open(opener: Box<dyn Opener>, profile: Profile) -> Result<Meter, PortError> {
        let mut meter = Meter::closed(opener, profile);
        meter.link.open().await?;
        meter.begin();
        Ok(meter)
    }

    /// Opens a meter on a serial port at once; called inside a Tokio runtime.
    pub fn open_serial(path: &str, profile: Profile) -> Result<Meter, PortError> {
        let opener = SerialPath::new(path, &profile.line);
        let port = opener.open_now()?;
        let mut meter = Meter::closed(Box::new(opener), profile);
        meter.link.use_port(port);
        meter.begin();
        Ok(meter)
    }

    fn closed(opener: Box<dyn Opener>, profile: Profile) -> Meter {
        Meter {
            link: Link::new(opener),
            framer: Framer::new(&profile.frame, true),
            profile,
            asking: Asking::Never,
            quiet_since: Instant::now(),
            unframed: 0,
            misfits: 0,
        }
    }

    /// Starts on a port that was just opened: what was open or half here is forgotten, the set-up is sent.
    fn begin(&mut self) {
        self.framer.clear(true);
        self.asking = Asking::Never;
        if let Talk::Query { setup, end, .. } = &self.profile.talk
            && !self.link.is_one_way()
        {
            self.asking = Asking::Idle;
            for line in setup {
                self.link.send(&[line.as_bytes(), end.as_bytes()].concat());
            }
        }
        self.misfits = 0;
        self.heard();
    }

    /// The profile that decodes this meter.
    pub fn profile(&self) -> &Profile {
        &self.profile
    }

    /// The port's name.
    pub fn port_name(&self) -> &str {
        self.link.name()
    }

    /// Waits for what the meter does next. A meter that is asked is asked once for each frame; a port that was lost is
    /// opened again when it comes back. A port that is still away, or at its end, says so again after each pause.
    ///
    /// Cancel-safe: dropping the future loses nothing, and the next call goes on where it stood.
    pub async fn next(&mut self) -> MeterEvent {
        loop {
            while let Some(piece) = self.framer.poll() {
                if let Some(event) = self.judge(piece) {
                    return event;
                }
            }
            if !self.link.is_open() {
                return self.come_back().await;
            }
            if self.asking == Asking::Idle {
                self.forget_unasked().await;
                self.ask();
            }
            // one that sends on change has nothing to say while its display stands
            let quiet = match self.profile.period {
                Period::OnChange if self.unframed == 0 => NEVER,
                _ => Duration::from_millis(u64::from(self.profile.quiet_ms_max)),
            };
            let patience = self.quiet_since + quiet;
            match self.link.exchange(patience).await {
                Traffic::Sent => {}
                Traffic::Received(bytes) => {
                    self.unframed += bytes.len();
                    self.framer.push(&bytes);
                }
                Traffic::Nothing => return self.silent(),
                Traffic::Gone => return self.gone(),
            }
        }
    }

    async fn come_back(&mut self) -> MeterEvent {
        self.link.pause().await;
        if self.link.is_one_way() {
            return self.gone();
        }
        match self.link.open().await {
            Ok(()) => {
                self.begin();
                MeterEvent::Back {
                    port: self.link.name().to_owned(),
                }
            }
            // it is still away, which was said
            Err(PortError::NoSuchPort { path, .. }) => MeterEvent::Lost(PortError::Lost { path }),
            Err(error) => MeterEvent::Lost(error),
        }
    }

    fn gone(&self) -> MeterEvent {
        let port = self.link.name().to_owned();
        if self.link.is_one_way() {
            MeterEvent::Ended { port }
        } else {
            MeterEvent::Lost(PortError::Lost { path: port })
        }
    }

    /// Forgets what has arrived so far, so that the next frame is one that was sent from now on. Call it whenever
    /// listening begins after a pause: a port keeps what a meter sent while nobody listened.
    pub async fn discard(&mut self) {
        self.forget_arrived().await;
        self.heard();
    }

    /// Forgets what nobody asked for. Where nothing of that kind came, the answers before may still confirm the next one.
    async fn forget_unasked(&mut self) {
        let arrived = self.link.drain().await;
        if !arrived.is_empty() || !self.framer.is_empty() {
            self.framer.clear(false);
        }
    }

    async fn forget_arrived(&mut self) {
        let arrived = self.link.drain().await;
        self.framer.push(&arrived);
        while let Some(piece) = self.framer.poll() {
            if matches!(piece, Piece::Frame { .. } | Piece::Unconfirmed) {
                self.answered();
            }
        }
        match self.asking {
            // what a stream sends next may begin in mid-frame
            Asking::Never => self.framer.clear(true),
            Asking::Idle => self.framer.clear(false),
            // an answer on its way, perhaps half here, was asked for too early
            Asking::Waiting | Asking::WaitingStale => self.asking = Asking::WaitingStale,
        }
    }

    fn ask(&mut self) {
        if let Talk::Query { ask, end, .. } = &self.profile.talk {
            self.link.send(&[ask.as_bytes(), end.as_bytes()].concat());
            self.asking = Asking::Waiting;
            self.heard();
        }
    }

    /// Whether what arrived was asked for too early; then it confirms nothing either.
    fn drop_stale(&mut self) -> bool {
        let stale = self.asking == Asking::WaitingStale;
        if stale {
            self.framer.clear(false);
        }
        stale
    }

    fn answered(&mut self) {
        if self.asking != Asking::Never {
            self.asking = Asking::Idle;
        }
    }

    fn heard(&mut self) {
        self.quiet_since = Instant::now();
        self.unframed = 0;
    }

    fn judge(&mut self, piece: Piece) -> Option<MeterEvent> {
        self.heard();
        let decoded = match piece {
            Piece::Dropped(_) => None,
            // the next frame has to say the same first
            Piece::Unconfirmed => {
                self.drop_stale();
                self.answered();
                return None;
            }
            Piece::Frame { bytes, partial } => {
                let stale = self.drop_stale();
                self.answered();
                if stale {
                    return None;
                }
                match decode(&self.profile, &bytes) {
                    Decoded::NotUnderstood(_) if partial => return None,
                    decoded => Some(decoded),
                }
            }
        };
        match decoded {
            Some(decoded @ (Decoded::Reading(_) | Decoded::Refused(_))) => {
                self.misfits = 0;
                Some(MeterEvent::Frame(decoded))
            }
            misfit => {
                self.misfits += 1;
                if self.misfits < MISFITS_MAX {
                    misfit.map(MeterEvent::Frame)
                } else {
                    Some(self.garbage())
                }
            }
        }
    }

    fn garbage(&mut self) -> MeterEvent {
        MeterEvent::Garbage {
            count: std::mem::take(&mut self.misfits),
            profile: self.profile.name.clone(),
            baud: self.profile.line.baud,
        }
    }

    fn silent(&mut self) -> MeterEvent {
        // a question that could not be sent stays open; one that was not answered is given up
        if !self.link.has_unsent() {
            self.answered();
        }
        // bytes that never end a frame are not silence
        let babble = 0 < self.unframed;
        self.framer.clear(self.asking == Asking::Never);
        self.heard();
        if babble {
            self.misfits += 1;
            self.garbage()
        } else {
            MeterEvent::Silent {
                quiet_ms: self.profile.quiet_ms_max,
            }
        }
    }
}

#[cfg(test)]
mod tests;
