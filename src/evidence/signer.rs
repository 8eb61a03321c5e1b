//! Whose signature it is, as far as it is trusted here.
//!
//! The rule inside: a key is believed by the list of trusted keys at the time of the record, never by a name beside it.

use jiff::Timestamp;

use super::audit::{Concern, Examined};
use super::keys::{PublicKey, Trust};
use super::refusal::Refusal;

/// Whose key signed it; without a good signature nothing in it is to be shown.
///
/// # Errors
/// A signature that is not good, or not of the key that was expected.
pub fn signer_of<F>(examined: &Examined<F>) -> Result<&PublicKey, Refusal> {
    examined.signer.as_ref().ok_or_else(|| {
        let remark = examined.remarks.iter().find(|r| r.concern == Concern::Signature);
        let what = remark.map_or("the signature is not good", |r| r.what.as_str());
        Refusal::new(what).then("do not rely on it: ask the engineer for it again")
    })
}

/// The name that a key is trusted as.
///
/// # Errors
/// A key that is not trusted at that time.
pub fn trusted<'t>(trust: &'t Trust, signer: &PublicKey, at: Timestamp) -> Result<&'t str, Refusal> {
    trust.name_of(signer, at).ok_or_else(|| {
        Refusal::new(format!("the signer {} is not trusted here", signer.fingerprint())).then(
            "compare the fingerprint with the engineer by another way, then `coreproof key trust signer.pub --as NAME`",
        )
    })
}

/// The name that a key is trusted as when something was closed, or now where it is not closed.
///
/// # Errors
/// A key that is not trusted then.
pub fn trusted_when(trust: &Trust, signer: &PublicKey, closed: Option<Timestamp>) -> Result<String, Refusal> {
    Ok(trusted(trust, signer, closed.unwrap_or_else(Timestamp::now))?.to_owned())
}
