//! Reading sequences, jobs and profiles from disk.

use std::path::Path;

use super::error::Failure;
use crate::meter::profile::{self, Profile};
use crate::pure::job::{self, Job};
use crate::pure::located::{Finding, TEXT_BYTES_MAX, Text};
use crate::pure::plan::Plan;
use crate::pure::sequence::{self, Sequence};

/// What a file holds, by its top-level fields.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Holds {
    Sequence,
    Job,
    Profile,
}

/// A text file with its name as given.
pub fn text(path: &Path) -> Result<Text, Failure> {
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
pub fn holds(text: &str) -> Holds {
    let has = |field: &str| {
        text.lines().any(|line| {
            line.trim_start()
                .strip_prefix(field)
                .is_some_and(|rest| rest.trim_start().starts_with(':'))
        })
    };
    if has("steps") {
        Holds::Sequence
    } else if has("decode") {
        Holds::Profile
    } else {
        Holds::Job
    }
}

/// A checked sequence.
pub fn sequence(text: &Text) -> Result<Sequence, Vec<Finding>> {
    sequence::read(std::slice::from_ref(text))
}

/// A checked job.
pub fn job(text: &Text) -> Result<Job, Vec<Finding>> {
    job::read(text).map_err(|problems| text.findings(problems))
}

/// Both files, bound; every finding of either at once.
pub fn plan(sequence_text: &Text, job_text: &Text) -> Result<Plan, Failure> {
    match (sequence(sequence_text), job(job_text)) {
        (Ok(sequence), Ok(job)) => sequence::bind(&sequence, &job).map_err(Failure::findings),
        (sequence, job) => {
            let findings = sequence.err().into_iter().chain(job.err()).flatten().collect();
            Err(Failure::findings(findings))
        }
    }
}

/// A profile by its shipped name or from a file.
pub fn profile(name: &str) -> Result<Profile, Failure> {
    if Path::new(name).is_file() {
        let text = text(Path::new(name))?;
        return Profile::read(&text.text).map_err(|problems| Failure::findings(text.findings(problems)));
    }
    profile::find(name).cloned().map_err(|error| {
        let failure = Failure::refused(error.to_string());
        match error.hint() {
            Some(hint) => failure.hint(hint),
            None => failure,
        }
    })
}
