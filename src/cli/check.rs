//! `check`: every error of every file at once.

use std::path::{Path, PathBuf};

use jiff::Timestamp;

use super::due::due_notes;
use super::error::Failure;
use super::files::{self, Holds};
use super::out::say;
use crate::job::{self, Job};
use crate::located::{Findings, Problem, Text};
use crate::meter::decode::Profile;
use crate::model::installation::Installation;
use crate::proof::{RULES, prove};
use crate::sequence::shipped;
use crate::sequence::{self, Sequence};

/// The reference of the language, as it stands in sequences/LANGUAGE.md.
pub(super) fn language() -> Result<u8, Failure> {
    say!("{}", sequence::reference().trim_end());
    Ok(super::error::PASSED)
}

/// The cable of a job that is meant, where one was named.
type Named = Result<Option<String>, Failure>;

/// What one file holds.
enum One {
    Sequence(Sequence),
    /// Not yet read: it may hold several cables.
    Job(Text),
    /// Something that is bound to nothing, in words.
    Sound(String),
}

/// Reads a file, or a sequence or job that is shipped.
fn one(path: &Path) -> Result<Result<One, Findings>, Failure> {
    let shipped = path.to_str().filter(|_| !path.exists());
    if let Some(texts) = shipped.and_then(shipped::texts) {
        return Ok(sequence::read(&texts).map(One::Sequence));
    }
    let text = match shipped.and_then(shipped::job) {
        Some(text) => text,
        None => files::text_or_name(path)?,
    };
    let sound = |what: String| One::Sound(format!("{}: {what}", text.name));
    Ok(match files::holds(&text.text) {
        Holds::Sequence => files::with_parts(text, path)
            .and_then(|texts| sequence::read(&texts))
            .map(One::Sequence),
        Holds::Job => Ok(One::Job(text)),
        Holds::Told => match job::read_told(&text) {
            Ok(told) => Ok(sound(format!("{} instruments told", told.instruments.len()))),
            Err(problems) => Err(text.findings(problems)),
        },
        Holds::Profile => match Profile::read(&text.text) {
            Ok(profile) => Ok(sound(format!("profile `{}`", profile.name))),
            Err(problems) => Err(text.findings(problems)),
        },
    })
}

/// Reads the job of every cable of a file; what is wrong with what they share is told once.
fn read_every(text: &Text, every: &[String], jobs: &mut Vec<Job>, findings: &mut Findings) {
    let mut told: Vec<Problem> = Vec::new();
    for name in every {
        match files::job(text, Some(name)) {
            Ok(job) => jobs.push(job),
            Err(found) => findings.append(
                found
                    .into_iter()
                    .filter(|finding| {
                        let is_new = !told.contains(&finding.problem);
                        told.extend(is_new.then(|| finding.problem.clone()));
                        is_new
                    })
                    .collect(),
            ),
        }
    }
}

/// The jobs of the cables that are meant; without a sequence each of several is read.
fn jobs(
    texts: &[(&PathBuf, Text)],
    cable: Option<&str>,
    (alone, asked): (bool, &mut dyn FnMut(&Path) -> Named),
    findings: &mut Findings,
) -> Result<Vec<Job>, Failure> {
    let mut jobs = Vec::new();
    for (path, text) in texts {
        let every = job::cables(&text.text);
        if cable.is_none() && alone && 1 < every.len() {
            read_every(text, &every, &mut jobs, findings);
            continue;
        }
        let meant = match cable {
            Some(cable) => Some(cable.to_owned()),
            None => asked(path)?,
        };
        match files::job(text, meant.as_deref()) {
            Ok(job) => jobs.push(job),
            Err(found) => findings.append(found),
        }
    }
    Ok(jobs)
}

/// Checks files, and binds each sequence to each job among them. Where a job holds several cables and a sequence is there, one is meant: a
/// sequence is for a kind of cable, and not for whatever else runs through the place.
pub(super) fn check(
    paths: &[PathBuf],
    cable: Option<&str>,
    mut asked: impl FnMut(&Path) -> Named,
) -> Result<u8, Failure> {
    let mut findings = Findings::default();
    let (mut sequences, mut texts) = (Vec::new(), Vec::new());
    let mut sound = Vec::new();
    for path in paths {
        let read = one(path)?.map(|one| match one {
            One::Sequence(sequence) => sequences.push(sequence),
            One::Job(text) => texts.push((path, text)),
            One::Sound(line) => sound.push(line),
        });
        read.unwrap_or_else(|found| findings.append(found));
    }
    let jobs_alone = texts.len() == paths.len();
    let jobs = jobs(&texts, cable, (jobs_alone, &mut asked), &mut findings)?;
    sound.extend(
        sequences
            .iter()
            .map(|s| format!("{}: sequence `{}`, {}", s.texts[0].name, s.name, s.title)),
    );
    sound.extend(
        jobs.iter()
            .map(|j| format!("{}: job at {}, {}", j.text.name, j.place.name, j.cable)),
    );
    for sequence in &sequences {
        for job in &jobs {
            match sequence::bind(sequence, job) {
                Ok(plan) => {
                    let proof = prove(&plan);
                    sound.push(format!(
                        "{} with {}: order proved: {} steps, {} outcomes followed, {} rules kept on every path",
                        sequence.texts[0].name,
                        job.text.name,
                        proof.steps,
                        proof.outcomes,
                        RULES.len()
                    ));
                }
                Err(found) => findings.append(found),
            }
        }
    }
    if !findings.is_empty() {
        return Err(Failure::findings(findings));
    }
    // files that are sound by themselves may still draw wiring that cannot be
    for job in &jobs {
        Installation::of(job)?;
    }
    for line in sound {
        say!("{}", crate::terminal::plain::clean(&line));
    }
    jobs.iter().for_each(|job| due_notes(job, Timestamp::now()));
    Ok(super::error::PASSED)
}
