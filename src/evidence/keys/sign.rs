//! Making and checking signatures: SSHSIG (OpenSSH, PROTOCOL.sshsig) over Ed25519 (RFC 8032). A signature is accepted
//! only in one form: canonical armor, version 1, our namespace, and the strict equation with no weak point in it.

use ed25519_dalek::Signer as _;
use ssh_key::{Algorithm, HashAlg, LineEnding, Signature, SshSig};

use super::{Error, PublicKey, armor, name::shown};

/// The purpose written into every signature, so that one made for a record can never pass for another purpose.
pub const NAMESPACE: &str = "record@coreproof";

/// Bytes of an Ed25519 signature.
pub const SIGNATURE_BYTES: usize = 64;

/// Whatever holds a private key and signs with it.
pub trait Signs {
    /// The public half.
    fn public(&self) -> PublicKey;

    /// The Ed25519 signature over these bytes as they are.
    ///
    /// # Errors
    /// A holder that refuses or cannot be reached.
    fn sign_bytes(&self, bytes: &[u8]) -> Result<[u8; SIGNATURE_BYTES], Error>;

    /// Signs `bytes` for [`NAMESPACE`] with SHA-256 and returns the armor, which ends in a line feed. The same key
    /// and bytes always give the same text.
    ///
    /// # Errors
    /// As [`Signs::sign_bytes`].
    fn sign_record(&self, bytes: &[u8]) -> Result<String, Error> {
        let envelope = SshSig::signed_data(NAMESPACE, HashAlg::Sha256, bytes)
            .expect("a namespace that is not empty always encodes");
        let signature = self.sign_bytes(&envelope)?;
        Ok(armored(&self.public(), NAMESPACE, HashAlg::Sha256, &signature))
    }
}

/// The armor of a signature already made.
fn armored(key: &PublicKey, namespace: &str, hash: HashAlg, signature: &[u8; SIGNATURE_BYTES]) -> String {
    let sealed = Signature::new(Algorithm::Ed25519, signature.to_vec())
        .and_then(|signature| SshSig::new(key.key_data(), namespace, hash, signature))
        .and_then(|sealed| sealed.to_pem(LineEnding::LF));
    sealed.expect("a 64-byte signature under a namespace that is not empty always encodes")
}

/// A private key, open and in memory only. Its secret is wiped when it is dropped.
#[derive(Debug)]
pub struct SigningKey {
    secret: ed25519_dalek::SigningKey,
    comment: String,
}

impl SigningKey {
    pub(super) fn new(secret: ed25519_dalek::SigningKey, comment: &str) -> Self {
        Self {
            secret,
            comment: comment.into(),
        }
    }

    /// A new key from the operating system's random source that is never written anywhere: for rehearsals.
    pub fn throw_away() -> Self {
        let pair = ssh_key::private::Ed25519Keypair::random(&mut ssh_key::rand_core::OsRng);
        Self::new(pair.private.into(), "throw-away key")
    }

    /// Signs `bytes` for [`NAMESPACE`] with SHA-256 and returns the armor, which ends in a line feed. The same key
    /// and bytes always give the same text.
    pub fn sign(&self, bytes: &[u8]) -> String {
        self.sign_as(NAMESPACE, HashAlg::Sha256, bytes)
    }

    fn sign_as(&self, namespace: &str, hash: HashAlg, bytes: &[u8]) -> String {
        let envelope =
            SshSig::signed_data(namespace, hash, bytes).expect("a namespace that is not empty always encodes");
        armored(&self.public(), namespace, hash, &self.secret.sign(&envelope).to_bytes())
    }

    /// The public half.
    pub fn public(&self) -> PublicKey {
        PublicKey::from_point(self.secret.verifying_key(), &self.comment)
            .expect("RFC 8032 clamps the secret, so its public point is never of small order")
    }
}

impl Signs for SigningKey {
    fn public(&self) -> PublicKey {
        SigningKey::public(self)
    }

    fn sign_bytes(&self, bytes: &[u8]) -> Result<[u8; SIGNATURE_BYTES], Error> {
        Ok(self.secret.sign(bytes).to_bytes())
    }
}

/// Checks that `armored` is a signature over `bytes` for [`NAMESPACE`], by `expected` where a key is given. Returns
/// the key that signed, without a comment; whose it is, only the trust list can say.
///
/// # Errors
/// One of the `Signature…` kinds, or [`Error::PublicKeyWeak`].
pub fn verify(bytes: &[u8], armored: &str, expected: Option<&PublicKey>) -> Result<PublicKey, Error> {
    verify_as(NAMESPACE, bytes, armored, expected)
}

