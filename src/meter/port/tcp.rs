//! Networked instruments: raw bytes over TCP.
//!
//! The rule inside: an instrument that was switched off is noticed, though nobody said goodbye.

use std::io;
use std::time::Duration;

use tokio::net::TcpStream;
use tokio::time::timeout;

use super::{Opener, Opening, Port, PortError};
use crate::system::keep_alive::{self, Probing};

/// How long an instrument may take to answer a call.
const CALL_MAX: Duration = Duration::from_secs(3);
/// Silence after which the network is asked whether the instrument is still there.
const PROBING: Probing = Probing {
    after: Duration::from_secs(5),
    every: Duration::from_secs(2),
    count: 3,
};

/// An instrument by host and port.
#[derive(Debug, Clone)]
pub struct TcpAddress {
    host: String,
    port: u16,
    name: String,
}

impl TcpAddress {
    /// Names an instrument; nobody is called yet. An IPv6 address stands without brackets.
    pub fn new(host: impl Into<String>, port: u16) -> TcpAddress {
        let host = host.into();
        let name = if host.contains(':') {
            format!("tcp:[{host}]:{port}")
        } else {
            format!("tcp:{host}:{port}")
        };
        TcpAddress { host, port, name }
    }

    async fn call(self) -> Result<Box<dyn Port>, PortError> {
        let no_answer = |why: String| PortError::NoAnswer {
            path: self.name.clone(),
            why,
        };
        let stream = match timeout(CALL_MAX, TcpStream::connect((self.host.as_str(), self.port))).await {
            Ok(Ok(stream)) => stream,
            Ok(Err(error)) => return Err(no_answer(words(&error))),
            Err(_) => return Err(no_answer(format!("no answer within {} s", CALL_MAX.as_secs()))),
        };
        let ready = stream
            .set_nodelay(true)
            .and_then(|()| keep_alive::probe(&stream, PROBING));
        ready.map_err(|error| no_answer(words(&error)))?;
        Ok(Box::new(stream))
    }
}

impl Opener for TcpAddress {
    fn open(&self) -> Opening {
        Box::pin(self.clone().call())
    }

    fn name(&self) -> &str {
        &self.name
    }
}

/// The library's words without the system's number.
fn words(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::ConnectionRefused => "connection refused".into(),
        io::ErrorKind::HostUnreachable | io::ErrorKind::NetworkUnreachable => "no way there through the network".into(),
        _ => error.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::decode::Decoded;
    use crate::meter::port::event::MeterEvent;
    use crate::meter::port::source::Meter;
    use crate::meter::profile::find;
    use tokio::io::{AsyncBufReadExt, AsyncWriteExt, BufReader};
    use tokio::net::TcpListener;

    #[tokio::test]
    async fn nobody_there_is_no_answer() {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let port = listener.local_addr().unwrap().port();
        drop(listener);
        let error = TcpAddress::new("127.0.0.1", port).open().await.err().unwrap();
        assert_eq!(
            error.to_string(),
            format!("nothing answers at `tcp:127.0.0.1:{port}`: connection refused")
        );
    }

    #[test]
    fn an_address_with_colons_is_named_in_brackets() {
        assert_eq!(TcpAddress::new("::1", 5025).name(), "tcp:[::1]:5025");
        assert_eq!(TcpAddress::new("meter.lan", 5025).name(), "tcp:meter.lan:5025");
    }

    #[tokio::test]
    async fn an_instrument_is_asked_is_lost_and_comes_back() {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let port = listener.local_addr().unwrap().port();
        let instrument = tokio::spawn(async move {
            for reply in ["+1.5E+00;\"RES\"\n", "+2.5E+00;\"RES\"\n"] {
                let (mut stream, _) = listener.accept().await.unwrap();
                let (reader, mut writer) = stream.split();
                let mut lines = BufReader::new(reader).lines();
                while lines.next_line().await.unwrap().unwrap() != "READ?;:FUNC?" {}
                writer.write_all(reply.as_bytes()).await.unwrap();
                while lines.next_line().await.unwrap().unwrap() != "READ?;:FUNC?" {}
            }
        });
        let opener = Box::new(TcpAddress::new("127.0.0.1", port));
        let mut meter = Meter::open(opener, find("query-488").unwrap().clone()).await.unwrap();
        let mut heard = Vec::new();
        while heard.len() < 4 {
            heard.push(match meter.next().await {
                MeterEvent::Frame(Decoded::Reading(reading)) => reading.display(),
                other => other.message().unwrap(),
            });
        }
        let name = format!("tcp:127.0.0.1:{port}");
        let expected = [
            "+1.5E+00 ohm".to_owned(),
            format!("the meter's port `{name}` vanished"),
            format!("the meter's port `{name}` is back"),
            "+2.5E+00 ohm".to_owned(),
        ];
        assert_eq!(heard, expected);
        drop(meter);
        instrument.abort();
    }
}
