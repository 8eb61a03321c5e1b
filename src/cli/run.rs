//! `run`: walks a sequence for real.

use super::out::say;
use std::path::{Path, PathBuf};

use tokio::sync::mpsc::UnboundedReceiver;

use super::error::{FOUND, Failure, INTERRUPTED, PASSED};
use super::files;
use super::home::Home;
use super::identified;
use super::meter;
use super::seal;
use crate::evidence::journal::Journal;
use crate::evidence::keys;
use crate::job::instrument::Instrument;
use crate::judge::window::Outcome;
use crate::located::Text;
use crate::plan::Plan;
use crate::run::engine::Engine;
use crate::run::event::{Event, Opened, Rehearsal};
use crate::run::fold::Run;
use crate::run::people::Clock;
use crate::terminal::input;
use crate::terminal::plain::{Plain, clean};
use crate::walk::{Around, Stop, WallClock, walk};

/// The opening of a run.
pub fn opened(plan: &Plan, profiles: Vec<Text>, rehearsal: Option<Rehearsal>) -> Opened {
    // the file's name, not where it lay on this machine
    let name = |path: &str| {
        Path::new(path)
            .file_name()
            .map_or_else(|| path.to_owned(), |n| n.to_string_lossy().into_owned())
    };
    let carried = |text: &Text| Text::new(name(&text.name), &*text.text);
    // a part is known by the name under which it is included
    let as_named = |text: &Text| Text::new(&*text.name, &*text.text);
    Opened {
        run: uuid::Uuid::now_v7(),
        rehearsal,
        caveat: plan.job.limits.caveat.clone(),
        profiles,
        ..Opened::new(
            (carried(&plan.texts[0]), plan.texts[1..].iter().map(as_named).collect()),
            carried(&plan.job.text),
            &*plan.job.limits.edition,
        )
    }
}

/// Instruments past their calibration date are refused, or recorded with the reason for using them all the same.
pub fn departures(
    instruments: &[Instrument],
    on: jiff::Timestamp,
    reason: Option<&str>,
) -> Result<Vec<String>, Failure> {
    let day = on.to_string();
    let overdue: Vec<_> = instruments
        .iter()
        .filter(|i| i.due.to_string().as_str() < &day[..10])
        .map(|i| {
            format!(
                "the calibration of `{}` (serial {}) was due on {}",
                i.name, i.serial, i.due
            )
        })
        .collect();
    if let Some(i) = instruments
        .iter()
        .find(|i| &day[..10] < i.calibrated.to_string().as_str())
    {
        let what = format!("the calibration of `{}` on {} has not come yet", i.name, i.calibrated);
        return Err(Failure::refused(what).hint("correct the date in the job, or the clock of this computer"));
    }
    match (overdue.first(), reason) {
        (None, _) => Ok(Vec::new()),
        (Some(_), Some(reason)) => Ok(overdue
            .iter()
            .map(|what| format!("{what}; used all the same: {}", clean(reason)))
            .collect()),
        (Some(first), None) => Err(Failure::refused(first.clone())
            .hint("have it calibrated, or say why it is used all the same: --overdue \"…\"")),
    }
}

/// Runs.
pub async fn run(
    sequence: &Path,
    job: &Path,
    given: Option<&str>,
    overdue: Option<&str>,
    identified: Option<&Path>,
    plain: bool,
) -> Result<u8, Failure> {
    let plan = files::plan(sequence, job)?;
    let home = Home::open()?;
    // a run that could not be sealed would be found out only at its end
    keys::load(&home.keys())?;
    let named = given.map(|g| meter::named(g, &plan.job)).transpose()?;
    let at = WallClock::start().now();
    let departures = departures(&plan.job.instruments, at, overdue)?;
    let identified = identified
        .map(|file| identified::carried(file, &plan.job))
        .transpose()?;
    let mut lines = meter::answers(given)?;
    let mut port = meter::open(named.as_ref()).await?;
    let mut opened = opened(&plan, meter::carried(&plan.job, named.as_ref()), None);
    opened.departures = departures;
    opened.identified = identified;
    opened.port = named.as_ref().map(|n| n.port.recorded());
    let path = home.runs()?.join(format!("{}.jsonl", opened.run));
    let mut journal = Journal::create(&path, &Event::Opened(Box::new(opened.clone())), at)?;
    say!(
        "{}\n{}",
        clean(&plan.title),
        clean(&format!("{}, {}", plan.job.place.name, plan.job.cable))
    );
    say!("Run {}. Ctrl-C breaks off; `coreproof resume` goes on.", opened.run);
    let engine = Engine::new(
        Run::open(opened, at).map_err(Failure::findings)?,
        named.map(|n| n.instrument),
        None,
    );
    let walked = Walked {
        engine,
        path,
        home,
        plain,
    };
    walked.go(&mut journal, port.as_mut(), &mut lines).await
}

/// A run about to be walked, and what is needed to seal it.
pub struct Walked {
    pub engine: Engine,
    pub path: PathBuf,
    pub home: Home,
    pub plain: bool,
}

impl Walked {
    /// Walks, and seals what is closed.
    pub async fn go(
        mut self,
        journal: &mut Journal<Event>,
        meter: Option<&mut crate::meter::port::source::Meter>,
        lines: &mut UnboundedReceiver<String>,
    ) -> Result<u8, Failure> {
        let in_place = input::is_interactive() && !self.plain;
        let mut engineer = Plain::new(std::io::stdout(), in_place);
        let around = Around {
            journal,
            meter,
            lines,
            engineer: &mut engineer,
            clock: &WallClock::start(),
            drops_typed_ahead: in_place,
        };
        let stop = walk(&mut self.engine, around).await?;
        let run = self.engine.run();
        match stop {
            Stop::Closed => {}
            Stop::Interrupted | Stop::InputEnded => {
                let why = if stop == Stop::Interrupted {
                    "broken off"
                } else {
                    "the input ended"
                };
                eprintln!("\n{why}; everything recorded so far is kept");
                eprintln!(" next: coreproof resume {}", run.opened.run);
                return Ok(INTERRUPTED);
            }
        }
        closing(run);
        let summary = seal::seal(&self.home, &self.path, run, lines).await?;
        say!("Sealed as {}.", summary.run);
        say!("SHA-256 {}", summary.sha256);
        Ok(if run.outcome() == Outcome::Pass { PASSED } else { FOUND })
    }
}

/// The closing table: what did not pass, and how many did.
pub fn closing(run: &Run) {
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
        say!("{}", super::tables::table(&["step", "verdict", "because"], &failed));
    }
}
