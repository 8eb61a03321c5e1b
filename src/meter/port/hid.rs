//! USB cables that carry a meter's bytes in raw HID reports.
//!
//! The rule inside: one report is one read. This port was tried against a stand-in only and never ran on a device.

use std::ffi::CString;
use std::io;

use hidapi::{HidApi, HidDevice};
use tokio::sync::mpsc::error::TryRecvError;
use tokio::sync::mpsc::{Sender, UnboundedReceiver, unbounded_channel};

use super::pipe::Pipe;
use super::{Opener, Opening, Port, PortError};

/// The longest report of a high-speed device.
const REPORT_BYTES_MAX: usize = 1024;
/// Milliseconds between looks at what is to be sent.
const READ_MS_MAX: i32 = 20;

/// A cable by its USB identity.
#[derive(Debug, Clone)]
pub struct HidCable {
    vendor: u16,
    product: u16,
    /// The first byte of a report says how many bytes of the meter follow; see [`carried`].
    counted: bool,
    name: String,
}

impl HidCable {
    /// Names a cable; nothing is opened yet.
    pub fn new(vendor: u16, product: u16, counted: bool) -> HidCable {
        let end = if counted { ":counted" } else { "" };
        HidCable {
            vendor,
            product,
            counted,
            name: format!("hid:{vendor:04x}:{product:04x}{end}"),
        }
    }

    fn open_now(&self) -> Result<Box<dyn Port>, PortError> {
        let path = || self.name.clone();
        let not_usable = |error: hidapi::HidError| PortError::NotUsable {
            path: path(),
            why: error.to_string(),
        };
        let devices = HidApi::new().map_err(not_usable)?;
        let found: Option<CString> = devices
            .device_list()
            .find(|device| (device.vendor_id(), device.product_id()) == (self.vendor, self.product))
            .map(|device| device.path().to_owned());
        let Some(found) = found else {
            return Err(PortError::NoSuchPort {
                path: path(),
                present: present().into_iter().map(|cable| cable.name()).collect(),
            });
        };
        let device = devices.open_path(&found).map_err(|error| {
            // the library gives the system's error only as words
            if error.to_string().contains("ermission denied") {
                PortError::NoPermission { path: path() }
            } else {
                not_usable(error)
            }
        })?;
        Ok(Box::new(pumped(device, self.counted)))
    }
}

impl Opener for HidCable {
    fn open(&self) -> Opening {
        let cable = self.clone();
        Box::pin(async move { cable.open_now() })
    }

    fn name(&self) -> &str {
        &self.name
    }
}

/// A raw HID device that is present, a meter's cable or anything else.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PresentHid {
    /// Number of the vendor.
    pub vendor: u16,
    /// Number of the product.
    pub product: u16,
    /// Serial number, where the device has one.
    pub serial: Option<String>,
    /// What it says of its maker.
    pub maker: Option<String>,
    /// What it calls itself.
    pub about: Option<String>,
}

impl PresentHid {
    /// As the command line names it.
    pub fn name(&self) -> String {
        format!("hid:{:04x}:{:04x}", self.vendor, self.product)
    }
}

/// The raw HID devices that are present.
pub fn present() -> Vec<PresentHid> {
    let Ok(devices) = HidApi::new() else { return Vec::new() };
    let owned = |text: Option<&str>| text.map(str::to_owned);
    devices
        .device_list()
        .map(|device| PresentHid {
            vendor: device.vendor_id(),
            product: device.product_id(),
            serial: owned(device.serial_number()),
            maker: owned(device.manufacturer_string()),
            about: owned(device.product_string()),
        })
        .collect()
}

/// What is read and written a report at a time.
trait Reports: Send + 'static {
    /// One report, or 0 bytes where none came within `ms_max`.
    fn read(&self, into: &mut [u8], ms_max: i32) -> io::Result<usize>;
    fn write(&self, report: &[u8]) -> io::Result<usize>;
}

impl Reports for HidDevice {
    fn read(&self, into: &mut [u8], ms_max: i32) -> io::Result<usize> {
        self.read_timeout(into, ms_max).map_err(io::Error::other)
    }

    fn write(&self, report: &[u8]) -> io::Result<usize> {
        HidDevice::write(self, report).map_err(io::Error::other)
    }
}

/// A thread between the device, which blocks, and the port, which must not.
fn pumped(device: impl Reports, counted: bool) -> Pipe {
    let (back, unsent) = unbounded_channel();
    let (feed, pipe) = Pipe::new(Some(back));
    std::thread::spawn(move || pump(&device, counted, &feed, unsent));
    pipe
}

