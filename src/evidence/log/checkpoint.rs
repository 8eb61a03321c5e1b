//! Checkpoints: the size and the root of the log, signed (C2SP tlog-checkpoint in a C2SP signed note).
//!
//! The rule inside: a checkpoint is read only in the one form in which it would be written again; by whom it is signed is told by the keys
//! that the reader knows, with the strict equation of signatures and no other.

use signed_note::{Note, NoteError, Signer, Verifier, VerifierList};
use tlog_tiles::{Checkpoint, Hash};

use crate::evidence::keys::{self, PublicKey, Signs};

/// The largest checkpoint with its signatures, in bytes.
pub const NOTE_BYTES_MAX: usize = 16 << 10;
/// What a key of kind Ed25519 begins with in a signed note.
const ED25519: u8 = 1;

/// The head of a log: how many leaves it has, and what they come to.
#[derive(Debug, Clone, PartialEq)]
pub struct Head {
    /// Which log: a random name, one an archive.
    pub origin: String,
    /// Number of leaves.
    pub size: u64,
    /// The root of the tree over them (RFC 6962, 2.1).
    pub root: Hash,
}

/// Why a text is no checkpoint.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BadCheckpoint {
    /// It is not written as one.
    #[error("the checkpoint does not read")]
    Unreadable,
    /// A key that is known signed other bytes.
    #[error("the checkpoint's signature is not good")]
    Signature,
    /// The key could not sign.
    #[error("the checkpoint could not be signed: {0}")]
    Unsigned(String),
}

impl Head {
    fn note_text(&self) -> Result<Vec<u8>, BadCheckpoint> {
        let checkpoint = Checkpoint::new(&self.origin, self.size, self.root, "");
        Ok(checkpoint.map_err(|_| BadCheckpoint::Unreadable)?.to_bytes())
    }
}

/// Signs a head.
///
/// # Errors
/// A key that cannot sign.
pub fn sign(head: &Head, key: &dyn Signs) -> Result<String, BadCheckpoint> {
    let unsigned = |error: &dyn std::fmt::Display| BadCheckpoint::Unsigned(error.to_string());
    let text = head.note_text()?;
    // signed before, since the note's own signer cannot say why a key refuses
    let signature = key.sign_bytes(&text).map_err(|error| unsigned(&error))?;
    let public = key.public();
    let made = Made {
        name: &head.origin,
        key_id: key_id(&head.origin, &public),
        signature: &signature,
    };
    let mut note = Note::new(&text, &[]).map_err(|error| unsigned(&error))?;
    note.add_sigs(&[&made]).map_err(|error| unsigned(&error))?;
    String::from_utf8(note.to_bytes()).map_err(|error| unsigned(&error))
}

/// The head that a checkpoint states, whoever signed it.
///
/// # Errors
/// A text that is no checkpoint, or is not written in the one form.
pub fn head_of(note: &str) -> Result<Head, BadCheckpoint> {
    let read = || {
        let parsed = (note.len() <= NOTE_BYTES_MAX).then(|| Note::from_bytes(note.as_bytes()).ok())??;
        if parsed.to_bytes() != note.as_bytes() {
            return None;
        }
        let checkpoint = Checkpoint::from_bytes(parsed.text()).ok()?;
        let plain = checkpoint.extension().is_empty() && checkpoint.to_bytes() == parsed.text();
        plain.then(|| Head {
            origin: checkpoint.origin().to_owned(),
            size: checkpoint.size(),
            root: *checkpoint.hash(),
        })
    };
    read().ok_or(BadCheckpoint::Unreadable)
}

/// The head that a checkpoint states, and which of these keys signed it, if any.
///
/// # Errors
/// As [`head_of`], and a signature by one of the keys that is not good.
pub fn signed_by(note: &str, known: &[PublicKey]) -> Result<(Head, Option<PublicKey>), BadCheckpoint> {
    let head = head_of(note)?;
    let parsed = Note::from_bytes(note.as_bytes()).map_err(|_| BadCheckpoint::Unreadable)?;
    for key in known {
        let verifier = Known {
            name: head.origin.clone(),
            key: key.clone(),
        };
        match parsed.verify(&VerifierList::new(vec![Box::new(verifier)])) {
            Ok(_) => return Ok((head, Some(key.clone()))),
            Err(NoteError::UnverifiedNote) => {}
            Err(_) => return Err(BadCheckpoint::Signature),
        }
    }
    Ok((head, None))
}

/// The number by which a note names a key (C2SP signed-note).
fn key_id(name: &str, key: &PublicKey) -> u32 {
    let mut kind_and_key = vec![ED25519];
    kind_and_key.extend(key.bytes());
    signed_note::key_id(name, &kind_and_key)
}

/// A signature already made.
struct Made<'a> {
    name: &'a str,
    key_id: u32,
    signature: &'a [u8; keys::SIGNATURE_BYTES],
}

