//! The door: at which address the page is served, and what stands in it for other machines.
//!
//! The rule inside: one address and no other; for other machines there is TLS 1.3 and nothing less, and an address that can be reached from
//! everywhere is served only where it was named.

use std::net::{IpAddr, Ipv4Addr, SocketAddr, TcpListener, UdpSocket};
use std::path::PathBuf;
use std::time::{SystemTime, UNIX_EPOCH};

use tokio_rustls::TlsAcceptor;

use super::error::Error;
use super::guard::Address;
use super::server_certificate::{Anew, ServerCertificate};

/// Where a page is served.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Door {
    /// On the loopback, for browsers of this machine.
    Loopback,
    /// On a network, for other machines too.
    Network {
        /// The address of this machine, and the port, 0 for any; without one the address by which it goes out.
        at: Option<SocketAddr>,
        /// The file in which the certificate is kept.
        certificate: PathBuf,
    },
}

/// What an engineer compares before a device is let in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shown {
    /// The SHA-256 fingerprint of the certificate: 32 pairs of hexadecimal digits with colons.
    pub fingerprint: String,
    /// Why the certificate is a new one, where it is.
    pub anew: Option<Anew>,
}

/// A door that is open.
pub(super) struct Open {
    pub listener: TcpListener,
    pub address: Address,
    /// On a network alone.
    pub tls: Option<(TlsAcceptor, Shown)>,
}

impl Door {
    /// Opens it.
    ///
    /// # Errors
    /// The address is none to be served, no port is to be had, or the certificate cannot be kept.
    pub(super) fn open(&self) -> Result<Open, Error> {
        match self {
            Door::Loopback => {
                let listener = bound(SocketAddr::from((Ipv4Addr::LOCALHOST, 0)))?;
                let at = listener.local_addr()?;
                let address = Address { at, tls: false };
                Ok(Open {
                    listener,
                    address,
                    tls: None,
                })
            }
            Door::Network { at, certificate } => {
                let listener = bound(at.map_or_else(own, Ok)?)?;
                let at = listener.local_addr()?;
                let now = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
                let (kept, anew) =
                    ServerCertificate::kept(certificate, at.ip(), now).map_err(|error| Error::Certificate {
                        path: certificate.clone(),
                        error,
                    })?;
                let shown = Shown {
                    fingerprint: kept.fingerprint(),
                    anew,
                };
                Ok(Open {
                    listener,
                    address: Address { at, tls: true },
                    tls: Some((TlsAcceptor::from(kept.config), shown)),
                })
            }
        }
    }
}

fn bound(at: SocketAddr) -> Result<TcpListener, Error> {
    let ip = at.ip();
    let is_link_local = matches!(ip, IpAddr::V6(ip) if ip.is_unicast_link_local());
    if ip.is_unspecified() || ip.is_multicast() || is_link_local || ip != ip.to_canonical() {
        return Err(Error::NotToBeOpened(ip));
    }
    let listener = TcpListener::bind(at).map_err(|error| match error.kind() {
        std::io::ErrorKind::AddrNotAvailable => Error::NotOurs(ip),
        std::io::ErrorKind::AddrInUse => Error::Taken(at),
        _ => Error::Io(error),
    })?;
    listener.set_nonblocking(true)?;
    Ok(listener)
}

/// The address by which this machine goes out, where that stays near.
fn own() -> Result<SocketAddr, Error> {
    // no packet is sent: only the way to an address that is kept for documents (RFC 5737) is looked up
    let outward = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).and_then(|socket| {
        socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9))?;
        socket.local_addr()
    });
    let ip = outward.map_err(|_| Error::NoNetwork)?.ip();
    match ip {
        ip if ip.is_loopback() => Err(Error::NoNetwork),
        ip if stays_near(ip) => Ok(SocketAddr::new(ip, 0)),
        ip => Err(Error::ReachedFromEverywhere(ip)),
    }
}

/// Whether an address means a machine only on its own network: RFC 1918, 3927, 6598; RFC 4193 of the newer kind.
fn stays_near(ip: IpAddr) -> bool {
    match ip {
        IpAddr::V4(ip) => {
            let [first, second, ..] = ip.octets();
            let is_shared = first == 100 && (64..128).contains(&second);
            ip.is_private() || ip.is_link_local() || ip.is_loopback() || is_shared
        }
        IpAddr::V6(ip) => ip.is_unique_local() || ip.is_loopback(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_can_be_reached_from_everywhere_does_not_stay_near() {
        for (ip, expected) in [
            ("10.0.0.1", true),
            ("172.16.0.1", true),
            ("172.32.0.1", false),
            ("192.168.43.5", true),
            ("169.254.7.7", true),
            ("100.64.0.1", true),
            ("100.128.0.1", false),
            ("203.0.113.9", false),
            ("fd00::5", true),
            ("2001:db8::5", false),
        ] {
            assert_eq!(stays_near(ip.parse().unwrap()), expected, "{ip}");
        }
    }

    #[test]
    fn only_one_address_of_this_machine_is_served() {
        let check = |at: &str, expected: &str| {
            let error = bound(at.parse().unwrap()).unwrap_err();
            assert_eq!(error.to_string(), expected);
        };
        check("0.0.0.0:0", "`0.0.0.0` is no address that another machine can open");
        check("[::]:0", "`::` is no address that another machine can open");
        check("224.0.0.1:0", "`224.0.0.1` is no address that another machine can open");
        check("[fe80::1]:0", "`fe80::1` is no address that another machine can open");
        check(
            "[::ffff:127.0.0.1]:0",
            "`::ffff:127.0.0.1` is no address that another machine can open",
        );
        check("192.0.2.9:0", "`192.0.2.9` is no address of this machine");
        let first = bound(SocketAddr::from((Ipv4Addr::LOCALHOST, 0))).unwrap();
        let at = first.local_addr().unwrap();
        check(&at.to_string(), &format!("`{at}` is served by another program"));
    }
}
