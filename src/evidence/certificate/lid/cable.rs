//! What one record proves of its cable.
//!
//! The rule inside: a record that failed, was abandoned or is not the last word on its cable proves nothing here, whatever single steps of it
//! passed.

use serde::Serialize;

use super::follows::{self, ControlRow};
use super::proved::why_not;
use crate::evidence::certificate::page::Clock;
use crate::job::{Core, End};
use crate::judge::window::Outcome;
use crate::run::event::Ending;
use crate::run::fold::Run;

/// The record that a cable is told from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct RecordLine {
    /// Its run.
    pub run: String,
    /// SHA-256 of its bytes, in hexadecimal.
    pub sha256: String,
    /// The day on which it was closed, local where the job states the offset.
    pub day: String,
    /// Who signed.
    pub engineer: String,
    /// The sequence that was walked.
    pub sequence: String,
}

/// A core and its terminals at both ends.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Held {
    /// The cable, by its name on site.
    pub cable: String,
    /// The end where the terminal is.
    #[serde(skip)]
    pub end: End,
    /// What that end is called.
    pub at: String,
    /// The terminal.
    pub terminal: String,
    /// The core, with the colour of its sleeve; none where it was not proved to be there.
    pub core: Option<String>,
    /// What it carries, in words; none where the core was not proved.
    pub carries: Option<String>,
    /// Its terminal at the other end; none where it was not proved to be in that.
    pub to: Option<String>,
    /// Why the core, or its other terminal, is left blank.
    pub not_proved: Option<String>,
}

/// A cable of the place, as far as its record proves it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CableSheet {
    /// Its name on site.
    pub name: String,
    /// What its near end is called; none where nothing is known of it.
    pub near: Option<String>,
    /// What its far end is called.
    pub far: Option<String>,
    /// Its record; none where it has none.
    pub record: Option<RecordLine>,
    /// The newest record since, of a run that opened nothing; none where there is none.
    pub since: Option<RecordLine>,
    /// Why nothing of it is proved; none where something is.
    pub blank: Option<String>,
    /// The terminals of the near end, in the job's order.
    pub terminals: Vec<String>,
    /// Each core at each end, the near end first.
    pub held: Vec<Held>,
    /// Its controls.
    pub controls: Vec<ControlRow>,
}

impl CableSheet {
    /// Of the newest record of a cable; `overtaken` says why that is not the last word on it, where it is not.
    pub fn of(run: &Run, sha256: &str, overtaken: Option<String>) -> CableSheet {
        let job = &run.plan.job;
        let blank = overtaken.or_else(|| why_blank(run));
        let held = |end: End| {
            let blank = &blank;
            job.cores.iter().map(move |core| match blank {
                Some(why) => empty(run, core, end, why),
                None => held(run, core, end),
            })
        };
        let controls = match &blank {
            Some(why) => job
                .controls()
                .into_iter()
                .map(|control| ControlRow::blank(job, control, why))
                .collect(),
            None => follows::rows(run),
        };
        CableSheet {
            name: job.cable.clone(),
            near: Some(job.near.name.clone()),
            far: Some(job.far.name.clone()),
            record: Some(record(run, sha256)),
            since: None,
            terminals: job
                .near
                .terminals
                .iter()
                .map(|terminal| terminal.name.clone())
                .collect(),
            held: End::BOTH.into_iter().flat_map(held).collect(),
            controls,
            blank,
        }
    }

    /// A cable of which there is no record.
    pub fn without_record(name: &str, why: &str) -> CableSheet {
        CableSheet {
            name: name.to_owned(),
            near: None,
            far: None,
            record: None,
            since: None,
            blank: Some(why.to_owned()),
            terminals: Vec::new(),
            held: Vec::new(),
            controls: Vec::new(),
        }
    }

    /// The same where a run since opened nothing: this is still the word on the terminals, and the later one is named beside it.
    pub fn with_since(self, since: Option<RecordLine>) -> CableSheet {
        CableSheet { since, ..self }
    }

    /// Whether nothing of it is left blank.
    pub fn is_whole(&self) -> bool {
        self.blank.is_none()
            && self.held.iter().all(|held| held.not_proved.is_none())
            && self.controls.iter().all(|control| control.not_proved.is_empty())
    }
}

/// Why a whole record proves nothing here.
fn why_blank(run: &Run) -> Option<String> {
    match (&run.ending, run.outcome()) {
        (Some((Ending::Abandoned(reason), _)), _) => Some(format!("its run was abandoned: {reason}")),
        (Some(_), Outcome::Fail) => Some("its record failed".into()),
        (None, _) => Some("its run is not closed".into()),
        (Some(_), _) => None,
    }
}

fn record(run: &Run, sha256: &str) -> RecordLine {
    let closed = run.ending.as_ref().map_or(run.opened_at, |(_, at)| *at);
    let clock = Clock::of(run);
    RecordLine {
        run: run.opened.run.to_string(),
        sha256: sha256.to_owned(),
        day: clock.day(closed),
        engineer: run.plan.job.engineer.clone(),
        sequence: run.plan.name.clone(),
    }
}

fn empty(run: &Run, core: &Core, end: End, why: &str) -> Held {
    let job = &run.plan.job;
    Held {
        cable: job.cable.clone(),
        end,
        at: job.end(end).name.clone(),
        terminal: core.terminal(end).to_owned(),
        core: None,
        carries: None,
        to: None,
        not_proved: Some(why.to_owned()),
    }
}

fn held(run: &Run, core: &Core, end: End) -> Held {
    let job = &run.plan.job;
    if let Some(why) = why_not(run, core, end) {
        return empty(run, core, end, &why);
    }
    let other = match end {
        End::Near => End::Far,
        End::Far => End::Near,
    };
    let why = why_not(run, core, other);
    Held {
        core: Some(match &core.sleeve {
            Some(sleeve) => format!("{}, sleeve {sleeve}", core.name),
            None => core.name.clone(),
        }),
        carries: Some(core.carries.words().to_owned()),
        to: why
            .is_none()
            .then(|| format!("{} at the {}", core.terminal(other), job.end(other).name)),
        not_proved: why,
        ..empty(run, core, end, "")
    }
}
