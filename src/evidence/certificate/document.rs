//! The certificate of a record: made from it, and held against it.
//!
//! The rule inside: a certificate is the record rendered, so whether its pages say other than the record inside is found by rendering
//! it again.

use super::carried::carried;
use super::error::Error;
use super::page::{Page, Seal};
use super::render::{Attachments, render};
use crate::evidence::archive::sha256_hex;
use crate::evidence::keys::PublicKey;
use crate::evidence::log::Proof;
use crate::evidence::sealed::{Document, Sealed};
use crate::run::fold::Run;

/// The PDF of a record, the same bytes each time. What is printed of the key is the key itself: a comment beside it is nobody's
/// word.
///
/// # Errors
/// Those of the typesetter.
pub fn of_record(run: &Run, sealed: &Sealed, signer: &PublicKey, proof: Option<&Proof>) -> Result<Vec<u8>, Error> {
    let line = signer.openssh_line();
    let bare = line.split_whitespace().take(2).collect::<Vec<_>>().join(" ");
    let signed_by = match &run.opened.rehearsal {
        Some(_) => "throw-away key of a rehearsal".to_owned(),
        None => run.plan.job.engineer.clone(),
    };
    let seal = Seal {
        signed_by,
        fingerprint: signer.fingerprint(),
        public_key: bare.clone(),
        record_sha256: sha256_hex(&sealed.record),
        checkpoint: proof.map(|proof| proof.note.clone()),
    };
    let proof = proof.map(Proof::text);
    let attachments = Attachments {
        record: &sealed.record,
        signature: &sealed.signature,
        public_key: &format!("{bare}\n"),
        proof: proof.as_deref(),
    };
    render(&Page::of(run, &seal), &attachments)
}

/// The record that a certificate carries.
///
/// # Errors
/// A file that is no certificate, or a damaged one.
pub fn record_in(content: &[u8]) -> Result<Document, Error> {
    let carried = carried(content)?;
    Ok(Document {
        sealed: Sealed {
            record: carried.record,
            signature: carried.signature,
        },
        proof: carried.proof,
        made_by: carried.made_by,
    })
}
