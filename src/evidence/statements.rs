//! Statements beside the records: a second signature, a key that its owner retires.
//!
//! The rule inside: a statement never changes a record; it is signed, and has its own leaf in the log.

use std::path::Path;

use jiff::Timestamp;

use super::archive::{Archive, Entry, Error, Row, Statement};
use super::keys::{self, PublicKey, Signs};
use super::log::{Heads, Kind};
use super::refusal::Refusal;
use super::shelf;

/// Adds a further signature over a stored record; whose it is, and what is to be said of the archive.
///
/// # Errors
/// A signature that is not over this record, or is by a key that signed it already; failures of the archive.
pub fn countersign(archive: &mut Archive, entry: &Entry, armored: &str) -> Result<PublicKey, Refusal> {
    let key = keys::verify(&entry.record, armored, None)?;
    let run = entry.summary.run;
    let by_it = format!("record {run} is already signed by {}", key.fingerprint());
    if key.fingerprint() == entry.summary.fingerprint {
        return Err(Refusal::new(by_it).then("a second signature is by another key: that of a supervisor or client"));
    }
    let about = run.to_string();
    let earlier = archive.statements(Kind::Signature, &about)?;
    if earlier
        .iter()
        .any(|row| signer(entry, row).is_ok_and(|signer| signer == key))
    {
        return Err(Refusal::new(by_it));
    }
    archive.append_statement(&Statement {
        kind: Kind::Signature,
        about,
        body: String::new(),
        signature: armored.to_owned(),
        public_key: key.openssh_line(),
    })?;
    Ok(key)
}

/// Everybody who signed a record after the first, in their order; an error is a signature that does not hold.
///
/// # Errors
/// Those of the archive.
pub fn further_signers(archive: &Archive, entry: &Entry) -> Result<Vec<Result<PublicKey, keys::Error>>, Error> {
    let rows = archive.statements(Kind::Signature, &entry.summary.run.to_string())?;
    Ok(rows.iter().map(|row| signer(entry, row)).collect())
}

fn signer(entry: &Entry, row: &Row) -> Result<PublicKey, keys::Error> {
    keys::verify(&entry.record, &row.signature, None)
}

/// Signs that a key counts no more from a moment on, and puts that into the log with a new checkpoint; what is to be said of the archive.
///
/// # Errors
/// A key that does not sign; failures of the archive.
pub fn retire(archive: &Path, heads: &Heads, key: &dyn Signs, from: Timestamp) -> Result<Vec<String>, Refusal> {
    let mut archive = Archive::open(archive)?;
    let mut told = shelf::opened(&archive, heads)?;
    let public = key.public();
    let body = format!("coreproof retirement 1\nkey {}\nfrom {from}\n", public.fingerprint());
    archive.append_statement(&Statement {
        kind: Kind::Retirement,
        about: public.fingerprint(),
        signature: key.sign_record(body.as_bytes())?,
        body,
        public_key: public.openssh_line(),
    })?;
    told.extend(shelf::sign_head(&mut archive, heads, key)?);
    Ok(told)
}

/// What is wrong with the statement of a leaf, if anything.
///
/// # Errors
/// Those of the archive.
pub(super) fn fault(archive: &Archive, row: &Row) -> Result<Option<String>, Error> {
    let signed = match row.leaf.kind {
        Kind::Record | Kind::Supersession => return Ok(None),
        Kind::Retirement => row.body.clone().into_bytes(),
        Kind::Signature => match archive.of_run(&row.about)? {
            Some(entry) => entry.record,
            // that it was deleted is told by its own leaf
            None => return Ok(None),
        },
    };
    let checked = PublicKey::parse(&row.public_key).and_then(|key| keys::verify(&signed, &row.signature, Some(&key)));
    let of_another = |key: &PublicKey| row.leaf.kind == Kind::Retirement && key.fingerprint() != row.about;
    Ok(match checked {
        Err(error) => Some(error.to_string()),
        Ok(key) if of_another(&key) => Some("it is signed by another key than it retires".into()),
        Ok(_) => None,
    })
}
