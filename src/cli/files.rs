//! Reading sequences, jobs and profiles from disk.

use std::path::Path;

use super::error::Failure;
use crate::job::{self, Job};
use crate::located::{Finding, TEXT_BYTES_MAX, Text};
use crate::meter::decode::Profile;
use crate::meter::profile::{self};
use crate::plan::Plan;
use crate::sequence;
use crate::sequence::shipped;

/// What a file holds, by its top-level fields.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Holds {
    Sequence,
    Job,
    Profile,
}

/// A sequence and the parts that it includes: a file, or one that is shipped, by its name.
pub(super) fn sequence_texts(path: &Path) -> Result<Vec<Text>, Failure> {
    let first = match path.to_str().and_then(shipped::sequence) {
        Some(text) if !path.exists() => text,
        _ => text(path).map_err(|failure| match path.exists() {
            true => failure,
            false => failure.hint(format!("give a file, or one of {}", shipped_names())),
        })?,
    };
    with_parts(first, path.parent().unwrap_or(Path::new("")))
}

fn shipped_names() -> String {
    let names: Vec<_> = shipped::SEQUENCES
        .iter()
        .map(|there| format!("`{}`", there.name))
        .collect();
    names.join(", ")
}

/// A sequence with what it includes: from beside it, or of those that are shipped. What is not there is for the reading of
/// the sequence to say, at its place.
pub(super) fn with_parts(first: Text, folder: &Path) -> Result<Vec<Text>, Failure> {
    sequence::with_parts(first, |name| {
        let beside = folder.join(name);
        if !beside.is_file() {
            return Ok(shipped::part(name));
        }
        let name = name.to_owned();
        Ok(Some(Text { name, ..text(&beside)? }))
    })
}

/// A job: a file, or one that is shipped, by its name.
pub(super) fn job_text(path: &Path) -> Result<Text, Failure> {
    match path.to_str().and_then(shipped::job) {
        Some(text) if !path.exists() => Ok(text),
        _ => text(path).map_err(|failure| match path.exists() {
            true => failure,
            false => {
                let mut names: Vec<_> = shipped::SEQUENCES
                    .iter()
                    .map(|there| format!("`{}`", there.job))
                    .collect();
                names.sort();
                names.dedup();
                failure.hint(format!("give a file, or one of {}", names.join(", ")))
            }
        }),
    }
}

/// A text file with its name as given.
pub(super) fn text(path: &Path) -> Result<Text, Failure> {
    let name = path.display().to_string();
    let failed = |error: &dyn std::fmt::Display| Failure::refused(format!("`{name}` cannot be read: {error}"));
    let size = std::fs::metadata(path)
        .map_err(|e| failed(&e).hint("check the path"))?
        .len();
    if TEXT_BYTES_MAX as u64 * 2 < size {
        return Err(failed(&format!("it holds {size} bytes, more than {TEXT_BYTES_MAX}")));
    }
    let bytes = std::fs::read(path).map_err(|e| failed(&e))?;
    // a mark that some editors put in front says nothing
    let bytes = bytes
        .strip_prefix(b"\xef\xbb\xbf")
        .map_or_else(|| bytes.clone(), <[u8]>::to_vec);
    let text = String::from_utf8(bytes).map_err(|_| failed(&"it is not UTF-8 text").hint("give a RON file"))?;
    Ok(Text { name, text })
}

/// Tells the kinds of file apart.
pub(super) fn holds(text: &str) -> Holds {
    // a field of its own, wherever the line breaks are: after a bracket, a comma or a blank
    let has = |field: &str, opens: &[char]| {
        text.match_indices(field).any(|(at, _)| {
            let before = text[..at].chars().next_back();
            let after = text[at + field.len()..].trim_start().strip_prefix(':');
            before.is_none_or(|c| c == '(' || c == ',' || c.is_whitespace())
                && after.is_some_and(|rest| rest.trim_start().starts_with(opens))
        })
    };
    if has("steps", &['[']) {
        Holds::Sequence
    } else if has("decode", &['P', 'F']) {
        Holds::Profile
    } else {
        Holds::Job
    }
}

/// A checked job.
pub(super) fn job(text: &Text) -> Result<Job, Vec<Finding>> {
    job::read(text).map_err(|problems| text.findings(problems))
}

/// Both files, bound; every finding of either at once.
pub(super) fn plan(sequence: &Path, job_path: &Path) -> Result<Plan, Failure> {
    let (texts, job_text) = (sequence_texts(sequence)?, job_text(job_path)?);
    match (sequence::read(&texts), job(&job_text)) {
        (Ok(sequence), Ok(job)) => sequence::bind(&sequence, &job).map_err(Failure::findings),
        (sequence, job) => {
            let findings = sequence.err().into_iter().chain(job.err()).flatten().collect();
            Err(Failure::findings(findings))
        }
    }
}

/// A profile by its shipped name or from a file.
pub(super) fn profile(name: &str) -> Result<Profile, Failure> {
    if Path::new(name).is_file() {
        let text = text(Path::new(name))?;
        return Profile::read(&text.text).map_err(|problems| Failure::findings(text.findings(problems)));
    }
    Ok(profile::find(name)?.clone())
}
