//! A public key: one Ed25519 point and the comment that came with it. A key that exists here is a point of the curve
//! and not a weak one; two keys are equal when the points are, whatever the comments say.

use std::path::Path;

use ed25519_dalek::{Signature, VerifyingKey};
use ssh_key::{
    HashAlg,
    public::{Ed25519PublicKey, KeyData},
};

use super::Error;
use super::files::file_error;
use crate::located::is_unseen;
use crate::system::disk;

/// The largest `.pub` file, in bytes: one line.
const FILE_BYTES_MAX: u64 = 64 << 10;

/// Whether a text begins as OpenSSH's names for kinds of keys do.
pub(super) fn is_key_kind(text: &str) -> bool {
    ["ssh-", "ecdsa-", "sk-"].iter().any(|kind| text.starts_with(kind))
}

/// An Ed25519 public key with its comment.
#[derive(Debug, Clone)]
pub struct PublicKey {
    point: VerifyingKey,
    comment: String,
}

impl PublicKey {
    /// Reads one line of OpenSSH text: `ssh-ed25519 BASE64 [comment]`. A line feed at the end is allowed.
    ///
    /// # Errors
    /// [`Error::PublicKeyUnreadable`], [`Error::PublicKeyNotEd25519`] or [`Error::PublicKeyWeak`].
    pub fn parse(text: &str) -> Result<Self, Error> {
        let line = text.strip_suffix('\n').unwrap_or(text);
        let line = line.strip_suffix('\r').unwrap_or(line);
        if line.chars().any(is_unseen) {
            return Err(Error::PublicKeyUnreadable);
        }
        let kind = line.split_once(' ').map_or(line, |(kind, _)| kind);
        if is_key_kind(kind) && kind != "ssh-ed25519" {
            return Err(Error::PublicKeyNotEd25519 { found: kind.into() });
        }
        let key = ssh_key::PublicKey::from_openssh(line).map_err(|_| Error::PublicKeyUnreadable)?;
        Self::from_key_data(key.key_data(), key.comment().trim())
    }

    /// Reads a `.pub` file.
    ///
    /// # Errors
    /// As [`PublicKey::parse`], and [`Error::File`].
    pub fn read(path: &Path) -> Result<Self, Error> {
        let bytes = disk::read(path, FILE_BYTES_MAX).map_err(|unread| file_error("read", path, unread.into()))?;
        Self::parse(std::str::from_utf8(&bytes).map_err(|_| Error::PublicKeyUnreadable)?)
    }

    pub(super) fn from_key_data(data: &KeyData, comment: &str) -> Result<Self, Error> {
        let Some(key) = data.ed25519() else {
            return Err(Error::PublicKeyNotEd25519 {
                found: data.algorithm().to_string(),
            });
        };
        let point = VerifyingKey::from_bytes(&key.0).map_err(|_| Error::PublicKeyWeak)?;
        Self::from_point(point, comment)
    }

    pub(super) fn from_point(point: VerifyingKey, comment: &str) -> Result<Self, Error> {
        // for a point of small order a signature can be made that fits any message
        if point.is_weak() {
            Err(Error::PublicKeyWeak)
        } else {
            Ok(Self {
                point,
                comment: comment.into(),
            })
        }
    }

    /// Whether `signature` (64 bytes) is one by this key over `message`, by the strict rule: the plain `verify` of the
    /// library takes signatures that lean on points of small order, and `verify_strict` does not.
    pub(in crate::evidence) fn accepts(&self, message: &[u8], signature: &[u8]) -> bool {
        Signature::from_slice(signature).is_ok_and(|signature| self.point.verify_strict(message, &signature).is_ok())
    }

    /// The key's 32 bytes (RFC 8032).
    pub fn bytes(&self) -> &[u8; 32] {
        self.point.as_bytes()
    }

    /// The key of these 32 bytes, without a comment.
    ///
    /// # Errors
    /// [`Error::PublicKeyWeak`], also where they are no point of the curve.
    pub fn of_bytes(bytes: &[u8; 32]) -> Result<Self, Error> {
        Self::from_point(VerifyingKey::from_bytes(bytes).map_err(|_| Error::PublicKeyWeak)?, "")
    }

    pub(super) fn key_data(&self) -> KeyData {
        KeyData::Ed25519(Ed25519PublicKey(self.point.to_bytes()))
    }

    /// The key as a line of an OpenSSH `.pub` file, comment included, without the line feed.
    pub fn openssh_line(&self) -> String {
        ssh_key::PublicKey::new(self.key_data(), self.comment.as_str())
            .to_openssh()
            .expect("32 bytes and a one-line comment always encode")
    }

    /// The fingerprint as OpenSSH shows it: `SHA256:` and 43 characters of base64.
    pub fn fingerprint(&self) -> String {
        self.key_data().fingerprint(HashAlg::Sha256).to_string()
    }

    /// The comment that came with the key; by custom the signer's name. Nothing vouches for it: show a name from the
    /// trust list where there is one.
    pub fn comment(&self) -> &str {
        &self.comment
    }

    /// The same key with another comment.
    pub(super) fn with_comment(&self, comment: &str) -> Self {
        Self {
            point: self.point,
            comment: comment.into(),
        }
    }
}

impl PartialEq for PublicKey {
    fn eq(&self, other: &Self) -> bool {
        self.point.as_bytes() == other.point.as_bytes()
    }
}

