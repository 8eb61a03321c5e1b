//! What can be wrong with a key, a signature or the trust list. Each kind states one fact; each hint names the next act.

use std::{io, path::PathBuf};

use super::NameFault;
use crate::explain::Explain;
use crate::system::private;

/// Why a key could not be made, opened or believed, or a signature not accepted.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The text given as a signer's name cannot be one.
    #[error("`{name}` cannot be a signer's name: {fault}")]
    Name {
        /// The text, made safe to show.
        name: String,
        /// What is wrong with it.
        fault: NameFault,
    },
    /// A key must not be stored without a passphrase.
    #[error("the passphrase is empty")]
    PassphraseEmpty,
    /// A key file stands where the new one would go; keys are never overwritten.
    #[error("a signing key is already at `{}`", path.display())]
    KeyExists {
        /// The file in the way.
        path: PathBuf,
    },
    /// There is no private key.
    #[error("there is no signing key at `{}`", path.display())]
    KeyAbsent {
        /// Where it was looked for.
        path: PathBuf,
    },
    /// Group or others may read or write the private key.
    #[error("signing key `{}` is open to other users (mode {mode:04o})", path.display())]
    KeyOpenToOthers {
        /// The private key file.
        path: PathBuf,
        /// Its permission bits.
        mode: u32,
    },
    /// The file is not an OpenSSH private key at all, or is cut short.
    #[error("`{}` is not a whole OpenSSH private key", path.display())]
    KeyUnreadable {
        /// The private key file.
        path: PathBuf,
    },
    /// The private key lies in the clear.
    #[error("signing key `{}` is not encrypted", path.display())]
    KeyNotEncrypted {
        /// The private key file.
        path: PathBuf,
    },
    /// The private key is of another kind.
    #[error("signing key `{}` is of kind `{found}`, not `ssh-ed25519`", path.display())]
    KeyNotEd25519 {
        /// The private key file.
        path: PathBuf,
        /// The kind found.
        found: String,
    },
    /// The passphrase opened the file, but what is inside does not hold together.
    #[error("signing key `{}` is damaged: {detail}", path.display())]
    KeyDamaged {
        /// The private key file.
        path: PathBuf,
        /// What does not hold.
        detail: String,
    },
    /// The passphrase does not open the key.
    #[error("the passphrase does not open signing key `{}`", path.display())]
    WrongPassphrase {
        /// The private key file.
        path: PathBuf,
    },
    /// The SSH agent is not there, went away, or says what it should not.
    #[error("the SSH agent cannot be used: {detail}")]
    AgentUnreachable {
        /// Why.
        detail: String,
    },
    /// The SSH agent holds other keys.
    #[error("the SSH agent does not hold the key {fingerprint}")]
    AgentHasNot {
        /// Of the key that is needed.
        fingerprint: String,
    },
    /// The SSH agent or its owner said no.
    #[error("the SSH agent refused to sign")]
    AgentRefused,
    /// The public file beside a private key belongs to another key.
    #[error("`{}` is not the public half of the signing key beside it", path.display())]
    PublicKeyOfAnother {
        /// The public key file.
        path: PathBuf,
    },
    /// The text is not one line of an OpenSSH public key.
    #[error("this is not an OpenSSH public key line")]
    PublicKeyUnreadable,
    /// The public key is of another kind.
    #[error("the public key is of kind `{found}`, not `ssh-ed25519`")]
    PublicKeyNotEd25519 {
        /// The kind found.
        found: String,
    },
    /// The public key is one for which anybody can make signatures, or is no point of the curve.
    #[error("the public key is a weak one that proves nothing")]
    PublicKeyWeak,
    /// The text is not a signature armor in its one accepted form.
    #[error("the signature file is not in canonical form: {0}")]
    SignatureArmor(ArmorFault),
    /// The armor holds something other than an SSH signature.
    #[error("the signature file does not hold an SSH signature")]
    SignatureUnreadable,
    /// The signature is of a version this program does not know.
    #[error("the signature has version {found}, not 1")]
    SignatureVersion {
        /// The version found.
        found: u32,
    },
    /// The reserved field, which must be empty, is not.
    #[error("the signature uses its reserved field")]
    SignatureReserved,
    /// The signature was made for another purpose.
    #[error("the signature was made for `{found}`, not for `{expected}`")]
    SignatureNamespace {
        /// The namespace in the signature, made safe to show.
        found: String,
        /// The namespace asked for.
        expected: String,
    },
    /// The signature is by a key of another kind.
    #[error("the signature is of kind `{found}`, not `ssh-ed25519`")]
    SignatureNotEd25519 {
        /// The kind found.
        found: String,
    },
    /// The signature is by another key than the one expected.
    #[error("the signature is by key {found}, not by {expected}")]
    SignatureOfAnother {
        /// Fingerprint of the key that signed.
        found: String,
        /// Fingerprint of the key expected.
        expected: String,
    },
    /// The signature is not one over these bytes.
    #[error("the signature does not fit these bytes")]
    SignatureDoesNotFit,
    /// Group or others may write the trust list, and could put a key of theirs into it.
    #[error("trust list `{}` can be written by other users (mode {mode:04o})", path.display())]
    TrustOpenToOthers {
        /// The trust list.
        path: PathBuf,
        /// Its permission bits.
        mode: u32,
    },
    /// A line of the trust list cannot be used.
    #[error("trust list `{}` line {line}: {fault}", path.display())]
    TrustLine {
        /// The trust list.
        path: PathBuf,
        /// Line number from 1.
        line: usize,
        /// What is wrong with the line.
        fault: LineFault,
    },
    /// Nobody in the list has this name.
    #[error("no key is trusted under the name `{name}`")]
    TrustNameUnknown {
        /// The name.
        name: String,
    },
    /// The key is in the list under another name.
    #[error("key {fingerprint} is already trusted under the name `{name}`")]
    TrustKeyTaken {
        /// Fingerprint of the key.
        fingerprint: String,
        /// The name it has.
        name: String,
    },
    /// The name is in the list with another key.
    #[error("the name `{name}` is already in the trust list with key {fingerprint}")]
    TrustNameTaken {
        /// The name.
        name: String,
        /// Fingerprint of the key it has.
        fingerprint: String,
    },
    /// The operating system refused a file operation.
    #[error("cannot {action} `{}`: {source}", path.display())]
    File {
        /// What was tried: `read`, `write`, `create`, `lock`, `sync`.
        action: &'static str,
        /// On which file or folder.
        path: PathBuf,
        /// What the operating system said.
        source: io::Error,
    },
}

