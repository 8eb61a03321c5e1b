//! Bytes to and from a port that may vanish.
//!
//! The rule inside: every wait can be dropped without losing a byte, because what is unsent stays here and what was
//! received is handed over in the same breath.

use std::time::Duration;

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::time::{Instant, timeout, timeout_at};

use super::port::{Opener, Port, PortError};

/// Bytes read at once; a frame is shorter.
const READ_BYTES: usize = 512;
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
    unsent: Vec<u8>,
}

impl Link {
    pub(super) fn new(opener: Box<dyn Opener>) -> Link {
        Link {
            opener,
            port: None,
            unsent: Vec::new(),
        }
    }

    pub(super) fn reopen(&mut self) -> Result<(), PortError> {
        // a port is held alone, so the old one goes first
        self.port = None;
        self.unsent.clear();
        self.port = Some(self.opener.open()?);
        Ok(())
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
                self.port = None;
                Traffic::Gone
            }
        }
    }

    /// Takes what has arrived already, without waiting; `None` where the port has vanished.
    pub(super) async fn drain(&mut self) -> Option<Vec<u8>> {
        let mut drained = Vec::new();
        let mut bytes = [0; READ_BYTES];
        for _ in 0..DRAIN_READS_MAX {
            match timeout(Duration::ZERO, self.port.as_mut()?.read(&mut bytes)).await {
                Ok(Ok(count)) if 0 < count => drained.extend_from_slice(&bytes[..count]),
                Ok(_) => self.port = None,
                Err(_) => break,
            }
        }
        Some(drained)
    }
}
