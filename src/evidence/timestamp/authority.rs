//! Whose word a time stamp is: held against the certificates of authorities that the auditor names, offline.
//!
//! The rule inside: nothing counts but what leads from the stamp to a certificate that was named: the stated bytes to the attributes, those to
//! the signer's certificate, and that one, made for time stamps alone, to the authority, each valid at the time that is stated.

use std::path::Path;
use std::time::Duration;

use cms::signed_data::SignerIdentifier;
use der::asn1::{ObjectIdentifier, OctetString};
use der::{Decode as _, Encode as _};
use jiff::Timestamp;
use rustls_pki_types::pem::PemObject as _;
use rustls_pki_types::{CertificateDer, SignatureVerificationAlgorithm, TrustAnchor, UnixTime};
use webpki::{ALL_VERIFICATION_ALGS, EndEntityCert, KeyUsage, anchor_from_trusted_cert};
use x509_cert::Certificate;
use x509_cert::ext::pkix::ExtendedKeyUsage;

use super::error::{BadAuthority, BadStamp};
use super::token::{Stamp, digest};
use crate::system::disk;

/// The largest file of certificates, in bytes.
const FILE_BYTES_MAX: u64 = 1 << 20;

const ID_CONTENT_TYPE: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.9.3");
const ID_MESSAGE_DIGEST: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.9.4");
const ID_SIGNING_CERTIFICATE_V2: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.9.16.2.47");
const ID_TST_INFO: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.9.16.1.4");
const ID_TIME_STAMPING: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.3.6.1.5.5.7.3.8");
const ID_EXTENDED_KEY_USAGE: ObjectIdentifier = ObjectIdentifier::new_unwrap("2.5.29.37");

/// Certificates of authorities whose word counts here.
#[derive(Debug, Default)]
pub struct Authorities {
    certificates: Vec<CertificateDer<'static>>,
}

/// A stamp whose signer an authority vouches for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Proved {
    /// The latest time at which it was made.
    pub at: Timestamp,
    /// The subject of the signer's certificate.
    pub by: String,
}

impl Authorities {
    /// Reads certificates from files in PEM form.
    ///
    /// # Errors
    /// A file that cannot be read or holds no certificate.
    pub fn read(files: &[impl AsRef<Path>]) -> Result<Authorities, BadAuthority> {
        let mut certificates = Vec::new();
        for file in files {
            let path = file.as_ref();
            let path = path.to_path_buf();
            let bytes = match disk::read(&path, FILE_BYTES_MAX) {
                Ok(bytes) => bytes,
                Err(why) => return Err(BadAuthority::Unread { path, why }),
            };
            let none = || BadAuthority::None { path: path.clone() };
            let read: Vec<CertificateDer<'static>> = CertificateDer::pem_slice_iter(&bytes)
                .collect::<Result<_, _>>()
                .map_err(|_| none())?;
            if read.is_empty() || read.iter().any(|one| anchor_from_trusted_cert(one).is_err()) {
                return Err(none());
            }
            certificates.extend(read);
        }
        Ok(Authorities { certificates })
    }

    /// Whether none was named.
    pub fn is_empty(&self) -> bool {
        self.certificates.is_empty()
    }

    /// Proves a stamp over these bytes.
    ///
    /// # Errors
    /// [`BadStamp::OfAnother`], [`BadStamp::Signature`], [`BadStamp::Authority`].
    pub fn prove(&self, stamp: &Stamp, bytes: &[u8]) -> Result<Proved, BadStamp> {
        stamp.fits(bytes)?;
        let signer = signer_of(stamp).ok_or(BadStamp::Signature("it does not carry its signer's certificate"))?;
        let der = encoded(signer)?;
        attributes(stamp, &der)?;
        let certificate = CertificateDer::from(der);
        let end = EndEntityCert::try_from(&certificate)
            .map_err(|_| BadStamp::Signature("its signer's certificate does not read"))?;
        signed(stamp, &end)?;
        for_stamps_alone(signer)?;
        self.vouched(stamp, &end)?;
        Ok(Proved {
            at: stamp.at,
            by: signer.tbs_certificate.subject.to_string(),
        })
    }

    fn vouched(&self, stamp: &Stamp, end: &EndEntityCert<'_>) -> Result<(), BadStamp> {
        let not = |error: &dyn std::fmt::Display| BadStamp::Authority(error.to_string());
        let anchors: Vec<TrustAnchor<'_>> = self
            .certificates
            .iter()
            .filter_map(|certificate| anchor_from_trusted_cert(certificate).ok())
            .collect();
        let between = stamp.certificates.iter().map(encoded).collect::<Result<Vec<_>, _>>()?;
        let between: Vec<CertificateDer<'_>> = between.into_iter().map(CertificateDer::from).collect();
        let seconds = u64::try_from(stamp.at.as_second()).map_err(|error| not(&error))?;
        let at = UnixTime::since_unix_epoch(Duration::from_secs(seconds));
        let usage = KeyUsage::required(ID_TIME_STAMPING_BYTES);
        end.verify_for_usage(ALL_VERIFICATION_ALGS, &anchors, &between, at, usage, None, None)
            .map(drop)
            .map_err(|error| not(&error))
    }
}

/// The same name as webpki wants it: DER without tag and length.
const ID_TIME_STAMPING_BYTES: &[u8] = &[0x2b, 6, 1, 5, 5, 7, 3, 8];

fn encoded(certificate: &Certificate) -> Result<Vec<u8>, BadStamp> {
    certificate
        .to_der()
        .map_err(|_| BadStamp::Signature("a certificate in it does not encode"))
}