fn verify_as(namespace: &str, bytes: &[u8], armored: &str, expected: Option<&PublicKey>) -> Result<PublicKey, Error> {
    let sealed = armor::read(armored)?;
    if sealed.version() != SshSig::VERSION {
        return Err(Error::SignatureVersion {
            found: sealed.version(),
        });
    }
    if !sealed.reserved().is_empty() {
        return Err(Error::SignatureReserved);
    }
    if sealed.namespace() != namespace {
        return Err(Error::SignatureNamespace {
            found: shown(sealed.namespace()),
            expected: namespace.into(),
        });
    }
    for kind in [sealed.public_key().algorithm(), sealed.algorithm()] {
        if kind != Algorithm::Ed25519 {
            return Err(Error::SignatureNotEd25519 {
                found: shown(kind.as_str()),
            });
        }
    }
    // a point that is known need not be found from its bytes again, which takes a tenth of the whole
    let same = |expected: &&PublicKey| {
        sealed
            .public_key()
            .ed25519()
            .is_some_and(|key| key.0 == *expected.bytes())
    };
    let key = match expected.filter(same) {
        Some(expected) => expected.with_comment(""),
        None => PublicKey::from_key_data(sealed.public_key(), "")?,
    };
    if let Some(expected) = expected.filter(|&expected| *expected != key) {
        return Err(Error::SignatureOfAnother {
            found: key.fingerprint(),
            expected: expected.fingerprint(),
        });
    }
    let envelope =
        SshSig::signed_data(namespace, sealed.hash_alg(), bytes).expect("a namespace that is not empty always encodes");
    if !key.accepts(&envelope, sealed.signature_bytes()) {
        return Err(Error::SignatureDoesNotFit);
    }
    Ok(key)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::explain::Explain;

    const BEGIN: &str = "-----BEGIN SSH SIGNATURE-----\n";
    const END: &str = "-----END SSH SIGNATURE-----\n";
    const ALTERED: Option<&str> =
        Some("ask the signer for the record and its signature again, and treat this copy as altered");

    /// The published signature of openssh-portable, regress/unittests/sshsig/testdata (ed25519.sig over signed-data).
    const OPENSSH_MESSAGE: &[u8] = b"This is a test, this is only a test";
    const OPENSSH_KEY: &str = "ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAIIlizSIN3DQV78VPNjVvvwjgf+P5HqbPYCYu3BOMdjAE";
    const OPENSSH_ARMOR: &str = "\
-----BEGIN SSH SIGNATURE-----
U1NIU0lHAAAAAQAAADMAAAALc3NoLWVkMjU1MTkAAAAgiWLNIg3cNBXvxU82NW+/COB/4/
keps9gJi7cE4x2MAQAAAAIdW5pdHRlc3QAAAAAAAAABnNoYTUxMgAAAFMAAAALc3NoLWVk
MjU1MTkAAABAihQsbUzuNEFflk5Tw1+H9aLS7tZQk0RG8KW1DtOmDYYnWe3D3UKiG3fcJa
DNg4vBWp1j1gLRiBMOF+gwYNegDg==
-----END SSH SIGNATURE-----
";

    /// Computed for this project from the seed of RFC 8032 test 2 and verified with stock ssh-keygen; not published.
    const COMPUTED_NAMESPACE: &str = "record@example.com";
    const COMPUTED_ARMOR: &str = "\
-----BEGIN SSH SIGNATURE-----
U1NIU0lHAAAAAQAAADMAAAALc3NoLWVkMjU1MTkAAAAgPUAXw+hDiVqStwqnTRt+vJyYLM
8uxJaMwM1V8Sr0ZgwAAAAScmVjb3JkQGV4YW1wbGUuY29tAAAAAAAAAAZzaGE1MTIAAABT
AAAAC3NzaC1lZDI1NTE5AAAAQBvwMD2bZIQO8PCZU+b/b4nYuVl1XbFN7Bogbb6iWNnu8T
JnmWs19pon8cfMYf9F1m3kA9VM/SxUvY8RTqMl+wo=
-----END SSH SIGNATURE-----
";

    /// RFC 8032 section 7.1, test 2.
    const RFC_8032_TEST_2_SEED: &str = "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb";

    fn bytes(hex: &str) -> Vec<u8> {
        (0..hex.len())
            .step_by(2)
            .map(|at| u8::from_str_radix(&hex[at..at + 2], 16).unwrap())
            .collect()
    }

    fn key_of(seed: &str) -> SigningKey {
        SigningKey::new(
            ed25519_dalek::SigningKey::from_bytes(&bytes(seed).try_into().unwrap()),
            "Morgan Teal",
        )
    }

    fn string(bytes: &[u8]) -> Vec<u8> {
        [&u32::try_from(bytes.len()).unwrap().to_be_bytes(), bytes].concat()
    }

    /// Armor written from the layout in PROTOCOL.sshsig, apart from the library.
    fn armor(version: u32, key: &[u8], namespace: &[u8], reserved: &[u8], hash: &[u8], signature: &[u8]) -> String {
        let fields = [key, namespace, reserved, hash, signature].map(string).concat();
        let blob = [b"SSHSIG", version.to_be_bytes().as_slice(), &fields].concat();
        let body: Vec<String> = base64(&blob)
            .as_bytes()
            .chunks(70)
            .map(|line| String::from_utf8(line.into()).unwrap())
            .collect();
        format!("{BEGIN}{}\n{END}", body.join("\n"))
    }

    /// RFC 4648 section 4.
    fn base64(bytes: &[u8]) -> String {
        const DIGITS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
        let mut text = String::new();
        for group in bytes.chunks(3) {
            let bits = group
                .iter()
                .chain([&0; 3])
                .take(3)
                .fold(0_u32, |bits, &byte| (bits << 8) | u32::from(byte));
            for at in 0..4 {
                let digit = char::from(DIGITS[(bits >> (18 - 6 * at)) as usize & 63]);
                text.push(if at <= group.len() { digit } else { '=' });
            }
        }
        text
    }

    fn ed25519(kind: &[u8], bytes: &[u8]) -> Vec<u8> {
        [string(kind), string(bytes)].concat()
    }

    /// A signature over `hello\n` with each field as given, and the right signature over the right envelope.
    fn armor_with(version: u32, namespace: &[u8], reserved: &[u8]) -> String {
        let key = key_of(RFC_8032_TEST_2_SEED);
        let envelope = SshSig::signed_data(NAMESPACE, HashAlg::Sha256, b"hello\n").unwrap();
        let signature = ed25519(b"ssh-ed25519", &key.secret.sign(&envelope).to_bytes());
        let public = ed25519(b"ssh-ed25519", &key.public().key_data().ed25519().unwrap().0);
        armor(version, &public, namespace, reserved, b"sha256", &signature)
    }

    fn refused(armored: &str, expected: &str, hint: Option<&str>) {
        let error = verify(b"hello\n", armored, None).unwrap_err();
        assert_eq!(error.to_string(), expected, "{armored}");
        assert_eq!(error.hint().as_deref(), hint);
        assert!(!error.is_equipment());
    }

    #[test]
    fn published_openssh_signature_verifies() {
        let key = PublicKey::parse(OPENSSH_KEY).unwrap();
        assert_eq!(
            verify_as("unittest", OPENSSH_MESSAGE, OPENSSH_ARMOR, Some(&key)).unwrap(),
            key
        );
        let error = verify(OPENSSH_MESSAGE, OPENSSH_ARMOR, Some(&key)).unwrap_err();
        assert_eq!(
            error.to_string(),
            "the signature was made for `unittest`, not for `record@coreproof`"
        );
        assert_eq!(error.hint(), None);
        let error = verify_as("unittest", b"This is a test, this is only a tesT", OPENSSH_ARMOR, None).unwrap_err();
        assert_eq!(error.to_string(), "the signature does not fit these bytes");
        let other = key_of(RFC_8032_TEST_2_SEED).public();
        let error = verify_as("unittest", OPENSSH_MESSAGE, OPENSSH_ARMOR, Some(&other)).unwrap_err();
        assert_eq!(
            error.to_string(),
            "the signature is by key SHA256:ZxTZQ/K7JZpz0mHqWqdmYCUcq3MAtnu9TYA66TCBkxM, not by SHA256:F34nin7tcaYH6WR5LSWSfj6weFBPfBpuyUUoPFP9YjA"
        );
        assert_eq!(
            error.hint().as_deref(),
            Some("ask who signed it, and by which key, before relying on it")
        );
    }

    #[test]
    fn signing_gives_the_computed_armor() {
        let key = key_of(RFC_8032_TEST_2_SEED);
        assert_eq!(
            key.sign_as(COMPUTED_NAMESPACE, HashAlg::Sha512, b"hello\n"),
            COMPUTED_ARMOR
        );
        assert_eq!(
            verify_as(COMPUTED_NAMESPACE, b"hello\n", COMPUTED_ARMOR, None).unwrap(),
            key.public()
        );
        // the raw signature of the same key under sha256, computed and checked the same way
        let short = key.sign_as(COMPUTED_NAMESPACE, HashAlg::Sha256, b"hello\n");
        let raw = SshSig::from_pem(&short).unwrap().signature_bytes().to_vec();
        assert_eq!(
            raw,
            bytes(
                "d850623f255472bbec2f8af1e0b7ba6c8459a8691ba049efed08598c08f842af030d571d260bbea0060c97b0e57491c0eab3d2818494e3aa86d76d27b53a250d"
            )
        );
        verify_as(COMPUTED_NAMESPACE, b"hello\n", &short, None).unwrap();
        assert!(verify_as("other", b"hello\n", &short, None).is_err());
    }

    #[test]
    fn own_signature_verifies_and_matches_the_written_layout() {
        let key = key_of(RFC_8032_TEST_2_SEED);
        let armored = key.sign(b"hello\n");
        assert_eq!(verify(b"hello\n", &armored, Some(&key.public())).unwrap(), key.public());
        assert_eq!(armored, armor_with(1, NAMESPACE.as_bytes(), b""));
        assert_eq!(key.public().comment(), "Morgan Teal");
    }

    #[test]
    fn throw_away_keys_differ() {
        let (one, other) = (SigningKey::throw_away(), SigningKey::throw_away());
        assert_ne!(one.public(), other.public());
        verify(b"x", &one.sign(b"x"), Some(&one.public())).unwrap();
        assert!(!format!("{one:?}").contains("secret_key"));
    }

    #[test]
    fn every_changed_byte_of_the_armor_is_refused() {
        let good = key_of(RFC_8032_TEST_2_SEED).sign(b"hello\n");
        for at in 0..good.len() {
            for to in [b'A', b'B', b'\n', b'=', b' ', good.as_bytes()[at] ^ 1] {
                let mut bad = good.clone().into_bytes();
                bad[at] = to;
                let bad = String::from_utf8(bad).unwrap();
                assert!(bad == good || verify(b"hello\n", &bad, None).is_err(), "{bad}");
            }
            let cut = [&good[..at], &good[at + 1..]].concat();
            assert!(verify(b"hello\n", &cut, None).is_err(), "{cut}");
        }
    }

    #[test]
    fn content_that_is_no_signature_is_refused() {
        let unreadable = "the signature file does not hold an SSH signature";
        refused(&format!("{BEGIN}AAAA\n{END}"), unreadable, ALTERED);
        refused(&format!("{BEGIN}????\n{END}"), unreadable, ALTERED);
        refused(&format!("{BEGIN}é\n{END}"), unreadable, ALTERED);
        refused(&armor_with(1, b"", b""), unreadable, ALTERED);
    }

    #[test]
    fn each_field_is_held_to_its_value() {
        let newer = Some("check it with a newer coreproof or `ssh-keygen -Y verify`");
        refused(
            &armor_with(2, NAMESPACE.as_bytes(), b""),
            "the signature has version 2, not 1",
            newer,
        );
        refused(
            &armor_with(0, NAMESPACE.as_bytes(), b""),
            "the signature has version 0, not 1",
            newer,
        );
        refused(
            &armor_with(1, NAMESPACE.as_bytes(), b"x"),
            "the signature uses its reserved field",
            None,
        );
        refused(
            &armor_with(1, b"file\n", b""),
            r"the signature was made for `file\u{a}`, not for `record@coreproof`",
            None,
        );
        let good = ed25519(
            b"ssh-ed25519",
            &key_of(RFC_8032_TEST_2_SEED).public().key_data().ed25519().unwrap().0,
        );
        let other = ed25519(b"ssh-dss2@example.com", &[7; 32]);
        let signature = ed25519(b"ssh-ed25519", &[0; 64]);
        let of_kind = |key, signature| armor(1, key, NAMESPACE.as_bytes(), b"", b"sha256", signature);
        refused(
            &of_kind(&other, &signature),
            "the signature is of kind `ssh-dss2@example.com`, not `ssh-ed25519`",
            None,
        );
        let ecdsa = [&b"ecdsa-sha2-nistp256"[..], b"nistp256", &[4; 65]]
            .map(string)
            .concat();
        refused(
            &of_kind(&ecdsa, &signature),
            "the signature is of kind `unknown`, not `ssh-ed25519`",
            None,
        );
        refused(
            &of_kind(&good, &signature),
            "the signature does not fit these bytes",
            ALTERED,
        );
        // the neutral point as the key, with R neutral and S = 0: the lenient equation accepts it for any message
        let neutral = [&[1_u8][..], &[0; 31]].concat();
        let forged = ed25519(b"ssh-ed25519", &[&neutral[..], &[0; 32]].concat());
        refused(
            &of_kind(&ed25519(b"ssh-ed25519", &neutral), &forged),
            "the public key is a weak one that proves nothing",
            Some("do not trust this key; ask the signer for another"),
        );
    }
}
