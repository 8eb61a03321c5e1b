//! The runs that are not yet sealed: what each came to so far, and which of them a name means.
//!
//! The rule inside: they are looked at and never opened, so that listing them neither waits for a run that goes on elsewhere nor changes it.

use std::path::{Path, PathBuf};

use jiff::{SignedDuration, Timestamp};

use super::error::Failure;
use super::home::Home;
use crate::evidence::{carried_files, journal, peek};
use crate::job::{Instrument, Job};
use crate::plan::{Act, Kind, Supply};
use crate::run::event::Answer;
use crate::run::fold::{Attempt, Evidence, Run};

/// Most runs that are looked into; a folder that holds more still lists them by their ids.
const LOOKED_INTO_MAX: usize = 100;

/// A run that is not yet sealed.
#[derive(Debug)]
pub(super) struct Unfinished {
    /// Its id, after which its journal is named.
    pub id: String,
    pub path: PathBuf,
    /// What it came to so far, or why that cannot be told.
    pub told: Result<Told, String>,
}

/// What an unfinished run came to so far, in words.
#[derive(Debug)]
pub(super) struct Told {
    pub place: String,
    pub part: String,
    pub cable: String,
    /// The step it stands at.
    pub step: String,
    /// What was read or answered last, and where.
    pub last: String,
    /// When its last line was written.
    pub at: Timestamp,
    /// Voltage that was seen where everything had been proved dead, or that may stand there now.
    pub voltage: Option<String>,
    pub instruments: Vec<Instrument>,
    /// From where its cable is fed.
    pub supply: String,
    /// It rests on the lock of another run.
    pub rests: bool,
    /// It has switched the supply on, or is about to.
    pub is_on: bool,
}

impl Told {
    /// Whether it is of this cable, at a place that is written with its part.
    pub(super) fn is_of(&self, place: &str, cable: &str) -> bool {
        format!("{}, {}", self.place, self.part) == place && self.cable == cable
    }

    /// Whether it is of the same place and supply as a job.
    pub(super) fn is_behind(&self, job: &Job) -> bool {
        (&self.place, &self.part, &self.supply) == (&job.place.name, &job.place.part, &job.supply.from)
    }
}

/// All of them, and the files in the folder in which no run began.
#[derive(Debug)]
pub(super) struct All {
    pub runs: Vec<Unfinished>,
    never_began: Vec<PathBuf>,
}

impl All {
    /// Looks at every journal of the home; oldest first, since ids sort by time.
    pub(super) fn of(home: &Home) -> Result<All, Failure> {
        let folder = home.runs()?;
        let entries = std::fs::read_dir(&folder)
            .map_err(|error| Failure::equipment(format!("`{}` cannot be read: {error}", folder.display())))?;
        let mut ids: Vec<String> = entries
            .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
            .filter_map(|name| name.strip_suffix(".jsonl").map(str::to_owned))
            .collect();
        ids.sort();
        let path = |id: &String| folder.join(format!("{id}.jsonl"));
        let (never_began, begun): (Vec<_>, Vec<_>) = ids.iter().partition(|id| journal::never_began(&path(id)));
        let look = |(n, id): (usize, &&String)| Unfinished {
            id: (*id).clone(),
            path: path(id),
            told: match n < LOOKED_INTO_MAX {
                true => told(&path(id)),
                false => Err(format!(
                    "not looked into: more than {LOOKED_INTO_MAX} runs are unfinished"
                )),
            },
        };
        Ok(All {
            runs: begun.iter().enumerate().map(look).collect(),
            never_began: never_began.into_iter().map(path).collect(),
        })
    }

    /// Those that a name may mean: an id or its beginning, else a place, part or cable, else a piece of one.
    pub(super) fn called(&self, name: &str) -> Vec<&Unfinished> {
        let wanted = name.trim().to_lowercase();
        let by = |fits: &dyn Fn(&Unfinished) -> bool| self.runs.iter().filter(|run| fits(run)).collect::<Vec<_>>();
        let names = |run: &Unfinished, fits: &dyn Fn(&str) -> bool| {
            let told = run.told.as_ref().ok();
            told.is_some_and(|told| {
                [&told.place, &told.part, &told.cable]
                    .iter()
                    .any(|name| fits(&name.to_lowercase()))
            })
        };
        let mut found = by(&|run| run.id.starts_with(&wanted));
        if found.is_empty() {
            found = by(&|run| names(run, &|name| name == wanted));
        }
        if found.is_empty() {
            found = by(&|run| names(run, &|name| name.contains(&wanted)));
        }
        found
    }

