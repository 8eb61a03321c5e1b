//! Codes and cookies: 128 bits of the system's random source.
//!
//! The rule inside: they are compared by their digests, so that no answer's time tells how much of a guess was right.

use sha2::{Digest, Sha256};
use ssh_key::rand_core::{OsRng, RngCore};

/// One secret, as its digest.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Secret([u8; 32]);

impl Secret {
    /// A new one, with its text of 32 hexadecimal digits, which is kept nowhere here.
    pub(super) fn new() -> (Secret, String) {
        let mut bytes = [0; 16];
        OsRng.fill_bytes(&mut bytes);
        let text: String = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
        (Secret::of(&text), text)
    }

    /// The secret that a text is.
    pub(super) fn of(text: &str) -> Secret {
        Secret(Sha256::digest(text.as_bytes()).into())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_is_its_own() {
        let ((one, text), (other, _)) = (Secret::new(), Secret::new());
        assert_eq!(text.len(), 32);
        assert_eq!(Secret::of(&text), one);
        assert_ne!(one, other);
    }
}
