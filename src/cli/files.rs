//! Reading sequences, jobs and profiles from disk.

use std::path::Path;

use super::error::Failure;
use super::home::Home;
use crate::job::{self, Job, Told};
use crate::located::{Findings, Located, Problem, TEXT_BYTES_MAX, Text, listed, nearest, top_field};
use crate::plan::{Lock, Plan};
use crate::sequence;
use crate::sequence::shipped;
use crate::system::disk;

/// What a file holds, by its top-level fields.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Holds {
    Sequence,
    Job,
    Profile,
    /// The engineer and the instruments, told once.
    Told,
}

/// A sequence and the parts that it includes: a file, or one that is shipped, by its name.
pub(super) fn sequence_texts(path: &Path) -> Result<Vec<Text>, Failure> {
    if let Some(texts) = path.to_str().and_then(shipped::texts).filter(|_| !path.exists()) {
        return Ok(texts);
    }
    let first = text(path).map_err(|failure| match path.exists() {
        true => failure,
        false => unknown(
            failure,
            path,
            shipped::SEQUENCES.iter().map(|there| there.name).collect(),
        ),
    })?;
    with_parts(first, path).map_err(Failure::findings)
}

/// A name that is neither a file nor shipped, with the nearest of those that are.
fn unknown(failure: Failure, path: &Path, names: Vec<&str>) -> Failure {
    let near = path
        .to_str()
        .and_then(|written| nearest(written, names.iter().copied()));
    failure.hint(match near {
        Some(near) => format!("write `{near}`, or give a file"),
        None => format!("give a file, or one of {}", listed(&names, |name| format!("`{name}`"))),
    })
}

/// A sequence's file with what it includes: from beside it or below, or of those that are shipped. What is not there is for the
/// reading of the sequence to say, at its place.
pub(super) fn with_parts(first: Text, path: &Path) -> Result<Vec<Text>, Findings> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let folder = folder.unwrap_or(Path::new("."));
    sequence::with_parts(first, |name| part(folder, name))
}

/// A part below the sequence's folder, or a shipped one.
fn part(folder: &Path, name: &Located<String>) -> Result<Option<Text>, Problem> {
    let path = folder.join(&name.value);
    if std::fs::symlink_metadata(&path).is_err() {
        return Ok(shipped::part(name));
    }
    // a link may stand anywhere on the way
    let below = path
        .canonicalize()
        .and_then(|real| Ok(real.starts_with(folder.canonicalize()?)));
    if !below.unwrap_or(false) {
        let what = format!("`{}` is a link out of the sequence's folder", name.value.escape_debug());
        return Err(Problem::new(&name.span, what).hint("put the file itself there"));
    }
    let text = text(&path).map_err(|failure| Problem {
        hint: failure.hint,
        ..Problem::new(&name.span, failure.message)
    })?;
    Ok(Some(Text::new(&*name.value, text.text)))
}

/// A job: a file, or one that is shipped, by its name.
pub(super) fn job_text(path: &Path) -> Result<Text, Failure> {
    match path.to_str().and_then(shipped::job) {
        Some(text) if !path.exists() => Ok(text),
        _ => text(path).map_err(|failure| match path.exists() {
            true => failure,
            false => {
                let mut names: Vec<_> = shipped::SEQUENCES.iter().map(|there| there.job).collect();
                names.sort_unstable();
                names.dedup();
                unknown(failure, path, names)
            }
        }),
    }
}

/// A file; one that is not there may be a shipped sequence or job whose name was written otherwise.
pub(super) fn text_or_name(path: &Path) -> Result<Text, Failure> {
    text(path).map_err(|failure| {
        let names = shipped::SEQUENCES.iter().flat_map(|there| [there.name, there.job]);
        match path.to_str().and_then(|written| nearest(written, names)) {
            Some(near) if !path.exists() => failure.hint(format!("write `{near}`, or give a file")),
            _ => failure,
        }
    })
}

/// The bytes of a file that was named, at most so many.
pub(super) fn bytes(path: &Path, bytes_max: u64) -> Result<Vec<u8>, Failure> {
    disk::read(path, bytes_max).map_err(|unread| {
        Failure::refused(format!("`{}` cannot be read: {unread}", path.display())).hint(unread.hint())
    })
}

/// A text file with its name as given.
pub(super) fn text(path: &Path) -> Result<Text, Failure> {
    let name = path.display().to_string();
    let bytes = bytes(path, TEXT_BYTES_MAX as u64)?;
    // a mark that some editors put in front says nothing
    let text = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&bytes);
    let text = std::str::from_utf8(text).map_err(|_| {
        Failure::refused(format!("`{name}` cannot be read: it is not UTF-8 text")).hint("give a RON file")
    })?;
    Ok(Text::new(name, text))
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
    } else if top_field(text, "instruments").is_some()
        && ["place", "supply", "cable"]
            .iter()
            .all(|field| top_field(text, field).is_none())
    {
        Holds::Told
    } else {
        Holds::Job
    }
}

/// A checked job, with what it leaves to what was told once put in; `cable` names the one meant, where the file holds several.
pub(super) fn job(text: &Text, cable: Option<&str>) -> Result<Job, Findings> {
    let told = match job::asks_for_told(&text.text) {
        true => Home::open().ok().map_or(Ok(None), |home| told(&home))?,
        false => None,
    };
    job::read_cable(text, cable, told.as_ref()).map_err(|problems| text.findings(problems))
}

/// The job of any one cable of a file, for what all of them share.
pub(super) fn shared(text: &Text) -> Result<Job, Findings> {
    job(text, job::cables(&text.text).first().map(String::as_str))
}

/// The engineer and the instruments that were told once; none where nothing was told. A file that cannot be read is a finding at its
/// beginning.
pub(super) fn told(home: &Home) -> Result<Option<Told>, Findings> {
    let path = home.instruments();
    if std::fs::symlink_metadata(&path).is_err() {
        return Ok(None);
    }
    let text = text(&path).map_err(|failure| {
        let unread = Text::new(path.display().to_string(), "");
        let problem = Problem::new(&(0..0), failure.message).hint(failure.hint.unwrap_or_default());
        Findings::from(unread.finding(problem))
    })?;
    job::read_told(&text)
        .map(Some)
        .map_err(|problems| text.findings(problems))
}

/// Both files, bound; every finding of either at once. `cable` as for [`job()`].
pub(super) fn plan(sequence: &Path, job_path: &Path, cable: Option<&str>) -> Result<Plan, Failure> {
    plan_behind(sequence, job_path, cable, Lock::Own)
}

/// The same for a run that may rest on the lock of an earlier one.
pub(super) fn plan_behind(sequence: &Path, job_path: &Path, cable: Option<&str>, lock: Lock) -> Result<Plan, Failure> {
    let (texts, job_text) = (sequence_texts(sequence)?, job_text(job_path)?);
    match (sequence::read(&texts), job(&job_text, cable)) {
        (Ok(sequence), Ok(job)) => sequence::bind_behind(&sequence, &job, lock).map_err(Failure::findings),
        (sequence, job) => {
            let mut findings = sequence.err().unwrap_or_default();
            findings.append(job.err().unwrap_or_default());
            Err(Failure::findings(findings))
        }
    }
}