    /// Those at the same place and part, on the same cable as this job.
    pub(super) fn on(&self, job: &Job) -> Vec<&Unfinished> {
        let same = |one: &str, other: &str| one.trim().to_lowercase() == other.trim().to_lowercase();
        let on_job = |told: &Told| {
            same(&told.place, &job.place.name) && same(&told.part, &job.place.part) && same(&told.cable, &job.cable)
        };
        let runs = self.runs.iter();
        runs.filter(|run| run.told.as_ref().is_ok_and(on_job)).collect()
    }

    /// What to do about the files that are no runs.
    pub(super) fn to_delete(&self) -> Option<String> {
        let files: Vec<_> = self
            .never_began
            .iter()
            .map(|path| format!("`{}`", path.display()))
            .collect();
        let what = "in which nothing was recorded: no run began there";
        (!files.is_empty()).then(|| format!("delete {}, {what}", files.join(", ")))
    }
}

fn told(path: &Path) -> Result<Told, String> {
    let (run, at) = peek::<Run>(path, carried_files).map_err(|refusal| refusal.to_string())?;
    let step = match (&run.ending, run.undecided().or(run.cursor())) {
        (Some(_), _) => "closed, to be sealed".to_owned(),
        (None, Some(step)) => run.plan.steps[step].id.clone(),
        (None, None) => "to be closed".to_owned(),
    };
    let attempts = run.steps.iter().enumerate();
    let last = attempts
        .flat_map(|(step, state)| state.attempts.iter().map(move |attempt| (step, attempt)))
        .max_by_key(|(step, attempt)| (attempt.at, *step));
    let last = last.map(|(step, attempt)| format!("{} at `{}`", seen(attempt), run.plan.steps[step].id));
    Ok(Told {
        place: run.plan.job.place.name.clone(),
        part: run.plan.job.place.part.clone(),
        cable: run.plan.job.cable.clone(),
        step,
        last: last.unwrap_or_else(|| "nothing yet".to_owned()),
        at,
        voltage: voltage(&run),
        instruments: run.plan.job.instruments.clone(),
        supply: run.plan.job.supply.from.clone(),
        rests: run.opened.rests_on.is_some() && run.ending.is_none(),
        is_on: run.ending.is_none() && is_on(&run),
    })
}

/// Whether a run has switched the supply on, or is asked to.
fn is_on(run: &Run) -> bool {
    let next = run.undecided().or(run.cursor());
    let asked = next.is_some_and(|step| run.plan.steps[step].acts.contains(&Act::Energise));
    run.hands.supply == Supply::SwitchedOn || asked
}

fn seen(attempt: &Attempt) -> String {
    match &attempt.evidence {
        Evidence::Reading(reading) => reading.display(),
        Evidence::Answer(Answer::Lit) => "lit".into(),
        Evidence::Answer(Answer::Dark) => "dark".into(),
        Evidence::Answer(Answer::For(purpose)) => purpose.words().into(),
        Evidence::Answer(Answer::Saw(words)) => words.join(", "),
        Evidence::Answer(Answer::Found(text) | Answer::NotDone(text) | Answer::Note { text, .. }) => text.clone(),
        Evidence::Answer(Answer::Done) => "done".into(),
        Evidence::Answer(Answer::NotNeeded) => "not needed".into(),
        Evidence::Answer(Answer::TakenOver) => "taken over".into(),
    }
}

