//! On which cable each instrument was found, so that it need not be named again.
//!
//! The rule inside: a cable is known by its USB identity, and by the name of its port only where it has none. This is about a computer and
//! not about an instrument: it never enters a job or a record.

use serde::Deserialize;

use super::error::Failure;
use super::files;
use super::home::Home;
use super::out::say;
use crate::job::{Instrument, Job};
use crate::located;
use crate::meter::port::serial::{self, Present, UsbIdentity};
use crate::system::disk;
use crate::terminal::plain::clean;

/// The version of the file.
const FORMAT: &str = "1.0";

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "Cables")]
struct Cables {
    format: String,
    cables: Vec<Cable>,
}

/// An instrument's cable.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Cable {
    /// Serial number of the instrument.
    pub serial: String,
    /// The profile that it was read by.
    pub profile: String,
    pub on: On,
}

/// What a cable is known by.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) enum On {
    /// Numbers of its vendor and product, and its own where it has one.
    Usb {
        vendor: u16,
        product: u16,
        #[serde(default)]
        serial: Option<String>,
    },
    /// The name of its port.
    Port(String),
}

impl On {
    /// By what the cable at a port is known.
    pub(super) fn of(path: &str, usb: Option<&UsbIdentity>) -> On {
        match usb {
            Some(usb) => On::Usb {
                vendor: usb.vendor,
                product: usb.product,
                serial: usb.serial.clone(),
            },
            None => On::Port(path.to_owned()),
        }
    }

    /// In words.
    pub(super) fn words(&self) -> String {
        match self {
            On::Usb {
                vendor,
                product,
                serial,
            } => {
                let serial = serial.as_ref().map_or(String::new(), |serial| format!(" {serial}"));
                format!("the USB cable {vendor:04x}:{product:04x}{serial}")
            }
            On::Port(path) => format!("the port {path}, which has no USB identity"),
        }
    }

    fn ron(&self) -> String {
        match self {
            On::Usb {
                vendor,
                product,
                serial,
            } => {
                let serial = serial
                    .as_ref()
                    .map_or(String::new(), |serial| format!(", serial: {serial:?}"));
                format!("Usb(vendor: 0x{vendor:04x}, product: 0x{product:04x}{serial})")
            }
            On::Port(path) => format!("Port({path:?})"),
        }
    }

    /// Whether the cable of a port is this one.
    pub(super) fn is(&self, port: &Present) -> bool {
        match self {
            On::Usb { .. } => port
                .usb
                .as_ref()
                .is_some_and(|usb| On::of(&port.path, Some(usb)) == *self),
            On::Port(path) => port.usb.is_none() && port.has_name(path),
        }
    }

    /// The port at which it is now. One of several that cannot be told apart is none.
    fn now(&self, present: &[Present]) -> Option<String> {
        let mut there = present.iter().filter(|port| self.is(port));
        match (there.next(), there.next(), self) {
            (Some(port), None, _) => Some(port.path.clone()),
            // some ports are in no list
            (None, _, On::Port(path)) if !present.iter().any(|port| port.has_name(path)) => {
                std::path::Path::new(path).exists().then(|| path.clone())
            }
            _ => None,
        }
    }
}

/// Those that are kept; none where nothing was found yet.
pub(super) fn kept(home: &Home) -> Result<Vec<Cable>, Failure> {
    let path = home.cables();
    if std::fs::symlink_metadata(&path).is_err() {
        return Ok(Vec::new());
    }
    let text = files::text(&path)?;
    let cables: Cables =
        located::read(&text.text).map_err(|problem| Failure::findings(text.finding(problem).into()))?;
    if cables.format != FORMAT {
        let what = format!(
            "`{}` has the format `{}`, not `{FORMAT}`",
            path.display(),
            cables.format
        );
        return Err(Failure::refused(what).hint("move it away and find the meter again: `coreproof meter find`"));
    }
    Ok(cables.cables)
}

/// Keeps the cable of an instrument in place of what was known of either.
pub(super) fn keep(home: &Home, cable: Cable) -> Result<(), Failure> {
    let mut all = kept(home)?;
    all.retain(|there| there.serial != cable.serial && there.on != cable.on);
    all.push(cable);
    let line = |cable: &Cable| {
        format!(
            "        (serial: {:?}, profile: {:?}, on: {}),\n",
            cable.serial,
            cable.profile,
            cable.on.ron()
        )
    };
    let lines: String = all.iter().map(line).collect();
    let text = format!(
        "// On which cable each instrument was found; `coreproof meter find` writes it.\n(\n    format: \"{FORMAT}\",\n    cables: [\n{lines}    ],\n)\n"
    );
    let path = home.cables();
    disk::replace(&path, text.as_bytes())
        .map_err(|error| Failure::equipment(format!("`{}` cannot be written: {error}", path.display())))
}

