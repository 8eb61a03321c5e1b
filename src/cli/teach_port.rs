//! The port of the meter that is taught: which, how it is listened to, and some bytes of it.
//!
//! The rule inside: a port that ends is lost; silence is not.

use std::path::PathBuf;
use std::time::Duration;

use tokio::io::AsyncReadExt;
use tokio::time::{Instant, timeout_at};

use super::error::Failure;
use crate::meter::find::setting::SPEEDS;
use crate::meter::port::{Port, PortError};

/// Levels of Data Terminal Ready and Request To Send that are tried: many optical cables are fed from one or both.
pub(super) const LEVELS: [(bool, bool); 3] = [(true, false), (true, true), (false, true)];

/// What was asked for on the command line.
#[derive(Debug, Clone)]
pub(super) struct Asked {
    /// Path of the serial port.
    pub port: String,
    /// The profile file to be written; it must not exist.
    pub out: PathBuf,
    /// Speeds to listen at, in bits a second; empty for the usual ones.
    pub speeds: Vec<u32>,
    /// How long to listen at each speed, and how long a display must have stood before it is typed.
    pub listen: Duration,
}

impl Asked {
    /// The speeds to be tried, the commonest first.
    pub(super) fn speeds(&self) -> &[u32] {
        if self.speeds.is_empty() { &SPEEDS } else { &self.speeds }
    }
}

/// Some bytes; `None` when the time is over.
pub(super) async fn read(asked: &Asked, port: &mut dyn Port, end: Instant) -> Result<Option<Vec<u8>>, Failure> {
    let mut buffer = [0; 1024];
    match timeout_at(end, port.read(&mut buffer)).await {
        Err(_) => Ok(None),
        Ok(Ok(count)) if 0 < count => Ok(Some(buffer[..count].to_vec())),
        Ok(_) => Err(PortError::Lost {
            path: asked.port.clone(),
        }
        .into()),
    }
}
