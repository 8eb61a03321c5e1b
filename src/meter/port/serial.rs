//! Serial ports: opened with a profile's line settings, and listed.
//!
//! The rule inside: the port is held alone, and a port without modem lines (a pseudo-terminal, some adapters) is as
//! good as one with them.

use std::io;
use std::sync::{Arc, OnceLock};

use tokio_serial::{ClearBuffer, DataBits, ErrorKind, SerialPort, SerialPortBuilderExt, SerialStream, StopBits};

use super::{Opener, Opening, Port, PortError};
use crate::meter::decode::{Line, Parity};
use crate::system::devices::{self, StableNames};

/// Lists the serial ports that are present.
type Listing = Arc<dyn Fn() -> Vec<Present> + Send + Sync>;

/// A serial port by its path, with the settings of its line. Once it was open it is known by its USB identity where it has one, and
/// found by that when it comes back under another name.
#[derive(Clone)]
pub struct SerialPath {
    path: String,
    line: Line,
    listing: Listing,
    device: Arc<OnceLock<Option<Known>>>,
}

/// The device that was here when the port was first open.
#[derive(Debug, Clone)]
struct Known {
    usb: UsbIdentity,
    /// No other of its kind was there: then one that comes back is it, even without a number of its own.
    alone: bool,
}

impl SerialPath {
    /// Names a port; nothing is opened yet.
    pub fn new(path: impl Into<String>, line: &Line) -> SerialPath {
        SerialPath::among(path, line, Arc::new(listed))
    }

    fn among(path: impl Into<String>, line: &Line, listing: Listing) -> SerialPath {
        SerialPath {
            path: path.into(),
            line: line.clone(),
            listing,
            device: Arc::new(OnceLock::new()),
        }
    }

    /// Opens the port at once; called inside a Tokio runtime.
    pub(super) fn open_now(&self) -> Result<Box<dyn Port>, PortError> {
        Ok(Box::new(self.open_stream()?))
    }

    /// The same, as the port of a line that is set anew later.
    pub(in crate::meter) fn open_stream(&self) -> Result<SerialStream, PortError> {
        let path = self.path_now()?;
        let stream = self.open_at(&path)?;
        self.device.get_or_init(|| {
            let ports = (self.listing)();
            let usb = ports.iter().find(|port| port.has_name(&path))?.usb.clone()?;
            let alike = ports.iter().filter(|port| port.usb.as_ref() == Some(&usb));
            let alone = alike.count() == 1;
            Some(Known { usb, alone })
        });
        Ok(stream)
    }

    /// Where the device is now that was here when the port was first open.
    fn path_now(&self) -> Result<String, PortError> {
        let Some(known) = self.device.get().and_then(Option::as_ref) else {
            return Ok(self.path.clone());
        };
        let ports = (self.listing)();
        let is_it = |port: &&Present| port.usb.as_ref() == Some(&known.usb);
        let named = ports.iter().find(|port| port.has_name(&self.path));
        // without a number of their own two cables of one make cannot be told apart
        let told_apart = known.usb.serial.is_some() || (known.alone && ports.iter().filter(is_it).count() == 1);
        let moved = ports.iter().find(is_it).filter(|_| told_apart);
        match (named, moved) {
            (Some(named), _) if is_it(&named) => Ok(self.path.clone()),
            (_, Some(moved)) => {
                tracing::info!(from = %self.path, to = %moved.path, "the meter's cable came back under another name");
                Ok(moved.path.clone())
            }
            (Some(_), None) => Err(PortError::AnotherDevice {
                path: self.path.clone(),
            }),
            // it is for the opening to say that nothing is there
            (None, None) => Ok(self.path.clone()),
        }
    }

    fn open_at(&self, path: &str) -> Result<SerialStream, PortError> {
        let mut stream = tokio_serial::new(path, self.line.baud)
            .data_bits(data_bits(self.line.data_bits))
            .parity(parity(self.line.parity))
            .stop_bits(stop_bits(self.line.stop_bits))
            .open_native_async()
            .map_err(|error| error_of(path, &error))?;
        // a port without modem lines refuses these (ENOTTY, EINVAL), and needs neither: nothing is lost by going on
        let _ = stream.write_data_terminal_ready(self.line.dtr);
        let _ = stream.write_request_to_send(self.line.rts);
        Ok(stream)
    }
}

/// Sets an open port anew; what arrived before is forgotten.
pub(in crate::meter) fn retune(stream: &mut SerialStream, path: &str, line: &Line) -> Result<(), PortError> {
    let set = |stream: &mut SerialStream| {
        stream.set_baud_rate(line.baud)?;
        stream.set_data_bits(data_bits(line.data_bits))?;
        stream.set_parity(parity(line.parity))?;
        stream.set_stop_bits(stop_bits(line.stop_bits))?;
        stream.clear(ClearBuffer::Input)
    };
    set(stream).map_err(|error| error_of(path, &error))?;
    let _ = stream.write_data_terminal_ready(line.dtr);
    let _ = stream.write_request_to_send(line.rts);
    Ok(())
}

impl Opener for SerialPath {
    fn open(&self) -> Opening {
        let path = self.clone();
        Box::pin(async move { path.open_now() })
    }

    fn name(&self) -> &str {
        &self.path
    }
}

/// What a USB port says of itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UsbIdentity {
    /// Number of the vendor.
    pub vendor: u16,
    /// Number of the product.
    pub product: u16,
    /// Serial number, where the cable has one: it tells two of a kind apart.
    pub serial: Option<String>,
    /// What it says of its maker.
    pub maker: Option<String>,
    /// What it calls itself.
    pub about: Option<String>,
}

