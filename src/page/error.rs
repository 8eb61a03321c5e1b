//! Why a page cannot be served.
//!
//! The rule inside: each says how the phone comes to the laptop all the same.

use std::io;
use std::net::{IpAddr, SocketAddr};
use std::path::PathBuf;

use crate::explain::Explain;

/// Why a page cannot be served.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// No port, no thread.
    #[error("the page cannot be served: {0}")]
    Io(#[from] io::Error),
    /// There is no way out of this machine.
    #[error("this machine is on no network")]
    NoNetwork,
    /// A host on the open network.
    #[error("the address of this machine, `{0}`, can be reached from everywhere")]
    ReachedFromEverywhere(IpAddr),
    /// No single host, or none that a browser can name.
    #[error("`{0}` is no address that another machine can open")]
    NotToBeOpened(IpAddr),
    /// Of another machine.
    #[error("`{0}` is no address of this machine")]
    NotOurs(IpAddr),
    /// The port is not free.
    #[error("`{0}` is served by another program")]
    Taken(SocketAddr),
    /// The certificate cannot be kept.
    #[error("the certificate of the page cannot be kept in `{}`: {error}", path.display())]
    Certificate {
        /// Its file.
        path: PathBuf,
        /// Why.
        error: io::Error,
    },
}

impl Explain for Error {
    fn hint(&self) -> Option<String> {
        let hint = match self {
            Error::Io(_) => "go on without `--page`",
            Error::NoNetwork => {
                "join the hotspot of your phone or plug in its cable; if that is done, name this machine's address there: `--page 192.168.43.5`"
            }
            Error::ReachedFromEverywhere(_) => {
                "join the hotspot of your phone; if this address is really meant, name it after `--page`"
            }
            Error::NotToBeOpened(_) | Error::NotOurs(_) => {
                "`ip address` shows the addresses of this machine; `--page lan` takes the one by which it goes out"
            }
            Error::Taken(_) => "leave the port out, or name another",
            Error::Certificate { .. } => "see that you may write there and that there is room",
        };
        Some(hint.to_owned())
    }

    fn is_equipment(&self) -> bool {
        !matches!(
            self,
            Error::NotToBeOpened(_) | Error::NotOurs(_) | Error::ReachedFromEverywhere(_)
        )
    }
}
