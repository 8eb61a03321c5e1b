//! `resume`: goes on after a break or a crash, or seals a run that is closed.

use std::path::PathBuf;

use super::error::Failure;
use super::home::Home;
use super::meter;
use super::out::say;
use super::run::{Walked, seal};
use super::walked;
use crate::evidence::{Reopened, carried_files, journal, keys};
use crate::proof;
use crate::run::dialogue::Clock;
use crate::run::engine::Engine;
use crate::run::fold::Run;
use crate::run::folded::Folded;
use crate::terminal::plain::clean;
use crate::walk::WallClock;

/// Resumes.
pub(super) async fn resume(prefix: Option<&str>, given: Option<&str>, plain: bool) -> Result<u8, Failure> {
    let home = Home::open()?;
    let path = find(&home, prefix)?;
    let Reopened {
        journal: mut lines,
        folded: mut run,
        torn_bytes,
        ..
    } = walked::again::<Run>(&path, carried_files)?;
    let mut said = meter::answers(given)?;
    if run.ending.is_some() {
        say!("The run is closed and waits to be sealed.");
        drop(lines);
        return seal(&home, &path, &run, &mut said).await;
    }
    keys::own(&home.keys())?;
    let refused = proof::problems(&run.plan);
    if let Some(finding) = refused.first() {
        run.break_off(&format!(
            "this version's proof of order refuses its sequence: {}",
            finding.problem.what
        ));
    }
    let named = given.map(|g| meter::named(g, &run.plan.job)).transpose()?;
    if let Some(named) = &named
        && !walked::carries(&run.opened.profiles, named)
    {
        let what = format!("this run was opened without the profile `{}`", named.profile.name);
        return Err(
            Failure::refused(what).hint("go on without `--meter` and type the readings, or abandon it and run anew")
        );
    }
    let mut port = meter::open(named.as_ref()).await?;
    say!("{}\nRun {} goes on.", clean(&run.plan.title), run.opened.run);
    // whoever stands at an open box is not stopped by a date: it is said, and is a finding of the record
    let now = WallClock::start().now();
    for instrument in run
        .plan
        .job
        .instruments
        .iter()
        .filter(|instrument| instrument.is_overdue(now))
    {
        say!(
            "note: the calibration of `{}` (serial {}) was due on {}: use another for what is still to be read, or abandon the run",
            clean(&instrument.name),
            clean(&instrument.serial),
            instrument.due
        );
    }
    let engine = Engine::new(run, named.map(|n| n.instrument), Some(torn_bytes)).answered_by(meter::answered_by(given));
    let walked = Walked {
        engine,
        path,
        home,
        plain,
    };
    walked.go(&mut lines, port.as_mut(), &mut said).await
}

/// The journals of one folder, by what is in them.
struct Journals {
    folder: PathBuf,
    /// Runs that were begun, by their ids.
    begun: Vec<String>,
    /// Files in which not one line was recorded: no runs.
    never_began: Vec<String>,
}

impl Journals {
    fn in_folder(folder: PathBuf) -> Result<Journals, Failure> {
        let entries = std::fs::read_dir(&folder)
            .map_err(|error| Failure::equipment(format!("`{}` cannot be read: {error}", folder.display())))?;
        let mut names: Vec<String> = entries
            .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
            .filter_map(|name| name.strip_suffix(".jsonl").map(str::to_owned))
            .collect();
        names.sort();
        let of = |name: &String| folder.join(format!("{name}.jsonl"));
        let (never_began, begun) = names.into_iter().partition(|name| journal::never_began(&of(name)));
        Ok(Journals {
            folder,
            begun,
            never_began,
        })
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.join(format!("{name}.jsonl"))
    }

    /// What to do about the files that are no runs.
    fn to_delete(&self) -> Option<String> {
        let files: Vec<_> = self
            .never_began
            .iter()
            .map(|name| format!("`{}`", self.path(name).display()))
            .collect();
        let what = "in which nothing was recorded: no run began there";
        (!files.is_empty()).then(|| format!("delete {}, {what}", files.join(", ")))
    }
}

fn find(home: &Home, prefix: Option<&str>) -> Result<PathBuf, Failure> {
    let journals = Journals::in_folder(home.runs()?)?;
    let begins = |name: &&String| name.starts_with(prefix.unwrap_or(""));
    let fitting: Vec<&String> = journals.begun.iter().filter(begins).collect();
    let with_files = |next: Option<String>| {
        let next: Vec<_> = next.into_iter().chain(journals.to_delete()).collect();
        (!next.is_empty()).then(|| next.join("; "))
    };
    let (what, next) = match (fitting.as_slice(), prefix) {
        ([only], _) => return Ok(journals.path(only)),
        ([], None) => (
            "no run is unfinished".to_owned(),
            Some("begin one with `coreproof run`".to_owned()),
        ),
        ([], Some(prefix)) => {
            let known = (!journals.begun.is_empty()).then(|| format!("unfinished are {}", journals.begun.join(", ")));
            (format!("no unfinished run begins with `{prefix}`"), known)
        }
        (several, _) => {
            let list: Vec<_> = several.iter().map(|s| s.as_str()).collect();
            let next = format!("name one: coreproof resume {}", list.join(" | "));
            (format!("{} runs are unfinished", several.len()), Some(next))
        }
    };
    Err(Failure {
        hint: with_files(next),
        ..Failure::refused(what)
    })
}