/// The certificate of whoever signed, among those that the stamp carries.
fn signer_of(stamp: &Stamp) -> Option<&Certificate> {
    stamp.certificates.iter().find(|certificate| match &stamp.signer.sid {
        SignerIdentifier::IssuerAndSerialNumber(named) => {
            let inner = &certificate.tbs_certificate;
            inner.issuer == named.issuer && inner.serial_number == named.serial_number
        }
        SignerIdentifier::SubjectKeyIdentifier(_) => false,
    })
}

/// The signed attributes: that a time stamp is signed, the digest of what is stated, and the signer's certificate by its digest (RFC 5816).
fn attributes(stamp: &Stamp, signer: &[u8]) -> Result<(), BadStamp> {
    let none = BadStamp::Signature("a signed attribute is missing or twice");
    let attributes = stamp.signer.signed_attrs.as_ref().ok_or(none.clone())?;
    let value = |name: ObjectIdentifier| {
        let mut named = attributes.iter().filter(|attribute| attribute.oid == name);
        match (named.next().map(|attribute| attribute.values.as_slice()), named.next()) {
            (Some([one]), None) => Ok(one),
            _ => Err(none.clone()),
        }
    };
    let kind: ObjectIdentifier = value(ID_CONTENT_TYPE)?.decode_as().map_err(|_| none.clone())?;
    let signed: OctetString = value(ID_MESSAGE_DIGEST)?.decode_as().map_err(|_| none.clone())?;
    let ours = digest(stamp.signer.digest_alg.oid, &stamp.stated).ok_or(BadStamp::Signature(
        "its digest is none of SHA-256, SHA-384 and SHA-512",
    ))?;
    if kind != ID_TST_INFO || ours != signed.as_bytes() {
        return Err(BadStamp::Signature("its attributes are of other bytes"));
    }
    let named = value(ID_SIGNING_CERTIFICATE_V2)?.to_der().map_err(|_| none.clone())?;
    let names_signer =
        first_certificate(&named).is_some_and(|(algorithm, hash)| digest(algorithm, signer) == Some(hash));
    names_signer.then_some(()).ok_or(BadStamp::Signature(
        "its attributes name another certificate than the signer's",
    ))
}

/// The digest of the first certificate that a `SigningCertificateV2` names (RFC 5035, 3), with its algorithm: SHA-256 where none is named.
fn first_certificate(der: &[u8]) -> Option<(ObjectIdentifier, Vec<u8>)> {
    let certificates = elements(der)?.into_iter().next()?;
    let first = elements(&certificates)?.into_iter().next()?;
    let parts = elements(&first)?;
    let hash = |part: &Vec<u8>| OctetString::from_der(part).ok().map(OctetString::into_bytes);
    match hash(parts.first()?) {
        Some(hash) => Some((der::oid::db::rfc5912::ID_SHA_256, hash)),
        None => {
            let algorithm = elements(parts.first()?)?.into_iter().next()?;
            Some((ObjectIdentifier::from_der(&algorithm).ok()?, hash(parts.get(1)?)?))
        }
    }
}

/// The elements of a sequence, each as it is encoded.
fn elements(der: &[u8]) -> Option<Vec<Vec<u8>>> {
    let all: Vec<der::Any> = Vec::from_der(der).ok()?;
    all.iter().map(|one| one.to_der().ok()).collect()
}

/// The signature over the attributes by the certificate's key, with the digest that the stamp names.
fn signed(stamp: &Stamp, end: &EndEntityCert<'_>) -> Result<(), BadStamp> {
    use webpki::ring;
    let unfit = BadStamp::Signature("the signature does not fit its attributes");
    let attributes = stamp.attributes().ok_or(unfit.clone())?;
    let algorithms: &[&dyn SignatureVerificationAlgorithm] = match stamp.signer.digest_alg.oid {
        der::oid::db::rfc5912::ID_SHA_256 => &[
            ring::RSA_PKCS1_2048_8192_SHA256,
            ring::ECDSA_P256_SHA256,
            ring::ECDSA_P384_SHA256,
        ],
        der::oid::db::rfc5912::ID_SHA_384 => &[
            ring::RSA_PKCS1_2048_8192_SHA384,
            ring::ECDSA_P256_SHA384,
            ring::ECDSA_P384_SHA384,
        ],
        _ => &[ring::RSA_PKCS1_2048_8192_SHA512, ring::ED25519],
    };
    let fits = |algorithm: &&dyn SignatureVerificationAlgorithm| {
        end.verify_signature(*algorithm, &attributes, stamp.signer.signature.as_bytes())
            .is_ok()
    };
    algorithms.iter().any(fits).then_some(()).ok_or(unfit)
}

/// The signer's certificate is for time stamps and nothing else, and says so as what must be understood (RFC 3161, 2.3).
fn for_stamps_alone(signer: &Certificate) -> Result<(), BadStamp> {
    let extensions = signer.tbs_certificate.extensions.iter().flatten();
    let mut usages = extensions.filter(|extension| extension.extn_id == ID_EXTENDED_KEY_USAGE);
    let holds = usages.next().is_some_and(|extension| {
        let usage = ExtendedKeyUsage::from_der(extension.extn_value.as_bytes());
        extension.critical && usage.is_ok_and(|usage| usage.0 == [ID_TIME_STAMPING])
    });
    (holds && usages.next().is_none())
        .then_some(())
        .ok_or(BadStamp::Signature(
            "its signer's certificate is not for time stamps alone",
        ))
}
