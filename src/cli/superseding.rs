//! `run --supersedes RECORD`: the record that a run corrects.
//!
//! The rule inside: what is corrected is named by its digest, so it must be at hand, whole and signed.

use std::path::Path;

use super::certificate::record_in;
use super::error::Failure;
use super::home::Home;
use super::out::say;
use crate::evidence::archive::{Archive, sha256_hex};
use crate::evidence::audit::examine;
use crate::evidence::statements;
use crate::evidence::{Sealed, bytes, signer_of};
use crate::run::event::Supersedes;
use crate::run::fold::Run;
use crate::terminal::plain::clean;

/// What is carried of the record that is corrected: one in the archive, a record file, or a certificate.
pub(super) fn of(record: &str, because: &str, home: &Home) -> Result<Supersedes, Failure> {
    if because.trim().is_empty() {
        return Err(
            Failure::refused("no reason is given why the record is superseded").hint("give it with `--because`")
        );
    }
    let path = Path::new(record);
    let sealed = if path.is_file() {
        let content = bytes(path)?;
        match content.starts_with(b"%PDF") {
            true => record_in(&content)?.sealed,
            false => Sealed::read(path)?,
        }
    } else {
        let archive = Archive::read(&home.archive())?;
        let entry = archive.get(record)?;
        for later in statements::superseded_by(&archive, entry.summary.run, &entry.summary.sha256)? {
            say!("note: {}", clean(&later.words()));
        }
        Sealed {
            record: entry.record,
            signature: entry.signature,
        }
    };
    let examined = examine::<Run>(&sealed.record, &sealed.signature, None);
    signer_of(&examined)?;
    let run = examined
        .folded
        .filter(|run| run.opened.rehearsal.is_none())
        .ok_or_else(|| {
            Failure::refused(format!("`{record}` is not the record of a run")).hint("see `coreproof verify`")
        })?;
    Ok(Supersedes {
        run: run.opened.run,
        sha256: sha256_hex(&sealed.record),
        because: because.trim().to_owned(),
    })
}
