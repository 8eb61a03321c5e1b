//! `records timestamp`: a stored record and an authority that states when it was there at the latest.
//!
//! The rule inside: nothing goes over a network here: the request is a file, and so is its answer.

use std::path::{Path, PathBuf};

use super::error::{Failure, PASSED};
use super::files::bytes;
use super::home::Home;
use super::out::say;
use crate::evidence::archive::Archive;
use crate::evidence::stored::run_of;
use crate::evidence::timestamp::{self, Authorities, STAMP_BYTES_MAX, Stamp};
use crate::evidence::{bounded, statements, write_new};
use crate::terminal::plain::clean;

/// Writes what an authority is asked.
pub(super) fn request(record: &str, file: &Path) -> Result<u8, Failure> {
    let entry = Archive::read(&Home::open()?.archive())?.get(record)?;
    write_new(file, &timestamp::request(&entry.record))?;
    let file = clean(&file.display().to_string());
    say!(
        "{file} asks for a time stamp over the record of run {}.",
        entry.summary.run
    );
    say!("Send it to an authority as `application/timestamp-query`, then give its answer with `--token`.");
    Ok(PASSED)
}

/// Keeps what an authority answered.
pub(super) fn keep(record: &str, file: &Path, authorities: &[PathBuf]) -> Result<u8, Failure> {
    let home = Home::open()?;
    let entry = Archive::read(&home.archive())?.get(record)?;
    let token = bytes(file, STAMP_BYTES_MAX as u64)?;
    let authorities = Authorities::read(authorities)?;
    let refused = |what: String| {
        Failure::refused(format!("`{}`: {what}", file.display()))
            .hint("ask the authority again, with the request that `--request` writes")
    };
    let mut by = "whoever made it; name an authority with `--authority` to have it proved".to_owned();
    if !authorities.is_empty() {
        let stamp = Stamp::read(&token).map_err(|error| refused(error.to_string()))?;
        let proved = authorities
            .prove(&stamp, &entry.record)
            .map_err(|error| refused(error.to_string()))?;
        if let Some(remark) = bounded(&run_of(&entry)?, &proved) {
            return Err(refused(remark.what));
        }
        by = proved.by;
    }
    let stamp = statements::stamp(&mut Archive::open(&home.archive())?, &entry, &token)?;
    say!(
        "Kept: the record of run {} was there at {}, by the word of {}.",
        entry.summary.run,
        stamp.at,
        clean(&by)
    );
    Ok(PASSED)
}
