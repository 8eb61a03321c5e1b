//! `check`: every error of every file at once.

use std::path::PathBuf;

use jiff::Timestamp;

use super::error::Failure;
use super::files::{self, Holds};
use super::out::say;
use super::run::due_notes;
use crate::located::Findings;
use crate::meter::decode::Profile;
use crate::model::installation::Installation;
use crate::proof::{RULES, prove};
use crate::sequence;

/// The reference of the language, as it stands in sequences/LANGUAGE.md.
pub(super) fn language() -> Result<u8, Failure> {
    say!("{}", sequence::reference().trim_end());
    Ok(super::error::PASSED)
}

/// Checks files, and binds each sequence to each job among them.
pub(super) fn check(paths: &[PathBuf]) -> Result<u8, Failure> {
    let mut findings = Findings::default();
    let (mut sequences, mut jobs) = (Vec::new(), Vec::new());
    let mut sound = Vec::new();
    for path in paths {
        let text = files::text(path)?;
        match files::holds(&text.text) {
            Holds::Sequence => match files::with_parts(text, path).and_then(|texts| sequence::read(&texts)) {
                Ok(sequence) => sequences.push(sequence),
                Err(found) => findings.append(found),
            },
            Holds::Job => match files::job(&text) {
                Ok(job) => jobs.push(job),
                Err(found) => findings.append(found),
            },
            Holds::Profile => match Profile::read(&text.text) {
                Ok(profile) => sound.push(format!("{}: profile `{}`", text.name, profile.name)),
                Err(problems) => findings.append(text.findings(problems)),
            },
        }
    }
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
