//! A leaf of the log: one thing that the archive was given, as the few lines that are hashed.
//!
//! The rule inside: a leaf is made from digests alone, so that it can stay where what it speaks of was deleted, and still says what that was.

use sha2::{Digest as _, Sha256};
use tlog_tiles::{Hash, record_hash};
use uuid::Uuid;

/// What a leaf speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A record with its first signature.
    Record,
    /// A further signature over a record.
    Signature,
    /// A record that takes the place of an earlier one.
    Supersession,
    /// A key that its owner has retired.
    Retirement,
}

impl Kind {
    /// The word in leaves and in the archive.
    pub fn word(self) -> &'static str {
        match self {
            Kind::Record => "record",
            Kind::Signature => "signature",
            Kind::Supersession => "supersession",
            Kind::Retirement => "retirement",
        }
    }

    /// The kind that a word of the archive stands for.
    pub fn of_word(word: &str) -> Option<Kind> {
        let all = [Kind::Record, Kind::Signature, Kind::Supersession, Kind::Retirement];
        all.into_iter().find(|kind| kind.word() == word)
    }
}

/// One leaf.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Leaf {
    /// What it speaks of.
    pub kind: Kind,
    /// The lines that are hashed.
    pub text: String,
}

impl Leaf {
    /// The leaf of a record and its first signature.
    ///
    /// ```
    /// use coreproof::evidence::log::Leaf;
    /// let run = "019ab7c0-0000-7000-8000-000000000001".parse().unwrap();
    /// let leaf = Leaf::of_record(run, b"abc", "");
    /// // SHA-256 of `abc` and of nothing: FIPS 180-4
    /// assert_eq!(
    ///     leaf.text,
    ///     "coreproof leaf 1\n\
    ///      record 019ab7c0-0000-7000-8000-000000000001\n\
    ///      ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad\n\
    ///      e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855\n"
    /// );
    /// ```
    pub fn of_record(run: Uuid, record: &[u8], signature: &str) -> Leaf {
        Leaf::of(Kind::Record, &run.to_string(), [record, signature.as_bytes()])
    }

    /// A leaf about something that goes by a name, with the digests of what it is made of.
    pub fn of<const N: usize>(kind: Kind, about: &str, parts: [&[u8]; N]) -> Leaf {
        let mut text = format!("coreproof leaf 1\n{} {about}\n", kind.word());
        for part in parts {
            let digest: String = Sha256::digest(part).iter().map(|byte| format!("{byte:02x}")).collect();
            text.push_str(&digest);
            text.push('\n');
        }
        Leaf { kind, text }
    }

    /// Its hash in the tree (RFC 6962, 2.1: SHA-256 of a zero byte and the leaf).
    pub fn hash(&self) -> Hash {
        record_hash(self.text.as_bytes())
    }
}
