//! `resume`: goes on after a break or a crash, or seals a run that is closed.

use super::out::say;
use std::path::PathBuf;

use super::error::{FOUND, Failure, PASSED};
use super::home::Home;
use super::meter;
use super::run::{Walked, closing};
use super::seal;
use crate::evidence::journal::Journal;
use crate::evidence::keys;
use crate::judge::window::Outcome;
use crate::run::engine::Engine;
use crate::run::event::Event;
use crate::run::fold::Run;
use crate::terminal::plain::clean;

/// Resumes.
pub async fn resume(prefix: Option<&str>, given: Option<&str>, plain: bool) -> Result<u8, Failure> {
    let home = Home::open()?;
    let path = find(&home, prefix)?;
    let named_file = |mut failure: Failure| {
        failure.message = format!("`{}`: {}", path.display(), failure.message);
        failure
    };
    let recovered = Journal::<Event>::recover(&path).map_err(|e| named_file(e.into()))?;
    let (mut journal, lines) = (recovered.journal, recovered.lines);
    let run = fold(&lines).map_err(named_file)?;
    if 0 < recovered.torn_bytes {
        say!(
            "{} bytes of an unfinished last line were dropped; nothing in them had been shown.",
            recovered.torn_bytes
        );
    }
    let mut typed = meter::answers(given)?;
    if run.ending.is_some() {
        say!("The run is closed and waits to be sealed.");
        closing(&run);
        let summary = seal::seal(&home, &path, &run, &mut typed).await?;
        say!("Sealed as {}.", summary.run);
        return Ok(if run.outcome() == Outcome::Pass { PASSED } else { FOUND });
    }
    keys::load(&home.keys())?;
    let named = given.map(|g| meter::named(g, &run.plan.job)).transpose()?;
    if let Some(named) = &named
        && !run
            .opened
            .profiles
            .iter()
            .any(|p| p.name == named.profile.name && p.text == named.profile.text)
    {
        let what = format!("this run was opened without the profile `{}`", named.profile.name);
        return Err(
            Failure::refused(what).hint("go on without `--meter` and type the readings, or abandon it and run anew")
        );
    }
    let mut port = meter::open(named.as_ref()).await?;
    say!("{}\nRun {} goes on.", clean(&run.plan.title), run.opened.run);
    let engine = Engine::new(run, named.map(|n| n.instrument), Some(recovered.torn_bytes));
    let walked = Walked {
        engine,
        path,
        home,
        plain,
    };
    walked.go(&mut journal, port.as_mut(), &mut typed).await
}

/// The run's events, folded.
fn fold(lines: &[crate::evidence::journal::Line<Event>]) -> Result<Run, Failure> {
    let (first, rest) = lines.split_first().expect("a recovered journal has a line");
    let Event::Opened(opened) = &first.event else {
        return Err(Failure::refused("the journal does not begin with the opening of a run"));
    };
    let mut run = Run::open((**opened).clone(), first.at).map_err(Failure::findings)?;
    for line in rest {
        run.apply(line.at, &line.event)
            .map_err(|what| Failure::refused(format!("line {}: {what}", line.n + 1)))?;
    }
    Ok(run)
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
