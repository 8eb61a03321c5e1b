//! The certificate of a record: made from it, and held against it.
//!
//! The rule inside: a certificate is the record rendered, so whether its pages say other than the record inside is found by rendering
//! it again; what the pages say beside the record stands in what is attached.

use super::carried::carried;
use super::error::{Error, FURTHER, FURTHER_KEYS, PROOF, STAMPS, SUPERSEDED};
use super::page::{Page, Seal};
use super::photographs::{self, chosen};
use super::render::{Attachments, render};
use crate::evidence::CopyFor;
use crate::evidence::archive::sha256_hex;
use crate::evidence::keys::{self, PublicKey};
use crate::evidence::log::Proof;
use crate::evidence::sealed::{Beside, Document, Further, Sealed};
use crate::evidence::supersession::Supersession;
use crate::evidence::timestamp::Stamp;
use crate::run::fold::Run;

/// The PDF of a record and what is said beside it, the same bytes each time. What is printed of the key is the key itself and the name that it
/// is trusted as here, which stands beside the carried key so that the page can be made again.
///
/// # Errors
/// Those of the typesetter.
pub fn of_record(
    run: &Run,
    sealed: &Sealed,
    signer: &PublicKey,
    beside: &Beside,
    copy: CopyFor,
) -> Result<Vec<u8>, Error> {
    let further: Vec<(PublicKey, &Further)> = beside
        .further
        .iter()
        .filter_map(|further| Some((keys::verify(&sealed.record, &further.signature, None).ok()?, further)))
        .collect();
    let photographs = chosen(run, photographs::named(&beside.photographs))?;
    let shown = photographs::shown(photographs);
    let seal = Seal {
        photographs: shown.iter().map(|shown| shown.about.clone()).collect(),
        ..seal(run, sealed, signer, beside, &further)
    };
    let carried_key = key_line(signer, beside.known_as.as_deref());
    let further_keys: String = further
        .iter()
        .map(|(key, further)| key_line(key, further.known_as.as_deref()))
        .collect();
    let mut files: Vec<(&'static str, &[u8])> = Vec::new();
    files.extend(beside.proof.iter().map(|text| (PROOF, text.as_bytes())));
    files.extend(
        FURTHER
            .into_iter()
            .zip(further.iter().map(|(_, further)| further.signature.as_bytes())),
    );
    if !further_keys.is_empty() {
        files.push((FURTHER_KEYS, further_keys.as_bytes()));
    }
    files.extend(STAMPS.into_iter().zip(beside.stamps.iter().map(Vec::as_slice)));
    files.extend(beside.superseded.iter().map(|text| (SUPERSEDED, text.as_bytes())));
    let attachments = Attachments {
        record: &sealed.record,
        signature: &sealed.signature,
        public_key: &carried_key,
        beside: files,
        photographs: shown,
    };
    let pdf = render(&Page::of(run, &seal, copy), &attachments)?;
    if !attachments.photographs.is_empty() {
        carried(&pdf).map_err(|error| Error::NotReadAgain {
            because: error.to_string(),
        })?;
    }
    Ok(pdf)
}

fn seal(run: &Run, sealed: &Sealed, signer: &PublicKey, beside: &Beside, further: &[(PublicKey, &Further)]) -> Seal {
    let proof = beside.proof.as_deref().and_then(|text| Proof::read(text).ok());
    Seal {
        signed_by: match &run.opened.rehearsal {
            Some(_) => "throw-away key of a rehearsal".to_owned(),
            None => run.plan.job.engineer.clone(),
        },
        fingerprint: signer.fingerprint(),
        public_key: bare(signer),
        record_sha256: sha256_hex(&sealed.record),
        known_as: beside.known_as.clone(),
        checkpoint: proof.map(|proof| proof.note),
        further: FURTHER
            .iter()
            .zip(further)
            .map(|(file, (key, further))| ((*file).to_owned(), further.known_as.clone(), key.fingerprint()))
            .collect(),
        superseded: beside
            .superseded
            .iter()
            .flat_map(|text| Supersession::all_in(text))
            .map(|by| by.words())
            .collect(),
        stamped: STAMPS
            .iter()
            .zip(&beside.stamps)
            .map(|(file, stamp)| ((*file).to_owned(), stated(stamp)))
            .collect(),
        photographs: Vec::new(),
    }
}

/// What a time stamp states, in words.
fn stated(stamp: &[u8]) -> String {
    match Stamp::read(stamp) {
        Ok(stamp) => format!("not after {}", stamp.at),
        Err(error) => error.to_string(),
    }
}

/// A key without what stands behind it.
fn bare(key: &PublicKey) -> String {
    let line = key.openssh_line();
    line.split_whitespace().take(2).collect::<Vec<_>>().join(" ")
}

fn key_line(key: &PublicKey, known_as: Option<&str>) -> String {
    match known_as {
        Some(name) => format!("{} {name}\n", bare(key)),
        None => format!("{}\n", bare(key)),
    }
}

/// The record that a certificate carries.
///
/// # Errors
/// A file that is no certificate, or a damaged one.
pub fn record_in(content: &[u8]) -> Result<Document, Error> {
    let carried = carried(content)?;
    let name = |line: &str| {
        let name = PublicKey::parse(line).ok()?.comment().to_owned();
        (!name.is_empty()).then_some(name)
    };
    let known_as = name(&carried.public_key);
    let further_keys = carried.further_keys.unwrap_or_default();
    let mut names = further_keys.lines().map(name);
    let further = carried.further.into_iter().map(|signature| Further {
        signature,
        known_as: names.next().flatten(),
    });
    Ok(Document {
        beside: Beside {
            known_as,
            further: further.collect(),
            proof: carried.proof,
            superseded: carried.superseded,
            stamps: carried.stamps,
            photographs: carried.photographs,
        },
        sealed: Sealed {
            record: carried.record,
            signature: carried.signature,
        },
        made_by: carried.made_by,
    })
}
