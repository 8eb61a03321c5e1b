//! The photographs of a record: those that are attached with their small pictures, of all others name and hash.
//!
//! The rule inside: every photograph that the record binds in is listed once, whatever was chosen.

use serde::Serialize;

use super::words::Clock;
use crate::run::fold::Run;

/// A photograph that is attached.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Attached {
    /// SHA-256 of its bytes, in hexadecimal.
    #[serde(skip)]
    pub sha256: String,
    /// Under what name.
    pub file: String,
    /// Its media type.
    pub media_type: String,
    /// Its small picture; none where its file is not unpacked here.
    pub small: Option<Small>,
    /// Why there is no small picture.
    pub without: Option<String>,
}

/// A small picture.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Small {
    /// The file of its pixels, for the template.
    pub file: String,
    /// In pixels.
    pub width: u32,
    /// In pixels.
    pub height: u32,
}

/// One photograph.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PhotographRow {
    /// The name of its file when it was bound in.
    pub name: String,
    /// SHA-256 of its bytes, in hexadecimal.
    pub sha256: String,
    /// Each step that it was bound in at: number, name, time, and what was written down.
    pub of: Vec<String>,
    /// How it is attached; none where it is not.
    pub attached: Option<Attached>,
}

/// Every photograph of the record, in order of time.
pub(super) fn rows(run: &Run, attached: &[Attached]) -> Vec<PhotographRow> {
    let clock = Clock::of(run);
    let mut rows: Vec<PhotographRow> = Vec::new();
    for bound in run.photographs() {
        let number = run.plan.index(bound.step).map_or(0, |at| at + 1);
        let told = format!(
            "step {number}, {}, {}: {}",
            bound.step,
            clock.time(bound.at),
            bound.text
        );
        let there = bound.photograph;
        match rows.iter_mut().find(|row| row.sha256 == there.sha256) {
            Some(row) => row.of.push(told),
            None => rows.push(PhotographRow {
                name: there.file.clone(),
                sha256: there.sha256.clone(),
                of: vec![told],
                attached: attached.iter().find(|one| one.sha256 == there.sha256).cloned(),
            }),
        }
    }
    rows
}
