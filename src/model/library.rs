//! The library of faults: what can go wrong, as data, and spread over the cores and terminals of one job.
//!
//! The rule inside: a fault is a change of named elements and points of the wiring, so a new fault is a new entry of
//! `faults.ron` and no new code. What a job has no place for is left out.

use std::sync::LazyLock;

use serde::Deserialize;

use super::entry::{Entry, Only};
use super::error::InstallationError;
use super::fault::Fault;
use super::installation::Installation;
use super::places::{Place, filled, places};
use crate::job::{At, Equipment, Job, Purpose};
use crate::located;

/// The version of the library's format.
const FORMAT: &str = "1.0";

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Library {
    format: String,
    faults: Vec<Entry>,
}

static LIBRARY: LazyLock<Library> = LazyLock::new(|| {
    let library: Library = located::read(include_str!("faults.ron")).expect("the shipped library is well formed");
    assert_eq!(library.format, FORMAT, "the shipped library is of this format");
    library
});

/// Every kind of fault, as a sequence promises it.
pub fn kinds() -> impl Iterator<Item = &'static str> {
    LIBRARY.faults.iter().map(|entry| entry.name.as_str())
}

/// Every single fault that the job has a place for, in the order of the library and of the job.
///
/// # Errors
/// [`InstallationError`] where the job makes no wiring.
pub fn faults(job: &Job) -> Result<Vec<Fault>, InstallationError> {
    let sound = Installation::of(job)?;
    let mut found = Vec::new();
    for entry in LIBRARY.faults.iter().filter(|entry| fits(entry.only, job)) {
        for place in places(entry, job) {
            if let Ok(fault) = place.fault(entry, job)
                && sound.clone().put(&fault).is_ok()
            {
                found.push(fault);
            }
        }
    }
    Ok(found)
}

/// One of these faults by a number from 0 to 1, the likelier ones more often.
///
/// # Panics
/// When there are none.
pub fn chosen(faults: &[Fault], number: f64) -> &Fault {
    let total: f64 = faults.iter().map(|fault| fault.weight).sum();
    let mut left = number * total;
    let found = faults.iter().find(|fault| {
        left -= fault.weight;
        left < 0.0
    });
    found.or(faults.last()).expect("there are faults to choose from")
}

fn fits(only: Only, job: &Job) -> bool {
    match only {
        Only::Any | Only::OwnMains | Only::OwnExtraLow => true,
        Only::Mains => !job.supply_is_extra_low() && uses_supply(job),
        Only::EarthedMains => fits(Only::Mains, job) && job.supply.earthing.trim().starts_with("TN"),
        Only::ExtraLow => job.supply_is_extra_low() && uses_supply(job),
    }
}

/// Whether anything hangs on the line of the job's supply.
fn uses_supply(job: &Job) -> bool {
    let wired = |there: &Equipment| [&there.is.between().0, &there.is.between().1].contains(&&At::Line);
    job.near.terminal_for(Purpose::PermanentLive).is_some() || job.equipment.iter().any(wired)
}

/// The faults of a name as the command line takes it: `core-open`, `core-open:grey`, `valve-stuck+core-open:grey`.
///
/// # Errors
/// [`InstallationError::UnknownFault`], [`InstallationError::FaultDoesNotFit`], [`InstallationError::OnePart`].
pub fn find(job: &Job, name: &str) -> Result<Vec<Fault>, InstallationError> {
    let found = several(job, name)?;
    for (at, one) in found.iter().enumerate() {
        if let Some(other) = found[at + 1..].iter().find(|other| other.part == one.part) {
            return Err(InstallationError::OnePart {
                first: one.name.clone(),
                second: other.name.clone(),
                part: one.part.clone(),
            });
        }
    }
    Ok(found)
}

/// A core's name may hold a plus of its own, so every plus is tried.
fn several(job: &Job, name: &str) -> Result<Vec<Fault>, InstallationError> {
    let mut error = match single(job, name) {
        Ok(fault) => return Ok(vec![fault]),
        Err(error) => error,
    };
    for (at, _) in name.match_indices('+') {
        if let Ok(first) = single(job, &name[..at]) {
            match several(job, &name[at + 1..]) {
                Ok(rest) => return Ok(std::iter::once(first).chain(rest).collect()),
                Err(why) => error = why,
            }
        }
    }
    Err(error)
}

