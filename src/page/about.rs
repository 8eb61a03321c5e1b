//! What a page is about.
//!
//! The rule inside: it stays the same for as long as the page is served.

use std::path::PathBuf;

/// What a page is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct About {
    /// Its title: place and cable.
    pub title: String,
    /// The name of the near end.
    pub near: String,
    /// The name of the far end.
    pub far: String,
    /// How old a reading may be and still be shown as live, in milliseconds.
    pub fresh_ms: u64,
    /// Where its pictures are kept: the folder, and what their names begin with.
    pub pictures: PathBuf,
}