/// Which meter a command was told to read.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wanted<'a> {
    /// What `--meter` was given.
    pub meter: Option<&'a str>,
    /// Every reading is typed.
    pub typed: bool,
}

impl Wanted<'_> {
    /// What is read where no meter was named, and typing was not either.
    pub(super) fn found(&self, home: &Home, job: &Job) -> Result<Option<String>, Failure> {
        match (self.meter, self.typed) {
            (None, false) => found_before(home, job),
            _ => Ok(None),
        }
    }
}

/// What `--meter` would be given for a job whose instrument was found on a cable that is here now; said, since nobody typed it.
fn found_before(home: &Home, job: &Job) -> Result<Option<String>, Failure> {
    let kept = kept(home)?;
    let cable_of = |instrument: &Instrument| {
        let talks =
            |cable: &&Cable| cable.serial == instrument.serial && Some(&cable.profile) == instrument.profile.as_ref();
        kept.iter().find(talks)
    };
    let known: Vec<_> = job.instruments.iter().filter_map(|i| Some((i, cable_of(i)?))).collect();
    if known.is_empty() {
        return Ok(None);
    }
    let present = serial::listed();
    let here: Vec<_> = known
        .iter()
        .filter_map(|(i, cable)| Some((i, cable, cable.on.now(&present)?)))
        .collect();
    match here.as_slice() {
        [] => {
            for (instrument, cable) in &known {
                let what = format!("`{}` is not here, on {}", instrument.name, cable.on.words());
                say!("note: {}: every reading is typed", clean(&what));
            }
            Ok(None)
        }
        [(instrument, cable, port)] => {
            let what = format!(
                "`{}` is read on {port} by `{}`, as it was found",
                instrument.name, cable.profile
            );
            say!("{}; `--typed` has every reading typed.", clean(&what));
            Ok(Some(format!("{port},{}", cable.profile)))
        }
        _ => {
            say!("note: the cables of several instruments are here: name one with `--meter`; every reading is typed");
            Ok(None)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn port(path: &str, serial: Option<&str>) -> Present {
        Present {
            path: path.into(),
            usb: Some(UsbIdentity {
                vendor: 0xab,
                product: 0xcdef,
                serial: serial.map(str::to_owned),
                maker: None,
                about: Some("another word".into()),
            }),
            stable: Vec::new(),
        }
    }

    #[test]
    fn a_cable_is_where_its_usb_identity_is() {
        let check = |on: &Present, present: &[Present], expected: Option<&str>| {
            let on = On::of(&on.path, on.usb.as_ref());
            assert_eq!(on.now(present).as_deref(), expected, "{on:?} in {present:?}");
        };
        let (one, two) = (port("/dev/a", Some("0417")), port("/dev/b", None));
        check(&one, &[port("/dev/z", Some("0417")), two.clone()], Some("/dev/z"));
        check(&one, &[port("/dev/a", Some("9")), two.clone()], None);
        check(&two, &[one.clone(), port("/dev/a", None)], Some("/dev/a"));
        // two of a kind without a number of their own cannot be told apart
        check(&two, &[port("/dev/a", None), two.clone()], None);
        let plain = Present {
            usb: None,
            ..port("/dev/ttyS0", None)
        };
        check(&plain, std::slice::from_ref(&plain), Some("/dev/ttyS0"));
        // a USB cable that took its name is another one
        check(&plain, &[port("/dev/ttyS0", None)], None);
    }

    #[test]
    fn what_is_written_is_read_again() {
        let on = |on| Cable {
            serial: "SM-\"1\"".into(),
            profile: "line-stream".into(),
            on,
        };
        for on in [
            on(On::of("/dev/a", port("/dev/a", Some("04\\17")).usb.as_ref())),
            on(On::of("/dev/a", port("/dev/a", None).usb.as_ref())),
            on(On::Port("/dev/ttyS0".into())),
        ] {
            let text = format!(
                "(serial: {:?}, profile: {:?}, on: {})",
                on.serial,
                on.profile,
                on.on.ron()
            );
            assert_eq!(located::read::<Cable>(&text).unwrap(), on);
        }
    }
}
