//! A port as the command line names it.
//!
//! The rule inside: what is written is understood or refused before anything is opened; a word before a colon that
//! names no kind of port is never taken for a path.

use std::path::Path;

use super::Opener;
use super::recording::{Recording, RecordingError};
use super::replay::Replay;
use super::serial::SerialPath;
use super::stdin::StandardInput;
use super::tcp::TcpAddress;
use crate::explain::Explain;
use crate::meter::decode::Line;
use crate::system::devices::EXAMPLE;

/// A port by its kind.
///
/// | written | port |
/// | --- | --- |
/// | `/dev/ttyUSB0`, `COM3` | serial port |
/// | `tcp:HOST:PORT`, `tcp:[ADDRESS]:PORT` | raw bytes of a networked instrument |
/// | `hid:VENDOR:PRODUCT`, with `:counted` after it | raw HID reports; four hexadecimal digits each |
/// | `replay:FILE` | a recording with its timing |
/// | `replay-fast:FILE` | a recording, or the bytes of any file, as fast as they are read |
/// | `stdin:` | standard input |
///
/// ```
/// use coreproof::meter::port::spec::PortSpec;
/// assert!(matches!(PortSpec::read("tcp:meter.lan:5025"), Ok(PortSpec::Tcp { port: 5025, .. })));
/// assert!(PortSpec::read("tpc:meter.lan:5025").is_err());
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PortSpec {
    /// A serial port.
    Serial {
        /// Its path or name.
        path: String,
    },
    /// Raw bytes of a networked instrument.
    Tcp {
        /// Its name or address.
        host: String,
        /// Its port, from 1.
        port: u16,
    },
    /// Raw HID reports of a USB cable.
    Hid {
        /// Number of the vendor.
        vendor: u16,
        /// Number of the product.
        product: u16,
        /// The first byte of a report counts the meter's bytes after it.
        counted: bool,
    },
    /// A recording, or the bytes of any file.
    Replay {
        /// As it is written.
        name: String,
        /// What was recorded.
        recording: Recording,
        /// Each line comes at its time.
        timed: bool,
    },
    /// Standard input.
    StandardInput,
}

/// Why a port as written is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SpecError {
    /// The text is empty.
    #[error("no port is named")]
    Nothing,
    /// A word before a colon that is no kind of port.
    #[error("`{kind}:` is no kind of port")]
    UnknownKind {
        /// That word.
        kind: String,
    },
    /// `tcp:` without a host, or with a port that is no number from 1 to 65 535.
    #[error("`{given}` names no host and port of an instrument")]
    NoHostAndPort {
        /// The text as it is written.
        given: String,
    },
    /// `hid:` without two numbers of four hexadecimal digits.
    #[error("`{given}` names no vendor and product of a USB cable")]
    NoVendorAndProduct {
        /// The text as it is written.
        given: String,
    },
    /// The feature `hid` is off.
    #[error("this coreproof was built without raw HID ports")]
    HidLeftOut,
    /// `replay:` without a file.
    #[error("`{given}` names no file")]
    NoFile {
        /// The text as it is written.
        given: String,
    },
    /// `stdin:` takes nothing after it.
    #[error("`{given}` has text after `stdin:`")]
    AfterStandardInput {
        /// The text as it is written.
        given: String,
    },
    /// The file that is named cannot be played.
    #[error(transparent)]
    Recording(#[from] RecordingError),
}

impl Explain for SpecError {
    fn hint(&self) -> Option<String> {
        Some(match self {
            SpecError::Nothing | SpecError::UnknownKind { .. } => {
                format!(
                    "write a serial port such as {EXAMPLE}, or tcp:HOST:PORT, hid:VENDOR:PRODUCT, replay:FILE, replay-fast:FILE or \
                     stdin:"
                )
            }
            SpecError::NoHostAndPort { .. } => {
                "write the address that the instrument shows and its port, for example tcp:192.0.2.7:5025".into()
            }
            SpecError::NoVendorAndProduct { .. } => {
                "write two times four hexadecimal digits, for example hid:00ab:cdef; `coreproof meter list` shows them"
                    .into()
            }
            SpecError::HidLeftOut => {
                "use a serial cable, or build coreproof with `cargo build --release --features hid`".into()
            }
            SpecError::NoFile { .. } => "write the path of the capture after the colon".into(),
            SpecError::AfterStandardInput { .. } => "write `stdin:` alone, and the profile after a comma".into(),
            SpecError::Recording(error) => return error.hint(),
        })
    }

