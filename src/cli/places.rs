//! How far places with several cables are: the newest record of each cable, and the cables that have none.
//!
//! The rule inside: a record that a later one supersedes counts for nothing, and one that left the supply off is told apart: what is live was
//! not proved by it. Which cables a place has is what its newest record says; only the newest places are kept.

use std::collections::{BTreeMap, BTreeSet};

use uuid::Uuid;

use super::error::{Failure, PASSED};
use super::home::Home;
use super::out::say;
use super::tables::table;
use super::unfinished::{All, Unfinished};
use crate::evidence::archive::{self, Archive, Summary};
use crate::evidence::folded;
use crate::located::{entries, top_field};
use crate::plan::Supply;
use crate::run::event::Event;
use crate::terminal::plain::clean;

/// Places that are kept while the archive is looked through.
const PLACES_MAX: usize = 100;
/// Cables that are kept of one place: as many as a job may have. Of more, renamed over the years, those that were worked at last.
const CABLES_MAX: usize = 200;

/// What a cable came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stands {
    Proved,
    /// Every step passed, and the supply was left off.
    LeftOff,
    Failed,
    /// Conditional, abandoned, or not all of it tested.
    NotProved,
    /// It has no record.
    Nothing,
}

impl Stands {
    fn words(self) -> &'static str {
        match self {
            Stands::Proved => "proved",
            Stands::LeftOff => "passed, supply left off",
            Stands::Failed => "FAILED",
            Stands::NotProved => "not proved",
            Stands::Nothing => "no record",
        }
    }
}

/// A cable with its newest record, where it has one.
#[derive(Debug)]
struct Cable {
    name: String,
    stands: Stands,
    record: Option<Uuid>,
    is_unfinished: bool,
}

/// A place with its cables, in the order of their names.
#[derive(Debug)]
pub(super) struct Place {
    name: String,
    cables: Vec<Cable>,
}

impl Place {
    /// It in one line: `4 of 9 proved, 1 failed`.
    pub(super) fn words(&self) -> String {
        let count = |stands: Stands| self.cables.iter().filter(|cable| cable.stands == stands).count();
        let unfinished = self.cables.iter().filter(|cable| cable.is_unfinished).count();
        let further = [
            (count(Stands::Failed), "failed"),
            (count(Stands::LeftOff), "passed with the supply left off"),
            (count(Stands::NotProved), "not proved"),
            (unfinished, "unfinished"),
        ];
        let further = further.iter().filter(|(count, _)| 0 < *count);
        let further: String = further.map(|(count, what)| format!(", {count} {what}")).collect();
        format!(
            "{}: {} of {} proved{further}",
            self.name,
            count(Stands::Proved),
            self.cables.len()
        )
    }
}

/// The newest record of each cable of a place.
type Newest = BTreeMap<String, Summary>;

/// At most so many places with several cables, the newest first.
pub(super) fn several(home: &Home, all: &All, most: usize) -> Result<Vec<Place>, Failure> {
    let archive = match Archive::read(&home.archive()) {
        Err(archive::Error::Absent { .. }) => return Ok(Vec::new()),
        other => other?,
    };
    let mut places: Vec<(String, Newest)> = Vec::new();
    archive.for_each_summary(|summary| {
        if archive.superseded(summary.run)?.is_some() {
            return Ok::<(), Failure>(());
        }
        // the one that was worked at last stands last
        let there = places.iter().position(|(name, _)| *name == summary.place);
        let mut place = there.map_or_else(|| (summary.place.clone(), Newest::new()), |there| places.remove(there));
        let newer = place
            .1
            .get(&summary.cable)
            .is_none_or(|known| known.closed_at <= summary.closed_at);
        if newer {
            place.1.insert(summary.cable.clone(), summary);
        }
        if CABLES_MAX < place.1.len() {
            let oldest = place
                .1
                .values()
                .min_by(|one, other| one.closed_at.cmp(&other.closed_at));
            let oldest = oldest.map(|summary| summary.cable.clone());
            oldest.and_then(|cable| place.1.remove(&cable));
        }
        places.push(place);
        if PLACES_MAX < places.len() {
            places.remove(0);
        }
        Ok(())
    })?;
    let mut found = Vec::new();
    for (name, newest) in places.into_iter().rev() {
        if most <= found.len() {
            break;
        }
        found.extend(Some(place(&archive, all, name, &newest)?).filter(|place| 1 < place.cables.len()));
    }
    Ok(found)
}

