//! A frame to a reading, now and again years later from the bytes in a record.
//!
//! The rule inside: the same bytes and the same profile always give the same reading, and the reading carries both.

use crate::pure::reading::{Origin, Reading};

use super::pattern::{Unread, printable};
use super::profile::{Decode, Profile};

/// What a frame turned out to be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Decoded {
    Reading(Reading),
    /// The meter was understood, and what it shows cannot be taken: why, and which key to press.
    Refused(String),
    /// The frame means nothing in this profile: what does not fit.
    NotUnderstood(String),
}

/// Decodes one frame without its terminator.
pub fn decode(profile: &Profile, frame: &[u8]) -> Decoded {
    let Decode::Pattern(pattern) = &profile.decode;
    let Ok(text) = std::str::from_utf8(frame) else {
        return Decoded::NotUnderstood(format!("`{}` is no text", printable(&String::from_utf8_lossy(frame))));
    };
    match pattern.read(text) {
        Err(Unread::NotUnderstood(what)) => Decoded::NotUnderstood(what),
        Err(Unread::Refused(why)) => Decoded::Refused(why),
        // every mark known so far changes what the digits mean
        Ok(parts) => match parts.flags.first() {
            Some(flag) => Decoded::Refused(flag.refusal().to_owned()),
            None => Decoded::Reading(Reading {
                shown: parts.shown,
                prefix: parts.prefix,
                unit: parts.unit,
                function: parts.function,
                flags: parts.flags,
                origin: Origin::Meter {
                    profile: profile.name.clone(),
                    raw: hex(frame),
                },
            }),
        },
    }
}

/// Why the bytes in a record are no reading.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RawError {
    #[error("`{text}` is not bytes in lower-case hexadecimal")]
    NotHexadecimal { text: String },
    #[error("the recorded bytes are no reading: {why}")]
    NoReading { why: String },
}

impl RawError {
    /// What to do next.
    pub fn hint(&self) -> Option<String> {
        Some("the record was changed or was decoded with another profile: get the record again from its source".into())
    }
}

/// Decodes recorded bytes again.
///
/// ```
/// use coreproof::meter::{decode::decode_raw, profile::find};
/// let reading = decode_raw(find("line-stream").unwrap(), "5641433b3233312e343b563b2d").unwrap();
/// assert_eq!(reading.display(), "231.4 V");
/// ```
pub fn decode_raw(profile: &Profile, raw: &str) -> Result<Reading, RawError> {
    let bytes = unhex(raw).ok_or_else(|| RawError::NotHexadecimal { text: printable(raw) })?;
    match decode(profile, &bytes) {
        Decoded::Reading(reading) => Ok(reading),
        Decoded::Refused(why) | Decoded::NotUnderstood(why) => Err(RawError::NoReading { why }),
    }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn unhex(text: &str) -> Option<Vec<u8>> {
    let digit = |byte: u8| match byte {
        b'0'..=b'9' => Some(byte - b'0'),
        b'a'..=b'f' => Some(byte - b'a' + 10),
        _ => None,
    };
    let (pairs, rest) = text.as_bytes().as_chunks::<2>();
    if !rest.is_empty() {
        return None;
    }
    pairs
        .iter()
        .map(|[high, low]| Some(digit(*high)? << 4 | digit(*low)?))
        .collect()
}
