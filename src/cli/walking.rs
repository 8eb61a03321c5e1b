//! A run walked to its end, and sealed there: begun or gone on with.
//!
//! The rule inside: what is closed is read by the engineer before it is signed.

use std::path::{Path, PathBuf};

use tokio::sync::mpsc::UnboundedReceiver;

use super::closing;
use super::error::{FOUND, Failure, INTERRUPTED, PASSED};
use super::home::Home;
use super::out::{complain, say};
use super::paged::{Both, Page};
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
    pub page: Option<Page>,
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
        let mut plain = Plain::new(std::io::stdout(), in_place);
        let stop = match &mut self.page {
            None => walked::go(&mut self.engine, journal, meter, (said, None), &mut plain).await,
            Some(page) => {
                let (face, on_page) = page.parts();
                let mut both = Both(&mut plain, face);
                walked::go(&mut self.engine, journal, meter, (said, Some(on_page)), &mut both).await
            }
        };
        let stop = stop?;
        let run = self.engine.run();
        if stop != Stop::Closed {
            complain!("\n{}; everything recorded so far is kept", walked::stopped(stop));
            complain!(" next: coreproof resume {}", run.opened.run);
            if let Some(page) = &self.page {
                page.end(vec![format!("{}: go on at the terminal", walked::stopped(stop))]);
            }
            return Ok(INTERRUPTED);
        }
        seal(&self.home, &self.path, run, (said, self.page.as_ref())).await
    }
}

/// Prints the page to read of a closed run, then signs and stores it.
pub(super) async fn seal(
    home: &Home,
    journal: &Path,
    run: &Run,
    (said, page): (&mut UnboundedReceiver<Said>, Option<&Page>),
) -> Result<u8, Failure> {
    let lines = closing::page(run);
    lines.iter().for_each(|line| say!("{line}"));
    if let Some(page) = page {
        let mut lines = lines;
        lines.push("To sign it, type the passphrase at the terminal.".into());
        page.end(lines);
    }
    let unsealed = |failure: Failure| later(failure, "the run is closed and kept; seal it with `coreproof resume`");
    let key = unlock(home, said).await.map_err(unsealed)?;
    let stored = store(journal, &home.archive(), &home.heads(), &*key).map_err(|refusal| unsealed(refusal.into()))?;
    say!("Sealed as {}.", stored.summary.run);
    say!("SHA-256 {}", stored.summary.sha256);
    if let Some(page) = page {
        page.end(vec![format!("Sealed as {}.", stored.summary.run)]);
    }
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
