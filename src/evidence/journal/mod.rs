//! The journal: the append-only file of a run's events, synced before anything is shown or judged.
//!
//! Format 1.0. UTF-8 JSON Lines; each line is one compact JSON object with exactly these members in this order, then a
//! line feed:
//!
//! ```text
//! {"n":0,"prev":"<64 lower-case hex>","at":"2026-11-25T07:16:21.123Z","event":{"opened":{"format":"1.0"}}}
//! ```
//!
//! - `n` counts from 0 without gaps.
//! - `prev` is the SHA-256 of the bytes of the line before, without its line feed; 64 zeros for line 0.
//! - `at` is RFC 3339 in UTC with exactly three decimals, years 0000 to 9999. A clock may step back: that is kept as it
//!   was, and [`clock_steps_back`] reports it.
//! - `event` is one event; the first is `opened` and its member `format` is `major.minor`. A file in a newer format is
//!   refused before anything else in it is judged.
//! - There is one way to write a line: bytes that differ from it (blanks, a member twice, another order, another
//!   spelling of the same text) are damage.
//! - A line is at most 1 MiB with its line feed, a file at most 64 MiB.
//!
//! What holds what: a change in any line but the last breaks the chain, so [`parse`] sees it. The last line has no line
//! after it; only a signature over the bytes, or a copy of [`chain_head`] kept elsewhere, holds that one.

mod format;
mod error;
mod hash;
mod line;
mod record;
pub mod store;
pub mod faulty;
mod tail;
mod file;

#[cfg(test)]
mod sample;
#[cfg(test)]
mod crash;

pub use error::{Action, Damage, Error};
pub use file::{Journal, Recovered, never_began};
pub use format::{FILE_BYTES_MAX, FORMAT, LINE_BYTES_MAX};
pub use hash::Hash;
pub use line::Line;
pub use record::{StepBack, chain_head, clock_steps_back, format_of, parse};
pub use tail::whole_len;