impl Eq for PublicKey {}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::explain::Explain;
    use ed25519_dalek::{Signer as _, SigningKey};

    /// RFC 8032 section 7.1, tests 1 to 3: seed, public key, message, signature.
    const RFC_8032: [[&str; 4]; 3] = [
        [
            "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
            "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
            "",
            "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
        ],
        [
            "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
            "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
            "72",
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
        ],
        [
            "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
            "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
            "af82",
            "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
        ],
    ];

    fn bytes(hex: &str) -> Vec<u8> {
        (0..hex.len())
            .step_by(2)
            .map(|at| u8::from_str_radix(&hex[at..at + 2], 16).unwrap())
            .collect()
    }

    /// Key and fingerprint of the published OpenSSH test signature: openssh-portable,
    /// regress/unittests/sshsig/testdata/ed25519.pub.
    const LINE: &str = "ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAIIlizSIN3DQV78VPNjVvvwjgf+P5HqbPYCYu3BOMdjAE";

    fn refused(text: &str, expected: &str) -> Error {
        let error = PublicKey::parse(text).unwrap_err();
        assert_eq!(error.to_string(), expected, "{text:?}");
        assert!(!error.is_equipment());
        error
    }

    #[test]
    fn line_survives_a_round_trip() {
        let key = PublicKey::parse(&format!("{LINE} Morgan Teal\n")).unwrap();
        assert_eq!(key.openssh_line(), format!("{LINE} Morgan Teal"));
        assert_eq!(key.comment(), "Morgan Teal");
        assert_eq!(key.fingerprint(), "SHA256:ZxTZQ/K7JZpz0mHqWqdmYCUcq3MAtnu9TYA66TCBkxM");
    }

    #[test]
    fn keys_are_equal_by_their_point_alone() {
        let key = PublicKey::parse(LINE).unwrap();
        assert_eq!(key, key.with_comment("someone else"));
        assert_ne!(key, crate::evidence::keys::SigningKey::throw_away().public());
    }

    #[test]
    fn text_that_is_no_key_is_refused() {
        let hint = Some("ask the signer for the `.pub` file that `coreproof key new` made".to_string());
        for text in [
            "",
            "hello",
            "ssh-ed25519",
            "ssh-ed25519 AAAA",
            "ssh-ed25519 AAAAB3NzaC1yc2EA",
            &format!("{LINE}\n{LINE}"),
            &format!("{LINE} a\u{1b}b"),
        ] {
            assert_eq!(refused(text, "this is not an OpenSSH public key line").hint(), hint);
        }
        for kind in ["ecdsa-sha2-nistp256", "ssh-rsa", "sk-ssh-ed25519@openssh.com"] {
            let expected = format!("the public key is of kind `{kind}`, not `ssh-ed25519`");
            assert_eq!(refused(&format!("{kind} AAAA someone"), &expected).hint(), hint);
        }
    }

    #[test]
    fn weak_keys_are_refused() {
        // the neutral point (y = 1): RFC 8032 section 5.1.2 encoding, 01 then 31 zero bytes
        let neutral = "ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAIAEAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA";
        let error = refused(neutral, "the public key is a weak one that proves nothing");
        assert_eq!(
            error.hint().as_deref(),
            Some("do not trust this key; ask the signer for another")
        );
    }

    #[test]
    fn absent_file_is_named() {
        let error = PublicKey::read(Path::new("no/such.pub")).unwrap_err();
        assert_eq!(
            error.to_string(),
            "cannot read `no/such.pub`: No such file or directory (os error 2)"
        );
    }

    #[test]
    fn rfc_8032_vectors_hold() {
        for [seed, public, message, signature] in RFC_8032 {
            let secret = SigningKey::from_bytes(&bytes(seed).try_into().unwrap());
            let key = PublicKey::from_point(secret.verifying_key(), "").unwrap();
            assert_eq!(key.point.to_bytes().to_vec(), bytes(public));
            let (message, signature) = (bytes(message), bytes(signature));
            assert_eq!(secret.sign(&message).to_vec(), signature);
            assert!(key.accepts(&message, &signature));
            assert!(!key.accepts(&[&message[..], b"x"].concat(), &signature));
            assert!(!key.accepts(&message, &signature[1..]));
        }
    }

    /// 914 awkward signatures of C2SP/CCTV, ed25519/ed25519vectors.json (commit 1e3d286), in `fixtures/vectors`. How many the strict rule
    /// accepts is not published: 43 was computed with ed25519-dalek 2.2.0.
    #[test]
    fn strict_rule_accepts_43_of_the_cctv_vectors() {
        #[derive(serde::Deserialize)]
        struct Vector {
            key: String,
            sig: String,
            msg: String,
            #[serde(default)]
            flags: Option<Vec<String>>,
        }
        let text = include_str!("../../../fixtures/vectors/ed25519/ed25519vectors.json");
        let vectors: Vec<Vector> = serde_json::from_str(text).unwrap();
        assert_eq!(vectors.len(), 914);
        let mut accepted = 0;
        for vector in &vectors {
            let Ok(point) = VerifyingKey::from_bytes(&bytes(&vector.key).try_into().unwrap()) else {
                continue;
            };
            let Ok(key) = PublicKey::from_point(point, "") else {
                continue;
            };
            if key.accepts(vector.msg.as_bytes(), &bytes(&vector.sig)) {
                accepted += 1;
                let flags = vector.flags.as_deref().unwrap_or_default();
                assert!(
                    !flags.iter().any(|flag| flag == "low_order_A" || flag == "low_order_R"),
                    "{flags:?}"
                );
            }
        }
        assert_eq!(accepted, 43);
    }
}
