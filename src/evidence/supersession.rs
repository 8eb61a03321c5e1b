//! A record that takes the place of an earlier one, as the log and certificates hold it.
//!
//! The rule inside: what is written here follows from the later record alone, so that whoever has that record can make it again and compare.

use uuid::Uuid;

use super::archive::{Statement, sha256_hex};
use super::keys::PublicKey;
use super::log::Kind;
use super::sealed::Sealed;
use crate::run::fold::Run;

/// What the text begins with.
const FIRST: &str = "coreproof supersession 1";

/// One record superseded by another.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Supersession {
    /// The run of the earlier record.
    pub run: Uuid,
    /// SHA-256 of the earlier record.
    pub sha256: String,
    /// The run of the later record.
    pub by: Uuid,
    /// SHA-256 of the later record.
    pub by_sha256: String,
    /// When the later run was closed, as it says.
    pub closed: String,
    /// The engineer of the later record.
    pub engineer: String,
    /// Why, in one line.
    pub because: String,
}

impl Supersession {
    /// What a record says of an earlier one; none where it corrects none, or is not closed.
    pub fn of(run: &Run, sealed: &Sealed) -> Option<Supersession> {
        let earlier = run.opened.supersedes.as_ref()?;
        let (_, closed) = run.ending.as_ref()?;
        Some(Supersession {
            run: earlier.run,
            sha256: one_line(&earlier.sha256),
            by: run.opened.run,
            by_sha256: sha256_hex(&sealed.record),
            closed: closed.to_string(),
            engineer: one_line(&run.plan.job.engineer),
            because: one_line(&earlier.because),
        })
    }

    /// It as a statement of the log: signed by the signature of the later record.
    pub fn statement(&self, sealed: &Sealed, signer: &PublicKey) -> Statement {
        Statement {
            kind: Kind::Supersession,
            about: self.run.to_string(),
            body: self.text(),
            signature: sealed.signature.clone(),
            public_key: signer.openssh_line(),
        }
    }

    /// The text, the same each time.
    pub fn text(&self) -> String {
        let Supersession {
            run,
            sha256,
            by,
            by_sha256,
            closed,
            engineer,
            because,
        } = self;
        format!(
            "{FIRST}\nrecord {run} {sha256}\nby {by} {by_sha256}\nclosed {closed}\nengineer {engineer}\nbecause {because}\n"
        )
    }

    /// Reads one text.
    pub fn read(text: &str) -> Option<Supersession> {
        let mut lines = text.lines();
        (lines.next()? == FIRST).then_some(())?;
        let mut line = |word: &str| lines.next()?.strip_prefix(word)?.strip_prefix(' ');
        let (run, sha256) = line("record")?.split_once(' ')?;
        let (by, by_sha256) = line("by")?.split_once(' ')?;
        let read = Supersession {
            run: run.parse().ok()?,
            sha256: sha256.into(),
            by: by.parse().ok()?,
            by_sha256: by_sha256.into(),
            closed: line("closed")?.into(),
            engineer: line("engineer")?.into(),
            because: line("because")?.into(),
        };
        (read.text() == text).then_some(read)
    }

    /// Reads texts one behind the other; what is none of them ends the reading.
    pub fn all_in(text: &str) -> Vec<Supersession> {
        let mut lines: Vec<&str> = text.split_inclusive('\n').collect();
        let mut all = Vec::new();
        while 6 <= lines.len() {
            let rest = lines.split_off(6);
            match Supersession::read(&lines.concat()) {
                Some(read) => all.push(read),
                None => break,
            }
            lines = rest;
        }
        all
    }

    /// It in words, said of the earlier record.
    pub fn words(&self) -> String {
        format!(
            "SUPERSEDED by the record of run {} of {}, closed {}: {}.",
            self.by,
            self.engineer,
            self.closed,
            self.because.trim_end_matches('.')
        )
    }
}

/// A text without line breaks or other controls.
fn one_line(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample(because: &str) -> Supersession {
        Supersession {
            run: "019ab7c0-0000-7000-8000-000000000001".parse().unwrap(),
            sha256: "ab".into(),
            by: "019ab7c0-0000-7000-8000-000000000002".parse().unwrap(),
            by_sha256: "cd".into(),
            closed: "2026-11-25T09:40:00Z".into(),
            engineer: "Morgan Teal".into(),
            because: because.into(),
        }
    }

    #[test]
    fn texts_one_behind_the_other_are_read_back() {
        let two = [sample("the wrong cable was named"), sample("")];
        let text = two[0].text() + &two[1].text();
        assert_eq!(Supersession::all_in(&text), two);
        assert_eq!(Supersession::all_in(&(text + "more\n")), two);
    }

    #[test]
    fn only_what_would_be_written_again_is_read() {
        let text = sample("why").text();
        for bad in [
            "".to_owned(),
            text.replacen("supersession 1", "supersession 2", 1),
            text.replacen("record 019ab7c0", "record 019AB7C0", 1),
            text.replacen("because why\n", "because why", 1),
            text.replacen("because", "since", 1),
        ] {
            assert_eq!(Supersession::read(&bad), None, "{bad}");
        }
    }
}
