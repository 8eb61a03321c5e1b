//! The library of faults: what can go wrong, as data, and spread over the cores and terminals of one job.
//!
//! The rule inside: a fault is a change of named elements and points of the wiring, so a new fault is a new entry of
//! `faults.ron` and no new code. What a job has no place for is left out.

use std::sync::LazyLock;

use serde::Deserialize;

use super::error::InstallationError;
use super::fault::{Change, Fault};
use super::model::Installation;
use super::wiring;
use crate::pure::job::{End, Job, Purpose};
use crate::pure::located;

/// The version of the library's format.
const FORMAT: &str = "1.0";

/// Over what a fault is spread.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
enum Over {
    Once,
    Core,
    /// Two cores, in either order.
    Pair,
    CoreAtEnd,
    PairAtEnd,
    /// A terminal for mains or extra-low voltage that is neither neutral nor earth.
    LiveTerminal,
}

/// In which jobs a fault can be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
enum Only {
    Any,
    Mains,
    ExtraLow,
}

fn any() -> Only {
    Only::Any
}

/// An entry of the library.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, rename = "Fault")]
struct Entry {
    name: String,
    over: Over,
    #[serde(default = "any")]
    only: Only,
    part: String,
    weight: u32,
    /// The place that is meant where none is named.
    #[serde(default)]
    usual: Option<String>,
    /// Names of their own for certain places.
    #[serde(default)]
    also: Vec<(String, String)>,
    does: Vec<Change>,
    words: String,
    look: String,
}

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

/// Every short name of the command line: the kinds, and names for certain places.
pub fn names() -> Vec<String> {
    let entries = LIBRARY.faults.iter();
    entries
        .flat_map(|entry| std::iter::once(&entry.name).chain(entry.also.iter().map(|(name, _)| name)))
        .cloned()
        .collect()
}

/// Every single fault that the job has a place for, in the order of the library and of the job.
///
/// # Errors
/// [`InstallationError`] where the job makes no wiring.
pub fn faults(job: &Job) -> Result<Vec<Fault>, InstallationError> {
    let sound = Installation::of(job)?;
    let mut found = Vec::new();
    for entry in LIBRARY.faults.iter().filter(|entry| fits(entry.only, job)) {
        for place in places(entry.over, job) {
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
        Only::Any => true,
        Only::Mains => !job.is_extra_low_voltage(),
        Only::ExtraLow => job.is_extra_low_voltage(),
    }
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
    let unknown = || InstallationError::UnknownFault {
        name: name.to_owned(),
        known: names(),
    };
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
    let all = places(entry.over, job);
    let there = all.iter().find(|there| match &wanted {
        Some(wanted) => there.names().contains(wanted),
        None => entry.over == Over::Once,
    });
    let place = there.ok_or_else(|| {
        let known: Vec<String> = all.iter().map(|there| format!("`{}`", there.names()[0])).collect();
        does_not_fit(format!(
            "it has no `{}`; it has {}",
            wanted.as_deref().unwrap_or_default(),
            known.join(", ")
        ))
    })?;
    let fault = place.fault(entry, job).map_err(&does_not_fit)?;
    Installation::of(job)?.put(&fault)?;
    Ok(fault)
}

/// One place of a job where a fault can be.
#[derive(Debug, Clone, Default)]
struct Place {
    a: Option<String>,
    b: Option<String>,
    terminal: Option<String>,
    end: Option<End>,
}

fn places(over: Over, job: &Job) -> Vec<Place> {
    let cores = || job.cores.iter().map(|core| core.name.clone());
    let core = |a: String| Place {
        a: Some(a),
        ..Place::default()
    };
    let pairs = || {
        cores().enumerate().flat_map(move |(at, a)| {
            let later = job.cores[at + 1..].iter();
            later.map(move |b| Place {
                a: Some(a.clone()),
                b: Some(b.name.clone()),
                ..Place::default()
            })
        })
    };
    let at_ends = |place: Place| {
        End::BOTH.map(|end| Place {
            end: Some(end),
            ..place.clone()
        })
    };
    match over {
        Over::Once => vec![Place::default()],
        Over::Core => cores().map(core).collect(),
        Over::Pair => pairs().collect(),
        Over::CoreAtEnd => cores().map(core).flat_map(at_ends).collect(),
        Over::PairAtEnd => pairs().flat_map(at_ends).collect(),
        Over::LiveTerminal => End::BOTH
            .into_iter()
            .flat_map(|end| {
                let live = job.end(end).terminals.iter().filter(|terminal| {
                    !matches!(terminal.takes, Purpose::Neutral | Purpose::Earth | Purpose::VoltFree)
                });
                live.map(move |terminal| Place {
                    terminal: Some(terminal.name.clone()),
                    end: Some(end),
                    ..Place::default()
                })
            })
            .collect(),
    }
}

impl Place {
    /// What stands behind the colon; a pair may be named in either order. The first is the one that is written.
    fn names(&self) -> Vec<String> {
        let at = self.end.map_or(String::new(), |end| format!("@{}", word(end)));
        match (&self.a, &self.b, &self.terminal) {
            (Some(a), Some(b), _) => vec![format!("{a}/{b}{at}"), format!("{b}/{a}{at}")],
            (Some(a), None, _) => vec![format!("{a}{at}")],
            (None, _, Some(terminal)) => vec![format!("{terminal}{at}")],
            _ => vec![String::new()],
        }
    }

    /// The entry at this place; the error says what the job lacks.
    fn fault(&self, entry: &Entry, job: &Job) -> Result<Fault, String> {
        let place = &self.names()[0];
        let name = if place.is_empty() {
            entry.name.clone()
        } else {
            format!("{}:{place}", entry.name)
        };
        let fill = |text: &str| filled(text, job, Some(self));
        let does: Result<Vec<Change>, String> = entry.does.iter().map(|change| change.filled(&fill)).collect();
        let said = |text: &str| said(text, job, self);
        Ok(Fault {
            name,
            kind: entry.name.clone(),
            part: said(&entry.part)?,
            weight: f64::from(entry.weight),
            words: said(&entry.words)?,
            look: said(&entry.look)?,
            does: does?,
        })
    }
}

/// `near` or `far`.
pub(super) fn word(end: End) -> &'static str {
    match end {
        End::Near => "near",
        End::Far => "far",
    }
}

