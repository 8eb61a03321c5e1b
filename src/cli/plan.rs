//! `plan`: the concrete steps with their windows and sources.

use std::path::Path;

use jiff::Timestamp;
use serde_json::json;

use super::due::due_notes;
use super::error::{Failure, PASSED};
use super::files;
use super::out::{self, say};
use super::resting;
use super::tables::table;
use crate::diagnosis::locate::{self, Sound};
use crate::limits::Basis;
use crate::plan::{Effort, Kind, Measure, Plan, Timing, WindowRule};
use crate::sequence::worked::{self, Worked};
use crate::terminal::plain::clean;

/// Prints the plan, of a run that may rest on the lock of an earlier one.
pub(super) fn plan(
    sequence: &Path,
    (job, cable): (&Path, Option<&str>),
    rests_on: Option<&str>,
    as_json: bool,
) -> Result<u8, Failure> {
    let plan = files::plan_behind(sequence, job, cable, resting::lock(rests_on))?;
    resting::named(rests_on, &plan, Timestamp::now())?;
    let worked = worked::from_job(&plan.job).map_err(Failure::refused)?;
    let expected = locate::expected(&plan)?;
    if as_json {
        let value = json!({
            "name": plan.name, "title": plan.title, "edition": plan.job.limits.edition,
            "judged_by": plan.job.limits.judged_by, "caveat": plan.job.limits.caveat, "decision": plan.job.decision,
            "limitations": plan.limitations, "steps": plan.steps, "expected": expected, "worked": worked,
            "effort": Effort::of(&plan),
            "taken_over": plan.taken_over().into_iter().map(|step| &plan.steps[step].id).collect::<Vec<_>>(),
        });
        out::json(&value);
    } else {
        print_plan(&plan, &worked, &expected);
        print_effort(&plan);
        due_notes(&plan.job, Timestamp::now());
    }
    Ok(PASSED)
}

fn print_plan(plan: &Plan, worked: &[Worked], expected: &[Option<Sound>]) {
    say!(
        "{}: {}, {}",
        clean(&plan.title),
        clean(&plan.job.place.name),
        clean(&plan.job.cable)
    );
    let mut sources: Vec<String> = Vec::new();
    let mut stage = None;
    let mut rows = Vec::new();
    let flush = |rows: &mut Vec<Vec<String>>| {
        if !rows.is_empty() {
            say!("{}", table(&["no", "step", "passes", "with", "source"], rows));
            rows.clear();
        }
    };
    for (i, step) in plan.steps.iter().enumerate() {
        if stage != Some(step.stage) {
            flush(&mut rows);
            say!("\n{}\n{}", step.stage.words(), step.stage.caution());
            stage = Some(step.stage);
        }
        let (passes, with, bases) = match &step.kind {
            Kind::Do => (done(plan, i), String::new(), Vec::new()),
            Kind::Indicator { lit, .. } => (
                if *lit { "lit" } else { "dark" }.to_owned(),
                "two-pole indicator".to_owned(),
                Vec::new(),
            ),
            Kind::Connect { carries, .. } => (
                format!("terminal is for {}", carries.words()),
                String::new(),
                Vec::new(),
            ),
            Kind::Look(look) if look.expected.is_empty() => ("nothing".to_owned(), String::new(), Vec::new()),
            Kind::Look(look) => (look.expected.join(", "), String::new(), Vec::new()),
            Kind::Note { .. } => ("written down".to_owned(), String::new(), Vec::new()),
            Kind::Gate => ("everything before has passed".to_owned(), String::new(), Vec::new()),
            Kind::Measure(m) => measure(m),
        };
        let mut numbers: Vec<_> = bases.iter().map(|basis| number(&mut sources, basis)).collect();
        numbers.dedup();
        rows.push(vec![
            (i + 1).to_string(),
            step.id.clone(),
            match &expected[i] {
                Some(sound) => format!("{passes}; {}", sound.words()),
                None => passes,
            },
            with,
            numbers.join(" "),
        ]);
    }
    flush(&mut rows);
    say!("\nworked from the job; nothing here judges a reading");
    for line in worked {
        let numbers: Vec<_> = line.basis.iter().map(|basis| number(&mut sources, basis)).collect();
        rows.push(vec![
            line.what.clone(),
            line.comes_to.clone(),
            line.how.clone(),
            numbers.join(" "),
        ]);
    }
    say!("{}", table(&["what", "comes to", "how", "source"], &rows));
    say!("\ndecision\n  {}", plan.job.decision.words());
    say!("\nsources");
    for (i, source) in sources.iter().enumerate() {
        say!("  [{}] {}", i + 1, clean(source));
    }
    say!("\nlimitations");
    for limitation in std::iter::once(&plan.job.limits.caveat).chain(&plan.limitations) {
        say!("  {}", clean(limitation));
    }
}

/// What a walk takes, and which calibrations are due.
pub(super) fn effort(sequence: &Path, job: &Path) -> Result<(), Failure> {
    let plan = files::plan(sequence, job, None)?;
    print_effort(&plan);
    due_notes(&plan.job, Timestamp::now());
    Ok(())
}

/// How an act of hands stands where all passes.
fn done(plan: &Plan, step: usize) -> String {
    let is_taken_over = plan.taken_over().contains(&step);
    if is_taken_over { "taken over" } else { "done" }.to_owned()
}

fn print_effort(plan: &Plan) {
    say!("\nwhat it takes, where everything passes");
    Effort::of(plan).words().iter().for_each(|line| say!("  {line}"));
}

fn number(sources: &mut Vec<String>, basis: &Basis) -> String {
    let words = basis.words();
    let place = sources.iter().position(|s| *s == words).unwrap_or_else(|| {
        sources.push(words);
        sources.len() - 1
    });
    format!("[{}]", place + 1)
}

fn measure(m: &Measure) -> (String, String, Vec<Basis>) {
    let (mut passes, mut bases) = match &m.window {
        WindowRule::Fixed(window) => {
            let asks = window.ask_below.as_ref();
            let asks = asks.map_or(String::new(), |ask| format!(", asks below {ask}"));
            (format!("{}{asks}", window.words()), window.basis.clone())
        }
        WindowRule::Solved(solved) => (
            format!(
                "each core solved, alike by size within {}, together at most {}",
                solved.within, solved.most
            ),
            solved.basis.clone(),
        ),
        WindowRule::Like { first, within, basis } => (format!("within {within} of `{first}`"), vec![basis.clone()]),
    };
    match &m.timing {
        Timing::Any => {}
        Timing::Within { since, limit, basis } => {
            passes.push_str(&format!(", within {limit} of `{since}`"));
            bases.push(basis.clone());
        }
        Timing::After { since, wait, basis } => {
            passes.push_str(&format!(", {wait} after `{since}`"));
            bases.push(basis.clone());
        }
    }
    if let Some((greatest, basis)) = &m.input_max {
        passes.push_str(&format!(", on an input of {greatest} or less"));
        bases.push(basis.clone());
    }
    bases.push(m.used.known.basis.clone());
    let with = format!(
        "{}, {}, {}",
        m.used.instrument,
        m.used.function.dial(),
        m.used.known.accuracy.words()
    );
    (passes, with, bases)
}
