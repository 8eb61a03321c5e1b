//! `meter list`: the ports that are present, what they send where that is asked, and the profiles, taught and shipped.
//!
//! The rule inside: without being asked it opens nothing.

use std::sync::Arc;

use serde_json::{Value, json};

use super::cables::{self, Cable};
use super::error::{Failure, PASSED};
use super::home::Home;
use super::out::{self, say};
use super::tables::table;
use super::{files, meter_find, profiles};
use crate::job::Told;
use crate::meter::decode::{Profile, Talk};
use crate::meter::port::serial::{self, UsbIdentity};
use crate::meter::profile::shipped;
use crate::system::devices;
use crate::terminal::input;
use crate::terminal::plain::clean;

/// How long ports are listened to, in seconds.
const LISTEN_SECONDS: u64 = 10;

/// A port as it is shown.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Row {
    port: String,
    usb: Option<UsbIdentity>,
    stable: Vec<String>,
    /// Whose cable it is, and who holds the port.
    note: String,
}

/// Lists; where `listen` is given, what those ports send as well, or all that are present.
pub(super) async fn list(as_json: bool, listen: Option<Vec<String>>) -> Result<u8, Failure> {
    let home = Home::open()?;
    let profiles = profiles::all(&home)?;
    let mut rows: Vec<Row> = serial::listed().into_iter().map(serial_row).collect();
    rows.extend(hid_rows());
    rows.sort_by(|one, other| one.port.cmp(&other.port));
    let kept = cables::kept(&home)?;
    let told = files::told(&home).map_err(Failure::findings)?;
    for row in &mut rows {
        row.note = note(row, &kept, told.as_ref());
    }
    let taught = profiles.len() - shipped().len();
    if as_json {
        let profile = |(n, profile): (usize, &Profile)| profile_json(profile, n < taught);
        let listed = json!({
            "ports": rows.iter().map(port_json).collect::<Vec<_>>(),
            "profiles": profiles.iter().enumerate().map(profile).collect::<Vec<_>>(),
        });
        out::json(&listed);
    } else {
        say!("{}", words(&rows, &profiles, taught));
    }
    if let Some(ports) = listen {
        let mut lines = input::lines();
        let places = meter_find::allowed(meter_find::places(&ports, &[]), LISTEN_SECONDS, &mut lines).await?;
        let profiles: Arc<[Profile]> = profiles.into();
        let mut all = meter_find::listened(&places, &profiles, LISTEN_SECONDS);
        while let Some(done) = all.join_next().await {
            let (n, heard) = done.expect("listening does not panic");
            say!("{}", clean(&meter_find::words(&places[n], &heard, &profiles)));
        }
    }
    Ok(PASSED)
}

#[cfg(feature = "hid")]
fn hid_rows() -> Vec<Row> {
    let present = crate::meter::port::hid::present().into_iter();
    let rows = present.map(|hid| Row {
        port: hid.name(),
        usb: Some(UsbIdentity {
            vendor: hid.vendor,
            product: hid.product,
            serial: hid.serial,
            maker: hid.maker,
            about: hid.about,
        }),
        stable: Vec::new(),
        note: String::new(),
    });
    rows.collect()
}

#[cfg(not(feature = "hid"))]
fn hid_rows() -> Vec<Row> {
    Vec::new()
}

/// Whose cable it is, and who holds the port.
fn note(row: &Row, kept: &[Cable], told: Option<&Told>) -> String {
    let port = serial::Present {
        path: row.port.clone(),
        usb: row.usb.clone(),
        stable: row.stable.clone(),
    };
    let cable = kept.iter().find(|cable| cable.on.is(&port));
    let whose = cable.map(|cable| {
        let told = told.map_or(&[][..], |told| &told.instruments);
        let instrument = told.iter().find(|(there, _)| there.serial == cable.serial);
        let name = instrument.map_or(&cable.serial, |(there, _)| &there.name);
        format!("`{name}` by `{}`", cable.profile)
    });
    let holder = devices::held_by(&row.port).map(|holder| format!("in use by {holder}"));
    whose.into_iter().chain(holder).collect::<Vec<_>>().join(", ")
}

fn serial_row(port: serial::Present) -> Row {
    Row {
        port: port.path,
        usb: port.usb,
        stable: port.stable,
        note: String::new(),
    }
}

