//! Statements beside the records: a second signature, a later record that supersedes one, a key that its owner retires.
//!
//! The rule inside: a statement never changes a record; it is signed, and has its own leaf in the log.

use std::path::Path;

use jiff::Timestamp;
use uuid::Uuid;

use super::archive::{Archive, Entry, Error, Row, Statement};
use super::audit::{Concern, Remark};
use super::keys::{self, PublicKey, Signs, Trust};
use super::log::{Heads, Kind};
use super::proved::bounded;
use super::refusal::Refusal;
use super::sealed::{Beside, Document, FURTHER_MAX, Further, STAMPS_MAX, Sealed};
use super::shelf;
use super::stored::run_of;
use super::supersession::Supersession;
use super::timestamp::{Authorities, BadStamp, Stamp};

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
    if FURTHER_MAX <= earlier.len() {
        let what = format!("record {run} has {FURTHER_MAX} further signatures, which is the most");
        return Err(Refusal::new(what).then("keep the signature file beside an export of the record"));
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

/// The further signatures over a record, in their order, as they were made.
///
/// # Errors
/// Those of the archive.
pub fn further_signatures(archive: &Archive, run: Uuid) -> Result<Vec<String>, Error> {
    let rows = archive.statements(Kind::Signature, &run.to_string())?;
    Ok(rows.into_iter().map(|row| row.signature).collect())
}

/// What an archive and the list of trusted keys hold beside a record.
///
/// # Errors
/// Those of the archive.
pub fn beside(archive: &Archive, trust: &Trust, entry: &Entry) -> Result<Beside, Error> {
    let closed = entry.summary.closed_at.parse().unwrap_or(Timestamp::MAX);
    let name = |key: &PublicKey| trust.name_of(key, closed).map(str::to_owned);
    let run = entry.summary.run;
    let further = further_signatures(archive, run)?.into_iter().map(|signature| Further {
        known_as: keys::verify(&entry.record, &signature, None)
            .ok()
            .and_then(|key| trust.listed(&key).map(|signer| signer.names[0].clone())),
        signature,
    });
    let superseded: String = superseded_by(archive, run, &entry.summary.sha256)?
        .iter()
        .map(Supersession::text)
        .collect();
    Ok(Beside {
        known_as: PublicKey::parse(&entry.public_key).ok().and_then(|key| name(&key)),
        proof: archive.proof(run)?.map(|proof| proof.text()),
        further: further.collect(),
        superseded: (!superseded.is_empty()).then_some(superseded),
        stamps: archive.stamps(run)?.into_iter().take(STAMPS_MAX).collect(),
        photographs: Vec::new(),
    })
}

/// A stored record with what the archive and the list of trusted keys hold beside it.
///
/// # Errors
/// Those of the archive.
pub fn document(archive: &Archive, trust: &Trust, entry: Entry) -> Result<Document, Error> {
    Ok(Document {
        beside: beside(archive, trust, &entry)?,
        sealed: Sealed {
            record: entry.record,
            signature: entry.signature,
        },
        made_by: None,
    })
}

/// Keeps a time stamp beside a stored record; what it states.
///
/// # Errors
/// One that does not read or is over other bytes; too many; failures of the archive.
pub fn stamp(archive: &mut Archive, entry: &Entry, token: &[u8]) -> Result<Stamp, Refusal> {
    let stamp = Stamp::read(token).and_then(|stamp| stamp.fits(&entry.record).map(|()| stamp));
    let stamp = stamp.map_err(|error| {
        Refusal::new(error.to_string()).then("ask the authority again, with the request that `--request` writes")
    })?;
    let there = archive.stamps(entry.summary.run)?;
    if STAMPS_MAX <= there.len() && !there.iter().any(|known| known == token) {
        let what = format!(
            "record {} has {STAMPS_MAX} time stamps, which is the most",
            entry.summary.run
        );
        return Err(Refusal::new(what).then("keep it beside an export of the record"));
    }
    archive.append_stamp(entry.summary.run, token)?;
    Ok(stamp)
}

/// What is wrong with a time stamp that is kept beside a stored record; its signer is asked after only where authorities are named.
pub fn stamp_remark(entry: &Entry, token: &[u8], authorities: &Authorities) -> Option<Remark> {
    let of_stamp = |error: BadStamp| Remark::on_all(Concern::When, error.to_string());
    let stamp = match Stamp::read(token) {
        Ok(stamp) => stamp,
        Err(error) => return Some(of_stamp(error)),
    };
    if authorities.is_empty() {
        return stamp.fits(&entry.record).err().map(of_stamp);
    }
    match authorities.prove(&stamp, &entry.record) {
        Ok(proved) => bounded(&run_of(entry).ok()?, &proved),
        Err(error) => Some(of_stamp(error)),
    }
}

/// The later records of the archive that supersede the record of a run with this SHA-256. What the log says of it is made again from the
/// later record.
///
/// # Errors
/// Those of the archive.
pub fn superseded_by(archive: &Archive, run: Uuid, sha256: &str) -> Result<Vec<Supersession>, Error> {
    let rows = archive.statements(Kind::Supersession, &run.to_string())?;
    let read = rows.iter().filter_map(|row| Supersession::read(&row.body));
    let mut found = Vec::new();
    for stated in read.filter(|stated| stated.sha256 == sha256) {
        if stated_by(archive, &stated)?.is_some_and(|by| by == Some(stated.clone())) {
            found.push(stated);
        }
    }
    Ok(found)
}

/// What the later record of a supersession states itself, if it is in the archive; nothing in it where it cannot be read.
fn stated_by(archive: &Archive, stated: &Supersession) -> Result<Option<Option<Supersession>>, Error> {
    let Some(entry) = archive.of_run(&stated.by.to_string())? else {
        return Ok(None);
    };
    let run = run_of(&entry).ok();
    let sealed = Sealed {
        record: entry.record,
        signature: entry.signature,
    };
    Ok(Some(run.and_then(|run| Supersession::of(&run, &sealed))))
}

/// What is wrong with the leaf of a supersession, if anything.
fn supersession_fault(archive: &Archive, row: &Row) -> Result<Option<String>, Error> {
    let Some(stated) = Supersession::read(&row.body).filter(|stated| stated.run.to_string() == row.about) else {
        return Ok(Some("its text does not read".into()));
    };
    // that the later record was deleted is told by its own leaf
    if stated_by(archive, &stated)?.is_some_and(|by| by != Some(stated.clone())) {
        return Ok(Some(format!("the record of run {} does not say so", stated.by)));
    }
    let another = |entry: Entry| entry.summary.sha256 != stated.sha256;
    let what = format!(
        "it names another record of run {} than the one that is here",
        stated.run
    );
    Ok(archive.of_run(&row.about)?.is_some_and(another).then_some(what))
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
        Kind::Record => return Ok(None),
        Kind::Supersession => return supersession_fault(archive, row),
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
