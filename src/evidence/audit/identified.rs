//! One identification of cores or actuators examined from itself alone, and the one that a record carries.
//!
//! The rule inside: as for a record, whatever the file says of itself is made again and compared.

use super::examine::{Concern, Remark, from_source, profiles_of};
use crate::evidence::journal::{self, Line};
use crate::evidence::keys::{self, PublicKey};
use crate::identify::event::Event;
use crate::identify::naming;
use crate::identify::session::Session;
use crate::job::Job;
use crate::located::Text;
use crate::meter::decode::Profile;
use crate::value::reading::Function;

/// Where the signature begins in the text that a record carries.
const SIGNATURE: &str = "-----BEGIN SSH SIGNATURE-----";

/// What the examination came to.
#[derive(Debug)]
pub struct Identified {
    /// The key that signed, where the signature is good.
    pub signer: Option<PublicKey>,
    /// The identification, as far as it could be read.
    pub session: Option<Session>,
    pub remarks: Vec<Remark>,
}

/// Whether a file is an identification and not the record of a run.
pub fn is_identification(bytes: &[u8]) -> bool {
    let first = bytes.split(|byte| *byte == b'\n').next().unwrap_or_default();
    serde_json::from_slice(first)
        .is_ok_and(|line: serde_json::Value| line.pointer("/event/opened/identification").is_some())
}

/// Examines an identification and its signature; `expected` pins the key.
pub fn examine_identification(bytes: &[u8], signature: &str, expected: Option<&PublicKey>) -> Identified {
    let mut remarks = Vec::new();
    let mut remark = |concern, line, what: String| remarks.push(Remark { concern, line, what });
    let signer = match keys::verify(bytes, signature, expected) {
        Ok(key) => Some(key),
        Err(error) => {
            remark(Concern::Signature, 0, error.to_string());
            None
        }
    };
    let session = match journal::parse(bytes) {
        Ok(lines) => {
            for step in journal::clock_steps_back(&lines) {
                let what = format!("the clock stepped back from {} to {}", step.before, step.at);
                remark(Concern::Clock, step.n + 1, what);
            }
            fold(&lines, &mut remark)
        }
        Err(error) => {
            remark(Concern::Chain, 0, error.to_string());
            None
        }
    };
    Identified {
        signer,
        session,
        remarks,
    }
}

fn fold(lines: &[Line<Event>], remark: &mut impl FnMut(Concern, u64, String)) -> Option<Session> {
    let (first, rest) = lines.split_first().expect("a journal that was read has a line");
    let Event::Opened(opened) = &first.event else {
        remark(Concern::Order, 1, "it does not begin with its opening".into());
        return None;
    };
    let profiles: Vec<Profile> = profiles_of(&opened.profiles, remark);
    let mut session = match Session::open((**opened).clone(), first.at) {
        Ok(session) => session,
        Err(what) => {
            remark(Concern::Text, 1, what);
            return None;
        }
    };
    for line in rest {
        if let Event::Taken { reading, .. } | Event::LiveSeen { reading } = &line.event {
            // a typed voltage is read as one; nothing else that is typed is a reading of its own here
            if let Err(what) = from_source(reading, Function::VoltageAc, &profiles) {
                remark(Concern::Reading, line.n + 1, what);
            }
        }
        if let Err(error) = session.apply(line.at, &line.event) {
            remark(Concern::Order, line.n + 1, error.to_string());
            return Some(session);
        }
    }
    if session.closed.is_none() {
        remark(
            Concern::Ending,
            lines.len() as u64,
            "the identification is not closed".into(),
        );
    }
    Some(session)
}

/// An identification with its signature as one text, as a record carries it.
pub fn carry(name: &str, bytes: &[u8], signature: &str) -> Result<Text, String> {
    let text = std::str::from_utf8(bytes).map_err(|_| "it is not UTF-8 text".to_owned())?;
    Ok(Text::new(name, format!("{text}{signature}")))
}

/// Examines the identification that a record carries, and whether it is of the cores of this job.
pub fn examine_carried(carried: &Text, job: &Job) -> (Identified, Vec<Remark>) {
    let (text, signature) = match carried.text.find(SIGNATURE) {
        Some(at) => carried.text.split_at(at),
        None => (carried.text.as_str(), ""),
    };
    let identified = examine_identification(text.as_bytes(), signature, None);
    let about = |what: String| Remark {
        concern: Concern::Text,
        line: 1,
        what: format!("identification `{}`: {what}", carried.name),
    };
    let against = identified.remarks.iter().filter(|remark| remark.is_against());
    let mut remarks: Vec<Remark> = against.map(|remark| about(remark.words())).collect();
    if remarks.is_empty()
        && let Some(session) = &identified.session
        && let Err(what) = fits(session, job)
    {
        remarks.push(about(what));
    }
    (identified, remarks)
}

/// Whether an identification is of the cable of a job: the same place, the same cable, the same cores.
fn fits(session: &Session, job: &Job) -> Result<(), String> {
    let Some(told) = session.cores_told() else {
        return Err("it is of actuators, not of the cores of a cable".into());
    };
    let Some(theirs) = &session.job else {
        return Err("it names no job".into());
    };
    for (what, theirs, ours) in [
        ("place", &theirs.place.name, &job.place.name),
        ("cable", &theirs.cable, &job.cable),
        ("near end", &theirs.near.name, &job.near.name),
        ("far end", &theirs.far.name, &job.far.name),
    ] {
        if theirs != ours {
            return Err(format!("its {what} is `{theirs}`, that of the job `{ours}`"));
        }
    }
    naming::matches(&told.named, job)
}
