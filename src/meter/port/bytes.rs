//! Byte ports: what a meter hangs on, whatever it is, and what can go wrong with one.
//!
//! The rule inside: a port is anything that Tokio can read and write, opened by an [`Opener`] that can open it again;
//! an error is a fact about the equipment and names the next physical act.

use std::future::Future;
use std::pin::Pin;

use tokio::io::{AsyncRead, AsyncWrite};

use crate::explain::Explain;
use crate::system::devices;

/// An open port. Reading nothing (`Ok(0)`) means that the port has vanished; a silent port never ends a read.
pub trait Port: AsyncRead + AsyncWrite + Unpin + Send {}

impl<T: AsyncRead + AsyncWrite + Unpin + Send> Port for T {}

/// A port being opened; dropping it gives up.
pub type Opening = Pin<Box<dyn Future<Output = Result<Box<dyn Port>, PortError>> + Send>>;

/// Opens a port, and opens it again after it was lost.
pub trait Opener: Send {
    /// Opens the port; called inside a Tokio runtime.
    fn open(&self) -> Opening;

    /// The port in words, as the command line names it.
    fn name(&self) -> &str;

    /// True for bytes without a meter behind them, a capture or an input: nothing is asked, and their end is no fault.
    fn is_one_way(&self) -> bool {
        false
    }
}

/// What is wrong with a port.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PortError {
    /// Nothing is there under this name.
    #[error("there is no port `{path}`")]
    NoSuchPort {
        /// The port as it is written.
        path: String,
        /// The ports that are there.
        present: Vec<String>,
    },
    /// The system does not let this user open it.
    #[error("no permission to use the port `{path}`")]
    NoPermission {
        /// The port as it is written.
        path: String,
    },
    /// Another program, or another coreproof, reads it.
    #[error("the port `{path}` is in use by another program")]
    PortInUse {
        /// The port as it is written.
        path: String,
    },
    /// It is there, and is no port that a meter could be at.
    #[error("`{path}` does not work as a meter's port: {why}")]
    NotUsable {
        /// The port as it is written.
        path: String,
        /// What the system says.
        why: String,
    },
    /// A networked instrument does not take the call.
    #[error("nothing answers at `{path}`: {why}")]
    NoAnswer {
        /// The port as it is written.
        path: String,
        /// What the system says.
        why: String,
    },
    /// It was open and is gone: the cable was pulled, or the instrument was switched off.
    #[error("the meter's port `{path}` vanished")]
    Lost {
        /// The port as it is written.
        path: String,
    },
    /// It is there again with another device behind it, whose readings are not this meter's.
    #[error("another USB device is at `{path}` now")]
    AnotherDevice {
        /// The port as it is written.
        path: String,
    },
}

impl Explain for PortError {
    fn hint(&self) -> Option<String> {
        Some(match self {
            PortError::NoSuchPort { present, .. } if present.is_empty() => {
                "no port of this kind is present: plug the meter's cable in".into()
            }
            PortError::NoSuchPort { present, .. } => format!(
                "plug the meter's cable in, or name one of the ports that are present: {}",
                present.join(", ")
            ),
            PortError::NoPermission { path } if path.starts_with("hid:") => {
                "ask whoever looks after this computer for a rule that lets you read this USB cable, then plug it in again"
                    .into()
            }
            PortError::NoPermission { path } => devices::how_to_be_let_in(path),
            PortError::PortInUse { .. } => "close the other program that talks to the meter".into(),
            PortError::NotUsable { .. } => format!("name the meter's serial port, for example {}", devices::EXAMPLE),
            PortError::NoAnswer { .. } => {
                "switch the instrument on, check its network cable, and compare the address with the one it shows".into()
            }
            PortError::Lost { .. } => "plug the meter's cable in again".into(),
            PortError::AnotherDevice { .. } => {
                "unplug the other device, and plug the meter's cable in again".into()
            }
        })
    }

    fn is_equipment(&self) -> bool {
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_port_error_states_a_fact_and_the_next_act() {
        let path = || "/dev/ttyUSB0".to_owned();
        let present = vec!["/dev/ttyUSB1".to_owned(), "/dev/serial/by-id/usb-cable-if00".to_owned()];
        let cases = [
            (
                PortError::NoSuchPort { path: path(), present },
                "there is no port `/dev/ttyUSB0`",
                "plug the meter's cable in, or name one of the ports that are present: /dev/ttyUSB1, \
                 /dev/serial/by-id/usb-cable-if00",
            ),
            (
                PortError::NoSuchPort {
                    path: path(),
                    present: Vec::new(),
                },
                "there is no port `/dev/ttyUSB0`",
                "no port of this kind is present: plug the meter's cable in",
            ),
            (
                PortError::NoPermission { path: path() },
                "no permission to use the port `/dev/ttyUSB0`",
                "type `sudo usermod -aG dialout \"$USER\"`, then log out and in again",
            ),
            (
                PortError::PortInUse { path: path() },
                "the port `/dev/ttyUSB0` is in use by another program",
                "close the other program that talks to the meter",
            ),
            (
                PortError::NotUsable {
                    path: path(),
                    why: "Not a typewriter".into(),
                },
                "`/dev/ttyUSB0` does not work as a meter's port: Not a typewriter",
                "name the meter's serial port, for example /dev/ttyUSB0",
            ),
            (
                PortError::NoPermission {
                    path: "hid:00ab:cdef".into(),
                },
                "no permission to use the port `hid:00ab:cdef`",
                "ask whoever looks after this computer for a rule that lets you read this USB cable, then plug it in again",
            ),
            (
                PortError::AnotherDevice { path: path() },
                "another USB device is at `/dev/ttyUSB0` now",
                "unplug the other device, and plug the meter's cable in again",
            ),
            (
                PortError::NoAnswer {
                    path: "tcp:192.0.2.7:5025".into(),
                    why: "connection refused".into(),
                },
                "nothing answers at `tcp:192.0.2.7:5025`: connection refused",
                "switch the instrument on, check its network cable, and compare the address with the one it shows",
            ),
            (
                PortError::Lost { path: path() },
                "the meter's port `/dev/ttyUSB0` vanished",
                "plug the meter's cable in again",
            ),
        ];
        for (error, text, hint) in cases {
            assert_eq!(error.to_string(), text);
            assert_eq!(error.hint().as_deref(), Some(hint));
            assert!(error.is_equipment());
        }
    }
}