/// A serial port that is present.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Present {
    /// The name it is opened by.
    pub path: String,
    /// Where the platform gives it.
    pub usb: Option<UsbIdentity>,
    /// Names of the same port that stay the same from day to day.
    pub stable: Vec<String>,
}

impl Present {
    /// Whether it is called so, by its device or by a name that stays.
    pub fn has_name(&self, name: &str) -> bool {
        self.path == name || self.stable.iter().any(|stable| stable == name)
    }
}

/// The serial ports that are present, by path.
pub fn listed() -> Vec<Present> {
    let found = if devices::can_be_listed() {
        serialport::available_ports().unwrap_or_default()
    } else {
        Vec::new()
    };
    let names = StableNames::now();
    let mut ports: Vec<Present> = found
        .into_iter()
        .map(|port| Present {
            usb: identity(port.port_type),
            stable: names.of(&port.port_name),
            path: port.port_name,
        })
        .collect();
    ports.sort_by(|one, other| one.path.cmp(&other.path));
    ports
}

/// Every name of a serial port that is present: device paths first, then the names that stay the same.
pub fn present() -> Vec<String> {
    let ports = listed();
    let paths: Vec<String> = ports.iter().map(|port| port.path.clone()).collect();
    let stable = ports.into_iter().flat_map(|port| port.stable);
    paths.into_iter().chain(stable).collect()
}

fn identity(port: serialport::SerialPortType) -> Option<UsbIdentity> {
    match port {
        serialport::SerialPortType::UsbPort(usb) => Some(UsbIdentity {
            vendor: usb.vid,
            product: usb.pid,
            serial: usb.serial_number,
            maker: usb.manufacturer,
            about: usb.product,
        }),
        _ => None,
    }
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

    /// Ports as a platform may list them; the identity by its number.
    type Listed = Arc<std::sync::Mutex<Vec<(String, Option<&'static str>)>>>;

    fn among(path: &str, ports: &Listed) -> SerialPath {
        let ports = ports.clone();
        let present = move |(path, serial): &(String, Option<&'static str>)| Present {
            path: path.clone(),
            usb: Some(UsbIdentity {
                vendor: 0x00ab,
                product: 0xcdef,
                serial: serial.map(str::to_owned),
                maker: None,
                about: None,
            }),
            stable: Vec::new(),
        };
        let listing = move || ports.lock().unwrap().iter().map(&present).collect();
        SerialPath::among(path, &find("line-stream").unwrap().line, Arc::new(listing))
    }

    #[tokio::test]
    async fn a_cable_that_comes_back_under_another_name_is_found() {
        let pairs = [SerialStream::pair().unwrap(), SerialStream::pair().unwrap()];
        let [old, new] = [&pairs[0].1, &pairs[1].1].map(|slave| slave.name().unwrap());
        let held = pairs.map(|(meter, slave)| {
            drop(slave);
            meter
        });
        let ports: Listed = Arc::default();
        let lists = |now: &[(&str, Option<&'static str>)]| {
            *ports.lock().unwrap() = now.iter().map(|(path, serial)| ((*path).to_owned(), *serial)).collect();
        };
        lists(&[(&old, Some("0417"))]);
        let port = among(&old, &ports);
        assert_eq!(port.open_stream().unwrap().name().unwrap(), old);
        for (now, expected) in [
            (vec![(new.as_str(), Some("0417"))], Ok(new.clone())),
            // another cable under the old name is not taken for it
            (vec![(old.as_str(), Some("9")), (&new, Some("0417"))], Ok(new.clone())),
            (
                vec![(old.as_str(), Some("9"))],
                Err(PortError::AnotherDevice { path: old.clone() }),
            ),
            (vec![(old.as_str(), Some("0417")), (&new, Some("9"))], Ok(old.clone())),
        ] {
            lists(&now);
            assert_eq!(
                port.open_stream().map(|stream| stream.name().unwrap()),
                expected,
                "{now:?}"
            );
        }
        // a cable without a number of its own is found where no other of its kind is there, before and after
        let elsewhere = |nameless: &SerialPath| nameless.open_stream().map(|stream| stream.name().unwrap());
        lists(&[(&old, None)]);
        let alone = among(&old, &ports);
        alone.open_stream().unwrap();
        lists(&[(&new, None)]);
        assert_eq!(elsewhere(&alone), Ok(new.clone()));
        lists(&[(&old, Some("9")), (&new, None)]);
        assert_eq!(elsewhere(&alone), Ok(new.clone()));
        lists(&[(&old, Some("9")), (&new, None), ("/dev/third", None)]);
        assert_eq!(
            elsewhere(&alone),
            Err(PortError::AnotherDevice { path: old.clone() }),
            "one of two alike may be another meter"
        );
        // one of two alike stays where it was named
        lists(&[(&old, None), (&new, None)]);
        let of_two = among(&old, &ports);
        of_two.open_stream().unwrap();
        lists(&[(&new, None)]);
        assert_eq!(elsewhere(&of_two), Ok(old.clone()));
        lists(&[(&old, Some("9")), (&new, None)]);
        assert_eq!(elsewhere(&of_two), Err(PortError::AnotherDevice { path: old.clone() }));
        drop(held);
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
    fn usb_ports_say_who_they_are() {
        let usb = serialport::SerialPortType::UsbPort(serialport::UsbPortInfo {
            vid: 0x00ab,
            pid: 0xcdef,
            serial_number: Some("0417".into()),
            manufacturer: None,
            product: Some("optical cable".into()),
        });
        let expected = UsbIdentity {
            vendor: 0x00ab,
            product: 0xcdef,
            serial: Some("0417".into()),
            maker: None,
            about: Some("optical cable".into()),
        };
        assert_eq!(identity(usb), Some(expected));
        assert_eq!(identity(serialport::SerialPortType::Unknown), None);
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
