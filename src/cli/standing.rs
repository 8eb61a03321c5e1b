//! `coreproof` alone: where things stand, and what to type next.
//!
//! The rule inside: it opens nothing and changes nothing.

use std::collections::BTreeMap;

use jiff::Timestamp;

use super::error::{Failure, PASSED};
use super::files;
use super::home::Home;
use super::out::say;
use super::places;
use super::tables::table;
use super::unfinished::{All, Unfinished};
use crate::evidence::keys;
use crate::job::{Instrument, Told};
use crate::terminal::plain::clean;

/// Places that are told of; `records places` has them all.
const PLACES_MAX: usize = 3;

/// Says where things stand.
pub(super) fn standing() -> Result<u8, Failure> {
    let home = Home::open()?;
    let all = All::of(&home)?;
    let now = Timestamp::now();
    if all.runs.is_empty() {
        say!("No run is unfinished.");
    } else {
        let rows: Vec<_> = all.runs.iter().map(|run| run.row(now)).collect();
        say!("Unfinished\n{}", table(&Unfinished::HEAD, &rows));
    }
    for run in &all.runs {
        if let Some(voltage) = run.told.as_ref().ok().and_then(|told| told.voltage.as_deref()) {
            say!("!! VOLTAGE in run {}: {}.", run.id, clean(voltage));
        }
    }
    // an archive that cannot be read is no reason to keep silent about the rest
    let places = places::several(&home, &all, PLACES_MAX).unwrap_or_else(|failure| {
        say!("note: {}", clean(&failure.message));
        Vec::new()
    });
    if !places.is_empty() {
        say!("\nPlaces with several cables");
        places.iter().for_each(|place| say!("  {}", clean(&place.words())));
    }
    let told = files::told(&home).map_err(Failure::findings)?;
    let due = due(&all, told.as_ref(), now);
    if !due.is_empty() {
        say!("\nDue");
        due.iter().for_each(|what| say!("  {}", clean(what)));
    }
    say!("\nNext");
    for (command, what) in next(&home, &all, told.is_some())? {
        say!("  {command:<44} {what}");
    }
    if let Some(delete) = all.to_delete() {
        say!("  {}", clean(&delete));
    }
    Ok(PASSED)
}

/// Calibrations that are due or soon will be, each instrument once: of those that were told, and of the runs that are unfinished.
fn due(all: &All, told: Option<&Told>, now: Timestamp) -> Vec<String> {
    let of_told = told
        .iter()
        .flat_map(|told| &told.instruments)
        .map(|(instrument, _)| instrument);
    let runs = all.runs.iter().filter_map(|run| run.told.as_ref().ok());
    let of_runs = runs.flat_map(|run| &run.instruments);
    let mut latest: BTreeMap<&str, &Instrument> = BTreeMap::new();
    for instrument in of_told.chain(of_runs) {
        let known = latest.entry(&instrument.serial).or_insert(instrument);
        if known.due < instrument.due {
            *known = instrument;
        }
    }
    latest
        .values()
        .filter_map(|instrument| instrument.due_words(now))
        .collect()
}

/// What to type next, the first first.
fn next(home: &Home, all: &All, is_told: bool) -> Result<Vec<(String, &'static str)>, Failure> {
    let mut next: Vec<(String, &'static str)> = Vec::new();
    match keys::own(&home.keys()) {
        Ok(_) => {}
        Err(keys::Error::KeyAbsent { .. }) => {
            next.push((
                "coreproof key new --name \"Your Name\"".into(),
                "once: the key that signs",
            ));
        }
        Err(error) => return Err(error.into()),
    }
    if !is_told {
        next.push((
            "coreproof instruments add JOB".into(),
            "once: your instruments, which jobs then name",
        ));
    }
    match all.runs.as_slice() {
        [] => {}
        [only] if only.told.is_ok() => next.push(("coreproof resume".into(), "go on with it")),
        several => {
            let newest = several.last().expect("not empty");
            next.push((format!("coreproof resume {}", newest.id), "go on with the newest"));
        }
    }
    next.push(("coreproof rehearse".into(), "try it with simulated wiring"));
    next.push(("coreproof run SEQUENCE --job JOB".into(), "begin a run"));
    next.push(("coreproof --help".into(), "everything else"));
    Ok(next)
}
