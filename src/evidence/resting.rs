//! Whether the record that a run rests on holds its lock: what `verify`, `audit`, `import` and `certificate` say of it, and the start of a run.
//!
//! The rule inside: a lock is believed only where the record of it is at hand, whole and by its hash; and only as long as no other record of the
//! same place and supply shows that somebody switched on.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry as Slot;

use jiff::Timestamp;
use uuid::Uuid;

use super::archive::{Archive, Error};
use super::audit::{Concern, Remark};
use super::walked::folded;
use crate::job::Job;
use crate::plan::{Act, shows_dark};
use crate::run::event::{Answer, RestsOn};
use crate::run::fold::{Attempt, Evidence, Run};

/// The most records that rest one on the other: more than a day of work at one lock.
const CHAIN_MAX: usize = 100;

/// What speaks against what a run rests on; nothing where it rests on nothing.
///
/// # Errors
/// Those of the archive.
pub fn remarks(archive: Option<&Archive>, run: &Run) -> Result<Vec<Remark>, Error> {
    let Some(rest) = &run.opened.rests_on else {
        return Ok(Vec::new());
    };
    let faults = match archive {
        Some(archive) => faults(archive, rest, &run.plan.job, Span::of(run))?,
        None => vec![not_at_hand(rest)],
    };
    Ok(faults
        .into_iter()
        .map(|what| Remark::on_all(Concern::Lock, what))
        .collect())
}

fn not_at_hand(rest: &RestsOn) -> String {
    format!(
        "it rests on the record of run {}, which is not at hand here: import that one first",
        rest.run
    )
}

/// A run in time.
#[derive(Debug, Clone, Copy)]
pub struct Span {
    /// None for one that is about to begin.
    run: Option<Uuid>,
    opened: Timestamp,
    closed: Timestamp,
}

impl Span {
    fn of(run: &Run) -> Span {
        Span {
            run: Some(run.opened.run),
            opened: run.opened_at,
            closed: run.ending.as_ref().map_or(Timestamp::MAX, |(_, at)| *at),
        }
    }

    /// Of a run that is about to begin.
    pub fn beginning(at: Timestamp) -> Span {
        Span {
            run: None,
            opened: at,
            closed: Timestamp::MAX,
        }
    }
}

/// Why a run of this job cannot rest on a record, in words.
///
/// # Errors
/// Those of the archive.
pub fn faults(archive: &Archive, rest: &RestsOn, job: &Job, span: Span) -> Result<Vec<String>, Error> {
    let (mut found, mut rest, mut job, mut later) = (Vec::new(), rest.clone(), job.clone(), span);
    let mut others = Others {
        archive,
        read: BTreeMap::new(),
    };
    for _ in 0..CHAIN_MAX {
        let Some(entry) = archive.of_run(&rest.run.to_string())? else {
            found.push(not_at_hand(&rest));
            return Ok(found);
        };
        if entry.summary.sha256 != rest.sha256 || super::archive::sha256_hex(&entry.record) != rest.sha256 {
            found.push(format!(
                "what it rests on is not the record of run {} that is here",
                rest.run
            ));
        }
        let Some(on) = folded(&entry) else {
            found.push(format!(
                "the record of run {} cannot be read, or is not as it was signed",
                rest.run
            ));
            return Ok(found);
        };
        let not = |why: String| format!("nothing rests on the record of run {}: {why}", rest.run);
        found.extend(on.cannot_be_rested_on(&job, later.opened).into_iter().map(not));
        if let Some(by) = archive.superseded(rest.run)? {
            found.push(not(format!("that of run {by} supersedes it")));
        }
        let locked = Span::of(&on);
        found.extend(others.meanwhile(&on, (locked.closed, later), span)?);
        match &on.opened.rests_on {
            Some(next) if found.is_empty() => {
                (rest, job, later) = (next.clone(), on.plan.job.clone(), locked);
            }
            _ => return Ok(found),
        }
    }
    found.push(format!("more than {CHAIN_MAX} records rest one on the other"));
    Ok(found)
}

