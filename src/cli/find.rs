//! `records find` and `records instruments`: records by what is in them, and instruments over all records.
//!
//! The rule inside: what the archive's index holds is asked of it; what only a record says is read from the record, which is proved for it.

use std::collections::BTreeMap;

use jiff::civil::Date;
use serde::Serialize;

use super::args::Find;
use super::error::{FOUND, Failure, PASSED};
use super::home::Home;
use super::out::{self, say};
use super::tables::table;
use crate::evidence::archive::{self, Archive, Summary};
use crate::evidence::stored::run_of;
use crate::plan::Kind;
use crate::run::fold::{Evidence, Run};
use crate::terminal::plain::clean;

/// One record as it is listed. `fixtures/schema/records.schema.json` describes it.
#[derive(Debug, Serialize)]
pub(super) struct Listed<'a> {
    run: String,
    opened_at: &'a str,
    closed_at: &'a str,
    place: &'a str,
    cable: &'a str,
    engineer: &'a str,
    verdict: &'a str,
    outcome: &'a str,
    edition: &'a str,
    fingerprint: &'a str,
    sha256: &'a str,
}

impl<'a> Listed<'a> {
    pub(super) fn of(summary: &'a Summary) -> Listed<'a> {
        Listed {
            run: summary.run.to_string(),
            opened_at: &summary.opened_at,
            closed_at: &summary.closed_at,
            place: &summary.place,
            cable: &summary.cable,
            engineer: &summary.engineer,
            verdict: &summary.verdict,
            outcome: &summary.outcome,
            edition: &summary.edition,
            fingerprint: &summary.fingerprint,
            sha256: &summary.sha256,
        }
    }
}

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
    let mut found = Vec::new();
    archive.for_each_summary(|summary| {
        if fits(asked, &summary) && judged_by(&archive, &summary, asked.instrument.as_deref())? {
            found.push(summary);
        }
        Ok::<(), Failure>(())
    })?;
    let rows: Vec<Listed<'_>> = found.iter().map(Listed::of).collect();
    if asked.json {
        out::json(&rows);
    } else if asked.csv {
        csv(&rows)?;
    } else {
        let row = |r: &Listed<'_>| {
            [&r.run, r.closed_at, r.place, r.cable, r.engineer, r.verdict]
                .map(str::to_owned)
                .to_vec()
        };
        let rows: Vec<_> = rows.iter().map(row).collect();
        say!(
            "{} {} found",
            rows.len(),
            if rows.len() == 1 { "record" } else { "records" }
        );
        if !rows.is_empty() {
            say!(
                "{}",
                table(&["run", "closed (UTC)", "place", "cable", "engineer", "verdict"], &rows)
            );
        }
    }
    Ok(if found.is_empty() { FOUND } else { PASSED })
}

/// RFC 4180, the names of the members in the first line.
fn csv<T: Serialize>(rows: &[T]) -> Result<(), Failure> {
    let failed =
        |error: &dyn std::fmt::Display| Failure::equipment(format!("the list cannot be written as CSV: {error}"));
    let mut writer = ::csv::Writer::from_writer(Vec::new());
    for row in rows {
        writer.serialize(row).map_err(|error| failed(&error))?;
    }
    let bytes = writer.into_inner().map_err(|error| failed(&error))?;
    let text = String::from_utf8_lossy(&bytes);
    text.lines().for_each(|line| say!("{line}"));
    Ok(())
}

/// Whether an instrument took a reading of a record that still stands; its name or serial number, or a part of one.
fn judged_by(archive: &Archive, summary: &Summary, wanted: Option<&str>) -> Result<bool, Failure> {
    let Some(wanted) = wanted.map(str::to_lowercase) else {
        return Ok(true);
    };
    let Some(entry) = archive.of_run(&summary.run.to_string())? else {
        return Ok(false);
    };
    let run = run_of(&entry)?;
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
        archive.for_each(|entry| {
            let run = run_of(&entry)?;
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