/// A text for a person: ends by their names.
fn said(text: &str, job: &Job, place: &Place) -> Result<String, String> {
    let end = place.end.map_or("", |end| job.end(end).name.as_str());
    let text = text
        .replace("{end}", end)
        .replace("{near}", &job.near.name)
        .replace("{far}", &job.far.name);
    filled(&text, job, Some(place))
}

/// A name of the wiring with its blanks filled in. Names of a job hold no braces, so what was filled in stays as it is.
fn filled(text: &str, job: &Job, place: Option<&Place>) -> Result<String, String> {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, from)) = rest.split_once('{') {
        let (blank, after) = from.split_once('}').ok_or("a blank does not end")?;
        out.push_str(before);
        out.push_str(&blank_of(blank, job, place)?);
        rest = after;
    }
    Ok(out + rest)
}

fn blank_of(blank: &str, job: &Job, place: Option<&Place>) -> Result<String, String> {
    let of_place = |part: fn(&Place) -> Option<String>| {
        place
            .and_then(part)
            // the core is filled in where each core is meant
            .map_or_else(|| Ok(format!("{{{blank}}}")), Ok)
    };
    match blank {
        "a" => return of_place(|place| place.a.clone()),
        "b" => return of_place(|place| place.b.clone()),
        "t" => return of_place(|place| place.terminal.clone()),
        "end" => return of_place(|place| place.end.map(|end| format!("{end:?}"))),
        "thermostat in" | "thermostat out" => {
            let ends = wiring::thermostat(job).ok_or("it has no thermostat")?;
            return Ok(ends[usize::from(blank == "thermostat out")].clone());
        }
        _ => {}
    }
    let (of, purpose) = blank.split_once(' ').ok_or_else(|| format!("`{blank}` is no blank"))?;
    let purpose = Purpose::parse(purpose).ok_or_else(|| format!("`{purpose}` is no purpose"))?;
    let lacks = |what: &str| format!("it has no {what} for {}", purpose.words());
    match of {
        "core" => job
            .core_for(purpose)
            .map(|core| core.name.clone())
            .ok_or_else(|| lacks("core")),
        "terminal" => job
            .near
            .terminal_for(purpose)
            .map(|terminal| terminal.name.clone())
            .ok_or_else(|| lacks("terminal")),
        "near" => wiring::purpose_point(job, purpose, End::Near).ok_or_else(|| lacks("near terminal")),
        "far" => wiring::purpose_point(job, purpose, End::Far).ok_or_else(|| lacks("far terminal")),
        _ => Err(format!("`{blank}` is no blank")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pure::installation::sample::{job, job_with};

    fn names_of(found: Result<Vec<Fault>, InstallationError>) -> Vec<String> {
        found.unwrap().into_iter().map(|fault| fault.name).collect()
    }

    #[test]
    fn every_kind_fits_the_demonstration_or_is_of_the_other_voltage() {
        let found = faults(&job()).unwrap();
        for kind in kinds() {
            assert_eq!(
                found.iter().any(|fault| fault.kind == kind),
                kind != "supply-mains",
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
            "the fault `valve-stuck:2` does not fit the job: it has no `2`; it has ``",
        );
        check(
            "supply-mains",
            "the fault `supply-mains` does not fit the job: its supply is of the other kind",
        );
        check(
            "core-open:grey+high-resistance-joint:grey",
            "`core-open:grey` and `high-resistance-joint:grey` cannot stand together: both are faults of core grey",
        );
        let without = job_with("            (name: \"4\", takes: EndSwitch),\n", "");
        let error = find(&without, "end-switch-closed").unwrap_err();
        assert_eq!(
            error.to_string(),
            "the fault `end-switch-closed` does not fit the job: it has no near terminal for end switch"
        );
        assert!(faults(&without).unwrap().iter().all(|fault| fault.part != "end switch"));
    }
}
