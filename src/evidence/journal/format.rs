//! The version of the journal's format, and its bounds.
//!
//! The rule inside: what is written keeps to the same bounds as what is read.

/// The newest format this program reads, and the one it writes.
pub use crate::run::event::FORMAT;

/// Every format there was, as it is written.
pub(super) const FORMATS: [&str; 2] = ["1.0", FORMAT];

/// The longest line, in bytes with its line feed (1 MiB).
pub const LINE_BYTES_MAX: usize = 1 << 20;

/// The longest journal, in bytes (64 MiB).
pub const FILE_BYTES_MAX: u64 = 64 << 20;