/// How a signature armor departs from its one accepted form.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum ArmorFault {
    /// A carriage return stands in the text.
    #[error("it holds a carriage return")]
    CarriageReturn,
    /// The first line is not the BEGIN line.
    #[error("it does not start with the BEGIN line")]
    NoBegin,
    /// The last line is not the END line.
    #[error("it does not end with the END line")]
    NoEnd,
    /// The lines between are empty or of uneven width.
    #[error("its lines are of uneven width")]
    Uneven,
}

/// What is wrong with one line of the trust list.
#[derive(Debug, PartialEq, Eq, thiserror::Error)]
pub enum LineFault {
    /// The bytes are not text.
    #[error("it is not UTF-8 text")]
    NotText,
    /// A quotation mark opens and does not close.
    #[error("a quotation mark is not closed")]
    QuoteOpen,
    /// The line ends before the key.
    #[error("there is no key after the name")]
    NoKey,
    /// The name field cannot be a name (a pattern, for example).
    #[error("`{name}` cannot be a signer's name: {fault}")]
    Name {
        /// The name, made safe to show.
        name: String,
        /// What is wrong with it.
        fault: NameFault,
    },
    /// The key is not a usable Ed25519 key.
    #[error("{0}")]
    Key(String),
    /// The option is not one this program knows; it may be a restriction, so the line is not used without it.
    #[error("the option `{0}` is not known")]
    OptionUnknown(String),
    /// The option lacks its quoted value, as stock OpenSSH wants it.
    #[error("the option `{0}` needs a value in quotation marks")]
    OptionUnquoted(String),
    /// The option stands twice.
    #[error("the option `{0}` stands twice")]
    OptionTwice(String),
    /// The time stamp has no `Z`: which moment it means depends on the computer that reads it.
    #[error("the time `{0}` has no `Z`, so it means a different moment on each computer")]
    TimeWithoutZone(String),
    /// The time stamp is in none of the accepted forms, or names no real moment.
    #[error("`{0}` is not a time of the form YYYYMMDDZ, YYYYMMDDHHMMZ or YYYYMMDDHHMMSSZ")]
    TimeUnreadable(String),
    /// The key's time ends before it starts.
    #[error("valid-after is not before valid-before")]
    TimesReversed,
    /// The same key stands on an earlier line under another name, so a signature would have two signers.
    #[error("the same key stands on line {line} under the name `{name}`")]
    KeyUnderAnotherName {
        /// The earlier line.
        line: usize,
        /// The name there.
        name: String,
    },
}