/// The latest sight of a voltage that should not have been there, else that the supply was left switched on.
fn voltage(run: &Run) -> Option<String> {
    let read = run.live_seen.iter();
    let read = read.map(|(at, step, display)| {
        (
            *at,
            format!("{display} was seen at `{step}`, where all was proved dead"),
        )
    });
    let steps = run.plan.steps.iter().zip(&run.steps);
    let lit = steps
        .filter(|(step, _)| matches!(step.kind, Kind::Indicator { lit: false, .. }))
        .flat_map(|(step, state)| state.attempts.iter().map(move |attempt| (step, attempt)))
        .filter(|(_, attempt)| attempt.evidence == Evidence::Answer(Answer::Lit))
        .map(|(step, attempt)| {
            (
                attempt.at,
                format!("the indicator lit at `{}`, which must be dark", step.id),
            )
        });
    let seen = read.chain(lit).max_by_key(|(at, _)| *at).map(|(_, what)| what);
    let on = (run.ending.is_none() && run.hands.supply == Supply::SwitchedOn)
        .then(|| "it was left with the supply switched on".to_owned());
    match (seen, on) {
        (Some(seen), Some(on)) => Some(format!("{seen}; {on}")),
        (seen, on) => seen.or(on),
    }
}

impl Unfinished {
    /// A row of the table: run, place, cable, step, last seen, age.
    pub(super) fn row(&self, now: Timestamp) -> Vec<String> {
        let short = self.id.clone();
        match &self.told {
            Ok(told) => {
                let place = format!("{}, {}", told.place, told.part);
                vec![
                    place,
                    told.cable.clone(),
                    told.step.clone(),
                    told.last.clone(),
                    age(told.at, now),
                    short,
                ]
            }
            Err(why) => vec![
                why.clone(),
                String::new(),
                String::new(),
                String::new(),
                String::new(),
                short,
            ],
        }
    }

    /// The head of that table.
    pub(super) const HEAD: [&'static str; 6] = ["place", "cable", "at step", "last seen", "left", "run"];
}

/// How long ago, in the greatest unit that says it.
pub(super) fn age(then: Timestamp, now: Timestamp) -> String {
    let since: SignedDuration = now.duration_since(then);
    let minutes = since.as_mins();
    match minutes {
        i64::MIN..0 => "after this computer's clock".into(),
        0 => "just now".into(),
        1..60 => format!("{minutes} min ago"),
        60..2880 => format!("{} h ago", minutes / 60),
        _ => format!("{} days ago", minutes / 1440),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(id: &str, place: &str, cable: &str) -> Unfinished {
        Unfinished {
            id: id.into(),
            path: PathBuf::new(),
            told: Ok(Told {
                place: place.into(),
                part: "clubhouse".into(),
                cable: cable.into(),
                step: "continuity/grey".into(),
                last: "0.62 ohm at `continuity/brown`".into(),
                at: Timestamp::UNIX_EPOCH,
                voltage: None,
                instruments: Vec::new(),
                supply: String::new(),
                rests: false,
                is_on: false,
            }),
        }
    }

    #[test]
    fn a_name_is_an_id_then_a_whole_name_then_a_piece_of_one() {
        let broken = Unfinished {
            told: Err("damaged".into()),
            ..run("0193cc", "", "")
        };
        let all = All {
            runs: vec![
                run("0193aa", "Saltmarsh Sailing Club", "loft"),
                run("0193ab", "Saltmarsh Sailing Club", "sail loft cable"),
                broken,
            ],
            never_began: Vec::new(),
        };
        let check = |name: &str, expected: &[&str]| {
            let found: Vec<_> = all.called(name).iter().map(|run| run.id.as_str()).collect();
            assert_eq!(found, expected, "{name}");
        };
        check("0193a", &["0193aa", "0193ab"]);
        check("0193AB", &["0193ab"]);
        check("0193c", &["0193cc"]);
        check("LOFT", &["0193aa"]);
        check("saltmarsh", &["0193aa", "0193ab"]);
        check("sail", &["0193aa", "0193ab"]);
        check("clubhouse", &["0193aa", "0193ab"]);
        check("galley", &[]);
    }

    #[test]
    fn an_age_is_told_in_one_unit() {
        let check = |seconds: i64, expected: &str| {
            let then = Timestamp::UNIX_EPOCH;
            let now = Timestamp::from_second(seconds).unwrap();
            assert_eq!(age(then, now), expected);
        };
        check(59, "just now");
        check(60, "1 min ago");
        check(3599, "59 min ago");
        check(3600, "1 h ago");
        check(2 * 86400 - 1, "47 h ago");
        check(2 * 86400, "2 days ago");
        check(-60, "after this computer's clock");
    }
}
