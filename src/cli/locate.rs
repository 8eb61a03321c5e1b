//! `locate`: where a fault must be, from a record or from readings that are typed.

use std::path::Path;

use super::args::Locate;
use super::error::{FOUND, Failure, PASSED};
use super::home::Home;
use super::out::{self, say};
use super::progress::Progress;
use super::which::Lines;
use super::{files, rehearse};
use crate::diagnosis::locate::{self, Observed};
use crate::evidence::archive::Archive;
use crate::evidence::bytes;
use crate::evidence::journal;
use crate::explain::Explain;
use crate::plan::{Lock, Plan};
use crate::run::dialogue::Said;
use crate::run::event::Event;
use crate::run::fold::Run;
use crate::run::folded::{Unfolded, fold};
use crate::terminal::input;
use crate::terminal::plain::clean;

/// Locates; 0 where nothing need be wrong and no step failed.
pub(super) async fn locate(asked: &Locate) -> Result<u8, Failure> {
    let observed = observed(asked).await?;
    if observed.list.is_empty() && observed.left.is_empty() {
        return Err(Failure::refused("there is no reading or answer to go by").hint("give a record with readings"));
    }
    let located = {
        let mut progress = Progress::of("faults tried", 0);
        let mut told = |behind: usize, of: usize| progress.so_far(behind as u64, of as u64);
        locate::locate_told(&observed, usize::from(asked.at_most), &mut told)?
    };
    if asked.json {
        out::json(&located);
    } else {
        for line in located.text().lines() {
            say!("{}", clean(line));
        }
    }
    Ok(if located.is_sound() { PASSED } else { FOUND })
}

async fn observed(asked: &Locate) -> Result<Observed, Failure> {
    if let Some(record) = &asked.record {
        return Ok(Observed::of(&run(record)?));
    }
    let mut lines = None;
    let job = (asked.job.as_deref(), asked.cable.as_deref());
    let plan = rehearse::plan(asked.sequence.as_deref(), job, Lock::Own, &mut lines).await?;
    let text = match &asked.readings {
        Some(path) => files::text(path)?.text.to_string(),
        None => typed(&plan, lines).await?,
    };
    Ok(Observed::typed(plan, &text)?)
}

/// The run that a file or a stored record holds. A journal that is not closed serves as well: it is read, not believed.
fn run(record: &str) -> Result<Run, Failure> {
    let bytes = if Path::new(record).is_file() {
        bytes(Path::new(record))?
    } else {
        Archive::read(&Home::open()?.archive())?.get(record)?.record
    };
    let lines = journal::parse::<Event>(&bytes)?;
    let refused = |why: &str| Failure::refused(format!("`{record}` is no record: {why}"));
    let events = lines.into_iter().map(|line| (line.at, line.event));
    match fold::<Run>(events, |_, _, _| {}, |_, _| {}) {
        Ok(run) => match &run.broken {
            Some(why) => Err(refused(why)),
            None => Ok(run),
        },
        Err(Unfolded::NoOpening) => Err(refused("it does not begin with its opening")),
        Err(Unfolded::Unopened(findings)) => Err(Failure::findings(findings)),
    }
}

/// Reads lines until an empty one; what is wrong with a line is said at once, and the line is left out.
async fn typed(plan: &Plan, lines: Lines) -> Result<String, Failure> {
    say!("Type what was seen, a line each: the step, a colon, the reading. An empty line ends it.");
    say!("  continuity/grey: OL");
    let mut lines = lines.unwrap_or_else(input::lines);
    let mut text = String::new();
    while let Some(line) = lines
        .recv()
        .await
        .and_then(Said::into_line)
        .filter(|line| !line.trim().is_empty())
    {
        let longer = format!("{text}{line}\n");
        match Observed::typed(plan.clone(), &longer) {
            Ok(_) => text = longer,
            Err(error) => {
                say!("{}", clean(&error.to_string()));
                if let Some(hint) = error.hint() {
                    say!(" next: {}", clean(&hint));
                }
            }
        }
    }
    Ok(text)
}
