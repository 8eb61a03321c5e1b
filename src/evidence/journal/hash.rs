//! A SHA-256 digest, written as 64 lower-case hexadecimal digits and in no other way.

use std::fmt;
use std::io::{self, Read};

use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use sha2::{Digest, Sha256};

/// SHA-256 (FIPS 180-4) of some bytes; what `sha256sum` prints.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Hash([u8; 32]);

impl Hash {
    /// What stands in `prev` of line 0, which has no line before it.
    pub const ZERO: Hash = Hash([0; 32]);

    /// The digest of `bytes`.
    ///
    /// ```
    /// // the first example of FIPS 180-2; `printf abc | sha256sum` prints the same
    /// let digest = coreproof::evidence::journal::Hash::of(b"abc");
    /// assert_eq!(digest.to_string(), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    /// ```
    #[must_use]
    pub fn of(bytes: &[u8]) -> Hash {
        Hash(Sha256::digest(bytes).into())
    }

    /// The digest of everything that is read.
    ///
    /// # Errors
    /// Those of the reading.
    pub fn of_all(mut from: impl Read) -> io::Result<Hash> {
        let mut hash = Sha256::new();
        io::copy(&mut from, &mut hash)?;
        Ok(Hash(hash.finalize().into()))
    }

    /// Reads exactly 64 lower-case hexadecimal digits; `None` for anything else.
    #[must_use]
    pub fn from_hex(text: &str) -> Option<Hash> {
        let (pairs, rest) = text.as_bytes().as_chunks::<2>();
        let mut digest = [0; 32];
        if pairs.len() != digest.len() || !rest.is_empty() {
            return None;
        }
        for (byte, [high, low]) in digest.iter_mut().zip(pairs) {
            *byte = nibble(*high)? << 4 | nibble(*low)?;
        }
        Some(Hash(digest))
    }

    /// The 32 bytes.
    #[must_use]
    pub fn as_bytes(&self) -> &[u8; 32] {
        &self.0
    }
}

fn nibble(digit: u8) -> Option<u8> {
    match digit {
        b'0'..=b'9' => Some(digit - b'0'),
        b'a'..=b'f' => Some(digit - b'a' + 10),
        _ => None,
    }
}

impl fmt::Display for Hash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl fmt::Debug for Hash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Hash({self})")
    }
}

impl Serialize for Hash {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Hash {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Hash, D::Error> {
        let text = String::deserialize(deserializer)?;
        Hash::from_hex(&text).ok_or_else(|| D::Error::custom("expected 64 lower-case hex digits"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digests_agree_with_published_ones() {
        // The 56-character example of FIPS 180-2, its text from memory; the empty message is the empty tree of RFC 6962.
        // All digests agree with `sha256sum`.
        let check = |text: &str, digest: &str| assert_eq!(Hash::of(text.as_bytes()).to_string(), digest);
        check("", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
        check(
            "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        );
    }

    #[test]
    fn only_one_spelling_is_read() {
        let text = Hash::of(b"abc").to_string();
        assert_eq!(Hash::from_hex(&text), Some(Hash::of(b"abc")));
        assert_eq!(Hash::from_hex(&"0".repeat(64)), Some(Hash::ZERO));
        let check = |text: &str| assert_eq!(Hash::from_hex(text), None, "{text}");
        check(&text.to_uppercase());
        check(&text[1..]);
        check(&text[2..]);
        check(&format!("{text}0"));
        check(&format!("{text}00"));
        check(&text.replace('b', "g"));
        check("");
    }
}
