//! `records find` and `records instruments`: records by what is in them, and instruments over all records.
//!
//! The rule inside: what the archive's index holds is asked of it; what only a record says is read from the record, which is proved for it.

use std::collections::BTreeMap;

use jiff::civil::Date;
use serde::Serialize;

use super::args::Find;
use super::error::{FOUND, Failure, PASSED};
use super::home::Home;
use super::listed::{Form, Listed, Rows};
use super::out::{self, say};
use super::tables::table;
use crate::evidence::archive::{self, Archive, Summary};
use crate::evidence::audit::Known;
use crate::evidence::stored::run_of_known;
use crate::plan::Kind;
use crate::run::fold::{Evidence, Run};
use crate::terminal::plain::clean;

/// The archive, where there is one.
fn archive() -> Result<Option<Archive>, Failure> {
    match Archive::read(&Home::open()?.archive()) {
        Err(archive::Error::Absent { .. }) => Ok(None),
        other => Ok(Some(other?)),
    }
}

/// Whether a record's index row fits what is asked.
fn fits(asked: &Find, summary: &Summary) -> bool {
    let has = |wanted: &Option<String>, text: &str| {
        wanted
            .as_ref()
            .is_none_or(|wanted| text.to_lowercase().contains(&wanted.to_lowercase()))
    };
    let day = summary.closed_at.get(..10).and_then(|day| day.parse::<Date>().ok());
    let is_in = |bound: Option<Date>, holds: fn(&Date, &Date) -> bool| {
        bound.is_none_or(|bound| day.is_some_and(|day| holds(&day, &bound)))
    };
    has(&asked.place, &summary.place)
        && has(&asked.cable, &summary.cable)
        && has(&asked.engineer, &summary.engineer)
        && asked.verdict.as_ref().is_none_or(|verdict| *verdict == summary.verdict)
        && is_in(asked.from, |day, from| from <= day)
        && is_in(asked.to, |day, to| day <= to)
}

/// Finds records. None is exit code 1, so that a script need not count.
pub(super) fn find(asked: &Find) -> Result<u8, Failure> {
    let Some(archive) = archive()? else {
        return Err(archive::Error::Absent {
            path: Home::open()?.archive(),
        }
        .into());
    };
    let form = match (asked.json, asked.csv) {
        (true, _) => Form::Json,
        (_, true) => Form::Csv,
        _ => Form::Table(&["run", "closed (UTC)", "place", "cable", "engineer", "verdict"]),
    };
    let mut rows = Rows::of(form);
    let known = Known::default();
    archive.for_each_summary(|summary| {
        if !fits(asked, &summary) || !judged_by(&archive, &summary, asked.instrument.as_deref(), &known)? {
            return Ok(());
        }
        let later = archive.superseded(summary.run)?;
        rows.add(&Listed::of(&summary, later), || row(&summary, later.is_some()))
    })?;
    let count = rows.end();
    if !asked.json && !asked.csv {
        say!("{count} {} found", if count == 1 { "record" } else { "records" });
    }
    Ok(if count == 0 { FOUND } else { PASSED })
}

fn row(summary: &Summary, is_superseded: bool) -> Vec<String> {
    let verdict = match is_superseded {
        true => format!("SUPERSEDED, was {}", summary.verdict),
        false => summary.verdict.clone(),
    };
    let run = summary.run.to_string();
    [
        &run,
        &summary.closed_at,
        &summary.place,
        &summary.cable,
        &summary.engineer,
        &verdict,
    ]
    .map(String::to_owned)
    .to_vec()
}

/// Whether an instrument took a reading of a record that still stands; its name or serial number, or a part of one.
fn judged_by(archive: &Archive, summary: &Summary, wanted: Option<&str>, known: &Known) -> Result<bool, Failure> {
    let Some(wanted) = wanted.map(str::to_lowercase) else {
        return Ok(true);
    };
    let Some(entry) = archive.of_run(&summary.run.to_string())? else {
        return Ok(false);
    };
    let run = run_of_known(&entry, known)?;
    let used = used(&run);
    Ok(run
        .plan
        .job
        .instruments
        .iter()
        .filter(|instrument| used.contains(&instrument.name.as_str()))
        .any(|instrument| {
            [&instrument.name, &instrument.serial]
                .iter()
                .any(|text| text.to_lowercase().contains(&wanted))
        }))
}

/// The instruments, by name, whose readings stand.
fn used(run: &Run) -> Vec<&str> {
    let of_step = |step: usize| match (
        &run.plan.steps[step].kind,
        run.standing(step).map(|attempt| &attempt.evidence),
    ) {
        (Kind::Measure(measure), Some(Evidence::Reading(_))) => Some(measure.used.instrument.as_str()),
        _ => None,
    };
    (0..run.plan.steps.len()).filter_map(of_step).collect()
}

/// What all records say of one instrument.
#[derive(Debug, Serialize)]
struct Seen {
    serial: String,
    name: String,
    kind: String,
    due: Date,
    records: u64,
    last_used: String,
}

/// Every instrument that judged a record, with the newest date on which its calibration is due.
pub(super) fn instruments(due_by: Option<Date>, as_json: bool) -> Result<u8, Failure> {
    let mut seen: BTreeMap<String, Seen> = BTreeMap::new();
    if let Some(archive) = archive()? {
        let known = Known::default();
        archive.for_each(|entry| {
            let run = run_of_known(&entry, &known)?;
            let used = used(&run);
            for instrument in run
                .plan
                .job
                .instruments
                .iter()
                .filter(|i| used.contains(&i.name.as_str()))
            {
                let known = seen.entry(instrument.serial.clone()).or_insert_with(|| Seen {
                    serial: instrument.serial.clone(),
                    name: instrument.name.clone(),
                    kind: instrument.kind.clone(),
                    due: instrument.due,
                    records: 0,
                    last_used: entry.summary.closed_at.clone(),
                });
                known.records += 1;
                known.due = known.due.max(instrument.due);
                known.last_used = entry.summary.closed_at.clone();
            }
            Ok::<(), Failure>(())
        })?;
    }
    let shown: Vec<Seen> = seen
        .into_values()
        .filter(|seen| due_by.is_none_or(|by| seen.due <= by))
        .collect();
    if as_json {
        out::json(&shown);
    } else if shown.is_empty() {
        say!("no instrument to show");
    } else {
        let row = |s: &Seen| {
            let count = s.records.to_string();
            vec![
                s.serial.clone(),
                clean(&s.name),
                s.kind.clone(),
                s.due.to_string(),
                count,
                s.last_used.clone(),
            ]
        };
        let rows: Vec<_> = shown.iter().map(row).collect();
        say!(
            "{}",
            table(
                &[
                    "serial number",
                    "name",
                    "kind",
                    "next due",
                    "records",
                    "last used (UTC)"
                ],
                &rows
            )
        );
    }
    Ok(PASSED)
}