impl Signer for Made<'_> {
    fn name(&self) -> &str {
        self.name
    }

    fn key_id(&self) -> u32 {
        self.key_id
    }

    fn sign(&self, _: &[u8]) -> Result<Vec<u8>, ed25519_dalek::ed25519::Error> {
        Ok(self.signature.to_vec())
    }
}

/// A key that a reader knows; the library's own verifier takes signatures that lean on weak points.
struct Known {
    name: String,
    key: PublicKey,
}

impl Verifier for Known {
    fn name(&self) -> &str {
        &self.name
    }

    fn key_id(&self) -> u32 {
        key_id(&self.name, &self.key)
    }

    fn verify(&self, message: &[u8], signature: &[u8]) -> bool {
        self.key.accepts(message, signature)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::keys::SigningKey;

    /// C2SP signed-note v1.0.0, the example of its text: the verifier key
    /// `example.com/foo+530d903a+AekyeRrm56hApGFkyQR4ZCbV54Id2LKaANYcrnKv3U2k` without the byte of its kind.
    const PUBLISHED_KEY: [u8; 32] = [
        0xe9, 0x32, 0x79, 0x1a, 0xe6, 0xe7, 0xa8, 0x40, 0xa4, 0x61, 0x64, 0xc9, 0x04, 0x78, 0x64, 0x26, 0xd5, 0xe7,
        0x82, 0x1d, 0xd8, 0xb2, 0x9a, 0x00, 0xd6, 0x1c, 0xae, 0x72, 0xaf, 0xdd, 0x4d, 0xa4,
    ];
    const PUBLISHED_NAME: &str = "example.com/foo";

    fn head() -> Head {
        Head {
            origin: "coreproof/archive/4d2c".into(),
            size: 3,
            root: Hash([7; 32]),
        }
    }

    #[test]
    fn a_signed_head_is_read_back_with_the_key_that_signed() {
        let key = SigningKey::throw_away();
        let note = sign(&head(), &key).unwrap();
        assert_eq!(signed_by(&note, &[key.public()]).unwrap(), (head(), Some(key.public())));
        let other = SigningKey::throw_away().public();
        assert_eq!(signed_by(&note, std::slice::from_ref(&other)).unwrap(), (head(), None));
        assert_eq!(signed_by(&note, &[other, key.public()]).unwrap().1, Some(key.public()));
        let lines: Vec<_> = note.lines().collect();
        assert_eq!(
            lines[..4],
            [
                "coreproof/archive/4d2c",
                "3",
                "BwcHBwcHBwcHBwcHBwcHBwcHBwcHBwcHBwcHBwcHBwc=",
                ""
            ]
        );
        assert!(lines[4].starts_with("\u{2014} coreproof/archive/4d2c "), "{note}");
    }

    #[test]
    fn every_changed_byte_of_a_checkpoint_is_refused_or_makes_it_nobodys() {
        let key = SigningKey::throw_away();
        let note = sign(&head(), &key).unwrap();
        for at in 0..note.len() {
            for to in [b'A', b'0', b'\n', b' '] {
                let mut bad = note.clone().into_bytes();
                if bad[at] == to {
                    continue;
                }
                bad[at] = to;
                let Ok(bad) = String::from_utf8(bad) else { continue };
                let read = signed_by(&bad, &[key.public()]);
                assert!(!matches!(read, Ok((_, Some(_)))), "{bad}");
            }
        }
    }

    #[test]
    fn the_published_note_verifies_and_its_key_has_the_published_number() {
        let note = "This is an example message.\n\n\u{2014} example.com/foo \
                    Uw2QOkn8srV1yJGh2VYRlL1Tnagv1YEq6TfXppzi2ONncAlTgK7Ztg1ERYNZXsYjOBH3mFXmRKuwHjG1Yu72IneyaQM=\n";
        let key = PublicKey::of_bytes(&PUBLISHED_KEY).unwrap();
        assert_eq!(key_id(PUBLISHED_NAME, &key), 0x530d_903a);
        let known = Known {
            name: PUBLISHED_NAME.into(),
            key,
        };
        let parsed = Note::from_bytes(note.as_bytes()).unwrap();
        parsed.verify(&VerifierList::new(vec![Box::new(known)])).unwrap();
    }

    #[test]
    fn what_is_no_checkpoint_is_refused() {
        let key = SigningKey::throw_away();
        let good = sign(&head(), &key).unwrap();
        for bad in [
            "",
            "\n",
            "coreproof/archive/4d2c\n3\n",
            &good.replacen("\n3\n", "\n03\n", 1),
            &good.replacen("\n3\n", "\n-3\n", 1),
            &good.replacen("\n\n", "\nmore\n\n", 1),
            &good.replacen("=\n", "\n", 1),
            &good[..good.len() - 1],
            &format!("{good}\n"),
            &good.replace('\n', "\r\n"),
            &format!("{good}{}", "\u{2014} a AAAAAAAA\n".repeat(2000)),
        ] {
            assert_eq!(head_of(bad), Err(BadCheckpoint::Unreadable), "{bad:?}");
        }
    }
}
