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
use crate::evidence::sealed::{Beside, Document, Sealed};
use crate::run::fold::Run;

/// The PDF of a record and what is said beside it, the same bytes each time. What is printed of the key is the key itself and the name that it
/// is trusted as here, which stands beside the carried key so that the page can be made again.
///
/// # Errors
/// Those of the typesetter.
pub fn of_record(run: &Run, sealed: &Sealed, signer: &PublicKey, around: &Beside) -> Result<Vec<u8>, Error> {
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
        known_as: around.known_as.clone(),
        checkpoint: around.proof.as_ref().map(|proof| proof.note.clone()),
    };
    let proof = around.proof.as_ref().map(Proof::text);
    let carried_key = match &around.known_as {
        Some(name) => format!("{bare} {name}\n"),
        None => format!("{bare}\n"),
    };
    let attachments = Attachments {
        record: &sealed.record,
        signature: &sealed.signature,
        public_key: &carried_key,
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
        known_as: PublicKey::parse(&carried.public_key)
            .ok()
            .map(|key| key.comment().to_owned())
            .filter(|name| !name.is_empty()),
        made_by: carried.made_by,
    })
}
