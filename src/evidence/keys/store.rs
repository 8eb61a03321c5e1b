//! The engineer's own key on disk: `engineer`, an encrypted OpenSSH private key, and `engineer.pub` beside it. The
//! private file is mode 0600 from its first byte, is never overwritten, and is not used while others could read it.

use std::{
    fmt, fs, io,
    path::{Path, PathBuf},
};

use ssh_key::{LineEnding, PrivateKey, private::KeypairData, rand_core::OsRng};

use super::{
    Error, PublicKey, SigningKey, check_name,
    files::{agent_file, make_dir, read_private, replace, sync_dir, write_new},
    name::shown,
};
use crate::system::private::{owner_only, readable_by_all};

const PRIVATE_FILE: &str = "engineer";
const PUBLIC_FILE: &str = "engineer.pub";
/// Makes a new key in `dir` (created with mode 0700 if need be) and returns its public half. `name` becomes the
/// comment. Both files are on the disk when this returns; on an error neither is left behind.
///
/// # Errors
/// [`Error::Name`], [`Error::PassphraseEmpty`], [`Error::KeyExists`] and [`Error::File`].
pub fn make(dir: &Path, name: &str, passphrase: &str) -> Result<PublicKey, Error> {
    check_name(name).map_err(|fault| Error::Name {
        name: shown(name),
        fault,
    })?;
    if passphrase.is_empty() {
        return Err(Error::PassphraseEmpty);
    }
    make_dir(dir)?;
    let (private, public) = (dir.join(PRIVATE_FILE), dir.join(PUBLIC_FILE));
    for path in [&private, &public, &agent_file(dir)] {
        if fs::symlink_metadata(path).is_ok() {
            return Err(Error::KeyExists { path: path.clone() });
        }
    }
    let pair = ssh_key::private::Ed25519Keypair::random(&mut OsRng);
    let key = PublicKey::from_key_data(&pair.public.into(), name)?;
    let sealed = PrivateKey::new(KeypairData::Ed25519(pair), name)
        .and_then(|open| open.encrypt(&mut OsRng, passphrase))
        .and_then(|sealed| sealed.to_openssh(LineEnding::LF))
        .expect("a fresh key under a passphrase that is not empty always encrypts and encodes");
    write_new(&private, sealed.as_bytes(), owner_only)?;
    let line = key.openssh_line() + "\n";
    if let Err(error) = write_new(&public, line.as_bytes(), readable_by_all).and_then(|()| sync_dir(dir)) {
        let _ = fs::remove_file(&private);
        return Err(error);
    }
    Ok(key)
}

/// Puts the key in `dir` under another passphrase. The file is replaced whole or not at all.
///
/// # Errors
/// As [`load`] and [`LockedKey::unlock`], and [`Error::PassphraseEmpty`].
pub fn change_passphrase(dir: &Path, old: &str, new: &str) -> Result<PublicKey, Error> {
    if new.is_empty() {
        return Err(Error::PassphraseEmpty);
    }
    let locked = load(dir)?;
    // opened as for signing, so that a key whose halves differ is not put under a passphrase as if it were whole
    locked.unlock(old)?;
    let damaged = |error: ssh_key::Error| Error::KeyDamaged {
        path: locked.path.clone(),
        detail: error.to_string(),
    };
    let open = locked.sealed.decrypt(old).map_err(damaged)?;
    let sealed = open.encrypt(&mut OsRng, new).map_err(damaged)?;
    let text = sealed.to_openssh(LineEnding::LF).map_err(damaged)?;
    replace(&locked.path, text.as_bytes())?;
    sync_dir(dir)?;
    Ok(locked.public)
}

/// Reads the key in `dir`, still locked.
///
/// # Errors
/// Each `Key…` kind but [`Error::KeyExists`] and [`Error::KeyDamaged`], [`Error::PublicKeyOfAnother`], and
/// [`Error::File`].
pub fn load(dir: &Path) -> Result<LockedKey, Error> {
    let path = dir.join(PRIVATE_FILE);
    let text = read_private(&path)?;
    let sealed = PrivateKey::from_openssh(text.as_slice()).map_err(|error| match error {
        // the library says so of the kinds it was built without
        ssh_key::Error::AlgorithmUnknown => Error::KeyNotEd25519 {
            path: path.clone(),
            found: "unknown".into(),
        },
        _ => Error::KeyUnreadable { path: path.clone() },
    })?;
    let public = match PublicKey::from_key_data(sealed.public_key().key_data(), "") {
        Err(Error::PublicKeyNotEd25519 { found }) => {
            return Err(Error::KeyNotEd25519 { path, found });
        }
        other => other?,
    };
    if !sealed.is_encrypted() {
        return Err(Error::KeyNotEncrypted { path });
    }
    // the comment lies inside the encrypted part; until that is open, the public file beside it tells it
    let beside = dir.join(PUBLIC_FILE);
    let public = match PublicKey::read(&beside) {
        Ok(key) if key == public => key,
        Err(Error::File { source, .. }) if source.kind() == io::ErrorKind::NotFound => public,
        Err(error @ Error::File { .. }) => return Err(error),
        Ok(_) | Err(_) => return Err(Error::PublicKeyOfAnother { path: beside }),
    };
    Ok(LockedKey { path, sealed, public })
}

