//! The bytes of one frame of a meter, as a reading carries them.
//!
//! The rule inside: in a record they are lower-case hexadecimal digits and nothing else.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::in_place::InPlace;
use crate::explain::Explain;

/// The bytes of one frame.
///
/// ```
/// use coreproof::value::raw::Raw;
/// let raw = Raw::new(b"OL");
/// assert_eq!(raw.to_string(), "4f4c");
/// assert_eq!(Raw::parse("4f4c"), Ok(raw));
/// ```
#[derive(Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
// no frame of the families that come with the program is longer
pub struct Raw(InPlace<46>);

/// A text is not bytes in hexadecimal.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{text}` is not bytes in lower-case hexadecimal")]
pub struct NotHexadecimal {
    /// The text, cut after 60 characters and without control characters.
    pub text: String,
}

impl Explain for NotHexadecimal {
    fn hint(&self) -> Option<String> {
        Some("the record was changed: get it again from its source".into())
    }
}

impl Raw {
    /// Keeps a copy of a frame.
    #[inline]
    pub fn new(frame: &[u8]) -> Raw {
        Raw(InPlace::new(frame))
    }

    /// The frame.
    pub fn bytes(&self) -> &[u8] {
        self.0.bytes()
    }

    /// Reads lower-case hexadecimal pairs.
    pub fn parse(text: &str) -> Result<Raw, NotHexadecimal> {
        let digit = |byte: u8| match byte {
            b'0'..=b'9' => Some(byte - b'0'),
            b'a'..=b'f' => Some(byte - b'a' + 10),
            _ => None,
        };
        let (pairs, rest) = text.as_bytes().as_chunks::<2>();
        let bytes: Option<Vec<u8>> = pairs
            .iter()
            .map(|[high, low]| Some(digit(*high)? << 4 | digit(*low)?))
            .collect();
        match bytes {
            Some(bytes) if rest.is_empty() => Ok(Raw::new(&bytes)),
            _ => Err(NotHexadecimal {
                text: text.chars().take(60).flat_map(char::escape_debug).collect(),
            }),
        }
    }
}

impl fmt::Display for Raw {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.bytes().iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl fmt::Debug for Raw {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Raw({self})")
    }
}

impl TryFrom<String> for Raw {
    type Error = NotHexadecimal;
    fn try_from(text: String) -> Result<Raw, NotHexadecimal> {
        Raw::parse(&text)
    }
}

impl From<Raw> for String {
    fn from(raw: Raw) -> String {
        raw.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_lower_case_hexadecimal_is_refused() {
        let long = "G".repeat(61);
        for (text, shown) in [
            ("5641G3", "5641G3"),
            ("5641433B", "5641433B"),
            ("564", "564"),
            ("\u{1b}", "\\u{1b}"),
            (&long, &long[..60]),
        ] {
            let error = Raw::parse(text).unwrap_err();
            assert_eq!(
                error.to_string(),
                format!("`{shown}` is not bytes in lower-case hexadecimal")
            );
            assert_eq!(
                error.hint().as_deref(),
                Some("the record was changed: get it again from its source")
            );
        }
    }

    #[test]
    fn it_is_a_text_in_a_record() {
        let raw = Raw::new(&[0x00, 0xff]);
        assert_eq!(serde_json::to_string(&raw).unwrap(), "\"00ff\"");
        assert_eq!(serde_json::from_str::<Raw>("\"00ff\"").unwrap(), raw);
        assert!(serde_json::from_str::<Raw>("\"00FF\"").is_err());
    }
}
