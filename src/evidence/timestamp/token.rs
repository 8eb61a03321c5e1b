//! A time stamp as it came: a response of an authority, or the token alone.
//!
//! The rule inside: what is read here is not believed yet; what it is over is compared with the record, whose word it is `authority.rs` says.

use cms::cert::CertificateChoices;
use cms::content_info::ContentInfo;
use cms::signed_data::{SignedData, SignerInfo};
use der::asn1::{Any, Int, ObjectIdentifier, OctetString};
use der::{Decode as _, Encode as _, Sequence, Tag, Tagged as _};
use jiff::{SignedDuration, Timestamp};
use sha2::{Digest as _, Sha256, Sha384, Sha512};
use x509_cert::Certificate;
use x509_tsp::{Accuracy, MessageImprint, TimeStampResp};

use super::error::BadStamp;

/// The largest stamp that is read, in bytes: one takes a few thousand, with a chain of certificates.
pub const STAMP_BYTES_MAX: usize = 64 << 10;

const ID_SIGNED_DATA: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.7.2");
const ID_TST_INFO: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.9.16.1.4");
const ID_SHA_256: ObjectIdentifier = ObjectIdentifier::new_unwrap("2.16.840.1.101.3.4.2.1");
const ID_SHA_384: ObjectIdentifier = ObjectIdentifier::new_unwrap("2.16.840.1.101.3.4.2.2");
const ID_SHA_512: ObjectIdentifier = ObjectIdentifier::new_unwrap("2.16.840.1.101.3.4.2.3");

/// What an authority states (RFC 3161, 2.4.2). Written out here because the library's own reads whole seconds alone.
#[derive(Debug, Clone, PartialEq, Eq, Sequence)]
struct TstInfo {
    version: u8,
    policy: ObjectIdentifier,
    message_imprint: MessageImprint,
    serial_number: Int,
    gen_time: Any,
    #[asn1(optional = "true")]
    accuracy: Option<Accuracy>,
    #[asn1(default = "Default::default")]
    ordering: bool,
    #[asn1(optional = "true")]
    nonce: Option<Int>,
    #[asn1(context_specific = "0", tag_mode = "EXPLICIT", optional = "true")]
    tsa: Option<Any>,
    #[asn1(context_specific = "1", tag_mode = "IMPLICIT", optional = "true")]
    extensions: Option<Any>,
}

/// A time stamp that reads.
#[derive(Debug, Clone)]
pub struct Stamp {
    info: TstInfo,
    /// The stated bytes, over which the authority signed.
    pub(super) stated: Vec<u8>,
    pub(super) signer: SignerInfo,
    pub(super) certificates: Vec<Certificate>,
    /// The latest time at which it was made, by its own word: its time and how wrong that may be.
    pub at: Timestamp,
}

impl Stamp {
    /// Reads a response or a token, DER.
    ///
    /// # Errors
    /// [`BadStamp::TooLarge`], [`BadStamp::Unreadable`], [`BadStamp::Refused`].
    pub fn read(bytes: &[u8]) -> Result<Stamp, BadStamp> {
        if STAMP_BYTES_MAX < bytes.len() {
            return Err(BadStamp::TooLarge);
        }
        let token = match TimeStampResp::from_der(bytes) {
            Ok(response) => response.time_stamp_token.ok_or(BadStamp::Refused)?,
            Err(_) => ContentInfo::from_der(bytes)
                .map_err(|_| BadStamp::Unreadable("it is neither a response nor a token of RFC 3161"))?,
        };
        if token.content_type != ID_SIGNED_DATA {
            return Err(BadStamp::Unreadable("it is not signed"));
        }
        let signed: SignedData = token
            .content
            .decode_as()
            .map_err(|_| BadStamp::Unreadable("its signature is in no known form"))?;
        let content = &signed.encap_content_info;
        if content.econtent_type != ID_TST_INFO {
            return Err(BadStamp::Unreadable("what is signed is no time stamp"));
        }
        let stated: OctetString = content
            .econtent
            .as_ref()
            .and_then(|content| content.decode_as().ok())
            .ok_or(BadStamp::Unreadable("it states nothing"))?;
        let stated = stated.into_bytes();
        let info =
            TstInfo::from_der(&stated).map_err(|_| BadStamp::Unreadable("what it states is in no known form"))?;
        let [signer] = signed.signer_infos.0.as_slice() else {
            return Err(BadStamp::Unreadable("it is not signed by exactly one"));
        };
        let certificates = signed.certificates.iter().flat_map(|set| set.0.iter());
        let certificates = certificates.filter_map(|choice| match choice {
            CertificateChoices::Certificate(certificate) => Some(certificate.clone()),
            CertificateChoices::Other(_) => None,
        });
        Ok(Stamp {
            at: latest(&info).ok_or(BadStamp::Unreadable("its time is none"))?,
            signer: signer.clone(),
            certificates: certificates.collect(),
            info,
            stated,
        })
    }