    fn is_equipment(&self) -> bool {
        false
    }
}

impl PortSpec {
    /// How a record names the port; of a capture only the file's name, not where it lay.
    pub fn recorded(&self) -> String {
        match self {
            PortSpec::Serial { path } => path.clone(),
            PortSpec::Tcp { host, port } => format!("tcp:{host}:{port}"),
            PortSpec::Hid { vendor, product, .. } => format!("hid:{vendor:04x}:{product:04x}"),
            PortSpec::Replay { name, .. } => {
                let file = Path::new(name)
                    .file_name()
                    .map_or_else(|| name.into(), |file| file.to_string_lossy());
                format!("replay:{}", file.trim_start_matches("replay:"))
            }
            PortSpec::StandardInput => "stdin:".into(),
        }
    }

    /// Reads a port as written; a recording is read with it.
    pub fn read(given: &str) -> Result<PortSpec, SpecError> {
        let Some((kind, rest)) = given.split_once(':').filter(|(kind, _)| is_word(kind)) else {
            let path = given.to_owned();
            return if path.is_empty() {
                Err(SpecError::Nothing)
            } else {
                Ok(PortSpec::Serial { path })
            };
        };
        let given = || given.to_owned();
        match kind {
            "tcp" => tcp(rest).ok_or_else(|| SpecError::NoHostAndPort { given: given() }),
            "hid" => match hid(rest) {
                None => Err(SpecError::NoVendorAndProduct { given: given() }),
                Some(_) if cfg!(not(feature = "hid")) => Err(SpecError::HidLeftOut),
                Some(spec) => Ok(spec),
            },
            "replay" | "replay-fast" if rest.is_empty() => Err(SpecError::NoFile { given: given() }),
            "replay" => Ok(PortSpec::Replay {
                name: given(),
                recording: Recording::open(Path::new(rest))?,
                timed: true,
            }),
            "replay-fast" => Ok(PortSpec::Replay {
                name: given(),
                recording: Recording::open_raw(Path::new(rest))?,
                timed: false,
            }),
            "stdin" if rest.is_empty() => Ok(PortSpec::StandardInput),
            "stdin" => Err(SpecError::AfterStandardInput { given: given() }),
            _ => Err(SpecError::UnknownKind { kind: kind.to_owned() }),
        }
    }

    /// The profile that a recording names.
    pub fn profile(&self) -> Option<&str> {
        match self {
            PortSpec::Replay { recording, .. } => recording.profile.as_deref(),
            _ => None,
        }
    }

    /// False where the time between readings says nothing about the meter, so that nothing can be said to stand still.
    pub fn keeps_time(&self) -> bool {
        !matches!(self, PortSpec::Replay { timed: false, .. })
    }

    /// What opens the port; `line` is how a serial one is set.
    pub fn opener(self, line: &Line) -> Box<dyn Opener> {
        match self {
            PortSpec::Serial { path } => Box::new(SerialPath::new(path, line)),
            PortSpec::Tcp { host, port } => Box::new(TcpAddress::new(host, port)),
            #[cfg(feature = "hid")]
            PortSpec::Hid {
                vendor,
                product,
                counted,
            } => Box::new(super::hid::HidCable::new(vendor, product, counted)),
            #[cfg(not(feature = "hid"))]
            PortSpec::Hid { .. } => unreachable!("refused when it was read"),
            PortSpec::Replay { name, recording, timed } => Box::new(Replay::new(name, recording, timed)),
            PortSpec::StandardInput => Box::new(StandardInput),
        }
    }
}

/// Two letters or more, so that a drive letter is none.
fn is_word(kind: &str) -> bool {
    2 <= kind.len() && kind.bytes().all(|b| b.is_ascii_lowercase() || b == b'-')
}

fn tcp(rest: &str) -> Option<PortSpec> {
    let (host, port) = rest.rsplit_once(':')?;
    let host = match host.strip_prefix('[') {
        Some(bracketed) => bracketed.strip_suffix(']')?,
        None if host.contains(':') => return None,
        None => host,
    };
    let port = port.parse().ok().filter(|port| *port != 0)?;
    (!host.is_empty()).then(|| PortSpec::Tcp {
        host: host.into(),
        port,
    })
}

