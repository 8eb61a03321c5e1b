//! What a stored record came to, read in passing.
//!
//! The rule inside: its signature must be good and its events are folded; the rest of it is examined where it is audited itself.

use super::archive::Entry;
use super::{journal, keys};
use crate::run::event::Event;
use crate::run::fold::Run;
use crate::run::folded::fold;

/// The run of a stored record; none where it cannot be read or is not as it was signed.
pub fn folded(entry: &Entry) -> Option<Run> {
    keys::verify(&entry.record, &entry.signature, None).ok()?;
    let lines = journal::parse::<Event>(&entry.record).ok()?;
    let events = lines.into_iter().map(|line| (line.at, line.event));
    fold::<Run>(events, |_, _, _| {}, |_, _| {}).ok()
}
