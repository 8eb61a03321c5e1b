//! A run walked to its end, and sealed there: begun or gone on with.
//!
//! The rule inside: what is closed is read by the engineer before it is signed.

use std::path::{Path, PathBuf};

use tokio::sync::mpsc::UnboundedReceiver;

use super::closing;
use super::error::{FOUND, Failure, INTERRUPTED, PASSED};
use super::home::Home;
use super::out::{complain, say};
use super::walked::{self, later, unlock};
use crate::evidence::journal::Journal;
use crate::evidence::seal::store;
use crate::judge::window::Outcome;
use crate::meter::port::source::Meter;
use crate::run::dialogue::Said;
use crate::run::engine::Engine;
use crate::run::event::Event;
use crate::run::fold::Run;
use crate::terminal::input;
use crate::terminal::plain::{Plain, clean};
use crate::walk::Stop;

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

/// Prints the page to read of a closed run, then signs and stores it.
pub(super) async fn seal(
    home: &Home,
    journal: &Path,
    run: &Run,
    said: &mut UnboundedReceiver<Said>,
) -> Result<u8, Failure> {
    closing::page(run);
    let unsealed = |failure: Failure| later(failure, "the run is closed and kept; seal it with `coreproof resume`");
    let key = unlock(home, said).await.map_err(unsealed)?;
    let stored = store(journal, &home.archive(), &home.heads(), &*key).map_err(|refusal| unsealed(refusal.into()))?;
    say!("Sealed as {}.", stored.summary.run);
    say!("SHA-256 {}", stored.summary.sha256);
    stored.told.iter().for_each(|told| say!("note: {}", clean(told)));
    let closed = run.ending.as_ref().map_or(run.opened_at, |(_, at)| *at);
    if run.cannot_be_rested_on(&run.plan.job, closed).is_empty() {
        say!(
            "The {} is left locked off. Another cable behind it can rest on this lock: coreproof run SEQUENCE --job JOB --rests-on {}",
            clean(&run.plan.job.supply.from),
            stored.summary.run
        );
    }
    Ok(if run.outcome() == Outcome::Pass { PASSED } else { FOUND })
}
