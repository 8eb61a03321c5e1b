//! `coverage`: which step catches which fault, and which faults nothing catches.

use std::io::IsTerminal;
use std::num::NonZero;
use std::panic::resume_unwind;
use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use serde_json::json;

use super::error::{FOUND, Failure, PASSED};
use super::files;
use super::out::{self, complaint, say};
use super::tables::table;
use crate::diagnosis::coverage::{Coverage, Row, Trials, svg};
use crate::evidence::write_new;
use crate::terminal::plain::clean;

/// How often it is told how far it is.
const TOLD_EVERY: Duration = Duration::from_secs(2);
/// Steps named in one line before the rest is counted.
const NAMED_MAX: usize = 3;

/// Tries the faults and shows what came of them; 1 when a promised fault escapes.
pub(super) fn coverage(
    sequence: &Path,
    (job, cable): (&Path, Option<&str>),
    pairs: bool,
    as_json: bool,
    picture: Option<&Path>,
) -> Result<u8, Failure> {
    let plan = files::plan(sequence, job, cable)?;
    let trials = Trials::of(&plan, pairs)?;
    let coverage = trials.coverage(tried(&trials));
    if let Some(path) = picture {
        write_new(path, svg(&coverage).as_bytes())?;
    }
    if as_json {
        print_json(&coverage);
    } else {
        print(&coverage);
    }
    let kept = coverage.broken_promises().next().is_none();
    Ok(if kept { PASSED } else { FOUND })
}

/// Makes every trial, on as many threads as there are processors. Where it takes longer than a person waits without a word, a terminal is
/// told how far it is.
fn tried(trials: &Trials<'_>) -> Vec<Row> {
    let next = AtomicUsize::new(0);
    let told = Mutex::new(Instant::now());
    let tells = std::io::stderr().is_terminal();
    let worker = || {
        let mut rows = Vec::new();
        loop {
            let nth = next.fetch_add(1, Ordering::Relaxed);
            if trials.count() <= nth {
                return rows;
            }
            rows.extend(trials.row(nth).map(|row| (nth, row)));
            if let Ok(mut told) = told.lock()
                && tells
                && TOLD_EVERY <= told.elapsed()
            {
                *told = Instant::now();
                complaint(format_args!("{nth} of {} faults tried", trials.count()));
            }
        }
    };
    let threads = std::thread::available_parallelism().map_or(1, NonZero::get);
    let mut rows: Vec<(usize, Row)> = std::thread::scope(|scope| {
        let workers: Vec<_> = (0..threads).map(|_| scope.spawn(worker)).collect();
        let rows = workers
            .into_iter()
            .flat_map(|worker| worker.join().unwrap_or_else(|cause| resume_unwind(cause)));
        rows.collect()
    });
    rows.sort_by_key(|(nth, _)| *nth);
    rows.into_iter().map(|(_, row)| row).collect()
}

fn print_json(coverage: &Coverage) {
    let name = |step: &usize| coverage.steps[*step].as_str();
    let rows: Vec<_> = coverage
        .rows
        .iter()
        .map(|row| {
            json!({
                "fault": row.fault, "words": row.words, "caught_by": row.caught.iter().map(name).collect::<Vec<_>>(),
                "because": row.because, "excepted": row.excepted,
            })
        })
        .collect();
    let names = |rows: &mut dyn Iterator<Item = &Row>| rows.map(|row| row.fault.clone()).collect::<Vec<_>>();
    let value = json!({
        "title": coverage.title, "place": coverage.place, "promises": coverage.promises, "effort": coverage.effort, "faults": rows,
        "escapes": names(&mut coverage.escapes()),
        "broken_promises": names(&mut coverage.broken_promises()),
        "needless_exceptions": names(&mut coverage.needless_exceptions()),
        "steps_without_a_catch_of_their_own": coverage.without_a_catch_of_their_own().iter().map(name).collect::<Vec<_>>(),
    });
    out::json(&value);
}

fn print(coverage: &Coverage) {
    say!("{}: {}\n", clean(&coverage.title), clean(&coverage.place));
    let rows: Vec<Vec<String>> = coverage
        .rows
        .iter()
        .map(|row| vec![row.fault.clone(), caught_by(coverage, row), row.because.clone()])
        .collect();
    say!("{}\n", table(&["fault", "caught by", "because"], &rows));
    let escapes: Vec<&Row> = coverage.escapes().collect();
    say!(
        "{} of {} of the library's faults at their usual size are caught ({} %). What a step passes with a mark counts as not caught.",
        coverage.rows.len() - escapes.len(),
        coverage.rows.len(),
        100 * (coverage.rows.len() - escapes.len()) / coverage.rows.len().max(1)
    );
    for row in &escapes {
        say!(
            "  nothing catches `{}` ({}): {}",
            clean(&row.fault),
            clean(&row.words),
            clean(&row.because)
        );
        if let Some(reason) = &row.excepted {
            say!("    excepted by the sequence: {}", clean(reason));
        }
    }
    for row in coverage.needless_exceptions() {
        say!("  `{}` is excepted and is caught all the same", clean(&row.fault));
    }
    let broken = coverage.broken_promises().count();
    if coverage.promises.is_empty() {
        say!("The sequence promises nothing (`promises`).");
    } else if broken == 0 {
        say!(
            "The sequence keeps its promises: none of {} kinds of fault escapes.",
            coverage.promises.len()
        );
    } else {
        say!("The sequence BREAKS its promises: {broken} escape.");
    }
    say!("\nWhat it takes where everything passes:");
    coverage.effort.words().iter().for_each(|line| say!("  {line}"));
    let without = coverage.without_a_catch_of_their_own();
    let (some, none): (Vec<usize>, Vec<usize>) = without.iter().partition(|step| 0 < coverage.worth(**step).1);
    let names = |steps: &[usize]| -> String {
        let names: Vec<_> = steps.iter().map(|step| coverage.steps[*step].as_str()).collect();
        clean(&names.join(", "))
    };
    if !some.is_empty() {
        say!("\nSteps that catch nothing that another does not: {}", names(&some));
    }
    if !none.is_empty() {
        say!("\nSteps that catch none of these faults: {}", names(&none));
    }
    if !without.is_empty() {
        say!(
            "\nThat alone is no reason to leave one out: it may keep hands from harm before another step would tell, or\nprove what these faults do not try."
        );
    }
}

fn caught_by(coverage: &Coverage, row: &Row) -> String {
    let names: Vec<&str> = row.caught.iter().map(|step| coverage.steps[*step].as_str()).collect();
    match names.as_slice() {
        [] => "NOTHING".into(),
        [first] => (*first).into(),
        [first, rest @ ..] if rest.len() < NAMED_MAX => format!("{first}; also {}", rest.join(", ")),
        [first, rest @ ..] => format!("{first}; also {} and {} more", rest[0], rest.len() - 1),
    }
}
