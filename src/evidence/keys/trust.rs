//! Whom to believe: a list of names and keys in the stock OpenSSH `allowed_signers` form (ssh-keygen(1), ALLOWED
//! SIGNERS), so that `ssh-keygen -Y verify -f trusted` reads the same list. Lines are only ever added; a line that
//! cannot be understood stops the reading, because it may be the restriction that matters.

use std::path::Path;

use jiff::Timestamp;

use super::{
    Error, LineFault, NAMESPACE, PublicKey, Signer, Span, alike, check_name,
    files::{file_error, make_dir, read_list, replace, sync_dir},
    name::shown,
};
use crate::system::{folder, lock};

/// What [`Trust::add`] did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Added {
    /// The line was written and synced.
    Stored,
    /// The key already stands in the list under this name.
    AlreadyThere,
}

/// The trust list as read from its file.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Trust {
    signers: Vec<Signer>,
}

impl Trust {
    /// Reads the list; a file that is not there is an empty list.
    ///
    /// # Errors
    /// [`Error::TrustLine`] for the first line that cannot be used, and [`Error::File`].
    pub fn read(path: &Path) -> Result<Self, Error> {
        Self::parse(&read_list(path)?, path)
    }

    fn parse(bytes: &[u8], path: &Path) -> Result<Self, Error> {
        let mut trust = Self::default();
        for (line, bytes) in (1..).zip(bytes.split(|&byte| byte == b'\n')) {
            let signer = std::str::from_utf8(bytes)
                .map_err(|_| LineFault::NotText)
                .and_then(|text| Signer::parse(text, line))
                .and_then(|signer| trust.hold_to_one_name(signer))
                .map_err(|fault| Error::TrustLine {
                    path: path.into(),
                    line,
                    fault,
                })?;
            trust.signers.extend(signer);
        }
        Ok(trust)
    }

    /// A key may stand on several lines (one for each span of time), but under one name: else who signed?
    fn hold_to_one_name(&self, signer: Option<Signer>) -> Result<Option<Signer>, LineFault> {
        let clash = |new: &Signer| {
            self.signers
                .iter()
                .find(|old| old.key == new.key && old.names != new.names)
        };
        match signer.as_ref().and_then(clash) {
            Some(old) => Err(LineFault::KeyUnderAnotherName {
                line: old.line,
                name: old.names[0].clone(),
            }),
            None => Ok(signer),
        }
    }

    /// Adds a line that believes `key` for records, and only for them, under `name`. The file (mode 0600) is replaced
    /// whole or not at all, and what stood in it stands in it still.
    ///
    /// # Errors
    /// [`Error::Name`], [`Error::TrustKeyTaken`], [`Error::TrustNameTaken`], [`Error::TrustLine`] where the list as it
    /// stands cannot be read, and [`Error::File`].
    pub fn add(path: &Path, name: &str, key: &PublicKey) -> Result<Added, Error> {
        Self::add_within(path, name, key, (None, None))
    }

    /// Takes a key out of belief from a moment on: each of its lines ends the second before, at the latest. What it signed until then is
    /// believed as before. The key, where there is one of this name.
    ///
    /// # Errors
    /// [`Error::TrustLine`] where the list as it stands cannot be read, [`Error::TrustNameUnknown`], and [`Error::File`].
    pub fn retire(path: &Path, name: &str, from: Timestamp) -> Result<PublicKey, Error> {
        let dir = folder::of(path);
        let _held = lock::hold_folder(dir).map_err(|source| file_error("lock", dir, source))?;
        let text = read_list(path)?;
        let trust = Self::parse(&text, path)?;
        let is_its = |signer: &&Signer| signer.names.iter().any(|known| known == name);
        let Some(signer) = trust.signers.iter().find(is_its) else {
            return Err(Error::TrustNameUnknown { name: shown(name) });
        };
        let last = Timestamp::from_second(from.as_second().saturating_sub(1)).unwrap_or(Timestamp::MIN);
        let mut lines: Vec<String> = String::from_utf8_lossy(&text).split('\n').map(str::to_owned).collect();
        for its in trust.signers.iter().filter(|other| other.key == signer.key) {
            let ended = Signer {
                valid_before: Some(its.valid_before.map_or(last, |before| before.min(last))),
                ..its.clone()
            };
            // one that would begin after its end is believed at no time: it stays in the list as a remark
            let begins = ended.valid_after.is_some_and(|after| Some(after) >= ended.valid_before);
            let put = if begins {
                format!("# {}", ended.text())
            } else {
                ended.text()
            };
            lines[its.line - 1] = put.trim_end().to_owned();
        }
        replace(path, lines.join("\n").as_bytes())?;
        sync_dir(dir)?;
        Ok(signer.key.clone())
    }