/// Ends when the device vanishes or the port is dropped.
fn pump(device: &impl Reports, counted: bool, feed: &Sender<Vec<u8>>, mut unsent: UnboundedReceiver<Vec<u8>>) {
    let mut report = [0; REPORT_BYTES_MAX];
    loop {
        match unsent.try_recv() {
            Ok(bytes) => {
                // reports without a number are written after a zero
                if device.write(&[&[0], bytes.as_slice()].concat()).is_err() {
                    return;
                }
            }
            Err(TryRecvError::Empty) => {}
            Err(TryRecvError::Disconnected) => return,
        }
        match device.read(&mut report, READ_MS_MAX) {
            Ok(0) => {}
            Ok(count) => {
                let bytes = carried(&report[..count], counted);
                if !bytes.is_empty() && feed.blocking_send(bytes.to_vec()).is_err() {
                    return;
                }
            }
            Err(_) => return,
        }
    }
}

/// The meter's bytes in a report. In a counted one the first byte is their number, plain or as 0xF0 plus the number
/// (from memory of common cables), and what follows them is filling.
fn carried(report: &[u8], counted: bool) -> &[u8] {
    let [first, rest @ ..] = report else { return &[] };
    if !counted {
        return report;
    }
    let count = if 0xF0 <= *first { first & 0x0F } else { *first };
    &rest[..usize::from(count).min(rest.len())]
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Mutex;
    use std::sync::mpsc::{Receiver, Sender as Feed, channel};
    use tokio::io::{AsyncReadExt, AsyncWriteExt};

    /// Stands in for a device: reports from a channel, gone when the channel is.
    struct StandIn {
        reports: Mutex<Receiver<Vec<u8>>>,
        written: Mutex<Feed<Vec<u8>>>,
    }

    impl Reports for StandIn {
        fn read(&self, into: &mut [u8], ms_max: i32) -> io::Result<usize> {
            use std::sync::mpsc::RecvTimeoutError;
            let wait = std::time::Duration::from_millis(ms_max.try_into().unwrap());
            match self.reports.lock().unwrap().recv_timeout(wait) {
                Ok(report) => {
                    into[..report.len()].copy_from_slice(&report);
                    Ok(report.len())
                }
                Err(RecvTimeoutError::Timeout) => Ok(0),
                Err(RecvTimeoutError::Disconnected) => Err(io::ErrorKind::BrokenPipe.into()),
            }
        }

        fn write(&self, report: &[u8]) -> io::Result<usize> {
            self.written.lock().unwrap().send(report.to_vec()).unwrap();
            Ok(report.len())
        }
    }

    #[tokio::test]
    async fn reports_stay_apart_questions_go_out_and_a_device_that_vanished_ends() {
        let (feed, reports) = channel();
        let (written, sent) = channel();
        let device = StandIn {
            reports: Mutex::new(reports),
            written: Mutex::new(written),
        };
        let mut port = pumped(device, true);
        feed.send(b"\xf3abc....".to_vec()).unwrap();
        feed.send(b"\xf0.......".to_vec()).unwrap();
        feed.send(b"\x02de.....".to_vec()).unwrap();
        let mut bytes = [0; 64];
        for expected in [&b"abc"[..], b"de"] {
            let count = port.read(&mut bytes).await.unwrap();
            assert_eq!(&bytes[..count], expected);
        }
        port.write_all(b"D\n").await.unwrap();
        let report = tokio::task::spawn_blocking(move || sent.recv().unwrap()).await.unwrap();
        assert_eq!(report, b"\0D\n");
        drop(feed);
        assert_eq!(port.read(&mut bytes).await.unwrap(), 0);
    }

    #[test]
    fn a_count_never_reaches_beyond_the_report() {
        let check = |report: &[u8], counted, expected: &[u8]| assert_eq!(carried(report, counted), expected);
        check(b"\x02ab..", false, b"\x02ab..");
        check(b"\x02ab..", true, b"ab");
        check(b"\xf2ab..", true, b"ab");
        check(b"\x3fab", true, b"ab");
        check(b"\xff", true, b"");
        check(b"", true, b"");
    }

    #[tokio::test]
    async fn a_cable_that_is_not_there_lists_what_is() {
        let cable = HidCable::new(0xFFFF, 0xFFFE, true);
        let error = cable.open().await.err().unwrap();
        let present = present().iter().map(PresentHid::name).collect();
        let path = "hid:ffff:fffe:counted".to_owned();
        assert_eq!(error, PortError::NoSuchPort { path, present });
    }
}
