//! One row of the archive. The columns beside the record repeat what the record says, so that a list needs no record
//! opened; where they differ, the record is right.

use jiff::Timestamp;
use rusqlite::Row;
use sha2::{Digest as _, Sha256};
use uuid::Uuid;

use super::Error;

/// Texts of a verdict that the archive takes.
const VERDICTS: [&str; 4] = ["pass", "fail", "not tested", "conditional"];
/// Texts of an outcome that the archive takes.
const OUTCOMES: [&str; 2] = ["completed", "abandoned"];

/// A record with its signature and what a list shows of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// What a list shows.
    pub summary: Summary,
    /// The key that signed, as a line of an OpenSSH `.pub` file.
    pub public_key: String,
    /// The record: the bytes of the sealed journal.
    pub record: Vec<u8>,
    /// The detached signature over `record`, armored.
    pub signature: String,
}

/// What a list shows of a record, without the record itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Summary {
    /// The run that the record is of.
    pub run: Uuid,
    /// When the run was opened: RFC 3339 with its offset, as the record has it.
    pub opened_at: String,
    /// When the run was sealed, in the same form.
    pub closed_at: String,
    /// The place, as the job names it.
    pub place: String,
    /// The cable, as the job names it.
    pub cable: String,
    /// The engineer, as the job names them.
    pub engineer: String,
    /// `pass`, `fail`, `not tested` or `conditional`.
    pub verdict: String,
    /// `completed` or `abandoned`.
    pub outcome: String,
    /// The edition of the limits by which the run was judged.
    pub edition: String,
    /// Fingerprint of the key that signed: `SHA256:` and base64.
    pub fingerprint: String,
    /// SHA-256 of the record in lower-case hexadecimal, as `sha256sum` prints it.
    pub sha256: String,
}

/// What [`super::Archive::append`] did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Append {
    /// The record is on the disk.
    Stored,
    /// The same record, with the same signature, was there before.
    AlreadyThere,
}

/// SHA-256 (FIPS 180-4) of `bytes` in lower-case hexadecimal.
///
/// ```
/// // FIPS 180-4 example: the message `abc`
/// assert_eq!(
///     coreproof::evidence::archive::sha256_hex(b"abc"),
///     "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
/// );
/// ```
pub fn sha256_hex(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

impl Entry {
    /// Refuses an entry whose columns could not be what they say they are.
    pub(super) fn check(&self) -> Result<(), Error> {
        let summary = &self.summary;
        let is_time = |text: &str| text.parse::<Timestamp>().is_ok();
        let fields = [
            ("opened_at", &summary.opened_at, is_time(&summary.opened_at)),
            ("closed_at", &summary.closed_at, is_time(&summary.closed_at)),
            (
                "verdict",
                &summary.verdict,
                VERDICTS.contains(&summary.verdict.as_str()),
            ),
            (
                "outcome",
                &summary.outcome,
                OUTCOMES.contains(&summary.outcome.as_str()),
            ),
            ("sha256", &summary.sha256, summary.sha256 == sha256_hex(&self.record)),
        ];
        match fields.into_iter().find(|(_, _, fits)| !fits) {
            Some((field, value, _)) => Err(Error::FieldRefused {
                run: summary.run,
                field,
                value: value.escape_debug().to_string(),
            }),
            None => Ok(()),
        }
    }
}

/// The columns of a [`Summary`], in the order in which [`summary_of`] reads them.
pub(super) const SUMMARY_COLUMNS: &str =
    "run, opened_at, closed_at, place, cable, engineer, verdict, outcome, edition, fingerprint, sha256";
/// The columns of an [`Entry`], in the order in which [`entry_of`] reads them.
pub(super) const ENTRY_COLUMNS: &str = "run, opened_at, closed_at, place, cable, engineer, verdict, outcome, edition, fingerprint, sha256, \
     public_key, signature, record";

pub(super) fn summary_of(row: &Row<'_>) -> rusqlite::Result<Summary> {
    let run: String = row.get(0)?;
    Ok(Summary {
        run: Uuid::try_parse(&run)
            .map_err(|error| rusqlite::Error::FromSqlConversionFailure(0, rusqlite::types::Type::Text, error.into()))?,
        opened_at: row.get(1)?,
        closed_at: row.get(2)?,
        place: row.get(3)?,
        cable: row.get(4)?,
        engineer: row.get(5)?,
        verdict: row.get(6)?,
        outcome: row.get(7)?,
        edition: row.get(8)?,
        fingerprint: row.get(9)?,
        sha256: row.get(10)?,
    })
}

pub(super) fn entry_of(row: &Row<'_>) -> rusqlite::Result<Entry> {
    Ok(Entry {
        summary: summary_of(row)?,
        public_key: row.get(11)?,
        signature: row.get(12)?,
        record: row.get(13)?,
    })
}