impl Explain for Error {
    fn hint(&self) -> Option<String> {
        match self {
            Self::Name { .. } => Some("give a plain name, such as `Morgan Teal`".into()),
            Self::PassphraseEmpty => Some("choose a passphrase and type it when asked".into()),
            Self::KeyExists { path } => Some(format!(
                "go on using it, or move `{}` and its `.pub` to a safe place first",
                path.display()
            )),
            Self::KeyAbsent { .. } => Some("run `coreproof key new`".into()),
            Self::KeyOpenToOthers { path, .. } => Some(private::how_to_close(path)),
            Self::TrustOpenToOthers { path, .. } => Some(format!(
                "look at every line of it, then {}",
                private::how_to_close(path)
            )),
            Self::KeyUnreadable { .. } | Self::KeyDamaged { .. } | Self::PublicKeyOfAnother { .. } => {
                Some("put the file back from your copy, or move it away and run `coreproof key new`".into())
            }
            Self::KeyNotEncrypted { path } => Some(format!(
                "give it a passphrase with `ssh-keygen -p -f {}`",
                path.display()
            )),
            Self::AgentUnreachable { .. } => {
                Some("start it in this session, `eval $(ssh-agent)`, and give it the key with `ssh-add`".into())
            }
            Self::AgentHasNot { .. } => Some("give it the key with `ssh-add`, and see `ssh-add -l`".into()),
            Self::AgentRefused => Some("unlock the agent, or say yes where it asks, then run the command again".into()),
            Self::KeyNotEd25519 { .. } => Some("move it away and run `coreproof key new`".into()),
            Self::WrongPassphrase { .. } => Some("type the passphrase again".into()),
            Self::PublicKeyUnreadable | Self::PublicKeyNotEd25519 { .. } => {
                Some("ask the signer for the `.pub` file that `coreproof key new` made".into())
            }
            Self::PublicKeyWeak => Some("do not trust this key; ask the signer for another".into()),
            Self::SignatureArmor(_) | Self::SignatureUnreadable | Self::SignatureDoesNotFit => {
                Some("ask the signer for the record and its signature again, and treat this copy as altered".into())
            }
            Self::SignatureVersion { .. } => Some("check it with a newer coreproof or `ssh-keygen -Y verify`".into()),
            Self::SignatureOfAnother { .. } => Some("ask who signed it, and by which key, before relying on it".into()),
            Self::TrustLine {
                fault: LineFault::TimeWithoutZone(time),
                ..
            } => Some(format!("write the time in UTC with a `Z` after it, as `{time}Z`")),
            Self::TrustLine { line, .. } => Some(format!("correct line {line} or put a `#` before it")),
            Self::TrustNameUnknown { .. } => Some("run `coreproof key show` and copy the name".into()),
            Self::TrustNameTaken { .. } => Some("give the new key a name that tells the two apart".into()),
            Self::File { source, path, .. } => match source.kind() {
                io::ErrorKind::StorageFull => Some("free some space on the disk, then run the command again".into()),
                io::ErrorKind::PermissionDenied => Some(format!("check who owns `{}`", path.display())),
                io::ErrorKind::NotFound => Some("check how the path is spelt".into()),
                _ => None,
            },
            Self::SignatureReserved
            | Self::SignatureNamespace { .. }
            | Self::SignatureNotEd25519 { .. }
            | Self::TrustKeyTaken { .. } => None,
        }
    }

    fn is_equipment(&self) -> bool {
        matches!(self, Self::File { source, .. } if source.kind() != io::ErrorKind::NotFound)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(kind: io::ErrorKind, text: &str, hint: Option<&str>, equipment: bool) {
        let error = Error::File {
            action: "write",
            path: "home/trusted".into(),
            source: io::Error::from(kind),
        };
        assert_eq!(error.to_string(), text);
        assert_eq!(error.hint().as_deref(), hint);
        assert_eq!(error.is_equipment(), equipment);
    }

    #[test]
    fn file_trouble_is_told_apart_from_a_wrong_path() {
        check(
            io::ErrorKind::StorageFull,
            "cannot write `home/trusted`: no storage space",
            Some("free some space on the disk, then run the command again"),
            true,
        );
        check(
            io::ErrorKind::PermissionDenied,
            "cannot write `home/trusted`: permission denied",
            Some("check who owns `home/trusted`"),
            true,
        );
        check(
            io::ErrorKind::NotFound,
            "cannot write `home/trusted`: entity not found",
            Some("check how the path is spelt"),
            false,
        );
        check(
            io::ErrorKind::ReadOnlyFilesystem,
            "cannot write `home/trusted`: read-only filesystem or storage medium",
            None,
            true,
        );
    }
}
