//! One record examined from itself alone.
//!
//! The rule inside: whatever the record says of itself is made again and compared; every difference is a remark, and the
//! examination goes on as far as it can.

use super::identified::examine_carried;
use crate::evidence::journal::{self, Line};
use crate::evidence::keys::{self, PublicKey};
use crate::located::Text;
use crate::meter::decode::Profile;
use crate::meter::decode::decode_raw;
use crate::plan::Kind;
use crate::run::event::{Event, PROGRAM};
use crate::run::fold::Run;
use crate::value::reading::{Function, Origin, Reading};

/// What a remark is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Concern {
    Signature,
    Chain,
    /// The carried sequence, job, profile or edition cannot be used.
    Text,
    /// An event that the run could not have come to.
    Order,
    /// A reading that its raw bytes or typed line do not give.
    Reading,
    /// A verdict that the evidence does not give.
    Verdict,
    /// The record does not end as a closed run.
    Ending,
    Clock,
}

impl Concern {
    /// The word in tables.
    pub fn word(self) -> &'static str {
        match self {
            Concern::Signature => "signature",
            Concern::Chain => "chain",
            Concern::Text => "carried files",
            Concern::Order => "order",
            Concern::Reading => "reading",
            Concern::Verdict => "verdict",
            Concern::Ending => "ending",
            Concern::Clock => "clock",
        }
    }
}

/// One thing that does not agree.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Remark {
    pub concern: Concern,
    /// Line of the record, counted from 1; 0 for the record as a whole.
    pub line: u64,
    pub what: String,
}

impl Remark {
    /// Whether it speaks against the record. A clock that stepped back is on the record and in its limitations.
    pub fn is_against(&self) -> bool {
        self.concern != Concern::Clock
    }

    /// The remark with its place in words.
    pub fn words(&self) -> String {
        let place = if self.line == 0 {
            String::new()
        } else {
            format!("line {}: ", self.line)
        };
        format!("{place}{}", self.what)
    }
}

/// What the examination came to.
#[derive(Debug)]
pub struct Examined {
    /// The key that signed, where the signature is good.
    pub signer: Option<PublicKey>,
    /// The run, as far as the record could be read.
    pub run: Option<Run>,
    pub remarks: Vec<Remark>,
}

/// Examines a record and its signature; `expected` pins the key.
pub fn examine(record: &[u8], signature: &str, expected: Option<&PublicKey>) -> Examined {
    let mut remarks = Vec::new();
    let mut remark = |concern, line, what: String| remarks.push(Remark { concern, line, what });
    let signer = match keys::verify(record, signature, expected) {
        Ok(key) => Some(key),
        Err(error) => {
            remark(Concern::Signature, 0, error.to_string());
            None
        }
    };
    let lines: Vec<Line<Event>> = match journal::parse(record) {
        Ok(lines) => lines,
        Err(error) => {
            remark(Concern::Chain, 0, error.to_string());
            return Examined {
                signer,
                run: None,
                remarks,
            };
        }
    };
    for step in journal::clock_steps_back(&lines) {
        remark(
            Concern::Clock,
            step.n + 1,
            format!("the clock stepped back from {} to {}", step.before, step.at),
        );
    }
    let run = fold(&lines, &mut remark);
    Examined { signer, run, remarks }
}

fn fold(lines: &[Line<Event>], remark: &mut impl FnMut(Concern, u64, String)) -> Option<Run> {
    let Some((first, rest)) = lines.split_first() else {
        remark(Concern::Ending, 0, "the record is empty".into());
        return None;
    };
    let Event::Opened(opened) = &first.event else {
        remark(Concern::Order, 1, "the record does not begin with its opening".into());
        return None;
    };
    let profiles = profiles_of(&opened.profiles, remark);
    let mut run = match Run::open((**opened).clone(), first.at) {
        Ok(run) => run,
        Err(findings) => {
            for finding in findings {
                remark(
                    Concern::Text,
                    1,
                    format!("{}: {}", finding.text.name, finding.problem.what),
                );
            }
            return None;
        }
    };
    if let Some(identified) = &opened.identified {
        for found in examine_carried(identified, &run.plan.job).1 {
            remark(found.concern, found.line, found.what);
        }
    }
    if run.plan.job.limits.edition != opened.edition {
        remark(
            Concern::Text,
            1,
            format!("the record names the edition `{}`, its job another", opened.edition),
        );
    }
    for line in rest {
        match &line.event {
            Event::Taken { step, reading } => {
                if let Err(what) = same_reading(&run, step, reading, &profiles) {
                    remark(Concern::Reading, line.n + 1, format!("`{step}`: {what}"));
                }
            }
            Event::LiveSeen { step, reading } => {
                if let Err(what) = from_source(reading, Function::VoltageAc, &profiles) {
                    remark(Concern::Reading, line.n + 1, format!("`{step}`: {what}"));
                }
            }
            Event::Judged { step, verdict } => {
                if let Some((index, evidence, at)) = run.awaiting_verdict() {
                    let again = run.judged(index, evidence, at);
                    // another version may put the reason into other words; outcome and value it may not change
                    let same_words = opened.program != PROGRAM || again.because == verdict.because;
                    if again.outcome != verdict.outcome || again.value != verdict.value || !same_words {
                        let what = format!(
                            "`{step}`: recorded as {} ({}), judged again as {} ({})",
                            verdict.outcome.word(),
                            verdict.because,
                            again.outcome.word(),
                            again.because
                        );
                        remark(Concern::Verdict, line.n + 1, what);
                    }
                }
            }
            _ => {}
        }
        if let Err(what) = run.apply(line.at, &line.event) {
            remark(Concern::Order, line.n + 1, what);
            return Some(run);
        }
    }
    if run.ending.is_none() {
        remark(Concern::Ending, lines.len() as u64, "the run is not closed".into());
    }
    Some(run)
}

pub(super) fn profiles_of(profiles: &[Text], remark: &mut impl FnMut(Concern, u64, String)) -> Vec<Profile> {
    let mut read = Vec::new();
    for carried in profiles {
        match Profile::read(&carried.text) {
            Ok(profile) => read.push(profile),
            Err(problems) => {
                for problem in problems {
                    remark(
                        Concern::Text,
                        1,
                        format!("profile `{}`: {}", carried.name, problem.what),
                    );
                }
            }
        }
    }
    read
}

/// Makes the reading of a step again from what it says it came from.
fn same_reading(run: &Run, step: &str, reading: &Reading, profiles: &[Profile]) -> Result<(), String> {
    let function = run.plan.index(step).and_then(|i| match &run.plan.steps[i].kind {
        Kind::Measure(m) => Some(m.used.function),
        _ => None,
    });
    from_source(
        reading,
        function.ok_or("a reading at a step that measures nothing")?,
        profiles,
    )
}

/// Compares a reading with what its raw bytes, or its typed line read for this function, give.
pub(super) fn from_source(reading: &Reading, function: Function, profiles: &[Profile]) -> Result<(), String> {
    let again = match &reading.origin {
        Origin::Meter { profile, raw, contact } => {
            let profile = profiles
                .iter()
                .find(|p| p.name == profile.as_str())
                .ok_or_else(|| format!("the profile `{}` is not carried in the record", profile.as_str()))?;
            // how the contact was known is not in the meter's bytes
            decode_raw(profile, raw)
                .map_err(|error| error.to_string())?
                .with_contact(*contact)
        }
        Origin::Typed { text } => Reading::typed(text, function)?,
    };
    if again == *reading {
        Ok(())
    } else {
        Err(format!(
            "recorded as {}, its source gives {}",
            reading.display(),
            again.display()
        ))
    }
}