    /// As [`Trust::add`], between two moments.
    ///
    /// # Errors
    /// As [`Trust::add`].
    pub fn add_within(path: &Path, name: &str, key: &PublicKey, span: Span) -> Result<Added, Error> {
        check_name(name).map_err(|fault| Error::Name {
            name: shown(name),
            fault,
        })?;
        let dir = folder::of(path);
        make_dir(dir)?;
        // two commands at once: the second waits here, and then reads what the first has written
        let _held = lock::hold_folder(dir).map_err(|source| file_error("lock", dir, source))?;
        let mut text = read_list(path)?;
        let trust = Self::parse(&text, path)?;
        let has_name = |signer: &&Signer| signer.names.iter().any(|known| known == name);
        if let Some(known) = trust.signers.iter().find(|signer| signer.key == *key) {
            return if has_name(&known) {
                Ok(Added::AlreadyThere)
            } else {
                Err(Error::TrustKeyTaken {
                    fingerprint: key.fingerprint(),
                    name: known.names[0].clone(),
                })
            };
        }
        if let Some(known) = trust.signers.iter().find(has_name) {
            return Err(Error::TrustNameTaken {
                name: name.into(),
                fingerprint: known.key.fingerprint(),
            });
        }
        if !text.is_empty() && !text.ends_with(b"\n") {
            text.push(b'\n');
        }
        text.extend(Signer::of(name, key, span).text().into_bytes());
        replace(path, &text)?;
        sync_dir(dir)?;
        Ok(Added::Stored)
    }

    /// The name under which `key` is believed for records at the moment `at`; none if it is not.
    pub fn name_of(&self, key: &PublicKey, at: Timestamp) -> Option<&str> {
        let signer = self
            .signers
            .iter()
            .find(|signer| signer.key == *key && signer.covers(NAMESPACE, at))?;
        Some(&signer.names[0])
    }

    /// The line on which a key stands, whatever it is believed for and when.
    pub fn listed(&self, key: &PublicKey) -> Option<&Signer> {
        self.signers.iter().find(|signer| signer.key == *key)
    }

    /// Names in the list that look like this one and are another's.
    pub fn alike(&self, name: &str) -> Vec<&str> {
        let names = self.signers.iter().flat_map(|signer| &signer.names);
        names
            .filter(|known| *known != name && alike(known, name))
            .map(String::as_str)
            .collect()
    }

    /// Every line of the list, in the order of the file.
    pub fn signers(&self) -> &[Signer] {
        &self.signers
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::explain::Explain;
    use std::{fs, os::unix::fs::PermissionsExt as _, path::PathBuf};

    /// Two points that are no weak ones: the public keys of RFC 8032 section 7.1 tests 2 and of the published OpenSSH
    /// signature.
    const ONE: &str = "ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAID1AF8PoQ4lakrcKp00bfrycmCzPLsSWjMDNVfEq9GYM";
    const TWO: &str = "ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAIIlizSIN3DQV78VPNjVvvwjgf+P5HqbPYCYu3BOMdjAE";

    fn key(line: &str) -> PublicKey {
        PublicKey::parse(line).unwrap()
    }

    fn at(text: &str) -> Timestamp {
        text.parse().unwrap()
    }

    fn parse(text: &str) -> Result<Trust, Error> {
        Trust::parse(text.as_bytes(), Path::new("home/trusted"))
    }

    fn refused(text: &str, expected: &str) -> Error {
        let error = parse(text).unwrap_err();
        assert_eq!(
            error.to_string(),
            format!("trust list `home/trusted` line {expected}"),
            "{text}"
        );
        assert!(!error.is_equipment());
        error
    }

    fn home() -> (tempfile::TempDir, PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("home/trusted");
        (folder, path)
    }

    #[test]
    fn absent_list_trusts_nobody() {
        let trust = Trust::read(Path::new("no/such/list")).unwrap();
        assert!(trust.signers().is_empty());
        assert_eq!(trust.name_of(&key(ONE), at("2026-11-25T12:00:00Z")), None);
    }

    #[test]
    fn bad_line_is_named_with_its_number_and_the_next_act() {
        let hint = |error: Error| error.hint().unwrap();
        let line = refused(
            &format!("# note\n\nmorgan {ONE}\napprentice"),
            "4: there is no key after the name",
        );
        assert_eq!(hint(line), "correct line 4 or put a `#` before it");
        let zone = refused(
            &format!("apprentice valid-after=\"202601020304\" {ONE}"),
            "1: the time `202601020304` has no `Z`, so it means a different moment on each computer",
        );
        assert_eq!(
            hint(zone),
            "write the time in UTC with a `Z` after it, as `202601020304Z`"
        );
        refused(
            &format!("morgan {ONE}\napprentice {ONE}"),
            "2: the same key stands on line 1 under the name `morgan`",
        );
        let error = Trust::parse(b"# ok\n\xff\xfe", Path::new("home/trusted")).unwrap_err();
        assert_eq!(
            error.to_string(),
            "trust list `home/trusted` line 2: it is not UTF-8 text"
        );
    }

    #[test]
    fn one_key_may_stand_on_a_line_for_each_span_of_time() {
        let text =
            format!("# note\nm valid-before=\"20250101Z\" {ONE}\napprentice {TWO}\nm valid-after=\"20260101Z\" {ONE}");
        let trust = parse(&text).unwrap();
        let name = |key: &PublicKey, moment| trust.name_of(key, at(moment));
        assert_eq!(name(&key(ONE), "2024-06-01T00:00:00Z"), Some("m"));
        assert_eq!(name(&key(ONE), "2025-06-01T00:00:00Z"), None);
        assert_eq!(name(&key(ONE), "2026-06-01T00:00:00Z"), Some("m"));
        assert_eq!(name(&key(TWO), "2025-06-01T00:00:00Z"), Some("apprentice"));
        let lines: Vec<usize> = trust.signers().iter().map(|signer| signer.line).collect();
        assert_eq!(lines, [2, 3, 4]);
    }

    #[test]
    fn added_signer_is_found_again() {
        let (_folder, path) = home();
        assert_eq!(Trust::add(&path, "Morgan Teal", &key(ONE)).unwrap(), Added::Stored);
        assert_eq!(Trust::add(&path, "Apprentice", &key(TWO)).unwrap(), Added::Stored);
        assert_eq!(Trust::add(&path, "Apprentice", &key(TWO)).unwrap(), Added::AlreadyThere);
        let expected = format!(
            "\"Morgan Teal\" namespaces=\"record@coreproof\" {ONE}\n\"Apprentice\" namespaces=\"record@coreproof\" {TWO}\n"
        );
        assert_eq!(fs::read_to_string(&path).unwrap(), expected);
        assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o7777, 0o600);
        assert_eq!(fs::read_dir(path.parent().unwrap()).unwrap().count(), 1);
        let trust = Trust::read(&path).unwrap();
        assert_eq!(trust.name_of(&key(TWO), Timestamp::UNIX_EPOCH), Some("Apprentice"));
        assert_eq!(trust.signers()[0].key.comment(), "Morgan Teal");
    }