fn place(archive: &Archive, all: &All, name: String, newest: &Newest) -> Result<Place, Failure> {
    let mut names: BTreeSet<String> = newest.keys().cloned().collect();
    let last = newest.values().max_by(|one, other| one.closed_at.cmp(&other.closed_at));
    if let Some(last) = last {
        names.extend(beside(archive, last)?);
    }
    let is_one = names.len() < 2;
    let unfinished = |cable: &str| {
        let of_it = |run: &Unfinished| run.told.as_ref().is_ok_and(|told| told.is_of(&name, cable));
        all.runs.iter().any(of_it)
    };
    let cable = |cable: String| {
        let record = newest.get(&cable);
        Ok(Cable {
            stands: match record {
                // nothing is shown of a place with one cable
                _ if is_one => Stands::Nothing,
                Some(record) => stands(archive, record)?,
                None => Stands::Nothing,
            },
            record: record.map(|record| record.run),
            is_unfinished: unfinished(&cable),
            name: cable,
        })
    };
    let cables = names.into_iter().map(cable).collect::<Result<_, Failure>>()?;
    Ok(Place { name, cables })
}

fn stands(archive: &Archive, summary: &Summary) -> Result<Stands, Failure> {
    Ok(match (summary.verdict.as_str(), summary.outcome.as_str()) {
        ("fail", _) => Stands::Failed,
        ("pass", "completed") => {
            let entry = archive.of_run(&summary.run.to_string())?;
            match entry.and_then(|entry| folded(&entry)) {
                Some(run) if run.hands.supply == Supply::SwitchedOff => Stands::LeftOff,
                Some(_) => Stands::Proved,
                None => Stands::NotProved,
            }
        }
        _ => Stands::NotProved,
    })
}

/// The other cables of the file that the job of a record was cut out of; none where it cannot be read.
fn beside(archive: &Archive, summary: &Summary) -> Result<Vec<String>, Failure> {
    #[derive(serde::Deserialize)]
    struct First {
        event: Event,
    }
    let entry = archive.of_run(&summary.run.to_string())?;
    let record = entry.map(|entry| entry.record).unwrap_or_default();
    let first = record.split(|byte| *byte == b'\n').next().unwrap_or_default();
    let Ok(First {
        event: Event::Opened(opened),
    }) = serde_json::from_slice(first)
    else {
        return Ok(Vec::new());
    };
    let text = &opened.job.text;
    let list = top_field(text, "beside").and_then(|(_, value)| entries(text, value));
    let (all, _) = list.unwrap_or_default();
    Ok(all
        .into_iter()
        .filter_map(|name| ron::from_str(&text[name]).ok())
        .collect())
}

/// Shows every place with several cables, cable by cable.
pub(super) fn places() -> Result<u8, Failure> {
    let home = Home::open()?;
    let places = several(&home, &All::of(&home)?, PLACES_MAX)?;
    if places.is_empty() {
        say!("no record is of a place with several cables");
    }
    for place in &places {
        say!("{}", clean(&place.words()));
        let row = |cable: &Cable| {
            let unfinished = if cable.is_unfinished {
                ", a run is unfinished"
            } else {
                ""
            };
            vec![
                cable.name.clone(),
                format!("{}{unfinished}", cable.stands.words()),
                cable.record.map_or_else(String::new, |run| run.to_string()),
            ]
        };
        let rows: Vec<_> = place.cables.iter().map(row).collect();
        say!("{}\n", table(&["cable", "stands", "newest record"], &rows));
    }
    Ok(PASSED)
}
