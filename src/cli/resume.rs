//! `resume`: goes on after a break or a crash, or seals a run that is closed.

use std::path::PathBuf;

use jiff::Timestamp;
use tokio::sync::mpsc::UnboundedReceiver;

use super::cables::Wanted;
use super::error::Failure;
use super::home::Home;
use super::meter;
use super::out::{complain, say};
use super::paged::{self, Page, Where};
use super::resting;
use super::tables::table;
use super::unfinished::{All, Unfinished};
use super::walked;
use super::walking::{Walked, seal};
use crate::diagnosis::locate::Halving;
use crate::evidence::{Reopened, carried_files, keys};
use crate::proof;
use crate::run::dialogue::{Clock, Said};
use crate::run::engine::Engine;
use crate::run::fold::Run;
use crate::run::folded::Folded;
use crate::terminal::plain::clean;
use crate::walk::WallClock;

/// The faces that a run goes on with.
#[derive(Debug, Clone, Copy)]
pub(super) struct Faces {
    /// Whole lines only.
    pub plain: bool,
    /// The page as well, and where.
    pub page: Option<Where>,
}

impl Faces {
    /// The terminal, in whole lines only where that is asked for, and the page where that is.
    pub(super) fn new(plain: bool, page: Option<Where>) -> Faces {
        Faces { plain, page }
    }
}

/// Resumes the run that a name means: a place, a cable, or a run id.
pub(super) async fn resume(name: Option<&str>, wanted: Wanted<'_>, faces: Faces) -> Result<u8, Failure> {
    let home = Home::open()?;
    let path = find(&home, name)?;
    let said = meter::answers(wanted.meter)?;
    go_on(home, path, wanted, (said, faces)).await
}

/// Goes on with the run of a journal; answers come from `said`.
pub(super) async fn go_on(
    home: Home,
    path: PathBuf,
    wanted: Wanted<'_>,
    (mut said, faces): (UnboundedReceiver<Said>, Faces),
) -> Result<u8, Failure> {
    let Reopened {
        journal: mut lines,
        folded: mut run,
        torn_bytes,
        ..
    } = walked::again::<Run>(&path, carried_files)?;
    let pictures = home.photographs(run.opened.run);
    if run.ending.is_some() {
        say!("The run is closed and waits to be sealed.");
        drop(lines);
        let page = Page::open(faces.page, &run.plan.job, None, (&home, faces.plain), pictures)?;
        paged::invite(page.as_ref(), &mut said).await;
        return seal(&home, &path, &run, (&mut said, page.as_ref())).await;
    }
    keys::own(&home.keys())?;
    let refused = proof::problems(&run.plan);
    if let Some(finding) = refused.first() {
        run.break_off(&format!(
            "this version's proof of order refuses its sequence: {}",
            finding.problem.what
        ));
    }
    let found = wanted.found(&home, &run.plan.job)?;
    let given = wanted.meter;
    let mut named = given
        .or(found.as_deref())
        .map(|g| meter::named(g, &run.plan.job))
        .transpose()?;
    // what nobody named is no reason to refuse
    named = named.filter(|named| given.is_some() || walked::carries(&run.opened.profiles, named));
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
    say_overdue(&run);
    let profile = named.as_ref().map(|n| &n.profile);
    let page = Page::open(faces.page, &run.plan.job, profile, (&home, faces.plain), pictures)?;
    paged::invite(page.as_ref(), &mut said).await;
    let engine = Engine::new(run, named.map(|n| n.instrument), Some(torn_bytes)).answered_by(meter::answered_by(given));
    let engine = resting::beside(engine.choosing(Box::new(Halving::default())), &home);
    let walked = Walked {
        engine,
        path,
        home,
        plain: faces.plain,
        page,
    };
    walked.go(&mut lines, port.as_mut(), &mut said).await
}

/// Whoever stands at an open box is not stopped by a date: it is said, and is a finding of the record.
fn say_overdue(run: &Run) {
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
}

fn find(home: &Home, name: Option<&str>) -> Result<PathBuf, Failure> {
    let all = All::of(home)?;
    let fitting: Vec<&Unfinished> = name.map_or_else(|| all.runs.iter().collect(), |name| all.called(name));
    let listed = |runs: &[&Unfinished]| {
        let now = Timestamp::now();
        let rows: Vec<_> = runs.iter().map(|run| run.row(now)).collect();
        complain!("{}\n", table(&Unfinished::HEAD, &rows));
    };
    let (what, next) = match (fitting.as_slice(), name) {
        ([only], _) => return Ok(only.path.clone()),
        ([], None) => (
            "no run is unfinished".to_owned(),
            Some("begin one with `coreproof run`".to_owned()),
        ),
        ([], Some(name)) => {
            if !all.runs.is_empty() {
                listed(&all.runs.iter().collect::<Vec<_>>());
            }
            let known =
                (!all.runs.is_empty()).then(|| "name one of these by its place, its cable or its run".to_owned());
            (format!("no unfinished run is called `{name}`"), known)
        }
        (several, _) => {
            listed(several);
            let ids: Vec<_> = several.iter().map(|run| run.id.as_str()).collect();
            let next = format!("name one: coreproof resume {}", ids.join(" | "));
            let what = match name {
                Some(name) => format!("`{name}` may mean {} unfinished runs", several.len()),
                None => format!("{} runs are unfinished", several.len()),
            };
            (what, Some(next))
        }
    };
    let next: Vec<_> = next.into_iter().chain(all.to_delete()).collect();
    Err(Failure {
        hint: (!next.is_empty()).then(|| next.join("; ")),
        ..Failure::refused(what)
    })
}
