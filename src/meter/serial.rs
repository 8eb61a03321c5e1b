//! Serial ports: opened with a profile's line settings, and listed.
//!
//! The rule inside: the port is held alone, and a port without modem lines (a pseudo-terminal, some adapters) is as
//! good as one with them.

use std::io;
use std::path::Path;

use tokio_serial::{DataBits, ErrorKind, SerialPort, SerialPortBuilderExt, SerialStream, StopBits};

use super::port::{Opener, Port, PortError};
use super::profile::{Line, Parity};

/// A serial port by its path, with the settings of its line.
#[derive(Debug, Clone)]
pub struct SerialPath {
    path: String,
    line: Line,
}

impl SerialPath {
    /// Names a port; nothing is opened yet.
    pub fn new(path: impl Into<String>, line: &Line) -> SerialPath {
        SerialPath {
            path: path.into(),
            line: line.clone(),
        }
    }

    fn open_stream(&self) -> Result<SerialStream, PortError> {
        let mut stream = tokio_serial::new(&self.path, self.line.baud)
            .data_bits(data_bits(self.line.data_bits))
            .parity(parity(self.line.parity))
            .stop_bits(stop_bits(self.line.stop_bits))
            .open_native_async()
            .map_err(|error| error_of(&self.path, &error))?;
        // a port without modem lines refuses these (ENOTTY, EINVAL), and needs neither: nothing is lost by going on
        let _ = stream.write_data_terminal_ready(self.line.dtr);
        let _ = stream.write_request_to_send(self.line.rts);
        Ok(stream)
    }
}

impl Opener for SerialPath {
    fn open(&self) -> Result<Box<dyn Port>, PortError> {
        Ok(Box::new(self.open_stream()?))
    }

    fn name(&self) -> &str {
        &self.path
    }
}

/// The serial ports that are present: device paths first, then the names that stay the same from day to day.
pub fn present() -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    // the listing panics where this folder is missing, as in some containers
    if !cfg!(target_os = "linux") || Path::new("/sys/class/tty").is_dir() {
        names.extend(
            serialport::available_ports()
                .unwrap_or_default()
                .into_iter()
                .map(|port| port.port_name),
        );
    }
    let by_id = std::fs::read_dir("/dev/serial/by-id").into_iter().flatten().flatten();
    names.extend(by_id.map(|entry| entry.path().display().to_string()));
    names.sort();
    names
}

fn error_of(path: &str, error: &tokio_serial::Error) -> PortError {
    let path = path.to_owned();
    match error.kind {
        ErrorKind::Io(io::ErrorKind::NotFound) => PortError::NoSuchPort {
            path,
            present: present(),
        },
        ErrorKind::Io(io::ErrorKind::PermissionDenied) => PortError::NoPermission { path },
        // the library's word for a port whose lock another handle holds
        ErrorKind::NoDevice => PortError::PortInUse { path },
        _ => PortError::NotUsable {
            path,
            why: error.description.clone(),
        },
    }
}

fn data_bits(count: u8) -> DataBits {
    match count {
        5 => DataBits::Five,
        6 => DataBits::Six,
        7 => DataBits::Seven,
        8 => DataBits::Eight,
        other => unreachable!("a checked profile has 5 to 8 data bits, not {other}"),
    }
}

fn parity(parity: Parity) -> tokio_serial::Parity {
    match parity {
        Parity::None => tokio_serial::Parity::None,
        Parity::Odd => tokio_serial::Parity::Odd,
        Parity::Even => tokio_serial::Parity::Even,
    }
}

fn stop_bits(count: u8) -> StopBits {
    match count {
        1 => StopBits::One,
        2 => StopBits::Two,
        other => unreachable!("a checked profile has 1 or 2 stop bits, not {other}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::profile::find;

    fn open(path: &str) -> Result<SerialStream, PortError> {
        SerialPath::new(path, &find("line-stream").unwrap().line).open_stream()
    }

    #[tokio::test]
    async fn a_path_that_is_not_there_lists_what_is() {
        let error = open("/dev/no-such-meter").unwrap_err();
        assert_eq!(
            error,
            PortError::NoSuchPort {
                path: "/dev/no-such-meter".into(),
                present: present()
            }
        );
    }

    #[tokio::test]
    async fn a_port_that_is_held_is_in_use() {
        let (_meter, slave) = SerialStream::pair().unwrap();
        let path = slave.name().unwrap();
        drop(slave);
        let first = open(&path).unwrap();
        assert_eq!(open(&path).unwrap_err(), PortError::PortInUse { path: path.clone() });
        drop(first);
        open(&path).unwrap();
    }

    #[tokio::test]
    async fn a_plain_file_is_no_port() {
        let file = tempfile::NamedTempFile::new().unwrap();
        let path = file.path().display().to_string();
        let PortError::NotUsable { why, .. } = open(&path).unwrap_err() else {
            panic!("a file was opened")
        };
        assert!(!why.is_empty());
    }

    #[test]
    fn library_errors_become_facts() {
        let of = |kind| error_of("/dev/x", &tokio_serial::Error::new(kind, "why"));
        let path = || "/dev/x".to_owned();
        let no_permission = of(ErrorKind::Io(io::ErrorKind::PermissionDenied));
        assert_eq!(no_permission, PortError::NoPermission { path: path() });
        assert_eq!(of(ErrorKind::NoDevice), PortError::PortInUse { path: path() });
        let other = PortError::NotUsable {
            path: path(),
            why: "why".into(),
        };
        assert_eq!(of(ErrorKind::Unknown), other);
    }
}
