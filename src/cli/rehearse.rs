//! `rehearse`: the whole way with no hardware, through the real engine, serial code, journal, signature and certificate.
//!
//! The rule inside: a rehearsal is marked as one in its first signed line, it is signed with a throw-away key, and it never comes
//! near the archive.

use std::cell::RefCell;
use std::io::Stdout;
use std::path::{Path, PathBuf};
use std::rc::Rc;

use super::args::RehearseArgs;
use super::closing;
use super::error::{FOUND, Failure, INTERRUPTED, PASSED};
use super::out::say;
use super::which::{self, Lines};
use super::{files, meter, practice, resting};

use crate::diagnosis::locate::Halving;
use crate::evidence::audit::examine;
use crate::evidence::journal::Journal;
use crate::evidence::keys::SigningKey;
use crate::evidence::{Beside, CopyFor, Sealed};
use crate::job::Job;
use crate::job::instrument::{Ability, Instrument};
use crate::judge::window::Outcome;
use crate::meter::decode::Profile;
use crate::meter::port::source::Meter;
use crate::meter::profile;
use crate::model::fault::Fault;
use crate::model::library;
use crate::plan::{Lock, Plan};
use crate::rehearsal::{Scripted, Seen, SimClock, SimMeter, World};
use crate::run::dialogue::{Clock, Engineer, Show};
use crate::run::engine::{Engine, PortInstrument};
use crate::run::event::{Event, Opened, Rehearsal, RestsOn};
use crate::run::fold::Run;
use crate::sequence::shipped;
use crate::terminal::plain::{Plain, clean, headed};
use crate::walk::{Around, Stop, WallClock, walk};

/// The name that stands for all of them: no fault is called so.
const LIST: &str = "list";

/// Rehearses.
pub(super) async fn rehearse(asked: &RehearseArgs) -> Result<u8, Failure> {
    let mut lines = None;
    let job = (asked.job.as_deref(), asked.cable.as_deref());
    let lock = resting::lock(asked.rests_on.as_deref());
    let plan = plan(asked.sequence.as_deref(), job, lock, &mut lines).await?;
    let rests_on = resting::named(asked.rests_on.as_deref(), &plan, WallClock::start().now())?;
    if asked.fault.as_deref() == Some(LIST) {
        return list(&plan.job);
    }
    let faults = match &asked.fault {
        Some(name) => library::find(&plan.job, name)?,
        None if asked.practice => vec![practice::hidden(&plan.job, asked.seed)?],
        None => Vec::new(),
    };
    let workplace = Workplace::new(asked.out.as_deref())?;
    say!("REHEARSAL: nothing is measured. The wiring and the meter are simulated, time runs fast.");
    let (run, record) = walked(asked, plan, rests_on, &faults, &workplace).await?;
    closing::totals(&run).iter().for_each(|line| say!("{line}"));
    if asked.practice {
        practice::explain(&faults[0], &run, lines).await;
    }
    let key = SigningKey::throw_away();
    let signature = key.sign(&record);
    let examined = examine::<Run>(&record, &signature, Some(&key.public()));
    if let Some(remark) = examined.remarks.first() {
        return Err(Failure::refused(format!(
            "the rehearsed record does not hold: {}",
            remark.what
        )));
    }
    say!("The record was signed with a throw-away key and examined: chain, readings and verdicts hold.");
    if let Some(out) = &asked.out {
        let public = key.public();
        // the record itself is already there: it is the journal
        let sealed = Sealed { record, signature };
        sealed.write_beside(out, &public.openssh_line())?;
        if cfg!(feature = "certificate") {
            let (pdf, beside) = (out.join("certificate.pdf"), Beside::default());
            super::certificate::write(&pdf, &run, &sealed, &public, &beside, CopyFor::Engineer)?;
        }
        let pdf = if cfg!(feature = "certificate") {
            " and certificate.pdf"
        } else {
            "; built without certificates, so no PDF;"
        };
        say!(
            "record.jsonl, record.jsonl.sig, signer.pub{pdf} are in {}",
            out.display()
        );
    }
    Ok(if run.outcome() == Outcome::Pass { PASSED } else { FOUND })
}

/// Every single fault that the job has a place for: its name, whole on one line to be copied, and what is wrong.
fn list(job: &Job) -> Result<u8, Failure> {
    let faults = library::faults(job)?;
    let widest = faults.iter().map(|fault| fault.name.chars().count()).max().unwrap_or(0);
    for fault in &faults {
        say!("{:widest$}  {}", clean(&fault.name), clean(&fault.words));
    }
    Ok(PASSED)
}

/// The plan of these files, or of those that are shipped: a shipped sequence goes with the job it is shipped with.
pub(super) async fn plan(
    sequence: Option<&Path>,
    (job, cable): (Option<&Path>, Option<&str>),
    lock: Lock,
    lines: &mut Lines,
) -> Result<Plan, Failure> {
    let sequence = sequence.unwrap_or(Path::new(shipped::SEQUENCES[0].name));
    let name = sequence.file_stem().and_then(|stem| stem.to_str()).unwrap_or_default();
    let with = shipped::SEQUENCES.iter().find(|there| there.name == name);
    let job = job.unwrap_or(Path::new(with.map_or(shipped::SEQUENCES[0].job, |there| there.job)));
    let cable = which::meant(job, cable, lines).await?;
    files::plan_behind(sequence, job, cable.as_deref(), lock)
}

/// Where the journal is written: the folder asked for, or one that is removed again.
struct Workplace {
    folder: PathBuf,
    passing: bool,
}

