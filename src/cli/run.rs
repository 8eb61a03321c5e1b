//! `run`: walks a sequence for real.

use std::path::{Path, PathBuf};

use jiff::Timestamp;
use tokio::sync::mpsc::UnboundedReceiver;

use super::args::RunArgs;
use super::error::{FOUND, Failure, INTERRUPTED, PASSED};
use super::files;
use super::home::Home;
use super::identified;
use super::meant::{self, Meant};
use super::meter;
use super::out::{complain, say};
use super::resume;
use super::superseding;
use super::tables::table;
use super::unfinished::All;
use super::walked::{self, later, unlock};
use crate::evidence::journal::Journal;
use crate::evidence::keys;
use crate::evidence::seal::store;
use crate::job::{Job, overdue};
use crate::judge::window::Outcome;
use crate::meter::port::source::Meter;
use crate::run::dialogue::{Clock, Said};
use crate::run::engine::Engine;
use crate::run::event::{Event, Opened};
use crate::run::fold::Run;
use crate::terminal::input;
use crate::terminal::plain::{Plain, clean};
use crate::walk::{Stop, WallClock};

/// Runs.
pub(super) async fn run(asked: &RunArgs, plain: bool) -> Result<u8, Failure> {
    let plan = files::plan(&asked.sequence, &asked.job)?;
    let given = asked.meter.as_deref();
    let home = Home::open()?;
    // a run that could not be sealed would be found out only at its end
    keys::own(&home.keys())?;
    let named = given.map(|g| meter::named(g, &plan.job)).transpose()?;
    let at = WallClock::start().now();
    let departures = overdue::departures(&plan.job.instruments, at, asked.overdue.as_deref())?;
    let corrected = asked.supersedes.iter().zip(&asked.because);
    let corrected = corrected
        .map(|(record, because)| superseding::of(record, because, &home))
        .next()
        .transpose()?;
    let identified = asked
        .identified
        .as_deref()
        .map(|file| identified::carried(file, &plan.job))
        .transpose()?;
    due_notes(&plan.job, at);
    let mut lines = meter::answers(given)?;
    let all = All::of(&home)?;
    let unfinished = all.on(&plan.job);
    if !asked.new && !unfinished.is_empty() {
        if !input::is_interactive() {
            return Err(meant::refused(&unfinished));
        }
        if let Meant::GoOn(path) = meant::ask(&unfinished, &mut lines).await? {
            return resume::go_on(home, path, given, (lines, plain)).await;
        }
    }
    let mut port = meter::open(named.as_ref()).await?;
    let mut opened = Opened::of_plan(&plan, uuid::Uuid::now_v7());
    opened.profiles = meter::carried(&plan.job, named.as_ref());
    opened.departures = departures;
    opened.identified = identified;
    opened.supersedes = corrected;
    opened.answered_by = meter::answered_by(given);
    opened.port = named.as_ref().map(|n| n.port.recorded());
    let path = home.runs()?.join(format!("{}.jsonl", opened.run));
    let mut journal = Journal::create(&path, &Event::Opened(Box::new(opened.clone())), at)?;
    say!(
        "{}\n{}",
        clean(&plan.title),
        clean(&format!("{}, {}", plan.job.place.name, plan.job.cable))
    );
    say!("Run {}. Ctrl-C breaks off; `coreproof resume` goes on.", opened.run);
    say!("`back` takes the last answer back; `was lit` says that a point answered dark was lit.");
    let run = Run::open(opened, at).map_err(Failure::findings)?;
    let engine = Engine::new(run, named.map(|n| n.instrument), None).answered_by(meter::answered_by(given));
    let walked = Walked {
        engine,
        path,
        home,
        plain,
    };
    walked.go(&mut journal, port.as_mut(), &mut lines).await
}

/// Says which calibrations are due, or soon will be.
pub(super) fn due_notes(job: &Job, at: Timestamp) {
    for what in job.instruments.iter().filter_map(|instrument| instrument.due_words(at)) {
        complain!("note: {}", clean(&what));
    }
}

/// A run about to be walked, and what is needed to seal it.
pub(super) struct Walked {
    pub engine: Engine,
    pub path: PathBuf,
    pub home: Home,
    pub plain: bool,
}

impl Walked {
    /// Walks, and seals what is closed.
    pub(super) async fn go(
        mut self,
        journal: &mut Journal<Event>,
        meter: Option<&mut Meter>,
        said: &mut UnboundedReceiver<Said>,
    ) -> Result<u8, Failure> {
        let in_place = input::is_interactive() && !self.plain;
        let mut engineer = Plain::new(std::io::stdout(), in_place);
        let stop = walked::go(&mut self.engine, journal, meter, said, &mut engineer).await?;
        let run = self.engine.run();
        if stop != Stop::Closed {
            complain!("\n{}; everything recorded so far is kept", walked::stopped(stop));
            complain!(" next: coreproof resume {}", run.opened.run);
            return Ok(INTERRUPTED);
        }
        seal(&self.home, &self.path, run, said).await
    }
}

/// Prints what a closed run came to, signs and stores it.
pub(super) async fn seal(
    home: &Home,
    journal: &Path,
    run: &Run,
    said: &mut UnboundedReceiver<Said>,
) -> Result<u8, Failure> {
    closing(run);
    let unsealed = |failure: Failure| later(failure, "the run is closed and kept; seal it with `coreproof resume`");
    let key = unlock(home, said).await.map_err(unsealed)?;
    let stored = store(journal, &home.archive(), &home.heads(), &*key).map_err(|refusal| unsealed(refusal.into()))?;
    say!("Sealed as {}.", stored.summary.run);
    say!("SHA-256 {}", stored.summary.sha256);
    stored.told.iter().for_each(|told| say!("note: {}", clean(told)));
    Ok(if run.outcome() == Outcome::Pass { PASSED } else { FOUND })
}

/// The closing table: what did not pass, and how many did.
pub(super) fn closing(run: &Run) {
    let verdicts: Vec<_> = (0..run.steps.len())
        .map(|i| (&run.plan.steps[i].id, run.verdict(i)))
        .collect();
    let count = |outcome| verdicts.iter().filter(|(_, v)| v.outcome == outcome).count();
    let conditional = match count(Outcome::Conditional) {
        0 => String::new(),
        n => format!(", {n} conditional"),
    };
    say!(
        "{} of {} steps passed, {} failed{conditional}, {} not tested.",
        count(Outcome::Pass),
        verdicts.len(),
        count(Outcome::Fail),
        count(Outcome::NotTested)
    );
    let failed: Vec<_> = verdicts
        .iter()
        .filter(|(_, v)| matches!(v.outcome, Outcome::Fail | Outcome::Conditional))
        .map(|(id, v)| vec![(*id).clone(), v.outcome.word().to_owned(), v.because.clone()])
        .collect();
    if !failed.is_empty() {
        say!("{}", table(&["step", "verdict", "because"], &failed));
    }
}
