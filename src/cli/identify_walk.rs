//! An identification walked: opened or gone on with, kept as it goes, signed at its end.
//!
//! The rule inside: the file that is kept is the journal itself; sealed, its signature lies beside it under the same name with
//! `.sig` behind.

use std::path::{Path, PathBuf};

use tokio::sync::mpsc::UnboundedReceiver;

use super::args::Identify;
use super::error::{FOUND, Failure, INTERRUPTED, PASSED};
use super::home::Home;
use super::identify_asked::Asked;
use super::identify_told as told;
use super::meter;
use super::out::{complain, say};
use super::walked::{self, later, unlock};
use crate::evidence::journal::Journal;
use crate::evidence::journal::store::MemoryStore;
use crate::evidence::seal::sign_beside;
use crate::evidence::{Refusal, Reopened, beside, keys, write_new};
use crate::identify::event::{Event, Opened};
use crate::identify::identifying::Identifying;
use crate::identify::session::Session;
use crate::identify::{measured, naming};
use crate::job::{Job, overdue};
use crate::meter::port::source::Meter;
use crate::run::dialogue::{Clock, Engineer, Said};
use crate::run::event::{FORMAT, PROGRAM};
use crate::terminal::input;
use crate::terminal::plain::Plain;
use crate::walk::{Stop, WallClock};

/// Where and how an identification is kept and shown.
struct Kept<'a> {
    /// The file and whose key signs it.
    file: Option<(PathBuf, Home)>,
    job_out: Option<&'a Path>,
    json: bool,
    plain: bool,
}

/// Begins one.
pub(super) async fn begin(prepared: Asked, asked: &Identify, plain: bool) -> Result<u8, Failure> {
    let at = WallClock::start().now();
    let home = asked.out.as_ref().map(|_| Home::open()).transpose()?;
    let (place, engineer) = whose(&prepared, asked, home.as_ref())?;
    let named = match (&asked.meter, &prepared.job) {
        (None, _) => None,
        (Some(given), Some(job)) => Some(meter::named(given, job)?),
        (Some(_), None) => {
            return Err(
                Failure::refused("`--meter` needs `--job`: the job says which instrument it is")
                    .hint("give the job, or type the readings"),
            );
        }
    };
    let departures = match (&prepared.job, &home) {
        (Some(job), Some(_)) => overdue::departures(&job.instruments, at, asked.overdue.as_deref())?,
        _ => Vec::new(),
    };
    let opened = Opened {
        format: FORMAT.into(),
        program: PROGRAM.into(),
        identification: uuid::Uuid::now_v7(),
        place,
        engineer,
        of: prepared.subject.clone(),
        figures: prepared.figures.clone(),
        job: prepared.carried_job(),
        profiles: match &prepared.job {
            Some(job) if named.is_some() => meter::carried(job, named.as_ref()),
            _ => Vec::new(),
        },
        instrument: named.as_ref().map(|n| n.instrument.instrument.clone()),
        port: named.as_ref().map(|n| n.port.recorded()),
        departures,
    };
    let session = Session::open(opened.clone(), at).map_err(Failure::refused)?;
    if let (Some(named), Some(job)) = (&named, &session.job) {
        can_measure(&session, job, &named.instrument.instrument)?;
    }
    let mut said = meter::answers(asked.meter.as_deref())?;
    let mut port = meter::open(named.as_ref()).await?;
    let first = Event::Opened(Box::new(opened));
    let mut journal = match &asked.out {
        Some(path) => Journal::create(path, &first, at)?,
        None => Journal::create_in(Box::new(MemoryStore::default()), &first, at)?,
    };
    if let Some(path) = &asked.out {
        say!(
            "Kept in {} as it goes. Ctrl-C breaks off; `coreproof identify --resume {}` goes on.",
            path.display(),
            path.display()
        );
    }
    let kept = Kept {
        file: asked.out.clone().zip(home),
        job_out: asked.job_out.as_deref(),
        json: asked.json,
        plain,
    };
    let identifying = Identifying::new(session, counts(named.as_ref()), None);
    kept.go(identifying, &mut journal, port.as_mut(), &mut said).await
}

/// Goes on with one that was broken off, or signs one that is closed.
pub(super) async fn resume(file: &Path, asked: &Identify, plain: bool) -> Result<u8, Failure> {
    let home = Home::open()?;
    keys::own(&home.keys())?;
    if beside(file).exists() {
        return Err(Failure::refused(format!("`{}` is signed already", file.display()))
            .hint(format!("`coreproof verify {}` checks it", file.display())));
    }
    let Reopened {
        mut journal,
        folded: session,
        refused,
        torn_bytes,
    } = walked::again::<Session>(file, Refusal::new)?;
    if let Some((line, why)) = refused.first() {
        return Err(
            Failure::refused(format!("`{}` cannot go on: line {line}: {why}", file.display()))
                .hint("tell the cores apart anew; what was answered stays in the file"),
        );
    }
    let named = match (&asked.meter, &session.job) {
        (Some(given), Some(job)) => Some(meter::named(given, job)?),
        (Some(_), None) => {
            return Err(Failure::refused(
                "it was begun without a job, so that no meter is known to it",
            ));
        }
        (None, _) => None,
    };
    if let Some(named) = &named
        && !walked::carries(&session.opened.profiles, named)
    {
        let what = format!("it was begun without the profile `{}`", named.profile.name);
        return Err(Failure::refused(format!("`{}`: {what}", file.display()))
            .hint("go on without `--meter` and type the readings"));
    }
    let mut said = meter::answers(asked.meter.as_deref())?;
    let mut port = meter::open(named.as_ref()).await?;
    let kept = Kept {
        file: Some((file.to_owned(), home)),
        job_out: asked.job_out.as_deref(),
        json: false,
        plain,
    };
    if session.closed.is_some() {
        drop(journal);
        return kept.finish(&session, &mut said).await;
    }
    let identifying = Identifying::new(session, counts(named.as_ref()), Some(torn_bytes));
    kept.go(identifying, &mut journal, port.as_mut(), &mut said).await
}

