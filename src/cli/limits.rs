//! `limits`: the tables that judge, row by row with their sources.

use std::path::Path;

use serde_json::{Value, json};

use super::error::{Failure, PASSED};
use super::files;
use super::out::{self, say};
use super::tables::table;
use crate::limits::{self, Entry, Limits, Set, Table};
use crate::terminal::plain::clean;

/// Shows what there is, what a search finds, or two editions side by side.
pub(super) fn limits(find: &str, compare: &[String], job: Option<&Path>, as_json: bool) -> Result<u8, Failure> {
    let own = match job {
        Some(path) => {
            files::shared(&files::job_text(path)?)
                .map_err(Failure::findings)?
                .own_limits
        }
        None => Vec::new(),
    };
    let sets: Vec<Set> = limits::sets().iter().chain(&own).cloned().collect();
    match compare {
        [first, second] => compared(&own, first, second, as_json),
        _ if find.trim().is_empty() => {
            overview(&sets, as_json);
            Ok(PASSED)
        }
        _ => found(&sets, find, as_json),
    }
}

fn print(value: &Value) {
    out::json(value);
}

fn overview(sets: &[Set], as_json: bool) {
    let entries = limits::entries(sets);
    let count = |table| entries.iter().filter(|entry| entry.table == table).count();
    let tables: Vec<(Table, usize)> = Table::all().map(|t| (t, count(t))).filter(|(_, n)| 0 < *n).collect();
    if as_json {
        let editions = |set: &Set| -> Vec<Value> {
            let one = |e: &limits::Edition| json!({ "edition": e.name, "values_of": e.values_of, "caveat": e.caveat });
            set.editions.iter().map(one).collect()
        };
        let of_set = |set: &Set| {
            json!({
                "set": set.set, "standard": set.standard, "builds_on": set.builds_on, "editions": editions(set),
            })
        };
        let sets: Vec<_> = sets.iter().map(of_set).collect();
        let tables: Vec<_> = tables
            .iter()
            .map(|(t, n)| json!({ "table": t.words(), "rows": n }))
            .collect();
        return print(&json!({ "sets": sets, "tables": tables }));
    }
    let mut rows = Vec::new();
    for set in sets {
        for edition in &set.editions {
            rows.push(vec![set.set.clone(), edition.name.clone(), edition.caveat.clone()]);
        }
        if set.editions.is_empty() {
            let fills = "fills what the others lack; no job chooses it".to_owned();
            rows.push(vec![set.set.clone(), String::new(), fills]);
        }
    }
    say!("{}\n", table(&["set", "edition", "what a record says of it"], &rows));
    let rows: Vec<_> = tables
        .iter()
        .map(|(t, n)| vec![t.words().to_owned(), n.to_string()])
        .collect();
    say!("{}", table(&["table", "rows"], &rows));
    say!(
        "`coreproof limits TABLE` shows one, `coreproof limits 1.37` finds a figure, `--compare EDITION EDITION` two editions"
    );
    say!(
        "Rounding: everything exact until it is an edge, then once to the nearest milliohm, half to even; a printed figure"
    );
    say!("stays as printed, also where it was rounded up past the quotient it came from, and the plan says so.");
}

fn found(sets: &[Set], find: &str, as_json: bool) -> Result<u8, Failure> {
    let entries = limits::find(sets, find);
    if entries.is_empty() {
        return Err(
            Failure::refused(format!("nothing in the limits is called or comes to `{find}`"))
                .hint("`coreproof limits` lists the tables"),
        );
    }
    if as_json {
        let rows: Vec<_> = entries.iter().map(of_entry).collect();
        print(&Value::Array(rows));
        return Ok(PASSED);
    }
    let mut tables: Vec<Table> = entries.iter().map(|e| e.table).collect();
    tables.dedup();
    for shown in tables {
        say!("{}", shown.words());
        let rows: Vec<_> = entries
            .iter()
            .filter(|e| e.table == shown)
            .map(|e| {
                let source = if e.clause.is_empty() {
                    e.source.to_owned()
                } else {
                    format!("{}, {}", e.source, e.clause)
                };
                vec![
                    e.set.to_owned(),
                    editions(e),
                    e.of.to_owned(),
                    e.value.clone(),
                    source,
                    e.confidence.word().to_owned(),
                ]
            })
            .collect();
        say!(
            "{}\n",
            table(&["set", "editions", "of", "value", "source", "known from"], &rows)
        );
    }
    Ok(PASSED)
}

fn editions(entry: &Entry<'_>) -> String {
    if entry.editions.is_empty() {
        "every".into()
    } else {
        entry.editions.join(", ")
    }
}

fn of_entry(entry: &Entry<'_>) -> Value {
    json!({
        "set": entry.set, "table": entry.table.words(), "of": entry.of, "value": entry.value, "editions": entry.editions,
        "clause": entry.clause, "source": entry.source, "confidence": entry.confidence,
    })
}

fn compared(own: &[Set], first: &str, second: &str, as_json: bool) -> Result<u8, Failure> {
    let all = limits::with(own).map_err(Failure::refused)?;
    let of = |name: &str| limits::edition(&all, name).map_err(Failure::refused);
    let (a, b) = (of(first)?, of(second)?);
    let rows = limits::compare(&a, &b);
    let same = rows.iter().filter(|row| row.is_same()).count();
    let value = |row: Option<&limits::Row>| row.map_or(String::new(), |r| r.value.to_string());
    if as_json {
        let rows: Vec<_> = rows
            .iter()
            .map(|row| {
                json!({
                    "table": row.table.words(), "of": row.of, "first": row.first.map(|r| &r.value),
                    "second": row.second.map(|r| &r.value), "is": row.word(),
                })
            })
            .collect();
        let head = |l: &Limits| json!({ "edition": l.edition, "judged_by": l.judged_by, "caveat": l.caveat });
        print(&json!({ "first": head(&a), "second": head(&b), "rows": rows }));
        return Ok(PASSED);
    }
    for limits in [&a, &b] {
        say!("{}: {}", limits.edition, clean(&limits.caveat));
    }
    let rows: Vec<_> = rows
        .iter()
        .filter(|row| !row.is_same())
        .map(|row| {
            vec![
                row.table.words().to_owned(),
                row.of.to_owned(),
                value(row.first),
                value(row.second),
                row.word().to_owned(),
            ]
        })
        .collect();
    if !rows.is_empty() {
        say!("{}", table(&["table", "of", &a.edition, &b.edition, "is"], &rows));
    }
    say!("{same} rows are the same, {} are not", rows.len());
    Ok(PASSED)
}
