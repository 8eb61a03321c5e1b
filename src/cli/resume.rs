//! `resume`: goes on after a break or a crash, or seals a run that is closed.

use std::path::PathBuf;

use super::error::Failure;
use super::home::Home;
use super::meter;
use super::out::say;
use super::run::{Walked, seal};
use super::walked;
use crate::evidence::{Reopened, carried_files, keys};
use crate::proof;
use crate::run::engine::Engine;
use crate::run::fold::Run;
use crate::run::folded::Folded;
use crate::terminal::plain::clean;

/// Resumes.
pub(super) async fn resume(prefix: Option<&str>, given: Option<&str>, plain: bool) -> Result<u8, Failure> {
    let home = Home::open()?;
    let path = find(&home, prefix)?;
    let Reopened {
        mut journal,
        folded: mut run,
        torn_bytes,
        ..
    } = walked::again::<Run>(&path, carried_files)?;
    let mut said = meter::answers(given)?;
    if run.ending.is_some() {
        say!("The run is closed and waits to be sealed.");
        drop(journal);
        return seal(&home, &path, &run, &mut said).await;
    }
    keys::load(&home.keys())?;
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
    let engine = Engine::new(run, named.map(|n| n.instrument), Some(torn_bytes));
    let walked = Walked {
        engine,
        path,
        home,
        plain,
    };
    walked.go(&mut journal, port.as_mut(), &mut said).await
}

fn find(home: &Home, prefix: Option<&str>) -> Result<PathBuf, Failure> {
    let folder = home.runs()?;
    let entries = std::fs::read_dir(&folder)
        .map_err(|error| Failure::equipment(format!("`{}` cannot be read: {error}", folder.display())))?;
    let mut names: Vec<String> = entries
        .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
        .filter_map(|name| name.strip_suffix(".jsonl").map(str::to_owned))
        .collect();
    names.sort();
    let fitting: Vec<_> = names
        .iter()
        .filter(|name| name.starts_with(prefix.unwrap_or("")))
        .collect();
    match (fitting.as_slice(), prefix) {
        ([only], _) => Ok(folder.join(format!("{only}.jsonl"))),
        ([], None) => Err(Failure::refused("no run is unfinished").hint("begin one with `coreproof run`")),
        ([], Some(prefix)) => {
            let failure = Failure::refused(format!("no unfinished run begins with `{prefix}`"));
            Err(if names.is_empty() {
                failure
            } else {
                failure.hint(format!("unfinished are {}", names.join(", ")))
            })
        }
        (several, _) => {
            let list: Vec<_> = several.iter().map(|s| s.as_str()).collect();
            Err(Failure::refused(format!("{} runs are unfinished", several.len()))
                .hint(format!("name one: coreproof resume {}", list.join(" | "))))
        }
    }
}
