//! `records list`, and records as they are listed: as a table, as JSON or as CSV.
//!
//! The rule inside: rows go out as they come, so that the memory does not grow with the archive. A table is closed and begun anew after a
//! number of rows, since its columns are as wide as their widest cell.

use serde::Serialize;
use uuid::Uuid;

use super::error::{Failure, PASSED};
use super::home::Home;
use super::out::{JsonRows, say};
use super::tables::table;
use crate::evidence::archive::{self, Archive, Summary};

/// Rows of one table.
const TABLE_ROWS_MAX: usize = 1000;

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
    /// The run that supersedes it; empty where none does.
    superseded_by: String,
}

impl<'a> Listed<'a> {
    pub(super) fn of(summary: &'a Summary, later: Option<Uuid>) -> Listed<'a> {
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
            superseded_by: later.map_or_else(String::new, |later| later.to_string()),
        }
    }
}

/// The form in which records are listed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Form {
    Table(&'static [&'static str]),
    Json,
    Csv,
}

/// Rows on their way out.
pub(super) struct Rows {
    form: Form,
    count: u64,
    json: JsonRows,
    waiting: Vec<Vec<String>>,
}

impl Rows {
    pub(super) fn of(form: Form) -> Rows {
        Rows {
            form,
            count: 0,
            json: JsonRows::default(),
            waiting: Vec::new(),
        }
    }

    /// One more; `cells` are those of a table.
    pub(super) fn add(&mut self, listed: &Listed<'_>, cells: impl FnOnce() -> Vec<String>) -> Result<(), Failure> {
        match self.form {
            Form::Json => self.json.add(listed),
            Form::Csv => csv(listed, self.count == 0)?,
            Form::Table(_) => {
                self.waiting.push(cells());
                if self.waiting.len() == TABLE_ROWS_MAX {
                    self.print();
                }
            }
        }
        self.count += 1;
        Ok(())
    }

    fn print(&mut self) {
        if let Form::Table(head) = self.form
            && !self.waiting.is_empty()
        {
            say!("{}", table(head, &self.waiting));
            self.waiting.clear();
        }
    }

    /// The last of them; how many there were.
    pub(super) fn end(mut self) -> u64 {
        self.print();
        if self.form == Form::Json {
            self.json.end();
        }
        self.count
    }
}

/// A row of RFC 4180, with the names of the members before the first.
fn csv(listed: &Listed<'_>, with_head: bool) -> Result<(), Failure> {
    let failed =
        |error: &dyn std::fmt::Display| Failure::equipment(format!("the list cannot be written as CSV: {error}"));
    let mut writer = ::csv::WriterBuilder::new()
        .has_headers(with_head)
        .from_writer(Vec::new());
    writer.serialize(listed).map_err(|error| failed(&error))?;
    let bytes = writer.into_inner().map_err(|error| failed(&error))?;
    String::from_utf8_lossy(&bytes).lines().for_each(|line| say!("{line}"));
    Ok(())
}

/// Lists.
pub(super) fn list(as_json: bool) -> Result<u8, Failure> {
    let path = Home::open()?.archive();
    let form = match as_json {
        true => Form::Json,
        false => Form::Table(&["run", "opened (UTC)", "place", "cable", "verdict"]),
    };
    let mut rows = Rows::of(form);
    match Archive::read(&path) {
        Err(archive::Error::Absent { .. }) => {}
        other => {
            let archive = other?;
            archive.for_each_summary(|summary| {
                let later = archive.superseded(summary.run)?;
                let short = archive.short(summary.run)?;
                rows.add(&Listed::of(&summary, later), || row(&summary, short, later.is_some()))
            })?;
        }
    }
    if rows.end() == 0 && !as_json {
        say!("the archive {} holds no records yet", path.display());
    }
    Ok(PASSED)
}

fn row(summary: &Summary, short: String, is_superseded: bool) -> Vec<String> {
    let opened = summary
        .opened_at
        .get(..16)
        .unwrap_or(&summary.opened_at)
        .replace('T', " ");
    let verdict = verdict(summary, is_superseded);
    vec![short, opened, summary.place.clone(), summary.cable.clone(), verdict]
}

fn verdict(summary: &Summary, is_superseded: bool) -> String {
    let verdict = format!("{}, {}", summary.verdict, summary.outcome);
    match is_superseded {
        true => format!("SUPERSEDED, was {verdict}"),
        false => verdict,
    }
}
