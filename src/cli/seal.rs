//! Sealing: sign the closed journal, store it, and only then remove the working file.

use super::out::say;
use std::path::Path;

use tokio::sync::mpsc::UnboundedReceiver;

use super::error::Failure;
use super::home::Home;
use super::passphrase;
use crate::evidence::archive::{Archive, Entry, Summary, sha256_hex};
use crate::evidence::audit::examine;
use crate::evidence::keys::{self, SigningKey};
use crate::run::event::Ending;
use crate::run::fold::Run;
use crate::terminal::plain::clean;

/// How often a wrong passphrase may be typed before the run is left for later.
const PASSPHRASE_TRIES: u32 = 3;

/// Signs and stores a closed run; returns its summary.
pub async fn seal(
    home: &Home,
    journal: &Path,
    run: &Run,
    lines: &mut UnboundedReceiver<String>,
) -> Result<Summary, Failure> {
    assert!(run.opened.rehearsal.is_none(), "a rehearsal never enters the archive");
    let unsealed = |mut failure: Failure| {
        let later = "the run is closed and kept; seal it with `coreproof resume`";
        failure.hint = Some(failure.hint.map_or(later.to_owned(), |hint| format!("{hint}; {later}")));
        failure
    };
    let key = unlock(home, lines).await.map_err(unsealed)?;
    let record = std::fs::read(journal).map_err(|error| {
        unsealed(Failure::equipment(format!(
            "the journal `{}` cannot be read: {error}",
            journal.display()
        )))
    })?;
    let entry = entry(&record, run, &key);
    let examined = examine(&record, &entry.signature, Some(&key.public()));
    if let Some(remark) = examined.remarks.iter().find(|r| r.is_against()) {
        let what = format!("the journal `{}` does not hold: {}", journal.display(), remark.words());
        return Err(unsealed(Failure::refused(what)));
    }
    Archive::open(&home.archive())
        .and_then(|mut archive| archive.append(&entry))
        .map_err(|e| unsealed(e.into()))?;
    // the archive has it durably: the working file has done its work
    std::fs::remove_file(journal).map_err(|error| {
        Failure::equipment(format!(
            "the sealed journal `{}` cannot be removed: {error}",
            journal.display()
        ))
    })?;
    Ok(entry.summary)
}

/// Opens the engineer's key with the passphrase that is asked for.
pub async fn unlock(home: &Home, lines: &mut UnboundedReceiver<String>) -> Result<SigningKey, Failure> {
    let locked = keys::load(&home.keys())?;
    say!(
        "Signing with {} ({})",
        clean(locked.public().comment()),
        locked.public().fingerprint()
    );
    let mut tries = 0;
    loop {
        tries += 1;
        let typed = passphrase::ask("Passphrase of the signing key", lines).await?;
        match locked.unlock(&typed) {
            Ok(key) => return Ok(key),
            Err(error @ keys::Error::WrongPassphrase { .. }) if tries < PASSPHRASE_TRIES => {
                eprintln!("{error}");
            }
            Err(error) => return Err(error.into()),
        }
    }
}

/// A record as the archive keeps it.
pub fn entry(record: &[u8], run: &Run, key: &SigningKey) -> Entry {
    stored(record, key.sign(record), run, &key.public())
}

/// A record with a signature that is already there.
pub fn stored(record: &[u8], signature: String, run: &Run, public: &keys::PublicKey) -> Entry {
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
            sha256: sha256_hex(record),
        },
        public_key: public.openssh_line(),
        record: record.to_vec(),
        signature,
    }
}
