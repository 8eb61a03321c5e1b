//! A connection, and how long it may take.
//!
//! The rule inside: what is known of it only grows.

use std::sync::atomic::AtomicBool;
use std::time::Duration;

/// Time for the head of a request, and for its body.
pub(super) const TIME: Duration = Duration::from_secs(3);

/// What is known of a connection.
#[derive(Debug, Default)]
pub(super) struct Caller {
    /// It has sent a whole head.
    pub asked: AtomicBool,
    /// Its browser is paired.
    pub known: AtomicBool,
}
