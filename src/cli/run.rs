//! `run`: walks a sequence for real.

use super::args::RunArgs;
use super::cables::Wanted;
use super::due::due_notes;
use super::error::Failure;
use super::files;
use super::home::Home;
use super::identified;
use super::meant::{self, Meant};
use super::meter;
use super::out::say;
use super::paged::{self, Page};
use super::resting;
use super::resume;
use super::superseding;
use super::unfinished::All;
use super::walking::Walked;
use super::which;
use crate::diagnosis::locate::Halving;
use crate::evidence::journal::Journal;
use crate::evidence::keys;
use crate::identify::session::said_of;
use crate::job::overdue;
use crate::plan::Plan;
use crate::run::dialogue::Clock;
use crate::run::engine::Engine;
use crate::run::event::{Event, Opened, Supersedes};
use crate::run::fold::Run;
use crate::terminal::input;
use crate::terminal::plain::clean;
use crate::walk::WallClock;

/// Runs.
pub(super) async fn run(asked: &RunArgs, plain: bool) -> Result<u8, Failure> {
    let mut lines = None;
    if input::is_interactive() {
        lines = Some(meter::answers(asked.meter.as_deref())?);
    }
    let cable = which::meant(&asked.job, asked.cable.as_deref(), &mut lines).await?;
    let lock = resting::lock(asked.rests_on.as_deref());
    let plan = files::plan_behind(&asked.sequence, &asked.job, cable.as_deref(), lock)?;
    let home = Home::open()?;
    let wanted = Wanted {
        meter: asked.meter.as_deref(),
        typed: asked.typed,
    };
    let found = wanted.found(&home, &plan.job)?;
    let given = asked.meter.as_deref().or(found.as_deref());
    // a run that could not be sealed would be found out only at its end
    keys::own(&home.keys())?;
    let named = given.map(|g| meter::named(g, &plan.job)).transpose()?;
    let at = WallClock::start().now();
    let departures = overdue::departures(&plan.job.instruments, at, asked.overdue.as_deref())?;
    let corrected = corrected(asked, &home)?;
    let identified = asked.identified.as_deref();
    let identified = identified
        .map(|file| identified::carried(file, &plan.job))
        .transpose()?;
    due_notes(&plan.job, at);
    let mut lines = lines.map_or_else(|| meter::answers(given), Ok)?;
    let all = All::of(&home)?;
    let unfinished = all.on(&plan.job);
    if !asked.new && !unfinished.is_empty() {
        if !input::is_interactive() {
            return Err(meant::refused(&unfinished));
        }
        if let Meant::GoOn(path) = meant::ask(&unfinished, &mut lines).await? {
            let faces = resume::Faces::new(plain, asked.page);
            return resume::go_on(home, path, wanted, (lines, faces)).await;
        }
    }
    let rests_on = resting::begins(asked.rests_on.as_deref(), &plan, &home, at)?;
    let mut port = meter::open(named.as_ref()).await?;
    let mut opened = Opened::of_plan(&plan, uuid::Uuid::now_v7());
    opened.profiles = meter::carried(&plan.job, named.as_ref());
    opened.departures = departures;
    opened.identified = identified;
    opened.supersedes = corrected;
    opened.rests_on = rests_on;
    opened.answered_by = meter::answered_by(given);
    opened.port = named.as_ref().map(|n| n.port.recorded());
    // a page that cannot be served leaves no run begun
    let profile = named.as_ref().map(|n| &n.profile);
    let pictures = home.photographs(opened.run);
    let page = Page::open(asked.page, &plan.job, profile, (&home, plain), pictures)?;
    let path = home.runs()?.join(format!("{}.jsonl", opened.run));
    let mut journal = Journal::create(&path, &Event::Opened(Box::new(opened.clone())), at)?;
    say_begun(&plan, &opened);
    paged::invite(page.as_ref(), &mut lines).await;
    let run = Run::open(opened, at).map_err(Failure::findings)?;
    let engine = Engine::new(run, named.map(|n| n.instrument), None).answered_by(meter::answered_by(given));
    let engine = resting::beside(engine.choosing(Box::new(Halving::default())), &home);
    let walked = Walked {
        engine,
        path,
        home,
        plain,
        page,
    };
    walked.go(&mut journal, port.as_mut(), &mut lines).await
}

/// What is said before the first step.
fn say_begun(plan: &Plan, opened: &Opened) {
    say!(
        "{}\n{}",
        clean(&plan.title),
        clean(&format!("{}, {}", plan.job.place.name, plan.job.cable))
    );
    say!("Run {}. Ctrl-C breaks off; `coreproof resume` goes on.", opened.run);
    say!(
        "`back` takes the last answer back; `was lit` says that a point answered dark was lit; `length 14 m` corrects the length of the cable."
    );
    for said in opened.identified.iter().flat_map(said_of) {
        say!("{}", clean(&said));
    }
    if let Some(rest) = &opened.rests_on {
        say!(
            "It rests on the lock of run {}. Is it still on, its key on you and the notice there? Else abandon this run.",
            rest.run
        );
    }
}

/// The record that is corrected, where one is.
fn corrected(asked: &RunArgs, home: &Home) -> Result<Option<Supersedes>, Failure> {
    let corrected = asked.supersedes.iter().zip(&asked.because);
    let mut corrected = corrected.map(|(record, because)| superseding::of(record, because, home));
    corrected.next().transpose()
}
