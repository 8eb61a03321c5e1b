//! The engineer's key where an SSH agent holds it: `agent.pub` names it, and the agent signs (draft-ietf-sshm-ssh-agent: a length of four
//! bytes, a kind of one, fields behind it).
//!
//! The rule inside: the agent is believed nothing: a signature that does not fit the named key by the strict equation is none.

use std::path::Path;

use super::files::{agent_file, make_dir, sync_dir, write_new};
use super::name::shown;
use super::{Error, LockedKey, PublicKey, SIGNATURE_BYTES, Signs, check_name, store};
use crate::system::agent::{Connection, call};
use crate::system::private::readable_by_all;

/// What is asked, and what comes back.
const REQUEST_IDENTITIES: u8 = 11;
const IDENTITIES_ANSWER: u8 = 12;
const SIGN_REQUEST: u8 = 13;
const SIGN_RESPONSE: u8 = 14;
const FAILURE: u8 = 5;

/// The longest answer that is read, in bytes: thousands of keys.
const ANSWER_BYTES_MAX: u32 = 256 << 10;

/// The engineer's own key, wherever its secret is.
#[derive(Debug, Clone)]
pub enum Own {
    /// In a file, under a passphrase.
    Locked(Box<LockedKey>),
    /// In an agent.
    Agent(Box<AgentKey>),
}

impl Own {
    /// The public half.
    pub fn public(&self) -> &PublicKey {
        match self {
            Own::Locked(key) => key.public(),
            Own::Agent(key) => &key.public,
        }
    }
}

/// The engineer's own key as `dir` names it.
///
/// # Errors
/// As [`store::load`]; an `agent.pub` that is no public key.
pub fn own(dir: &Path) -> Result<Own, Error> {
    match store::load(dir) {
        Err(Error::KeyAbsent { path }) => match PublicKey::read(&agent_file(dir)) {
            Ok(public) => Ok(Own::Agent(Box::new(AgentKey { public }))),
            Err(Error::File { source, .. }) if source.kind() == std::io::ErrorKind::NotFound => {
                Err(Error::KeyAbsent { path })
            }
            Err(error) => Err(error),
        },
        other => other.map(Box::new).map(Own::Locked),
    }
}

/// Makes the key that an agent holds the engineer's own; the agent must hold it now. `name` becomes the comment.
///
/// # Errors
/// [`Error::Name`], [`Error::KeyExists`], [`Error::AgentUnreachable`], [`Error::AgentHasNot`] and [`Error::File`].
pub fn adopt(dir: &Path, name: &str, public: &PublicKey) -> Result<PublicKey, Error> {
    check_name(name).map_err(|fault| Error::Name {
        name: shown(name),
        fault,
    })?;
    match own(dir) {
        Err(Error::KeyAbsent { .. }) => {}
        Err(error) => return Err(error),
        Ok(Own::Locked(key)) => {
            let path = key.path().to_path_buf();
            return Err(Error::KeyExists { path });
        }
        Ok(Own::Agent(_)) => return Err(Error::KeyExists { path: agent_file(dir) }),
    }
    let key = AgentKey {
        public: public.with_comment(name),
    };
    key.is_held(&mut *connected()?)?;
    make_dir(dir)?;
    let line = key.public.openssh_line() + "\n";
    write_new(&agent_file(dir), line.as_bytes(), readable_by_all)?;
    sync_dir(dir)?;
    Ok(key.public)
}

/// A key that an agent holds.
#[derive(Debug, Clone)]
pub struct AgentKey {
    public: PublicKey,
}

impl AgentKey {
    /// The key as SSH writes it.
    fn blob(&self) -> Vec<u8> {
        let mut blob = Vec::new();
        put(&mut blob, b"ssh-ed25519");
        put(&mut blob, self.public.bytes());
        blob
    }

    fn is_held(&self, agent: &mut dyn Connection) -> Result<(), Error> {
        let answer = asked(agent, REQUEST_IDENTITIES, &[])?;
        let blob = self.blob();
        let read = || {
            let mut rest = answer.strip_prefix(&[IDENTITIES_ANSWER])?;
            let count = u32::from_be_bytes(*rest.split_off(..4)?.first_chunk()?);
            let mut held = false;
            for _ in 0..count {
                held |= take(&mut rest)? == blob;
                take(&mut rest)?;
            }
            Some(held)
        };
        match read() {
            Some(true) => Ok(()),
            Some(false) => Err(self.not_held()),
            None => Err(unreachable("its answer does not read")),
        }
    }

    fn not_held(&self) -> Error {
        Error::AgentHasNot {
            fingerprint: self.public.fingerprint(),
        }
    }

    fn signed_by(&self, agent: &mut dyn Connection, bytes: &[u8]) -> Result<[u8; SIGNATURE_BYTES], Error> {
        self.is_held(agent)?;
        let mut request = Vec::new();
        put(&mut request, &self.blob());
        put(&mut request, bytes);
        request.extend(0_u32.to_be_bytes());
        let answer = asked(agent, SIGN_REQUEST, &request)?;
        if answer.first() == Some(&FAILURE) {
            return Err(Error::AgentRefused);
        }
        let read = || {
            let mut rest = answer.strip_prefix(&[SIGN_RESPONSE])?;
            let mut signature = take(&mut rest)?;
            let kind = take(&mut signature)?;
            let signature: [u8; SIGNATURE_BYTES] = take(&mut signature)?.try_into().ok()?;
            (kind == b"ssh-ed25519" && self.public.accepts(bytes, &signature)).then_some(signature)
        };
        read().ok_or_else(|| unreachable("what it signed does not fit the key"))
    }
}