/// The engineer's key as it lies on disk: its public half is known, its secret is not.
#[derive(Clone)]
pub struct LockedKey {
    path: PathBuf,
    sealed: PrivateKey,
    public: PublicKey,
}

impl LockedKey {
    /// Opens the key. Takes about a tenth of a second by design, so that guessing is slow.
    ///
    /// # Errors
    /// [`Error::WrongPassphrase`], or [`Error::KeyDamaged`].
    pub fn unlock(&self, passphrase: &str) -> Result<SigningKey, Error> {
        let damaged = |detail: String| Error::KeyDamaged {
            path: self.path.clone(),
            detail,
        };
        let open = self.sealed.decrypt(passphrase).map_err(|error| match error {
            ssh_key::Error::Crypto => Error::WrongPassphrase {
                path: self.path.clone(),
            },
            other => damaged(other.to_string()),
        })?;
        let pair = open
            .key_data()
            .ed25519()
            .ok_or_else(|| damaged("it holds no Ed25519 key".into()))?;
        // another program may have put anything into the comment
        let key = SigningKey::new((&pair.private).into(), &shown(open.comment()));
        // a signature made with a public half that is not the secret's own gives the secret away
        if key.public() != self.public {
            return Err(damaged("its two halves do not belong together".into()));
        }
        Ok(key)
    }

    /// The public half. Its comment is that of the `.pub` file; without the file it is empty.
    pub fn public(&self) -> &PublicKey {
        &self.public
    }

    /// The private key file.
    pub fn path(&self) -> &Path {
        &self.path
    }
}