/// Other records of a place that were asked for, each read once however long the chain of records is that rest one on the other.
struct Others<'a> {
    archive: &'a Archive,
    /// What cannot be read is a finding of its own, and tells nothing here.
    read: BTreeMap<Uuid, Option<Told>>,
}

impl Others<'_> {
    /// Other records of the same place and supply that show the supply on while the lock was rested on, up to the end of the last run that
    /// does, or a voltage behind it before the next run began.
    fn meanwhile(&mut self, on: &Run, (from, next): (Timestamp, Span), last: Span) -> Result<Vec<String>, Error> {
        let to = last.closed;
        let job = &on.plan.job;
        let place = format!("{}, {}", job.place.name, job.place.part);
        let (archive, read) = (self.archive, &mut self.read);
        let mut found = Vec::new();
        archive.for_each_of_place(&place, |summary| {
            let time = |text: &str| text.parse::<Timestamp>().ok();
            let ends_before = time(&summary.closed_at).is_some_and(|closed| closed <= from);
            let begins_after = time(&summary.opened_at).is_some_and(|opened| to <= opened);
            let is_other = summary.run != on.opened.run && Some(summary.run) != last.run;
            if !is_other || ends_before || begins_after {
                return Ok(());
            }
            let told = match read.entry(summary.run) {
                Slot::Occupied(there) => there.into_mut(),
                Slot::Vacant(new) => {
                    let entry = archive.of_run(&summary.run.to_string())?;
                    new.insert(entry.as_ref().and_then(folded).map(|run| Told::of(&run)))
                }
            };
            if let Some(told) = told
                && told.behind == behind(job)
            {
                found.extend(told.switched_on(from, to));
                found.extend(told.voltage_seen(from, next.opened));
            }
            Ok::<(), Error>(())
        })?;
        Ok(found)
    }
}

/// What a run tells of the supply that it was behind.
struct Told {
    run: Uuid,
    behind: [String; 3],
    /// When it began, where it isolated anew: until then it had the supply as it found it.
    anew: Option<Timestamp>,
    energised: Vec<Timestamp>,
    /// When it saw a voltage where all had to be dead.
    voltages: Vec<Timestamp>,
}

/// The place, and where its supply is switched off.
fn behind(job: &Job) -> [String; 3] {
    [&job.place.name, &job.place.part, &job.supply.from].map(String::clone)
}

impl Told {
    fn of(run: &Run) -> Told {
        let steps = run.plan.steps.iter().zip(&run.steps);
        let lit = |attempt: &&Attempt| attempt.evidence == Evidence::Answer(Answer::Lit);
        let lit = steps
            .filter(|(step, _)| shows_dark(step))
            .flat_map(|(_, state)| state.attempts.iter().filter(lit))
            .map(|attempt| attempt.at);
        let isolates = run.plan.steps.iter().any(|step| step.acts.contains(&Act::SwitchOff));
        Told {
            run: run.opened.run,
            behind: behind(&run.plan.job),
            anew: (run.opened.rests_on.is_none() && isolates).then_some(run.opened_at),
            energised: run.energised.clone(),
            voltages: run.live_seen.iter().map(|(at, ..)| *at).chain(lit).collect(),
        }
    }

    /// That it saw a voltage between two times, in words.
    fn voltage_seen(&self, from: Timestamp, to: Timestamp) -> Option<String> {
        let at = self.voltages.iter().find(|at| from < **at && **at < to)?;
        Some(format!("run {} saw a voltage behind its lock at {at}", self.run))
    }

    /// That it had the supply on between two times, in words.
    fn switched_on(&self, from: Timestamp, to: Timestamp) -> Option<String> {
        let run = self.run;
        let is_between = |at: &&Timestamp| from < **at && **at < to;
        if let Some(at) = self.energised.iter().find(is_between) {
            return Some(format!(
                "run {run} switched the supply on at {at}, while its lock was rested on"
            ));
        }
        self.anew
            .as_ref()
            .filter(is_between)
            .map(|at| format!("run {run} began at {at} with the supply as it found it, while its lock was rested on"))
    }
}
