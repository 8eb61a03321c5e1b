//! Bytes to and from a port that may vanish.
//!
//! The rule inside: every wait can be dropped without losing a byte, because what is unsent stays here and what was
//! received is handed over in the same breath.

use std::time::Duration;

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::time::{Instant, sleep_until, timeout, timeout_at};

use super::{Opener, Opening, Port, PortError};

/// Bytes read at once; no HID report is longer.
const READ_BYTES: usize = 1024;
/// Pause before a lost port is tried again.
const TRY_EVERY: Duration = Duration::from_millis(500);
/// Reads after which draining stops, on a port that never runs dry.
const DRAIN_READS_MAX: usize = 64;

/// What happened on the line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Traffic {
    Sent,
    Received(Vec<u8>),
    /// Nothing until the end of patience.
    Nothing,
    /// The port has vanished, and is closed.
    Gone,
}

/// A port that can be opened again.
pub(super) struct Link {
    opener: Box<dyn Opener>,
    port: Option<Box<dyn Port>>,
    /// An attempt under way, kept so that a dropped wait does not begin it again.
    opening: Option<Opening>,
    /// When a lost port is tried next.
    try_at: Instant,
    unsent: Vec<u8>,
}

impl Link {
    pub(super) fn new(opener: Box<dyn Opener>) -> Link {
        Link {
            opener,
            port: None,
            opening: None,
            try_at: Instant::now(),
            unsent: Vec::new(),
        }
    }

    /// Opens the port. Cancel-safe.
    pub(super) async fn open(&mut self) -> Result<(), PortError> {
        let opening = self.opening.get_or_insert_with(|| self.opener.open());
        let opened = opening.await;
        self.opening = None;
        self.use_port(opened?);
        Ok(())
    }

    /// Waits until a lost port may be tried again, so that a caller who does not wait cannot spin. Cancel-safe.
    pub(super) async fn pause(&mut self) {
        if self.opening.is_none() {
            sleep_until(self.try_at).await;
            self.try_at = Instant::now() + TRY_EVERY;
        }
    }

    /// Goes on with a port that is open already.
    pub(super) fn use_port(&mut self, port: Box<dyn Port>) {
        self.port = Some(port);
    }

    /// A port is held alone, so one that vanished is let go before it can be opened again.
    fn close(&mut self) {
        self.port = None;
        self.unsent.clear();
        self.try_at = Instant::now() + TRY_EVERY;
    }

    pub(super) fn is_one_way(&self) -> bool {
        self.opener.is_one_way()
    }

    pub(super) fn name(&self) -> &str {
        self.opener.name()
    }

    pub(super) fn is_open(&self) -> bool {
        self.port.is_some()
    }

    pub(super) fn has_unsent(&self) -> bool {
        !self.unsent.is_empty()
    }

    /// Puts bytes in line to be sent by [`Link::exchange`].
    pub(super) fn send(&mut self, bytes: &[u8]) {
        self.unsent.extend_from_slice(bytes);
    }

    /// One write if something is unsent, else one read. Cancel-safe.
    pub(super) async fn exchange(&mut self, until: Instant) -> Traffic {
        let Some(port) = &mut self.port else {
            return Traffic::Gone;
        };
        let mut bytes = [0; READ_BYTES];
        let (sending, moved) = if self.unsent.is_empty() {
            (false, timeout_at(until, port.read(&mut bytes)).await)
        } else {
            (true, timeout_at(until, port.write(&self.unsent)).await)
        };
        match moved {
            Err(_) => Traffic::Nothing,
            Ok(Ok(count)) if 0 < count && sending => {
                self.unsent.drain(..count);
                Traffic::Sent
            }
            Ok(Ok(count)) if 0 < count => Traffic::Received(bytes[..count].to_vec()),
            // nothing moved is the end of a port, and so is any error
            Ok(_) => {
                self.close();
                Traffic::Gone
            }
        }
    }

    /// Takes what has arrived already, without waiting. A port that vanished is found gone by the next exchange.
    pub(super) async fn drain(&mut self) -> Vec<u8> {
        let mut drained = Vec::new();
        let mut bytes = [0; READ_BYTES];
        let Some(port) = &mut self.port else { return drained };
        for _ in 0..DRAIN_READS_MAX {
            match timeout(Duration::ZERO, port.read(&mut bytes)).await {
                Ok(Ok(count)) if 0 < count => drained.extend_from_slice(&bytes[..count]),
                _ => break,
            }
        }
        drained
    }
}