impl fmt::Debug for LockedKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("LockedKey")
            .field("path", &self.path)
            .field("public", &self.public)
            .finish_non_exhaustive()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::explain::Explain;
    use std::{os::unix::fs::PermissionsExt as _, sync::LazyLock};

    const PASSPHRASE: &str = "slack water at noon";

    /// One key for all tests: locking and unlocking it is slow by design.
    static HOME: LazyLock<tempfile::TempDir> = LazyLock::new(|| {
        let home = tempfile::tempdir().unwrap();
        make(&home.path().join("keys"), "Morgan Teal", PASSPHRASE).unwrap();
        home
    });

    fn dir() -> PathBuf {
        HOME.path().join("keys")
    }

    /// A folder of its own with a copy of the shared key.
    fn copy() -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        for file in [PRIVATE_FILE, PUBLIC_FILE] {
            fs::copy(dir().join(file), folder.path().join(file)).unwrap();
        }
        folder
    }

    fn put(folder: &Path, text: &str) -> PathBuf {
        let path = folder.join(PRIVATE_FILE);
        fs::write(&path, text).unwrap();
        fs::set_permissions(&path, fs::Permissions::from_mode(0o600)).unwrap();
        path
    }

    fn mode(path: &Path) -> u32 {
        fs::metadata(path).unwrap().permissions().mode() & 0o7777
    }

    fn check(error: &Error, text: &str, hint: &str) {
        assert_eq!(error.to_string(), text);
        assert_eq!(error.hint().as_deref(), Some(hint));
        assert!(!error.is_equipment());
    }

    #[test]
    fn new_key_is_private_encrypted_and_named() {
        assert_eq!((mode(&dir()), mode(&dir().join("engineer"))), (0o700, 0o600));
        let locked = load(&dir()).unwrap();
        assert_eq!(locked.public().comment(), "Morgan Teal");
        assert_eq!(
            fs::read_to_string(dir().join("engineer.pub")).unwrap(),
            locked.public().openssh_line() + "\n"
        );
        let open = locked.unlock(PASSPHRASE).unwrap();
        assert_eq!(open.public(), *locked.public());
        assert_eq!(open.public().comment(), "Morgan Teal");
        crate::evidence::keys::verify(b"x", &open.sign(b"x"), Some(locked.public())).unwrap();
        assert!(!format!("{locked:?}").contains("Encrypted"));
    }

    #[test]
    fn wrong_passphrase_is_its_own_error() {
        let error = load(&dir()).unwrap().unlock("slack water at one").unwrap_err();
        let path = dir().join("engineer");
        check(
            &error,
            &format!("the passphrase does not open signing key `{}`", path.display()),
            "type the passphrase again",
        );
        assert!(matches!(error, Error::WrongPassphrase { .. }));
    }

    #[test]
    fn key_is_never_overwritten() {
        let before = fs::read(dir().join("engineer")).unwrap();
        let path = dir().join("engineer");
        check(
            &make(&dir(), "Morgan Teal", "other").unwrap_err(),
            &format!("a signing key is already at `{}`", path.display()),
            &format!(
                "go on using it, or move `{}` and its `.pub` to a safe place first",
                path.display()
            ),
        );
        assert_eq!(fs::read(&path).unwrap(), before);
        // a public file alone is in the way too: it tells of a key that is somewhere
        let folder = copy();
        fs::remove_file(folder.path().join(PRIVATE_FILE)).unwrap();
        assert!(
            matches!(make(folder.path(), "x", "y"), Err(Error::KeyExists { path }) if path.ends_with("engineer.pub"))
        );
        assert!(!folder.path().join(PRIVATE_FILE).exists());
        assert!(matches!(
            write_new(&folder.path().join(PUBLIC_FILE), b"", owner_only),
            Err(Error::KeyExists { .. })
        ));
    }

    #[test]
    fn empty_passphrase_and_odd_names_are_refused_before_anything_is_written() {
        let folder = tempfile::tempdir().unwrap();
        let keys = folder.path().join("keys");
        check(
            &make(&keys, "Morgan Teal", "").unwrap_err(),
            "the passphrase is empty",
            "choose a passphrase and type it when asked",
        );
        check(
            &make(&keys, "Morgan\nTeal", "x").unwrap_err(),
            r"`Morgan\u{a}Teal` cannot be a signer's name: it holds the character `\n`",
            "give a plain name, such as `Morgan Teal`",
        );
        assert!(!keys.exists());
    }

    #[test]
    fn absent_key_says_how_to_make_one() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("engineer");
        check(
            &load(folder.path()).unwrap_err(),
            &format!("there is no signing key at `{}`", path.display()),
            "run `coreproof key new`",
        );
    }

    #[test]
    fn key_open_to_others_is_refused() {
        let folder = copy();
        let path = folder.path().join("engineer");
        for bits in [0o644, 0o640, 0o620, 0o602, 0o601, 0o610] {
            fs::set_permissions(&path, fs::Permissions::from_mode(bits)).unwrap();
            check(
                &load(folder.path()).unwrap_err(),
                &format!(
                    "signing key `{}` is open to other users (mode {bits:04o})",
                    path.display()
                ),
                &format!("chmod 600 {}", path.display()),
            );
        }
        for bits in [0o600, 0o400] {
            fs::set_permissions(&path, fs::Permissions::from_mode(bits)).unwrap();
            load(folder.path()).unwrap();
        }
    }

    #[test]
    fn file_that_is_no_private_key_is_refused() {
        let folder = copy();
        let whole = fs::read_to_string(folder.path().join(PRIVATE_FILE)).unwrap();
        for text in ["", "hello", &whole[..whole.len() / 2], &"x".repeat(100_000)] {
            let path = put(folder.path(), text);
            check(
                &load(folder.path()).unwrap_err(),
                &format!("`{}` is not a whole OpenSSH private key", path.display()),
                "put the file back from your copy, or move it away and run `coreproof key new`",
            );
        }
    }

    #[test]
    fn key_in_the_clear_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let pair = ssh_key::private::Ed25519Keypair::from_seed(&[7; 32]);
        let path = put(
            folder.path(),
            &PrivateKey::from(pair).to_openssh(LineEnding::LF).unwrap(),
        );
        check(
            &load(folder.path()).unwrap_err(),
            &format!("signing key `{}` is not encrypted", path.display()),
            &format!("give it a passphrase with `ssh-keygen -p -f {}`", path.display()),
        );
    }

    #[test]
    fn key_of_another_kind_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let key = ssh_key::private::KeypairData::SkEd25519(
            ssh_key::private::SkEd25519::new(
                ssh_key::public::SkEd25519::new(ssh_key::public::Ed25519PublicKey([7; 32]), "ssh:"),
                0,
                vec![1],
            )
            .unwrap(),
        );
        let path = put(
            folder.path(),
            &PrivateKey::new(key, "").unwrap().to_openssh(LineEnding::LF).unwrap(),
        );
        check(
            &load(folder.path()).unwrap_err(),
            &format!(
                "signing key `{}` is of kind `sk-ssh-ed25519@openssh.com`, not `ssh-ed25519`",
                path.display()
            ),
            "move it away and run `coreproof key new`",
        );
    }

    #[test]
    fn halves_that_do_not_belong_together_are_damage() {
        let mut locked = load(&dir()).unwrap();
        locked.public = SigningKey::throw_away().public();
        check(
            &locked.unlock(PASSPHRASE).unwrap_err(),
            &format!(
                "signing key `{}` is damaged: its two halves do not belong together",
                dir().join("engineer").display()
            ),
            "put the file back from your copy, or move it away and run `coreproof key new`",
        );
    }

    #[test]
    fn public_file_of_another_key_is_refused_and_a_missing_one_is_not() {
        let folder = copy();
        let path = folder.path().join("engineer.pub");
        for text in ["not a key", &SigningKey::throw_away().public().openssh_line()] {
            fs::write(&path, text).unwrap();
            check(
                &load(folder.path()).unwrap_err(),
                &format!(
                    "`{}` is not the public half of the signing key beside it",
                    path.display()
                ),
                "put the file back from your copy, or move it away and run `coreproof key new`",
            );
        }
        fs::remove_file(&path).unwrap();
        assert_eq!(load(folder.path()).unwrap().public(), load(&dir()).unwrap().public());
    }

    #[test]
    fn folder_that_cannot_be_made_is_equipment() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("file");
        fs::write(&file, "").unwrap();
        let error = make(&file.join("keys"), "x", "y").unwrap_err();
        assert_eq!(
            error.to_string(),
            format!(
                "cannot create `{}`: Not a directory (os error 20)",
                file.join("keys").display()
            )
        );
        assert!(error.is_equipment());
    }

    /// Stock OpenSSH opens what [`make`] wrote, and signs with it byte for byte as this program does.
    #[cfg(feature = "outside")]
    #[test]
    fn stock_ssh_keygen_opens_the_key_and_signs_alike() {
        use std::process::Command;
        let folder = copy();
        let path = folder.path().join("engineer");
        let out = Command::new("ssh-keygen")
            .args(["-y", "-P", PASSPHRASE, "-f"])
            .arg(&path)
            .output()
            .unwrap();
        assert!(out.status.success(), "{out:?}");
        let locked = load(folder.path()).unwrap();
        assert_eq!(
            String::from_utf8(out.stdout).unwrap(),
            locked.public().openssh_line() + "\n"
        );

        let record = folder.path().join("record.jsonl");
        fs::write(&record, "{\"event\":\"opened\"}\n").unwrap();
        let ask = folder.path().join("ask");
        fs::write(&ask, format!("#!/bin/sh\necho '{PASSPHRASE}'\n")).unwrap();
        fs::set_permissions(&ask, fs::Permissions::from_mode(0o700)).unwrap();
        let out = Command::new("ssh-keygen")
            .args([
                "-Y",
                "sign",
                "-n",
                crate::evidence::keys::NAMESPACE,
                "-O",
                "hashalg=sha256",
                "-f",
            ])
            .args([&path, &record])
            .env("SSH_ASKPASS", &ask)
            .env("SSH_ASKPASS_REQUIRE", "force")
            .output()
            .unwrap();
        assert!(out.status.success(), "{out:?}");
        let stock = fs::read_to_string(folder.path().join("record.jsonl.sig")).unwrap();
        let bytes = fs::read(&record).unwrap();
        assert_eq!(
            crate::evidence::keys::verify(&bytes, &stock, Some(locked.public())).unwrap(),
            *locked.public()
        );
        assert_eq!(locked.unlock(PASSPHRASE).unwrap().sign(&bytes), stock);
    }

    #[cfg(feature = "outside")]
    #[test]
    fn stock_keys_of_other_kinds_are_refused_by_their_kind() {
        for (kind, name) in [("ecdsa", "unknown"), ("rsa", "ssh-rsa")] {
            let folder = tempfile::tempdir().unwrap();
            let path = folder.path().join("engineer");
            let status = std::process::Command::new("ssh-keygen")
                .args(["-q", "-t", kind, "-N", PASSPHRASE, "-f"])
                .arg(&path)
                .status()
                .unwrap();
            assert!(status.success());
            check(
                &load(folder.path()).unwrap_err(),
                &format!(
                    "signing key `{}` is of kind `{name}`, not `ssh-ed25519`",
                    path.display()
                ),
                "move it away and run `coreproof key new`",
            );
        }
    }
}