fn hid(rest: &str) -> Option<PortSpec> {
    let (rest, counted) = match rest.strip_suffix(":counted") {
        Some(rest) => (rest, true),
        None => (rest, false),
    };
    let (vendor, product) = rest.split_once(':')?;
    let id = |text: &str| {
        (text.len() == 4 && text.bytes().all(|b| b.is_ascii_hexdigit())).then(|| u16::from_str_radix(text, 16).ok())?
    };
    Some(PortSpec::Hid {
        vendor: id(vendor)?,
        product: id(product)?,
        counted,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_of_port_is_understood() {
        let serial = |path: &str| PortSpec::Serial { path: path.into() };
        let tcp = |host: &str, port| PortSpec::Tcp {
            host: host.into(),
            port,
        };
        let by_path = "/dev/serial/by-path/pci-0000:00:14.0-usb-0:2:1.0-port0";
        let cases = [
            ("/dev/ttyUSB0", serial("/dev/ttyUSB0")),
            (by_path, serial(by_path)),
            ("COM3", serial("COM3")),
            ("tcp:meter.lan:5025", tcp("meter.lan", 5025)),
            ("tcp:[fe80::1]:5025", tcp("fe80::1", 5025)),
            ("stdin:", PortSpec::StandardInput),
        ];
        for (given, expected) in cases {
            assert_eq!(PortSpec::read(given), Ok(expected));
        }
        assert_eq!(
            hid("00ab:CDEF:counted"),
            Some(PortSpec::Hid {
                vendor: 0x00ab,
                product: 0xcdef,
                counted: true
            })
        );
        assert_eq!(PortSpec::read("hid:00ab:cdef").is_ok(), cfg!(feature = "hid"));
    }

    #[test]
    fn what_is_not_understood_says_what_to_write() {
        let kinds = "write a serial port such as /dev/ttyUSB0, or tcp:HOST:PORT, hid:VENDOR:PRODUCT, replay:FILE, \
                     replay-fast:FILE or stdin:";
        let address = "write the address that the instrument shows and its port, for example tcp:192.0.2.7:5025";
        let ids =
            "write two times four hexadecimal digits, for example hid:00ab:cdef; `coreproof meter list` shows them";
        let file = "write the path of the capture after the colon";
        let cases = [
            ("", "no port is named", kinds),
            ("tpc:meter:1", "`tpc:` is no kind of port", kinds),
            (
                "tcp:meter",
                "`tcp:meter` names no host and port of an instrument",
                address,
            ),
            (
                "tcp::5025",
                "`tcp::5025` names no host and port of an instrument",
                address,
            ),
            ("tcp:m:0", "`tcp:m:0` names no host and port of an instrument", address),
            (
                "tcp:m:65536",
                "`tcp:m:65536` names no host and port of an instrument",
                address,
            ),
            (
                "tcp:fe80::1:5025",
                "`tcp:fe80::1:5025` names no host and port of an instrument",
                address,
            ),
            (
                "hid:12:34",
                "`hid:12:34` names no vendor and product of a USB cable",
                ids,
            ),
            (
                "hid:+123:abcd",
                "`hid:+123:abcd` names no vendor and product of a USB cable",
                ids,
            ),
            ("replay:", "`replay:` names no file", file),
            ("replay-fast:", "`replay-fast:` names no file", file),
            (
                "stdin:x",
                "`stdin:x` has text after `stdin:`",
                "write `stdin:` alone, and the profile after a comma",
            ),
            (
                "replay:no-such.rec",
                "the capture `no-such.rec` cannot be read: No such file or directory (os error 2)",
                "check the path",
            ),
        ];
        for (given, text, hint) in cases {
            let error = PortSpec::read(given).unwrap_err();
            assert_eq!(
                (error.to_string().as_str(), error.hint().as_deref()),
                (text, Some(hint))
            );
            assert!(!error.is_equipment());
        }
        assert_eq!(
            SpecError::HidLeftOut.to_string(),
            "this coreproof was built without raw HID ports"
        );
        assert_eq!(
            SpecError::HidLeftOut.hint().as_deref(),
            Some("use a serial cable, or build coreproof with `cargo build --release --features hid`")
        );
    }
}
