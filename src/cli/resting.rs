//! `--rests-on RECORD`: a run, its plan or its rehearsal, behind the lock of an earlier one, and the others that rest on a lock.
//!
//! The rule inside: while one rests on a lock, whatever would take it off is refused everywhere else, by name.

use jiff::Timestamp;

use super::error::Failure;
use super::home::Home;
use super::unfinished::{All, Unfinished};
use crate::evidence::archive::{self, Archive};
use crate::evidence::audit::Remark;
use crate::evidence::resting::{Span, faults, remarks};
use crate::job::Job;
use crate::plan::{Act, Lock, Plan};
use crate::run::engine::{Engine, Others};
use crate::run::event::RestsOn;
use crate::run::fold::Run;

/// Whose lock it is, by whether a record is named.
pub(super) fn lock(named: Option<&str>) -> Lock {
    named.map_or(Lock::Own, |_| Lock::TakenOver)
}

/// What a plan or a rehearsal rests on, where it rests: refused as a run is that begins now.
pub(super) fn named(named: Option<&str>, plan: &Plan, at: Timestamp) -> Result<Option<RestsOn>, Failure> {
    match named {
        Some(_) => begins(named, plan, &Home::open()?, at),
        None => Ok(None),
    }
}

/// What a run that begins rests on, where it rests; a lock of its own is refused where others rest on one there.
pub(super) fn begins(named: Option<&str>, plan: &Plan, home: &Home, at: Timestamp) -> Result<Option<RestsOn>, Failure> {
    let all = All::of(home)?;
    let Some(named) = named else {
        let isolates = plan.steps.iter().any(|step| step.acts.contains(&Act::SwitchOff));
        return match resting(&all, &plan.job, "").as_slice() {
            [] => Ok(None),
            _ if !isolates => Ok(None),
            others => Err(Failure::refused(format!(
                "the {} is locked off: {} rests on it",
                plan.job.supply.from,
                others.join(", ")
            ))
            .hint("rest on the same lock with `--rests-on RECORD`, or finish that run first")),
        };
    };
    let archive = Archive::read(&home.archive())?;
    let entry = archive.get(named)?;
    let rest = RestsOn {
        run: entry.summary.run,
        sha256: entry.summary.sha256,
    };
    let of_it = |run: &&Unfinished| {
        run.told
            .as_ref()
            .is_ok_and(|told| told.is_on && told.is_behind(&plan.job))
    };
    let on = all.runs.iter().find(of_it).map(|run| {
        format!(
            "{} has switched the {} on, or is about to",
            named_run(run),
            plan.job.supply.from
        )
    });
    let seen = all.runs.iter().find_map(|run| {
        let told = run.told.as_ref().ok().filter(|told| told.is_behind(&plan.job))?;
        Some(format!("in {}: {}", named_run(run), told.voltage.as_ref()?))
    });
    let found = faults(&archive, &rest, &plan.job, Span::beginning(at))?;
    match on.into_iter().chain(seen).chain(found).next() {
        None => Ok(Some(rest)),
        Some(why) => Err(Failure::refused(why)
            .hint("begin with a lock of its own: leave `--rests-on` out, and isolate and prove dead from the start")),
    }
}

/// What speaks against the lock that a run rests on, as far as the archive here has the record of it.
pub(super) fn at_hand(run: &Run) -> Result<Vec<Remark>, Failure> {
    if run.opened.rests_on.is_none() {
        return Ok(Vec::new());
    }
    let archive = match Archive::read(&Home::open()?.archive()) {
        Err(archive::Error::Absent { .. }) => None,
        other => Some(other?),
    };
    Ok(remarks(archive.as_ref(), run)?)
}

fn named_run(run: &Unfinished) -> String {
    let cable = run.told.as_ref().map_or("", |told| told.cable.as_str());
    format!("run {} on the {cable}", run.id)
}

/// The unfinished runs, but for one, that rest on a lock at the place and supply of a job.
fn resting(all: &All, job: &Job, but: &str) -> Vec<String> {
    let rests = |run: &&Unfinished| {
        let told = run.told.as_ref();
        run.id != but && told.is_ok_and(|told| told.rests && told.is_behind(job))
    };
    all.runs.iter().filter(rests).map(named_run).collect()
}

/// An engine that knows who else rests on the lock of its supply. Runs that cannot be looked into are not counted: they cannot be gone on with.
pub(super) fn beside(engine: Engine, home: &Home) -> Engine {
    let (home, job) = (home.clone(), engine.run().plan.job.clone());
    let own = engine.run().opened.run.to_string();
    engine.beside(Others::told_by(move || {
        All::of(&home).map_or_else(|failure| vec![failure.message], |all| resting(&all, &job, &own))
    }))
}
