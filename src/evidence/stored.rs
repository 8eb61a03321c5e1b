//! Records in the archive: taken in, proved again, read.
//!
//! The rule inside: the archive's own index is not believed; what is told of a record comes from its bytes.

use jiff::Timestamp;

use super::archive::{Append, Archive, Entry, Error};
use super::audit::{Concern, Known, Remark, examine_known};
use super::keys::{PublicKey, Trust};
use super::log::Heads;
use super::proved::{prove, prove_known};
use super::refusal::Refusal;
use super::resting;
use super::seal::{entry, not_rehearsed};
use super::sealed::Sealed;
use super::shelf;
use super::signer::trusted;
use super::supersession::Supersession;
use crate::run::fold::Run;

/// The run that a stored record holds.
///
/// # Errors
/// A record whose signature is not good or that cannot be read.
pub fn run_of(entry: &Entry) -> Result<Run, Refusal> {
    run_of_known(entry, &Known::default())
}

/// The same, one of many: what was made of the same carried texts before is known.
///
/// # Errors
/// As [`run_of`].
pub fn run_of_known(entry: &Entry, known: &Known) -> Result<Run, Refusal> {
    let examined = examine_known::<Run>(&entry.record, &entry.signature, None, known);
    let first = examined.against().map_or(String::new(), |remark| remark.what.clone());
    let refused = || Refusal::new(format!("record {}: {first}", entry.summary.run)).then("run `coreproof audit`");
    match (examined.signer, examined.folded) {
        (Some(_), Some(run)) => Ok(run),
        _ => Err(refused()),
    }
}

/// Takes in a record without findings, signed by a trusted key; says whether it was there already, and what is to be said of the archive.
///
/// # Errors
/// Whatever speaks against it; a rehearsal; a signer who is not trusted; failures of the archive.
pub fn import(
    archive: &mut Archive,
    heads: &Heads,
    trust: &Trust,
    sealed: &Sealed,
) -> Result<(Run, Append, Vec<String>), Refusal> {
    let mut examined = prove(sealed, None, trust, Timestamp::now());
    if let Some(run) = &examined.folded {
        examined.remarks.extend(resting::remarks(Some(archive), run)?);
    }
    if let Some(remark) = examined.against() {
        let what = format!("{}: {}", remark.concern.word(), remark.what);
        return Err(Refusal::new(what).then("only records without findings are taken in; see `coreproof verify`"));
    }
    let (signer, run) = (
        examined.signer.expect("no remarks"),
        examined.folded.expect("no remarks"),
    );
    not_rehearsed(&run)?;
    let (_, closed_at) = run.ending.as_ref().expect("no remarks");
    trusted(trust, &signer, *closed_at)?;
    let supersedes = Supersession::of(&run, sealed).map(|stated| stated.statement(sealed, &signer));
    let appended = archive.append_with(&entry(sealed, &run, &signer), supersedes.as_ref())?;
    Ok((run, appended, shelf::opened(archive, heads)?))
}

/// What is wrong with one stored record: in itself, with its signer, with what the index says of it, and with what it rests on.
///
/// # Errors
/// Those of the archive.
pub fn remarks(archive: &Archive, stored: &Entry, trust: &Trust, known: &Known) -> Result<Vec<Remark>, Error> {
    let expected = match PublicKey::parse(&stored.public_key) {
        Ok(key) => key,
        Err(error) => {
            let what = format!("the stored public key: {error}");
            return Ok(vec![Remark::on_all(Concern::Signature, what)]);
        }
    };
    let sealed = Sealed {
        record: stored.record.clone(),
        signature: stored.signature.clone(),
    };
    let mut examined = prove_known(&sealed, Some(&expected), trust, Timestamp::now(), known);
    let mut further = Vec::new();
    if let Some(run) = &examined.folded
        && let Some((_, closed_at)) = &run.ending
    {
        if let Some(signer) = &examined.signer {
            // a key that is listed and was not valid then has a finding of its own
            if trusted(trust, signer, *closed_at).is_err() && trust.listed(signer).is_none() {
                let what = format!("the signer {} is not trusted", signer.fingerprint());
                further.push(Remark::on_all(Concern::Signature, what));
            }
            if entry(&sealed, run, signer).summary != stored.summary {
                further.push(Remark::on_all(
                    Concern::Text,
                    "the archive's index says other than the record",
                ));
            }
        }
        if !archive.is_found_by_place(&stored.summary)? {
            further.push(Remark::on_all(
                Concern::Text,
                "the archive's index of places leaves it out",
            ));
        }
        if run.opened.rehearsal.is_some() {
            further.push(Remark::on_all(Concern::Text, "a rehearsal stands in the archive"));
        }
        further.extend(resting::remarks(Some(archive), run)?);
    }
    examined.remarks.extend(further);
    Ok(examined.remarks)
}