fn words(rows: &[Row], profiles: &[Profile], taught: usize) -> String {
    let ports = if rows.is_empty() {
        "No port is present: plug the meter's cable in.".to_owned()
    } else {
        let cells: Vec<Vec<String>> = rows.iter().map(port_cells).collect();
        let mut text = table(&["port", "USB id", "serial number", "cable", "maker", "is"], &cells);
        for stable in rows.iter().flat_map(|row| &row.stable) {
            text.push_str(&format!("\nalso {}", clean(stable)));
        }
        text
    };
    let row = |(n, profile): (usize, &Profile)| {
        let about = match n < taught {
            true => format!("taught: {}", profile.about),
            false => profile.about.clone(),
        };
        vec![
            profile.name.clone(),
            speaks(profile),
            profile.line.baud.to_string(),
            about,
        ]
    };
    let profiles: Vec<Vec<String>> = profiles.iter().enumerate().map(row).collect();
    format!(
        "{ports}\n\n{}",
        table(&["profile", "talks", "baud", "about"], &profiles)
    )
}

fn port_cells(row: &Row) -> Vec<String> {
    let usb = row.usb.as_ref();
    let text = |of: fn(&UsbIdentity) -> &Option<String>| usb.and_then(|usb| of(usb).clone()).unwrap_or_default();
    vec![
        row.port.clone(),
        usb.map(|usb| format!("{:04x}:{:04x}", usb.vendor, usb.product))
            .unwrap_or_default(),
        text(|usb| &usb.serial),
        text(|usb| &usb.about),
        text(|usb| &usb.maker),
        row.note.clone(),
    ]
}

fn port_json(row: &Row) -> Value {
    let usb = row.usb.as_ref().map(|usb| {
        json!({
            "vendor": format!("{:04x}", usb.vendor), "product": format!("{:04x}", usb.product),
            "serial": usb.serial, "maker": usb.maker, "about": usb.about,
        })
    });
    json!({ "port": row.port, "usb": usb, "stable": row.stable, "is": row.note })
}

fn profile_json(profile: &Profile, is_taught: bool) -> Value {
    json!({
        "name": profile.name, "about": profile.about, "talks": speaks(profile), "baud": profile.line.baud, "taught": is_taught,
    })
}

fn speaks(profile: &Profile) -> String {
    match profile.talk {
        Talk::Stream => "by itself".into(),
        Talk::Query { .. } => "when asked".into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows() -> Vec<Row> {
        let port = |path: &str, usb, stable| serial::Present {
            path: path.into(),
            usb,
            stable,
        };
        let usb = serial::UsbIdentity {
            vendor: 0xab,
            product: 0xcdef,
            serial: Some("0417".into()),
            maker: None,
            about: Some("optical\u{1b} cable".into()),
        };
        let stable = vec!["/dev/serial/by-id/usb-optical-0417".to_owned()];
        let kept = [Cable {
            serial: "SM-1".into(),
            profile: "line-stream".into(),
            on: cables::On::of("/dev/ttyUSB7", Some(&usb)),
        }];
        let ports = [
            port("/dev/ttyS0", None, Vec::new()),
            port("/dev/ttyUSB0", Some(usb), stable),
        ];
        let noted = |port| {
            let row = serial_row(port);
            let note = note(&row, &kept, None);
            Row { note, ..row }
        };
        ports.map(noted).into()
    }

    #[test]
    fn ports_are_shown_with_their_identity() {
        let text = words(&rows(), shipped(), 0);
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(
            lines[..5],
            [
                " port         | USB id    | serial number | cable         | maker | is",
                "--------------+-----------+---------------+---------------+-------+-------------------------",
                " /dev/ttyS0   |           |               |               |       |",
                " /dev/ttyUSB0 | 00ab:cdef | 0417          | optical cable |       | `SM-1` by `line-stream`",
                "also /dev/serial/by-id/usb-optical-0417",
            ]
        );
        assert!(
            words(&[], shipped(), 0).starts_with("No port is present: plug the meter's cable in.\n\n"),
            "{text}"
        );
    }

    #[test]
    fn ports_as_json() {
        let expected = json!({
            "port": "/dev/ttyUSB0",
            "usb": {
                "vendor": "00ab", "product": "cdef", "serial": "0417", "maker": null, "about": "optical\u{1b} cable"
            },
            "stable": ["/dev/serial/by-id/usb-optical-0417"],
            "is": "`SM-1` by `line-stream`",
        });
        assert_eq!(port_json(&rows()[1]), expected);
        assert_eq!(port_json(&rows()[0])["usb"], Value::Null);
    }
}
