//! Whom a copy of a certificate is for.
//!
//! The rule inside: a copy changes how much is printed, never the record inside.

use serde::Serialize;

/// Whom a copy is for; the record inside is the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum CopyFor {
    /// The front pages.
    Client,
    /// The front pages, and behind them every step with its sources.
    Engineer,
}

impl CopyFor {
    /// Both, the one that is made where nobody says which first.
    pub const ALL: [CopyFor; 2] = [CopyFor::Engineer, CopyFor::Client];

    /// The copy in words.
    pub fn words(self) -> &'static str {
        match self {
            CopyFor::Client => "the client's copy",
            CopyFor::Engineer => "the engineer's copy",
        }
    }
}