impl Signs for AgentKey {
    fn public(&self) -> PublicKey {
        self.public.clone()
    }

    fn sign_bytes(&self, bytes: &[u8]) -> Result<[u8; SIGNATURE_BYTES], Error> {
        self.signed_by(&mut *connected()?, bytes)
    }
}

fn connected() -> Result<Box<dyn Connection>, Error> {
    call().map_err(|error| unreachable(error.to_string()))
}

fn unreachable(detail: impl Into<String>) -> Error {
    Error::AgentUnreachable { detail: detail.into() }
}

/// A field: its length in four bytes, and its bytes.
fn put(to: &mut Vec<u8>, field: &[u8]) {
    let length = u32::try_from(field.len()).expect("what is signed is an envelope or a few lines");
    to.extend(length.to_be_bytes());
    to.extend(field);
}

/// Takes a field off the front.
fn take<'a>(rest: &mut &'a [u8]) -> Option<&'a [u8]> {
    let length = u32::from_be_bytes(*rest.split_off(..4)?.first_chunk()?);
    rest.split_off(..usize::try_from(length).ok()?)
}

/// One question and its answer, which begins with its kind.
fn asked(agent: &mut dyn Connection, kind: u8, content: &[u8]) -> Result<Vec<u8>, Error> {
    let mut message = vec![kind];
    message.extend(content);
    let mut framed = Vec::new();
    put(&mut framed, &message);
    let mut answered = || {
        agent.write_all(&framed)?;
        agent.flush()?;
        let mut length = [0; 4];
        agent.read_exact(&mut length)?;
        let length = u32::from_be_bytes(length);
        if ANSWER_BYTES_MAX < length {
            return Err(std::io::Error::other("its answer is too long"));
        }
        let mut answer = vec![0; length as usize];
        agent.read_exact(&mut answer)?;
        Ok(answer)
    };
    answered().map_err(|error| unreachable(error.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::keys::SigningKey;
    use crate::explain::Explain;
    use std::io::{self, Read, Write};

    /// An agent that gives these answers, whatever it is asked.
    struct Scripted {
        answers: Vec<u8>,
        at: usize,
        heard: Vec<u8>,
    }

    impl Read for Scripted {
        fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
            let read = (&self.answers[self.at..]).read(into)?;
            self.at += read;
            Ok(read)
        }
    }

    impl Write for Scripted {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            self.heard.extend(bytes);
            Ok(bytes.len())
        }

        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    fn scripted(answers: &[&[u8]]) -> Scripted {
        let mut framed = Vec::new();
        answers.iter().for_each(|answer| put(&mut framed, answer));
        Scripted {
            answers: framed,
            at: 0,
            heard: Vec::new(),
        }
    }

    fn holding(key: &AgentKey) -> Vec<u8> {
        let mut answer = vec![IDENTITIES_ANSWER, 0, 0, 0, 1];
        put(&mut answer, &key.blob());
        put(&mut answer, b"a comment");
        answer
    }

    fn signing(kind: &[u8], signature: &[u8]) -> Vec<u8> {
        let mut inner = Vec::new();
        put(&mut inner, kind);
        put(&mut inner, signature);
        let mut answer = vec![SIGN_RESPONSE];
        put(&mut answer, &inner);
        answer
    }

    #[test]
    fn what_the_agent_signs_is_believed_only_where_it_fits() {
        let secret = SigningKey::throw_away();
        let key = AgentKey {
            public: secret.public(),
        };
        let good = secret.sign_bytes(b"bytes").unwrap();
        let held = holding(&key);
        let mut agent = scripted(&[&held, &signing(b"ssh-ed25519", &good)]);
        assert_eq!(key.signed_by(&mut agent, b"bytes").unwrap(), good);
        assert_eq!(agent.heard[..5], [0, 0, 0, 1, REQUEST_IDENTITIES]);
        let of_other_bytes = secret.sign_bytes(b"other").unwrap();
        let unfit = "the SSH agent cannot be used: what it signed does not fit the key";
        let other = holding(&AgentKey {
            public: SigningKey::throw_away().public(),
        });
        let has_not = format!("the SSH agent does not hold the key {}", key.public.fingerprint());
        let unread = "the SSH agent cannot be used: its answer does not read";
        let gone = "the SSH agent cannot be used: failed to fill whole buffer";
        for (answers, expected) in [
            (vec![&held[..], &signing(b"ssh-ed25519", &of_other_bytes)], unfit),
            (vec![&held[..], &signing(b"ssh-rsa", &good)], unfit),
            (vec![&held[..], &signing(b"ssh-ed25519", &good[..63])], unfit),
            (vec![&held[..], &[SIGN_RESPONSE, 0, 0]], unfit),
            (vec![&held[..], &[FAILURE]], "the SSH agent refused to sign"),
            (vec![&other[..]], &has_not),
            (vec![&held[..held.len() - 1]], unread),
            (vec![&[IDENTITIES_ANSWER, 255, 255, 255, 255][..]], unread),
            (vec![&[FAILURE][..]], unread),
            (vec![], gone),
        ] {
            let error = key.signed_by(&mut scripted(&answers), b"bytes").unwrap_err();
            assert_eq!(error.to_string(), expected);
            assert!(error.hint().is_some());
        }
        let mut endless = scripted(&[]);
        endless.answers = vec![255; 4];
        let error = key.signed_by(&mut endless, b"bytes").unwrap_err();
        assert_eq!(
            error.to_string(),
            "the SSH agent cannot be used: its answer is too long"
        );
    }
}
