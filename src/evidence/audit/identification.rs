//! An identification of cores or actuators, as it is examined, and the one that a record carries.
//!
//! The rule inside: as for a record, whatever the file says of itself is made again and compared.

use super::examine::{Examinable, Examined, examine};
use super::known::Known;
use super::remark::{Concern, Remark, Remarks};
use crate::identify::checking::Checked;
use crate::identify::event::{Event, Opened};
use crate::identify::naming;
use crate::identify::session::Session;
use crate::job::Job;
use crate::located::Text;
use crate::value::reading::{Function, Reading};

/// Where the signature begins in the text that a record carries.
const SIGNATURE: &str = "-----BEGIN SSH SIGNATURE-----";

impl Examinable for Session {
    fn profiles(opened: &Opened) -> &[Text] {
        &opened.profiles
    }

    fn unopened(why: String) -> Vec<String> {
        vec![why]
    }

    fn reading<'e>(&self, event: &'e Event) -> Option<(&'e Reading, Result<Option<Function>, String>)> {
        match event {
            // nothing that is typed is a reading of its own here but a voltage
            Event::Taken { reading, .. } => Some((reading, Ok(Some(Function::VoltageAc)))),
            Event::LiveSeen { reading } => Some((reading, Ok(None))),
            _ => None,
        }
    }

    fn step(_: &Event) -> Option<&str> {
        None
    }

    fn on_all(&self, lines: u64, _: &Known, remarks: &mut Remarks) {
        if let Some(job) = &self.job {
            let named = [
                ("place", &self.opened.place, &self.opened.of.place(job)),
                ("engineer", &self.opened.engineer, &job.engineer),
            ];
            for (what, theirs, ours) in named.into_iter().filter(|(_, theirs, ours)| theirs != ours) {
                let what = format!("the identification names the {what} `{theirs}`, its job `{ours}`");
                remarks.add(Concern::Text, 1, what);
            }
        }
        if self.closed.is_none() {
            remarks.add(Concern::Ending, lines, "the identification is not closed");
        }
    }
}

/// Whether a file is an identification and not the record of a run.
pub fn is_identification(bytes: &[u8]) -> bool {
    let first = bytes.split(|byte| *byte == b'\n').next().unwrap_or_default();
    serde_json::from_slice(first)
        .is_ok_and(|line: serde_json::Value| line.pointer("/event/opened/identification").is_some())
}

/// An identification with its signature as one text, as a record carries it.
pub fn carry(name: &str, bytes: &[u8], signature: &str) -> Result<Text, String> {
    let text = std::str::from_utf8(bytes).map_err(|_| "it is not UTF-8 text".to_owned())?;
    Ok(Text::new(name, format!("{text}{signature}")))
}

/// Examines the identification that a record carries, and whether it is of the cores of this job.
pub fn examine_carried(carried: &Text, job: &Job) -> (Examined<Session>, Vec<Remark>) {
    let (text, signature) = match carried.text.find(SIGNATURE) {
        Some(at) => carried.text.split_at(at),
        None => (&*carried.text, ""),
    };
    let identified = examine::<Session>(text.as_bytes(), signature, None);
    let about = |what: String| Remark {
        concern: Concern::Text,
        line: 1,
        what: format!("identification `{}`: {what}", carried.name),
    };
    let against = identified.remarks.iter().filter(|remark| remark.is_against());
    let mut remarks: Vec<Remark> = against.map(|remark| about(remark.words())).collect();
    if remarks.is_empty()
        && let Some(session) = &identified.folded
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
    if told.checked == Some(Checked::Otherwise) {
        return Err("its checking walk contradicts its list: tell the cores apart anew".into());
    }
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