    #[test]
    fn what_stood_in_the_list_stands_in_it_still() {
        let (_folder, path) = home();
        fs::create_dir(path.parent().unwrap()).unwrap();
        let before = format!("# by hand, no line feed at the end\nmorgan {ONE}");
        fs::write(&path, &before).unwrap();
        fs::write(path.with_added_extension("new"), "left by a power cut").unwrap();
        Trust::add(&path, "Apprentice", &key(TWO)).unwrap();
        assert!(
            fs::read_to_string(&path)
                .unwrap()
                .starts_with(&format!("{before}\n\"Apprentice\""))
        );
    }

    #[test]
    fn one_key_has_one_name_and_one_name_one_key() {
        let (_folder, path) = home();
        Trust::add(&path, "Morgan Teal", &key(ONE)).unwrap();
        let before = fs::read(&path).unwrap();
        let error = Trust::add(&path, "Apprentice", &key(ONE)).unwrap_err();
        assert_eq!(
            error.to_string(),
            "key SHA256:F34nin7tcaYH6WR5LSWSfj6weFBPfBpuyUUoPFP9YjA is already trusted under the name `Morgan Teal`"
        );
        assert_eq!((error.hint(), error.is_equipment()), (None, false));
        let error = Trust::add(&path, "Morgan Teal", &key(TWO)).unwrap_err();
        assert_eq!(
            error.to_string(),
            "the name `Morgan Teal` is already in the trust list with key SHA256:F34nin7tcaYH6WR5LSWSfj6weFBPfBpuyUUoPFP9YjA"
        );
        assert_eq!(
            error.hint().as_deref(),
            Some("give the new key a name that tells the two apart")
        );
        let error = Trust::add(&path, "a\"b", &key(TWO)).unwrap_err();
        assert_eq!(
            error.to_string(),
            "`a\"b` cannot be a signer's name: it holds the character `\\\"`"
        );
        assert_eq!(fs::read(&path).unwrap(), before);
    }

    #[test]
    fn list_with_a_bad_line_is_not_added_to() {
        let (_folder, path) = home();
        fs::create_dir(path.parent().unwrap()).unwrap();
        fs::write(&path, "nonsense\n").unwrap();
        assert!(matches!(
            Trust::add(&path, "Apprentice", &key(TWO)),
            Err(Error::TrustLine { line: 1, .. })
        ));
        assert_eq!(fs::read_to_string(&path).unwrap(), "nonsense\n");
    }

    #[test]
    fn two_commands_at_once_lose_nothing() {
        let (_folder, path) = home();
        let keys: Vec<PublicKey> = (0..8)
            .map(|_| crate::evidence::keys::SigningKey::throw_away().public())
            .collect();
        std::thread::scope(|scope| {
            for (number, key) in keys.iter().enumerate() {
                let path = &path;
                scope.spawn(move || Trust::add(path, &format!("signer {number}"), key).unwrap());
            }
        });
        assert_eq!(Trust::read(&path).unwrap().signers().len(), 8);
    }

    #[test]
    fn folder_in_place_of_the_list_is_equipment() {
        let folder = tempfile::tempdir().unwrap();
        let error = Trust::read(folder.path()).unwrap_err();
        assert_eq!(
            error.to_string(),
            format!("cannot read `{}`: it is a folder, not a file", folder.path().display())
        );
        assert!(error.is_equipment());
    }
}
