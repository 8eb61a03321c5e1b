//! A journal that was broken off, opened again and folded.
//!
//! The rule inside: whatever does not fit is told and does not stop the opening: such a journal can still be made safe, closed and sealed.

use std::path::Path;

use jiff::Timestamp;
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::journal::{self, Journal};
use super::refusal::Refusal;
use super::sealed;
use crate::located::Findings;
use crate::run::folded::{Folded, Unfolded, fold};

/// A journal that goes on.
#[derive(Debug)]
pub struct Reopened<F: Folded> {
    /// The journal, locked and ready for the next line.
    pub journal: Journal<F::Event>,
    /// What its events came to.
    pub folded: F,
    /// Lines that do not fit, counted from 1, and why.
    pub refused: Vec<(u64, String)>,
    /// Bytes of an unfinished last line that were dropped.
    pub torn_bytes: u64,
}

/// Opens the journal at a path again.
///
/// # Errors
/// Those of the journal; an opening that cannot be used, in the words of `unopened`.
pub fn reopen<F>(path: &Path, unopened: impl FnOnce(F::Unopened) -> Refusal) -> Result<Reopened<F>, Refusal>
where
    F: Folded,
    F::Opened: Clone,
    F::Event: Serialize + DeserializeOwned,
{
    let recovered = Journal::<F::Event>::recover(path).map_err(|error| Refusal::from(error).of_file(path))?;
    let mut refused = Vec::new();
    let events = recovered.lines.into_iter().map(|line| (line.at, line.event));
    let folded = fold::<F>(events, |_, _, _| {}, |n, why| refused.push((n as u64 + 1, why.what)));
    let folded = folded.map_err(|why| unfolded(why, unopened).of_file(path))?;
    Ok(Reopened {
        journal: recovered.journal,
        folded,
        refused,
        torn_bytes: recovered.torn_bytes,
    })
}

/// What a journal came to so far, with the time of its last line. It is looked at and not opened: nothing is locked, cut off or written.
///
/// # Errors
/// As [`reopen`], but for a journal that is in use.
pub fn peek<F>(path: &Path, unopened: impl FnOnce(F::Unopened) -> Refusal) -> Result<(F, Timestamp), Refusal>
where
    F: Folded,
    F::Opened: Clone,
    F::Event: Serialize + DeserializeOwned,
{
    let bytes = sealed::bytes(path)?;
    let of_file = |error: journal::Error| Refusal::from(error).of_file(path);
    let whole = journal::whole_len(&bytes).map_err(of_file)?;
    let lines = journal::parse::<F::Event>(&bytes[..whole]).map_err(of_file)?;
    let last = lines.last().map_or(Timestamp::MIN, |line| line.at);
    let events = lines.into_iter().map(|line| (line.at, line.event));
    let folded = fold::<F>(events, |_, _, _| {}, |_, _| {});
    Ok((folded.map_err(|why| unfolded(why, unopened).of_file(path))?, last))
}

fn unfolded<U>(why: Unfolded<U>, unopened: impl FnOnce(U) -> Refusal) -> Refusal {
    match why {
        Unfolded::NoOpening => Refusal::new("the journal does not begin with its opening"),
        Unfolded::Unopened(why) => unopened(why),
    }
}

/// The carried files of a run cannot be used.
pub fn carried_files(findings: Findings) -> Refusal {
    Refusal::new("what it carries cannot be used by this version")
        .then("read it with the version that wrote it")
        .with_findings(findings)
}