    /// Whether it is over these bytes.
    ///
    /// # Errors
    /// [`BadStamp::OfAnother`].
    pub fn fits(&self, bytes: &[u8]) -> Result<(), BadStamp> {
        let imprint = &self.info.message_imprint;
        let ours = digest(imprint.hash_algorithm.oid, bytes).ok_or(BadStamp::OfAnother)?;
        (ours == imprint.hashed_message.as_bytes())
            .then_some(())
            .ok_or(BadStamp::OfAnother)
    }
}

/// The digest by its name, of those that count as strong.
pub(super) fn digest(algorithm: ObjectIdentifier, bytes: &[u8]) -> Option<Vec<u8>> {
    match algorithm {
        ID_SHA_256 => Some(Sha256::digest(bytes).to_vec()),
        ID_SHA_384 => Some(Sha384::digest(bytes).to_vec()),
        ID_SHA_512 => Some(Sha512::digest(bytes).to_vec()),
        _ => None,
    }
}

/// The time that is stated and how wrong it may be, taken together.
fn latest(info: &TstInfo) -> Option<Timestamp> {
    if info.gen_time.tag() != Tag::GeneralizedTime {
        return None;
    }
    let stated = moment(std::str::from_utf8(info.gen_time.value()).ok()?)?;
    let Some(accuracy) = &info.accuracy else {
        return Some(stated);
    };
    let part = |part: Option<i16>| part.map_or(Some(0), |part| u32::try_from(part).ok().filter(|part| *part < 1000));
    let seconds = i64::try_from(accuracy.seconds.unwrap_or(0)).ok()?;
    let nanoseconds = part(accuracy.millis)? * 1_000_000 + part(accuracy.micros)? * 1_000;
    stated
        .checked_add(SignedDuration::new(seconds, i32::try_from(nanoseconds).ok()?))
        .ok()
}

/// `YYYYMMDDhhmmss`, a fraction where there is one, and `Z` (RFC 3161, 2.4.2).
fn moment(text: &str) -> Option<Timestamp> {
    let digits = text.strip_suffix('Z')?;
    let (whole, fraction) = digits.split_once('.').unwrap_or((digits, "0"));
    let all_digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    if whole.len() != 14 || !all_digits(whole) || !all_digits(fraction) || 9 < fraction.len() {
        return None;
    }
    let [year, month, day, hour, minute, second] = [
        &whole[..4],
        &whole[4..6],
        &whole[6..8],
        &whole[8..10],
        &whole[10..12],
        &whole[12..],
    ];
    format!("{year}-{month}-{day}T{hour}:{minute}:{second}.{fraction}Z")
        .parse()
        .ok()
}

impl Stamp {
    /// The whole of what it says, for whoever compares it.
    pub(super) fn attributes(&self) -> Option<Vec<u8>> {
        self.signer.signed_attrs.as_ref()?.to_der().ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stated_time_is_read_with_its_fraction() {
        for (text, expected) in [
            ("20261130142500Z", Some("2026-11-30T14:25:00Z")),
            ("20261130142500.25Z", Some("2026-11-30T14:25:00.25Z")),
            ("20261130142500", None),
            ("20261130142500.Z", None),
            ("20261130142560.0000000000Z", None),
            ("20261330142500Z", None),
            ("2026113014250+Z", None),
        ] {
            assert_eq!(moment(text), expected.map(|text| text.parse().unwrap()), "{text}");
        }
    }

    #[test]
    fn what_is_no_stamp_is_refused_as_what_it_is() {
        let unread = "the time stamp does not read: it is neither a response nor a token of RFC 3161";
        for (bytes, expected) in [
            (&b""[..], unread),
            (b"%PDF-1.7", unread),
            // a response of the status `rejection` and nothing else
            (
                &[0x30, 5, 0x30, 3, 2, 1, 2],
                "the response holds no time stamp: the authority refused",
            ),
            (&[0x30; STAMP_BYTES_MAX + 1], "the time stamp is too large"),
        ] {
            assert_eq!(Stamp::read(bytes).unwrap_err().to_string(), expected);
        }
    }
}
