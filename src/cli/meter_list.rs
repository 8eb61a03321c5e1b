//! `meter list`: the ports that are present, and the profiles that come with the program.

use serde_json::{Value, json};

use super::error::{Failure, PASSED};
use super::out::{self, say};
use super::tables::table;
use crate::meter::decode::{Profile, Talk};
use crate::meter::port::serial;
use crate::meter::profile::shipped;
use crate::terminal::plain::clean;

/// A port as it is shown.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Row {
    port: String,
    /// Vendor and product, serial number, maker, and what the cable calls itself.
    usb: Option<Usb>,
    stable: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Eq)]
struct Usb {
    vendor: u16,
    product: u16,
    serial: Option<String>,
    maker: Option<String>,
    about: Option<String>,
}

/// Lists.
pub(super) fn list(as_json: bool) -> Result<u8, Failure> {
    let mut rows: Vec<Row> = serial::listed().into_iter().map(serial_row).collect();
    #[cfg(feature = "hid")]
    rows.extend(crate::meter::port::hid::present().into_iter().map(|hid| Row {
        port: hid.name(),
        usb: Some(Usb {
            vendor: hid.vendor,
            product: hid.product,
            serial: hid.serial,
            maker: hid.maker,
            about: hid.about,
        }),
        stable: Vec::new(),
    }));
    rows.sort_by(|one, other| one.port.cmp(&other.port));
    if as_json {
        let listed = json!({
            "ports": rows.iter().map(port_json).collect::<Vec<_>>(),
            "profiles": shipped().iter().map(profile_json).collect::<Vec<_>>(),
        });
        out::json(&listed);
    } else {
        say!("{}", words(&rows));
    }
    Ok(PASSED)
}

fn serial_row(port: serial::Present) -> Row {
    Row {
        port: port.path,
        usb: port.usb.map(|usb| Usb {
            vendor: usb.vendor,
            product: usb.product,
            serial: usb.serial,
            maker: usb.maker,
            about: usb.about,
        }),
        stable: port.stable,
    }
}

fn words(rows: &[Row]) -> String {
    let ports = if rows.is_empty() {
        "No port is present: plug the meter's cable in.".to_owned()
    } else {
        let cells: Vec<Vec<String>> = rows.iter().map(port_cells).collect();
        let mut text = table(&["port", "USB id", "serial number", "cable", "maker"], &cells);
        for stable in rows.iter().flat_map(|row| &row.stable) {
            text.push_str(&format!("\nalso {}", clean(stable)));
        }
        text
    };
    let profiles: Vec<Vec<String>> = shipped()
        .iter()
        .map(|profile| vec![profile.name.clone(), speaks(profile), profile.about.clone()])
        .collect();
    format!("{ports}\n\n{}", table(&["profile", "talks", "about"], &profiles))
}

fn port_cells(row: &Row) -> Vec<String> {
    let usb = row.usb.as_ref();
    let text = |of: fn(&Usb) -> &Option<String>| usb.and_then(|usb| of(usb).clone()).unwrap_or_default();
    vec![
        row.port.clone(),
        usb.map(|usb| format!("{:04x}:{:04x}", usb.vendor, usb.product))
            .unwrap_or_default(),
        text(|usb| &usb.serial),
        text(|usb| &usb.about),
        text(|usb| &usb.maker),
    ]
}

fn port_json(row: &Row) -> Value {
    let usb = row.usb.as_ref().map(|usb| {
        json!({
            "vendor": format!("{:04x}", usb.vendor), "product": format!("{:04x}", usb.product),
            "serial": usb.serial, "maker": usb.maker, "about": usb.about,
        })
    });
    json!({ "port": row.port, "usb": usb, "stable": row.stable })
}

fn profile_json(profile: &Profile) -> Value {
    json!({ "name": profile.name, "about": profile.about, "talks": speaks(profile), "baud": profile.line.baud })
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
        vec![
            serial_row(port("/dev/ttyS0", None, Vec::new())),
            serial_row(port("/dev/ttyUSB0", Some(usb), stable)),
        ]
    }

    #[test]
    fn ports_are_shown_with_their_identity() {
        let text = words(&rows());
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(
            lines[..5],
            [
                " port         | USB id    | serial number | cable         | maker",
                "--------------+-----------+---------------+---------------+-------",
                " /dev/ttyS0   |           |               |               |",
                " /dev/ttyUSB0 | 00ab:cdef | 0417          | optical cable |",
                "also /dev/serial/by-id/usb-optical-0417",
            ]
        );
        assert!(
            words(&[]).starts_with("No port is present: plug the meter's cable in.\n\n"),
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
        });
        assert_eq!(port_json(&rows()[1]), expected);
        assert_eq!(port_json(&rows()[0])["usb"], Value::Null);
    }
}
