//! `check`: every error of every file at once.

use std::path::{Path, PathBuf};

use jiff::Timestamp;

use super::due::due_notes;
use super::error::Failure;
use super::files::{self, Holds};
use super::out::say;
use crate::job::{self, Job};
use crate::located::{FOUND_MAX, Findings, Problem, Text};
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

/// A job that was read, in words.
fn job_words(job: &Job) -> String {
    format!("{}: job at {}, {}", job.text.name, job.place.name, job.cable)
}

/// Jobs that were read, and what is said of those that are not kept.
#[derive(Default)]
struct Jobs {
    kept: Vec<Job>,
    sound: Vec<String>,
    /// Files that are sound by themselves may still draw wiring that cannot be.
    undrawn: Option<Failure>,
}

impl Jobs {
    /// Reads the job of every cable of a file and keeps the first: each has the whole text. What is wrong with what they share is told once.
    fn read_every(&mut self, text: &Text, every: &[String], findings: &mut Findings) {
        let mut told: Vec<Problem> = Vec::new();
        for name in every {
            match files::job(text, Some(name)) {
                Ok(job) if self.kept.is_empty() => self.kept.push(job),
                Ok(job) => {
                    self.sound.push(job_words(&job));
                    let undrawn = Installation::of(&job).err().map(Failure::from);
                    self.undrawn = self.undrawn.take().or(undrawn);
                }
                Err(found) => {
                    let new = found.into_iter().filter(|finding| !told.contains(&finding.problem));
                    let new: Findings = new.collect();
                    told.extend(new.iter().map(|finding| finding.problem.clone()));
                    // where only what is shared is wrong, the others say the same
                    let is_done = new.is_empty() || FOUND_MAX <= told.len();
                    findings.append(new);
                    if is_done {
                        break;
                    }
                }
            }
        }
    }
}

/// The jobs of the cables that are meant; without a sequence each of several is read.
fn jobs(
    texts: &[(&PathBuf, Text)],
    cable: Option<&str>,
    (alone, asked): (bool, &mut dyn FnMut(&Path) -> Named),
    findings: &mut Findings,
) -> Result<Jobs, Failure> {
    let mut jobs = Jobs::default();
    for (path, text) in texts {
        let every = job::cables(&text.text);
        if cable.is_none() && alone && 1 < every.len() {
            jobs.read_every(text, &every, findings);
            continue;
        }
        let meant = match cable {
            Some(cable) => Some(cable.to_owned()),
            None => asked(path)?,
        };
        match files::job(text, meant.as_deref()) {
            Ok(job) => jobs.kept.push(job),
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
    let Jobs {
        kept: jobs,
        sound: further,
        undrawn,
    } = jobs(&texts, cable, (jobs_alone, &mut asked), &mut findings)?;
    sound.extend(
        sequences
            .iter()
            .map(|s| format!("{}: sequence `{}`, {}", s.texts[0].name, s.name, s.title)),
    );
    sound.extend(jobs.iter().map(job_words).chain(further));
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
    for job in &jobs {
        Installation::of(job)?;
    }
    undrawn.map_or(Ok(()), Err)?;
    for line in sound {
        say!("{}", crate::terminal::plain::clean(&line));
    }
    jobs.iter().for_each(|job| due_notes(job, Timestamp::now()));
    Ok(super::error::PASSED)
}
