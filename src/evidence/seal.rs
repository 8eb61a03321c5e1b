//! Sealing: a closed journal is signed, examined as whoever gets it will, and only then let out of hand.
//!
//! The rule inside: what speaks against a journal is never signed over, except a run that could not go on: it is sealed as the
//! abandoned run that it is, with what did not fit in it.

use std::path::Path;

use serde::Serialize;
use serde::de::DeserializeOwned;

use super::archive::{Archive, Entry, Summary, sha256_hex};
use super::audit::{Concern, Examinable, Examined, Remark, examine};
use super::keys::{PublicKey, Signs};
use super::log::Heads;
use super::refusal::Refusal;
use super::sealed::{Sealed, beside, bytes, write_new};
use super::shelf;
use super::supersession::Supersession;
use crate::identify::session::Session;
use crate::run::event::Ending;
use crate::run::fold::Run;

/// Signs a closed journal and examines it.
///
/// # Errors
/// The first remark that speaks against it and that `overlooks` does not let pass.
pub fn sign<F>(
    record: Vec<u8>,
    key: &dyn Signs,
    overlooks: impl Fn(&F, &Remark) -> bool,
) -> Result<(Sealed, Examined<F>), Refusal>
where
    F: Examinable,
    F::Opened: Clone,
    F::Event: Clone + Serialize + DeserializeOwned,
{
    let signature = key.sign_record(&record)?;
    let examined = examine::<F>(&record, &signature, Some(&key.public()));
    let overlooked = |remark: &Remark| examined.folded.as_ref().is_some_and(|folded| overlooks(folded, remark));
    let against = examined
        .remarks
        .iter()
        .find(|remark| remark.is_against() && !overlooked(remark));
    match against {
        Some(remark) => Err(Refusal::new(format!("the journal does not hold: {}", remark.words()))),
        None => Ok((Sealed { record, signature }, examined)),
    }
}

/// What sealing came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stored {
    /// The record, as a list shows it.
    pub summary: Summary,
    /// What is to be said of the archive, in words.
    pub told: Vec<String>,
}

/// Signs a closed run, stores it with a signed checkpoint of the log, and only then removes the working file.
///
/// # Errors
/// A journal that does not hold or cannot be read; a rehearsal; failures of the archive, or of the folder that keeps its checkpoints.
pub fn store(journal: &Path, archive: &Path, heads: &Heads, key: &dyn Signs) -> Result<Stored, Refusal> {
    let record = bytes(journal)?;
    let told = |run: &Run, remark: &Remark| {
        let broken =
            run.broken.is_some() && matches!(remark.concern, Concern::Order | Concern::Verdict | Concern::Reading);
        broken || !run.differences.is_empty() && remark.concern == Concern::Verdict || is_of_today(remark)
    };
    let (sealed, examined) = sign::<Run>(record, key, told).map_err(|why| why.of_file(journal))?;
    // the index tells what the bytes come to, whoever walked them
    let run = examined.folded.expect("what cannot be read was refused");
    not_rehearsed(&run).map_err(|why| why.of_file(journal))?;
    let entry = entry(&sealed, &run, &key.public());
    let mut archive = Archive::open(archive)?;
    let mut told = shelf::opened(&archive, heads)?;
    let supersedes = Supersession::of(&run, &sealed).map(|stated| stated.statement(&sealed, &key.public()));
    archive.append_with(&entry, supersedes.as_ref())?;
    told.extend(shelf::sign_head(&mut archive, heads, key)?);
    // the archive has it durably and it was read back: the working file has done its work
    std::fs::remove_file(journal).map_err(|error| {
        let what = format!("the sealed journal `{}` cannot be removed: {error}", journal.display());
        Refusal::equipment(what)
    })?;
    Ok(Stored {
        summary: entry.summary,
        told,
    })
}

/// A rehearsal never enters the archive.
///
/// # Errors
/// The run is one.
pub fn not_rehearsed(run: &Run) -> Result<(), Refusal> {
    match &run.opened.rehearsal {
        None => Ok(()),
        Some(_) => Err(Refusal::new("this is a rehearsal, which never enters the archive")),
    }
}

/// What is found only because this version proves more than the one that walked.
fn is_of_today(remark: &Remark) -> bool {
    // nor does a date stop what is closed from being sealed: it stays a finding
    matches!(remark.concern, Concern::Proof | Concern::When)
}

/// Signs a closed identification; its signature lies beside it.
///
/// # Errors
/// A file that does not hold or cannot be read; a signature that is there or cannot be written.
pub fn sign_beside(file: &Path, key: &dyn Signs) -> Result<(), Refusal> {
    let (sealed, _) = sign::<Session>(bytes(file)?, key, |_, _| false).map_err(|why| why.of_file(file))?;
    write_new(&beside(file), sealed.signature.as_bytes())
}

/// A closed run as the archive keeps it.
///
/// # Panics
/// When the run is not closed.
pub fn entry(sealed: &Sealed, run: &Run, public: &PublicKey) -> Entry {
    let (ending, closed_at) = run.ending.as_ref().expect("only a closed run is sealed");
    let job = &run.plan.job;
    Entry {
        summary: Summary {
            run: run.opened.run,
            opened_at: run.opened_at.to_string(),
            closed_at: closed_at.to_string(),
            place: format!("{}, {}", job.place.name, job.place.part),
            cable: job.cable.clone(),
            engineer: job.engineer.clone(),
            verdict: run.outcome().word().to_lowercase(),
            outcome: match ending {
                Ending::Completed => "completed".into(),
                Ending::Abandoned(_) => "abandoned".into(),
            },
            edition: run.opened.edition.clone(),
            fingerprint: public.fingerprint(),
            sha256: sha256_hex(&sealed.record),
        },
        public_key: public.openssh_line(),
        record: sealed.record.clone(),
        signature: sealed.signature.clone(),
    }
}