fn single(job: &Job, name: &str) -> Result<Fault, InstallationError> {
    at_its_place(job, name).or_else(|error| {
        // its usual place is not in this job: the first where it can be
        let elsewhere = || faults(job).ok()?.into_iter().find(|fault| fault.kind == name);
        match error {
            InstallationError::FaultDoesNotFit { .. } => elsewhere().ok_or(error),
            other => Err(other),
        }
    })
}

fn at_its_place(job: &Job, name: &str) -> Result<Fault, InstallationError> {
    let unknown = || InstallationError::UnknownFault { name: name.to_owned() };
    let does_not_fit = |why: String| InstallationError::FaultDoesNotFit {
        fault: name.to_owned(),
        why,
    };
    let (kind, place) = match name.split_once(':') {
        Some((kind, place)) => (kind, Some(place.to_owned())),
        None => (name, None),
    };
    let by_kind = LIBRARY.faults.iter().find(|entry| entry.name == kind);
    let by_name = || {
        let entries = LIBRARY.faults.iter();
        entries
            .flat_map(|entry| entry.also.iter().map(move |also| (entry, also)))
            .find(|(_, (also, _))| also == name)
            .map(|(entry, (_, place))| (entry, Some(place.clone())))
    };
    let (entry, place) = match by_kind {
        Some(entry) => (entry, place.or(entry.usual.clone())),
        None => by_name().ok_or_else(unknown)?,
    };
    if !fits(entry.only, job) {
        return Err(does_not_fit("its supply is of the other kind".into()));
    }
    let wanted = place
        .map(|place| filled(&place, job, None))
        .transpose()
        .map_err(&does_not_fit)?;
    let all = places(entry, job);
    let there = match &wanted {
        Some(wanted) => all.iter().find(|there| there.names().contains(wanted)),
        None if entry.over.has_usual() => all.first(),
        None => None,
    };
    let place = there.ok_or_else(|| {
        let name = |there: &Place| there.names().into_iter().find(|name| !name.is_empty());
        let known: Vec<String> = all.iter().filter_map(name).map(|name| format!("`{name}`")).collect();
        does_not_fit(match (&wanted, known.as_slice()) {
            (_, []) => format!("it has no {}", entry.over.words()),
            (wanted, known) => {
                let wanted = wanted.as_deref().unwrap_or_default();
                format!("it has no `{wanted}`; it has {}", known.join(", "))
            }
        })
    })?;
    let fault = place.fault(entry, job).map_err(&does_not_fit)?;
    Installation::of(job)?.put(&fault)?;
    Ok(fault)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::sample::{job, job_with};

    fn names_of(found: Result<Vec<Fault>, InstallationError>) -> Vec<String> {
        found.unwrap().into_iter().map(|fault| fault.name).collect()
    }

    #[test]
    fn every_kind_fits_the_demonstration_or_is_of_the_other_voltage() {
        let found = faults(&job()).unwrap();
        for kind in kinds() {
            assert_eq!(
                found.iter().any(|fault| fault.kind == kind),
                ![
                    "supply-mains",
                    "pair-mains",
                    "pair-extra-low",
                    "actuators-crossed",
                    "thermostats-crossed",
                    "core-touches-mains",
                    "insulation-low-to-mains"
                ]
                .contains(&kind)
                    && !kind.starts_with("plate-")
                    && !kind.starts_with("residual-"),
                "{kind}"
            );
        }
        // 4 cores, 6 pairs, 2 ends, 5 live terminals; 14 that are there once
        let over = |kind: &str| found.iter().filter(|fault| fault.kind == kind).count();
        assert_eq!(
            [
                "core-open",
                "cores-touching",
                "conductor-not-gripped",
                "terminals-swapped",
                "supply-still-live"
            ]
            .map(over),
            [4, 6, 8, 12, 5]
        );
        for fault in &found {
            assert_eq!(names_of(find(&job(), &fault.name)), [fault.name.as_str()]);
            assert!(!fault.words.contains('{') && !fault.look.contains('{') && !fault.part.contains('{'));
        }
    }

    #[test]
    fn likelier_faults_are_chosen_more_often() {
        let found = faults(&job()).unwrap();
        let kinds: Vec<_> = (0..1000)
            .map(|n| chosen(&found, f64::from(n) / 1000.0).kind.as_str())
            .collect();
        let count = |kind: &str| kinds.iter().filter(|there| **there == kind).count();
        // 8 places of weight 10 against 4 of weight 3
        assert!(5 * count("core-open") < count("conductor-not-gripped"));
        assert_eq!(chosen(&found, 1.0).name, "indicator-dead");
    }

    #[test]
    fn names_are_read() {
        let check = |name: &str, expected: &[&str]| assert_eq!(names_of(find(&job(), name)), expected, "{name}");
        check("core-open", &["core-open:black"]);
        check("core-open:grey", &["core-open:grey"]);
        check("earth-core-open", &["core-open:green-yellow"]);
        check("cores-swapped", &["cores-swapped:brown/black"]);
        check("cores-swapped:grey/brown", &["cores-swapped:brown/grey"]);
        check("insulation-low", &["insulation-low:black/green-yellow"]);
        check("insulation-low-between-cores", &["insulation-low:brown/black"]);
        check("core-shorted-to-earth", &["cores-touching:black/green-yellow"]);
        check("conductor-not-gripped:grey@far", &["conductor-not-gripped:grey@far"]);
        check("supply-still-live", &["supply-still-live:1@near"]);
        check("valve-stuck+core-open:grey", &["valve-stuck", "core-open:grey"]);
        check("valve-stuck:zone valve", &["valve-stuck"]);
        check("neutral-missing-far", &["conductor-not-gripped:grey@far"]);
        check("polarity-reversed-far", &["terminals-swapped:brown/grey@far"]);
    }

    #[test]
    fn a_plus_in_the_name_of_a_core_is_no_second_fault() {
        let job = job_with("name: \"grey\"", "name: \"grey+\"");
        let check = |name: &str, expected: &[&str]| assert_eq!(names_of(find(&job, name)), expected, "{name}");
        check("core-open:grey+", &["core-open:grey+"]);
        check("core-open:grey++valve-stuck", &["core-open:grey+", "valve-stuck"]);
    }

    #[test]
    fn what_is_not_there_is_refused() {
        let check = |name: &str, expected: &str| {
            assert_eq!(find(&job(), name).unwrap_err().to_string(), expected);
        };
        check("gremlin", "no fault is called `gremlin`");
        check("valve-stuck+gremlin", "no fault is called `gremlin`");
        check("gremlin+valve-stuck", "no fault is called `gremlin+valve-stuck`");
        check(
            "core-open:pink",
            "the fault `core-open:pink` does not fit the job: it has no `pink`; it has `brown`, `grey`, `black`, `green-yellow`",
        );
        check(
            "valve-stuck:2",
            "the fault `valve-stuck:2` does not fit the job: it has no `2`; it has `zone valve`",
        );
        check(
            "supply-mains",
            "the fault `supply-mains` does not fit the job: its supply is of the other kind",
        );
        check(
            "core-open:grey+high-resistance-joint:grey",
            "`core-open:grey` and `high-resistance-joint:grey` cannot stand together: both are faults of core grey",
        );
        let lacks = |kind: &str, what: &str| {
            check(
                kind,
                &format!("the fault `{kind}` does not fit the job: it has no {what}"),
            )
        };
        lacks("pair-mains", "supply of the equipment's own");
        lacks("plate-mains", "control pair");
        lacks("thermostats-crossed", "controls of two zones");
        let switch = "        (name: \"end switch\", is: Contact(between: (Near(\"1\"), Near(\"4\")), moved_by: Motor(\"zone valve\"))),\n";
        let without = job_with(switch, "");
        let error = find(&without, "end-switch-closed").unwrap_err();
        assert_eq!(
            error.to_string(),
            "the fault `end-switch-closed` does not fit the job: it has no contact that a motor moves"
        );
        assert!(
            faults(&without)
                .unwrap()
                .iter()
                .all(|fault| fault.part != "contact of end switch")
        );
    }
}
