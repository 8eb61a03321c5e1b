//! What the page tells the terminal.
//!
//! The rule inside: whoever is let in is told there, and a new code is shown there alone.

use std::net::IpAddr;

/// What the page tells the terminal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Told {
    /// A browser was paired.
    Paired {
        /// The machine it is on.
        from: IpAddr,
        /// Its number, by which the record names it.
        number: u32,
    },
    /// The last address was opened again, or too late: the next one, for one browser.
    Renewed(String),
}
