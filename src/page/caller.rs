//! A connection, and how long it may take.
//!
//! The rule inside: what is known of it only grows.

use std::net::IpAddr;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

/// Time for the head of a request, and for its body.
pub(super) const TIME: Duration = Duration::from_secs(3);

/// What is known of a connection.
#[derive(Debug)]
pub(super) struct Caller {
    /// The machine it comes from.
    pub from: IpAddr,
    /// It has sent a whole head.
    pub asked: AtomicBool,
    /// Its browser is paired.
    pub known: AtomicBool,
}

impl Caller {
    /// One that has said nothing yet.
    pub(super) fn new(from: IpAddr) -> Caller {
        Caller {
            from,
            asked: AtomicBool::new(false),
            known: AtomicBool::new(false),
        }
    }
}