impl Workplace {
    fn new(out: Option<&Path>) -> Result<Workplace, Failure> {
        let (folder, passing) = match out {
            Some(out) => (out.to_owned(), false),
            None => (
                std::env::temp_dir().join(format!("coreproof-rehearsal-{}", uuid::Uuid::now_v7())),
                true,
            ),
        };
        std::fs::create_dir_all(&folder).map_err(|error| {
            Failure::equipment(format!("the folder `{}` cannot be made: {error}", folder.display()))
        })?;
        Ok(Workplace { folder, passing })
    }
}

impl Drop for Workplace {
    fn drop(&mut self) {
        if self.passing {
            // what is left behind in the temporary folder does no harm
            let _ = std::fs::remove_dir_all(&self.folder);
        }
    }
}

/// The instrument to put on the port: one with a known profile, best one that makes the dead tests.
fn on_port(job: &Job) -> Option<(&Instrument, &'static Profile)> {
    let talking = || {
        job.instruments.iter().filter_map(|i| {
            let profile = profile::find(i.profile.as_deref()?).ok()?;
            Some((i, profile))
        })
    };
    talking()
        .find(|(i, _)| i.can.iter().any(|a| matches!(a, Ability::Continuity { .. })))
        .or_else(|| talking().next())
}

/// The place as it is before the first step: with these faults, and switched off where that is taken over.
fn world(plan: &Plan, faults: &[Fault], seed: u64) -> Result<World, Failure> {
    let mut world = World::new(&plan.job, seed)?;
    for fault in faults {
        world.put(fault)?;
    }
    let taken_over = plan.taken_over().into_iter().flat_map(|step| &plan.steps[step].acts);
    taken_over.for_each(|act| world.apply(act));
    Ok(world)
}

async fn walked(
    asked: &RehearseArgs,
    plan: Plan,
    rests_on: Option<RestsOn>,
    faults: &[Fault],
    workplace: &Workplace,
) -> Result<(Run, Vec<u8>), Failure> {
    let job = plan.job.clone();
    let world = world(&plan, faults, asked.seed)?;
    let start = WallClock::start().now();
    let clock = SimClock::new(start, world);
    let port = on_port(&job);
    let sim = port
        .map(|(instrument, profile)| SimMeter::start(profile, instrument, &clock, asked.seed))
        .transpose()?;
    let mut meter = match (&sim, port) {
        (Some(sim), Some((_, profile))) => Some(Meter::open_serial(sim.path(), profile.clone())?),
        _ => None,
    };
    let rehearsal = Rehearsal {
        fault: asked.fault.clone().or(faults.first().map(|fault| fault.name.clone())),
        seed: asked.seed,
    };
    let mut opened = Opened::of_plan(&plan, uuid::Uuid::now_v7());
    opened.profiles = meter::carried(&job, None);
    opened.rehearsal = Some(rehearsal);
    opened.rests_on = rests_on;
    let path = workplace.folder.join("record.jsonl");
    let mut journal = Journal::create(&path, &Event::Opened(Box::new(opened.clone())), start)?;
    let instrument = port.map(|(i, _)| PortInstrument {
        instrument: i.name.clone(),
        on_change: false,
        guarded: false,
    });
    let run = Run::open(opened, start).map_err(Failure::findings)?;
    let mut engine = Engine::new(run, instrument, None).choosing(Box::new(Halving::default()));
    let (sender, mut lines) = tokio::sync::mpsc::unbounded_channel();
    let shown = Rc::new(RefCell::new(Shown {
        plain: Plain::new(std::io::stdout(), false),
        steps: asked.steps,
    }));
    let observer = shown.clone();
    let see = Box::new(move |seen: Seen<'_>| observer.borrow_mut().see(&seen));
    let mut engineer = Scripted::new(&clock, sim.as_ref().map(SimMeter::port), asked.seed, sender, see);
    let around = Around {
        journal: &mut journal,
        meter: meter.as_mut(),
        said: &mut lines,
        page: None,
        engineer: &mut engineer,
        clock: &clock,
    };
    match walk(&mut engine, around).await? {
        Stop::Closed => {}
        Stop::Interrupted | Stop::InputEnded => {
            return Err(Failure {
                exit: INTERRUPTED,
                ..Failure::refused("the rehearsal was broken off")
            });
        }
    }
    let record = std::fs::read(&path)
        .map_err(|error| Failure::equipment(format!("the journal `{}` cannot be read: {error}", path.display())))?;
    Ok((engine.run().clone(), record))
}

/// What the reader sees of a rehearsal: a line a step, or everything.
struct Shown {
    plain: Plain<Stdout>,
    steps: bool,
}

impl Shown {
    fn see(&mut self, seen: &Seen<'_>) {
        match seen {
            Seen::Show(Show::Live { .. }) => {}
            Seen::Show(show) if self.steps => self.plain.show(show),
            Seen::Line(line) if self.steps => self.plain.line(&format!("> {line}")),
            Seen::Show(show @ Show::Stage(_)) => self.plain.show(show),
            Seen::Show(Show::Verdict { step, verdict }) => {
                self.plain.line(&format!(
                    "{:<10} {step:<32} {}",
                    headed(verdict.outcome),
                    verdict.because
                ));
                if let Some(mark) = &verdict.mark {
                    self.plain.line(&format!("{:<10} {:<32} {mark}", "mark", ""));
                }
            }
            Seen::Show(show @ (Show::Finished { .. } | Show::Danger(_))) => self.plain.show(show),
            Seen::Show(_) | Seen::Line(_) => {}
        }
    }
}
