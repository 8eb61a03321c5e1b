//! A record proved: examined from itself alone, then held against whom the reader trusts and against the calendar.
//!
//! The rule inside: `verify`, `audit`, `import` and `certificate` all ask here, so that they give one answer on every record.

use jiff::{SignedDuration, Timestamp};

use super::audit::{Concern, Examined, Known, Remark, examine_carried, examine_known};
use super::keys::{PublicKey, Trust, alike};
use super::sealed::Sealed;
use super::timestamp::Proved;
use crate::run::fold::Run;

/// How far a clock may be wrong before a time counts as one that has not come.
const CLOCK_APART: SignedDuration = SignedDuration::from_mins(10);

/// Examines a record with its signature; `expected` pins the key.
pub fn prove(sealed: &Sealed, expected: Option<&PublicKey>, trust: &Trust, now: Timestamp) -> Examined<Run> {
    prove_known(sealed, expected, trust, now, &Known::default())
}

/// The same, one of many in one audit.
pub fn prove_known(
    sealed: &Sealed,
    expected: Option<&PublicKey>,
    trust: &Trust,
    now: Timestamp,
    known: &Known,
) -> Examined<Run> {
    let mut examined = examine_known::<Run>(&sealed.record, &sealed.signature, expected, known);
    let mut more = Vec::new();
    if let (Some(run), Some(signer)) = (&examined.folded, &examined.signer)
        && run.opened.rehearsal.is_none()
    {
        more.extend(who(run, signer, trust));
        more.extend(carried(run, signer, expected, trust));
        more.extend(when(run, signer, trust, now));
    }
    examined.remarks.extend(more);
    examined
}

/// The name that the signer's key is trusted as beside the engineer that the record names.
fn who(run: &Run, signer: &PublicKey, trust: &Trust) -> Option<Remark> {
    named(trust, signer, "the record", &run.plan.job.engineer)
}

fn named(trust: &Trust, signer: &PublicKey, what: &str, engineer: &str) -> Option<Remark> {
    let known = trust.listed(signer)?;
    if known.names.iter().any(|name| name == engineer) {
        return None;
    }
    let name = &known.names[0];
    let apart = match alike(name, engineer) {
        true => "which looks alike and is another",
        false => "which is another",
    };
    let words = format!("{what} names the engineer `{engineer}`, its key is trusted as `{name}`, {apart}");
    Some(Remark::on_all(Concern::Who, words))
}

/// Who signed the identification that a record carries.
fn carried(run: &Run, signer: &PublicKey, expected: Option<&PublicKey>, trust: &Trust) -> Option<Remark> {
    let identified = run.opened.identified.as_ref()?;
    let (examined, _) = examine_carried(identified, &run.plan.job);
    let theirs = examined.signer?;
    let engineer = &examined.folded?.opened.engineer;
    if theirs == *signer || Some(&theirs) == expected {
        // the record's own key vouches for its own engineer, and is compared with him
        return named(trust, &theirs, "the identification that it carries", engineer);
    }
    if trust.listed(&theirs).is_none() {
        let what = format!(
            "the identification that it carries is signed by {}, who is not trusted here",
            theirs.fingerprint()
        );
        return Some(Remark::on_all(Concern::Who, what));
    }
    named(trust, &theirs, "the identification that it carries", engineer)
}

/// What a proved time stamp says of the times in a record that it is over: the latest of them had come then.
pub fn bounded(run: &Run, proved: &Proved) -> Option<Remark> {
    let latest = latest(run);
    let possible = proved.at.saturating_add(CLOCK_APART).ok()?;
    let what = format!(
        "it gives the time {latest}, and a time stamp of {} proves that it was there at {}",
        proved.by, proved.at
    );
    (possible < latest).then(|| Remark::on_all(Concern::When, what))
}

/// The latest time that a record gives.
fn latest(run: &Run) -> Timestamp {
    let closed = run.ending.as_ref().map(|(_, at)| *at);
    let attempts = run
        .steps
        .iter()
        .flat_map(|step| &step.attempts)
        .map(|attempt| attempt.at);
    attempts.chain(closed).fold(run.opened_at, Timestamp::max)
}

/// Times that have not come, and such at which the key was not valid.
fn when(run: &Run, signer: &PublicKey, trust: &Trust, now: Timestamp) -> Vec<Remark> {
    let mut remarks = Vec::new();
    let closed = run.ending.as_ref().map(|(_, at)| *at);
    let latest = latest(run);
    if now
        .saturating_add(CLOCK_APART)
        .is_ok_and(|latest_possible| latest_possible < latest)
    {
        let what = format!("it gives the time {latest}, which has not come yet: a clock is or was wrong");
        remarks.push(Remark::on_all(Concern::When, what));
    }
    if let Some(known) = trust.listed(signer) {
        for (what, at) in [("opened", Some(run.opened_at)), ("closed", closed)] {
            if let Some(at) = at
                && trust.name_of(signer, at).is_none()
            {
                let what = format!(
                    "it was {what} at {at}, when the key of `{}` was not valid",
                    known.names[0]
                );
                remarks.push(Remark::on_all(Concern::When, what));
            }
        }
    }
    remarks
}
