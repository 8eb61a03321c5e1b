//! The archive with the checkpoints that are kept outside it.
//!
//! The rule inside: what was promised before is never taken back: a head is signed only where the log goes on from every checkpoint that is
//! known, and a record is kept even where no head can be signed.

use super::archive::{self, Archive, Made};
use super::keys::Signs;
use super::log::{Heads, Kept};
use super::refusal::Refusal;

/// What is to be said of an archive that was opened for adding to it, in words.
///
/// # Errors
/// A folder of checkpoints that cannot be read.
pub(super) fn opened(archive: &Archive, heads: &Heads) -> Result<Vec<String>, Refusal> {
    let path = archive.path().display();
    let mut told = match archive.made() {
        Made::Nothing => Vec::new(),
        Made::Archive => vec![format!("a new archive was made: `{path}`")],
        Made::Log(records) => vec![format!(
            "the archive had no log of its records: it has one from now on, which begins with the {records} that are there; what was \
             deleted before cannot be found"
        )],
    };
    if archive.made() != Made::Nothing {
        let origin = archive.origin()?;
        let others = all(heads)?.0.into_iter().filter(|kept| kept.head.origin != origin);
        told.extend(others.map(|kept| of_another(&kept)));
    }
    Ok(told)
}

/// Signs the head of the log and keeps it outside the archive; what is to be said where that cannot be done without contradicting what was
/// signed before.
///
/// # Errors
/// A key that does not sign, an archive or a folder that fails.
pub fn sign_head(archive: &mut Archive, heads: &Heads, key: &dyn Signs) -> Result<Option<String>, Refusal> {
    let origin = archive.origin()?;
    let none_signed = |why: &dyn std::fmt::Display| {
        format!("the record is stored, but no checkpoint was signed: {why}; run `coreproof audit`")
    };
    let kept = match heads.of_log(&origin) {
        Ok(kept) => kept,
        Err(error) => {
            return Ok(Some(none_signed(&format!(
                "the one that is kept cannot be read: {error}"
            ))));
        }
    };
    let known: Vec<_> = kept.iter().map(|kept| kept.head.clone()).collect();
    match archive.sign_head(key, &known) {
        Ok((head, note)) if kept.is_none_or(|kept| kept.head != head) => {
            heads.keep(&head, &note).map_err(|error| {
                let what = format!(
                    "the checkpoint cannot be kept in `{}`: {error}",
                    heads.folder().display()
                );
                Refusal::equipment(what)
                    .then("the record is stored; make room or give the folder back, then run it again")
            })?;
            Ok(None)
        }
        Ok(_) => Ok(None),
        Err(error @ archive::Error::LogBroken { .. }) => Ok(Some(none_signed(&error))),
        Err(error) => Err(error.into()),
    }
}

/// Every checkpoint that is kept.
///
/// # Errors
/// A folder that cannot be read.
pub(super) fn all(heads: &Heads) -> Result<(Vec<Kept>, Vec<std::path::PathBuf>), Refusal> {
    heads.all().map_err(|error| {
        Refusal::equipment(format!(
            "the folder `{}` cannot be read: {error}",
            heads.folder().display()
        ))
    })
}

/// What a checkpoint of another archive than the one that is there means.
pub(super) fn of_another(kept: &Kept) -> String {
    format!(
        "an archive with {} leaves was here and is not: its checkpoint is `{}`; put that archive back, or move the checkpoint away \
         with it",
        kept.head.size,
        kept.path.display()
    )
}
