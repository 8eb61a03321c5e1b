//! Byte ports: what a meter hangs on, whatever it is, and what can go wrong with one.
//!
//! The rule inside: a port is anything that Tokio can read and write, opened by an [`Opener`] that can open it again;
//! an error is a fact about the equipment and names the next physical act.

use tokio::io::{AsyncRead, AsyncWrite};

/// An open port. Reading nothing (`Ok(0)`) means that the port has vanished; a silent port never ends a read.
pub trait Port: AsyncRead + AsyncWrite + Unpin + Send {}

impl<T: AsyncRead + AsyncWrite + Unpin + Send> Port for T {}

/// Opens a port, and opens it again after it was lost.
pub trait Opener: Send {
    /// Opens the port; called inside a Tokio runtime.
    fn open(&self) -> Result<Box<dyn Port>, PortError>;

    /// The port in words, usually its path.
    fn name(&self) -> &str;
}

/// What is wrong with a port.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PortError {
    #[error("there is no port `{path}`")]
    NoSuchPort {
        path: String,
        /// The ports that are there.
        present: Vec<String>,
    },
    #[error("no permission to use the port `{path}`")]
    NoPermission { path: String },
    #[error("the port `{path}` is in use by another program")]
    PortInUse { path: String },
    #[error("`{path}` does not work as a serial port: {why}")]
    NotUsable { path: String, why: String },
    #[error("the meter's port `{path}` vanished")]
    Lost { path: String },
}

impl PortError {
    /// The next physical act.
    pub fn hint(&self) -> Option<String> {
        Some(match self {
            PortError::NoSuchPort { present, .. } if present.is_empty() => {
                "no serial port is present: plug the meter's cable in".into()
            }
            PortError::NoSuchPort { present, .. } => format!(
                "plug the meter's cable in, or name one of the ports that are present: {}",
                present.join(", ")
            ),
            PortError::NoPermission { .. } => {
                "become a member of the group `dialout`, log out and in again, or ask whoever looks after this computer"
                    .into()
            }
            PortError::PortInUse { .. } => "close the other program that talks to the meter".into(),
            PortError::NotUsable { .. } => "name the meter's serial port, for example /dev/ttyUSB0".into(),
            PortError::Lost { .. } => "plug the meter's cable in again".into(),
        })
    }

    /// True for what is wrong with equipment rather than with a file or an argument: always, here.
    pub fn is_equipment(&self) -> bool {
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
                "no serial port is present: plug the meter's cable in",
            ),
            (
                PortError::NoPermission { path: path() },
                "no permission to use the port `/dev/ttyUSB0`",
                "become a member of the group `dialout`, log out and in again, or ask whoever looks after this computer",
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
                "`/dev/ttyUSB0` does not work as a serial port: Not a typewriter",
                "name the meter's serial port, for example /dev/ttyUSB0",
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