/// Where it is and who does it: as the job says, else as given and as the key says.
fn whose(prepared: &Asked, asked: &Identify, home: Option<&Home>) -> Result<(String, String), Failure> {
    let key = home.map(|home| keys::own(&home.keys())).transpose()?;
    if let Some(job) = &prepared.job {
        return Ok((prepared.subject.place(job), job.engineer.clone()));
    }
    match (&asked.place, key) {
        (Some(place), Some(key)) => Ok((place.clone(), key.public().comment().to_owned())),
        (None, Some(_)) => Err(Failure::refused(
            "a signed file says where it was: neither `--job` nor `--place` is given",
        )
        .hint("give `--place \"…\"`, or the job")),
        (place, None) => Ok((place.clone().unwrap_or_default(), String::new())),
    }
}

/// Refuses an instrument that cannot show what is to be read.
fn can_measure(session: &Session, job: &Job, instrument: &str) -> Result<(), Failure> {
    let there = job.instruments.iter().find(|i| i.name == instrument);
    let Some((walk, instrument)) = session.walk().zip(there) else {
        return Ok(());
    };
    Ok(measured::can_measure(walk, instrument)?)
}

impl Kept<'_> {
    /// Walks, and signs what is closed.
    async fn go(
        &self,
        mut identifying: Identifying,
        journal: &mut Journal<Event>,
        meter: Option<&mut Meter>,
        said: &mut UnboundedReceiver<Said>,
    ) -> Result<u8, Failure> {
        let in_place = input::is_interactive() && !self.plain && !self.json;
        let mut on_errors = Plain::new(std::io::stderr(), false);
        let mut on_output = Plain::new(std::io::stdout(), in_place);
        let engineer: &mut dyn Engineer = if self.json { &mut on_errors } else { &mut on_output };
        match walked::go(&mut identifying, journal, meter, (said, None), engineer).await? {
            Stop::Closed => self.finish(identifying.session(), said).await,
            stop => self.broken_off(stop, identifying.session()),
        }
    }

    fn broken_off(&self, stop: Stop, session: &Session) -> Result<u8, Failure> {
        let why = walked::stopped(stop);
        let done = session.answers;
        let Some((file, _)) = &self.file else {
            let failure = Failure::refused(format!("{why} after {done} answers, before everything was known"));
            let exit = if stop == Stop::Interrupted { INTERRUPTED } else { FOUND };
            return Err(Failure { exit, ..failure }.hint(
                "start again and type the same answers; the labels on the cores still hold. `--out FILE` keeps them",
            ));
        };
        complain!("\n{why}; everything answered so far is kept");
        complain!(" next: coreproof identify --resume {}", file.display());
        Ok(INTERRUPTED)
    }

    /// Prints what it came to, signs it and writes the job.
    async fn finish(&self, session: &Session, said: &mut UnboundedReceiver<Said>) -> Result<u8, Failure> {
        let told = session.told().expect("a closed identification came to something");
        if self.json {
            told::print_json(session, &told);
        } else {
            told::print(session, &told);
        }
        if let Some((file, home)) = &self.file {
            sign(file, home, said).await?;
            say!("Signed: {} with {} beside it.", file.display(), beside(file).display());
        }
        if let Some(path) = self.job_out {
            self.write_job(path, session)?;
        }
        Ok(if told.is_sound() { PASSED } else { FOUND })
    }

    fn write_job(&self, path: &Path, session: &Session) -> Result<(), Failure> {
        let named = session.cores_told().map(|told| told.named).unwrap_or_default();
        let (Some(job), false) = (&session.job, named.is_empty()) else {
            say!("No job was written: no core of it was named.");
            return Ok(());
        };
        let text =
            naming::renamed(job, &named).map_err(|(text, problems)| Failure::findings(text.findings(problems)))?;
        write_new(path, text.text.as_bytes())?;
        say!(
            "Wrote {}: the job with its cores named by their labels.",
            path.display()
        );
        if let Some((file, _)) = &self.file {
            say!(
                " next: coreproof run SEQUENCE --job {} --identified {}",
                path.display(),
                file.display()
            );
        }
        Ok(())
    }
}

/// Signs a closed file; it is examined first, as whoever gets it will.
async fn sign(file: &Path, home: &Home, said: &mut UnboundedReceiver<Said>) -> Result<(), Failure> {
    let then = format!(
        "it is closed and kept; sign it with `coreproof identify --resume {}`",
        file.display()
    );
    let key = unlock(home, said).await.map_err(|failure| later(failure, &then))?;
    sign_beside(file, &*key).map_err(|refusal| later(refusal.into(), &then))
}

/// Whether readings of the meter count by time: those of one that sends on change are typed, and only a voltage of it is heard.
fn counts(named: Option<&meter::Named>) -> bool {
    named.is_some_and(|named| !named.instrument.on_change)
}
