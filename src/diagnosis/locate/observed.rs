//! What was seen: readings and answers, each at the step that it belongs to.
//!
//! The rule inside: an observation says what the display proves and no more: digits to half their last place, over-range a
//! lower edge. What a later event made void is not evidence.

use std::collections::BTreeSet;

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use thiserror::Error;

use crate::diagnosis::coverage::unwalked;
use crate::explain::Explain;
use crate::job::Purpose;
use crate::judge::window::Outcome;
use crate::model::meter::leads_ohms;
use crate::model::probes::lights_from;
use crate::model::walked::needed_where_sound;
use crate::plan::{Kind, Leads, Measure, Plan, Timing, reads_live_as_found};
use crate::run::engine::answer;
use crate::run::event::Answer;
use crate::run::fold::{Attempt, Evidence, Run};
use crate::value::quantity::{Shown, Unit};
use crate::value::reading::{Function, Reading};
use crate::value::slip::prefix_slipped;

/// Above this, no low-voltage installation delivers, in volts (the upper limit of low voltage, a.c.).
const VOLTS_MAX: Decimal = Decimal::ONE_THOUSAND;

/// What an observation proves.
#[derive(Debug, Clone, PartialEq)]
pub enum Seen {
    /// The value at the instrument's terminals, in ohms, volts or seconds, lies between these.
    Between {
        /// The least it can be.
        low: f64,
        /// The greatest it can be; infinite for an over-range.
        high: f64,
    },
    /// The indicator lit, or stayed dark.
    Lit {
        /// Which of the two.
        lit: bool,
        /// Volts from which it is said to be lit at this step.
        from: f64,
    },
    /// The terminal that the core went into is marked for this.
    Marked(Purpose),
    /// These words of the step were seen.
    Words(BTreeSet<String>),
    /// Something was found for which the step has no word, and which it does not want.
    Found,
}

impl Seen {
    /// What one of the last digits of the display is worth; zero where it showed none.
    pub(super) fn last_digit(&self) -> f64 {
        match self {
            // a display of nothing proves half a digit on one side
            Seen::Between { low: 0.0, high } if high.is_finite() => 2.0 * high,
            Seen::Between { low, high } if high.is_finite() => high - low,
            _ => 0.0,
        }
    }
}

/// One observation.
#[derive(Debug, Clone, PartialEq)]
pub struct Observation {
    /// Place of the step in the plan.
    pub step: usize,
    /// What that proves.
    pub seen: Seen,
    /// As it was shown or answered.
    pub words: String,
    /// The verdict of the step; `None` where it was not judged.
    pub outcome: Option<Outcome>,
}

impl Observation {
    /// Whether the step failed.
    pub fn failed(&self) -> bool {
        self.outcome == Some(Outcome::Fail)
    }
}

/// Everything that was seen in one run.
#[derive(Debug, Clone, PartialEq)]
pub struct Observed {
    /// The plan that the observations are of.
    pub plan: Plan,
    /// In the order of the plan, at most one for each step.
    pub list: Vec<Observation>,
    /// Steps that did not pass and whose answer says nothing of the wiring, with what was said of each.
    pub left: Vec<(usize, String)>,
    /// Whether the supply is on now.
    pub energised: bool,
    /// For each step of the plan whether it was done.
    pub needed: Vec<bool>,
    /// For each step of the plan the seconds since the one before it, as the record says; zero where nobody knows.
    pub took: Vec<f64>,
}

/// What is wrong with readings that were typed in.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum TypedError {
    /// A line that is no step with a reading.
    #[error("line {line}: `{text}` has no colon between step and reading")]
    NoColon {
        /// The line, from 1.
        line: usize,
        /// The line as it was typed.
        text: String,
    },
    /// A step that the plan does not have.
    #[error("line {line}: the plan has no step `{step}`")]
    UnknownStep {
        /// The line, from 1.
        line: usize,
        /// The step as it was typed.
        step: String,
        /// Steps with names near it.
        like: Vec<String>,
    },
    /// A step at which an act is done and nothing is seen.
    #[error("line {line}: nothing is seen at `{step}`")]
    NothingSeen {
        /// The line, from 1.
        line: usize,
        /// The step.
        step: String,
    },
    /// What was typed is no reading or answer of its step.
    #[error("line {line}: {why}")]
    NotUnderstood {
        /// The line, from 1.
        line: usize,
        /// What was expected.
        why: String,
    },
    /// A reading that nothing can show, such as a resistance below zero.
    #[error("line {line}: `{reading}` at `{step}` cannot be: {why}")]
    Impossible {
        /// The line, from 1.
        line: usize,
        /// The step.
        step: String,
        /// The reading as it was understood.
        reading: String,
        /// Why it cannot be.
        why: &'static str,
    },
    /// A step with two readings, of which only one can stand.
    #[error("line {line}: `{step}` is given twice")]
    Twice {
        /// The line of the second one, from 1.
        line: usize,
        /// The step.
        step: String,
    },
}

impl Explain for TypedError {
    fn hint(&self) -> Option<String> {
        Some(match self {
            TypedError::NoColon { .. } => "write a line a reading: `continuity/grey: 0.66 ohm`".into(),
            TypedError::UnknownStep { like, .. } if !like.is_empty() => {
                format!("steps like it are {}", like.join(", "))
            }
            TypedError::UnknownStep { .. } => "`coreproof plan` lists the steps".into(),
            TypedError::NothingSeen { .. } => "leave the line out: only readings and answers are evidence".into(),
            TypedError::NotUnderstood { .. } => "type what the display showed, or what was answered".into(),
            TypedError::Impossible { .. } => {
                "look at the display again: prefix, sign, the position of the dial, the probes".into()
            }
            TypedError::Twice { .. } => "keep the later one, if nothing was changed between them".into(),
        })
    }
}

impl Observed {
    /// What stands in a run: every reading and answer that nothing made void since.
    pub fn of(run: &Run) -> Observed {
        let null = |leads| run.null(leads);
        let mut left = Vec::new();
        // what was read as found is of another state once something was mended, or shown sound since
        let is_past = |step: &usize| {
            let planned = &run.plan.steps[*step];
            run.is_past(*step) || (reads_live_as_found(planned) && !run.repairs.is_empty())
        };
        let standing = (0..run.steps.len()).filter(|step| !is_past(step)).filter_map(|step| {
            let attempt = run.standing(step)?;
            let outcome = attempt.verdict.outcome;
            // a reading that came too early or too late is of another state than the step asks for
            let in_time =
                outcome != Outcome::NotTested || run.plan.steps[step].timing().is_none_or(|t| *t == Timing::Any);
            let seen = in_time
                .then(|| observation(&run.plan, step, &attempt.evidence, &null))
                .flatten();
            if seen.is_none() && outcome != Outcome::Pass {
                left.push((step, attempt.verdict.because.clone()));
            }
            Some(Observation {
                outcome: Some(outcome),
                ..seen?
            })
        });
        let list: Vec<Observation> = standing.collect();
        let (needed, took) = done(run);
        Observed {
            list,
            left,
            energised: run.hands.supply == crate::plan::Supply::SwitchedOn,
            needed,
            took,
            plan: Plan::clone(&run.plan),
        }
    }

    /// What was typed, a line an observation: the step, a colon, the reading or answer. Empty lines and those that begin
    /// with `#` are left out.
    ///
    /// # Errors
    /// [`TypedError`], at the first line that is wrong.
    pub fn typed(plan: Plan, text: &str) -> Result<Observed, TypedError> {
        let mut read: Vec<(usize, usize, Evidence)> = Vec::new();
        for (at, text) in text.lines().enumerate() {
            let (line, text) = (at + 1, text.trim());
            if text.is_empty() || text.starts_with('#') {
                continue;
            }
            let (id, said) = text.split_once(':').ok_or_else(|| TypedError::NoColon {
                line,
                text: text.to_owned(),
            })?;
            let step = plan.index(id.trim()).ok_or_else(|| unknown(&plan, line, id.trim()))?;
            if read.iter().any(|(_, there, _)| *there == step) {
                return Err(TypedError::Twice {
                    line,
                    step: id.trim().to_owned(),
                });
            }
            read.push((line, step, understood(&plan, line, step, said.trim())?));
        }
        read.sort_by_key(|(_, step, _)| *step);
        let null = |leads| null_of(&plan, leads, &read);
        let outcomes = judged(&plan, &read);
        let list = read.iter().zip(outcomes).filter_map(|((_, step, evidence), outcome)| {
            let seen = observation(&plan, *step, evidence, &null)?;
            Some(Observation { outcome, ..seen })
        });
        let list = list.collect();
        let mut needed = needed_where_sound(&plan);
        read.iter().for_each(|(_, step, _)| needed[*step] = true);
        Ok(Observed {
            list,
            left: Vec::new(),
            energised: false,
            needed,
            took: vec![0.0; plan.steps.len()],
            plan,
        })
    }
}

/// Which steps of a run were done, and how long after the one before.
fn done(run: &Run) -> (Vec<bool>, Vec<f64>) {
    let mut needed = needed_where_sound(&run.plan);
    let mut took = vec![0.0; needed.len()];
    let mut before = run.opened_at;
    for step in 0..needed.len() {
        let Some(attempt) = run.standing(step) else { continue };
        needed[step] = attempt.evidence != Evidence::Answer(Answer::NotNeeded);
        // a step that was done again later leaves no time between
        took[step] = attempt.at.duration_since(before).as_secs_f64().max(0.0);
        before = before.max(attempt.at);
    }
    (needed, took)
}

fn unknown(plan: &Plan, line: usize, id: &str) -> TypedError {
    let name = id.split('/').next().unwrap_or_default();
    let like = plan.steps.iter().filter(|step| step.id.split('/').next() == Some(name));
    TypedError::UnknownStep {
        line,
        step: id.to_owned(),
        like: like.map(|step| format!("`{}`", step.id)).take(6).collect(),
    }
}

fn understood(plan: &Plan, line: usize, step: usize, said: &str) -> Result<Evidence, TypedError> {
    let at = &plan.steps[step];
    let not_understood = |why: String| TypedError::NotUnderstood { line, why };
    match &at.kind {
        Kind::Do | Kind::Gate | Kind::Note { .. } => Err(TypedError::NothingSeen {
            line,
            step: at.id.clone(),
        }),
        Kind::Look(look) => answer::look(said, look).map(Evidence::Answer).map_err(not_understood),
        Kind::Indicator { .. } => match said {
            "lit" => Ok(Evidence::Answer(Answer::Lit)),
            "dark" => Ok(Evidence::Answer(Answer::Dark)),
            _ => Err(not_understood(format!("`{said}` is neither `lit` nor `dark`"))),
        },
        Kind::Connect { .. } => Purpose::typed(said)
            .map(|purpose| Evidence::Answer(Answer::For(purpose)))
            .ok_or_else(|| not_understood(format!("`{said}` is not what a terminal can be for"))),
        Kind::Measure(measure) => {
            let reading = Reading::typed(said, measure.used.function).map_err(not_understood)?;
            if prefix_slipped(&reading, measure.used.function) {
                let what = format!("`{said}` has a prefix that no display shows there: look at it, large or small");
                return Err(not_understood(what));
            }
            let volts = reading.amount().filter(|amount| amount.unit == Unit::Volt);
            let impossible = |why| TypedError::Impossible {
                line,
                step: at.id.clone(),
                reading: reading.display(),
                why,
            };

            if volts.is_some_and(|volts| VOLTS_MAX < volts.value()) {
                return Err(impossible("no low-voltage supply delivers as much"));
            }
            Ok(Evidence::Reading(reading))
        }
    }
}

/// The verdict on each line that was typed, where the others give what it is judged by.
fn judged(plan: &Plan, read: &[(usize, usize, Evidence)]) -> Vec<Option<Outcome>> {
    let mut run = unwalked(plan);
    let mut outcomes = Vec::new();
    for (_, step, evidence) in read {
        let at = run.opened_at;
        let verdict = run.judged(*step, evidence, at);
        // when it was read nobody typed, so only a plain pass or failure counts
        outcomes.push(Some(verdict.outcome).filter(|outcome| *outcome != Outcome::NotTested));
        run.steps[*step]
            .attempts
            .push(Attempt::new(at, evidence.clone(), verdict));
    }
    outcomes
}

/// The resistance of a set of leads among what was typed, or that of leads in good order.
fn null_of(plan: &Plan, leads: Leads, read: &[(usize, usize, Evidence)]) -> Decimal {
    let usual = Decimal::try_from(leads_ohms(leads)).expect("a small decimal");
    let is_of = |measure: &Measure| measure.is_null && measure.probes.leads() == leads;
    let typed = read
        .iter()
        .find_map(|(_, step, evidence)| match (&plan.steps[*step].kind, evidence) {
            (Kind::Measure(measure), Evidence::Reading(reading)) if is_of(measure) => reading.amount(),
            _ => None,
        });
    typed.map_or(usual, |amount| amount.value())
}

fn observation(plan: &Plan, step: usize, evidence: &Evidence, null: &impl Fn(Leads) -> Decimal) -> Option<Observation> {
    let (seen, words) = match (&plan.steps[step].kind, evidence) {
        (Kind::Indicator { lit: wanted, .. }, Evidence::Answer(answer)) => {
            let from = lights_from(&plan.job, *wanted);
            match answer {
                Answer::Lit => (Seen::Lit { lit: true, from }, "lit".to_owned()),
                Answer::Dark => (Seen::Lit { lit: false, from }, "dark".to_owned()),
                _ => return None,
            }
        }
        (Kind::Connect { .. }, Evidence::Answer(Answer::For(purpose))) => {
            (Seen::Marked(*purpose), purpose.words().to_owned())
        }
        (Kind::Look(_), Evidence::Answer(Answer::Saw(words))) => {
            (Seen::Words(words.iter().cloned().collect()), listed(words))
        }
        (Kind::Look(_), Evidence::Answer(Answer::Found(text))) => (Seen::Found, text.clone()),
        (Kind::Measure(measure), Evidence::Reading(reading)) if !measure.is_null => (
            between(measure, reading, null(measure.probes.leads()))?,
            reading.display(),
        ),
        _ => return None,
    };
    Some(Observation {
        step,
        seen,
        words,
        outcome: None,
    })
}

/// Words that were seen, for a person.
pub(super) fn listed(words: &[String]) -> String {
    match words {
        [] => "nothing".into(),
        words => words.join(", "),
    }
}

/// What a reading proves of the value at the instrument's terminals; `None` where it proves nothing.
fn between(measure: &Measure, reading: &Reading, null: Decimal) -> Option<Seen> {
    if reading.unit != measure.used.function.unit() || reading.function.is_some_and(|f| f != measure.used.function) {
        return None;
    }
    let float = |value: Decimal| value.to_f64().expect("every decimal has a nearest float");
    let factor = reading.prefix.factor();
    let leads = match measure.used.function {
        Function::Continuity | Function::Resistance if !measure.used.nulls => null,
        _ => Decimal::ZERO,
    };
    let from = |low: Decimal| Seen::Between {
        low: float(low),
        high: f64::INFINITY,
    };
    Some(match &reading.shown {
        Shown::Digits(digits) => {
            let (value, half) = (
                digits.value() * factor - leads,
                digits.last_digit() * factor / Decimal::TWO,
            );
            Seen::Between {
                low: float(value - half).max(0.0),
                high: float(value + half).max(0.0),
            }
        }
        Shown::Above(digits) => from(digits.value() * factor),
        Shown::Over => from(measure.used.ceiling.as_ref()?.value()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::sample::plan;

    #[test]
    fn readings_prove_what_their_digits_say() {
        let text = "# a comment\n\nlead-null: 0.05\ncontinuity/brown: 0.66 ohm\ncontinuity/grey: OL\ninsulation/brown: >299\n\
                    dead-near/earth-line: dark\nconnect-near/grey: neutral\n";
        let observed = Observed::typed(plan(), text).unwrap();
        let seen: Vec<_> = observed
            .list
            .iter()
            .map(|there| (there.words.as_str(), there.seen.clone()))
            .collect();
        let between = |low, high| Seen::Between { low, high };
        assert_eq!(
            seen,
            [
                ("dark", Seen::Lit { lit: false, from: 50.0 }),
                ("0.66 ohm", between(0.605, 0.615)),
                ("OL (ohm)", between(1999.0, f64::INFINITY)),
                (">299 Mohm", between(299e6, f64::INFINITY)),
                ("neutral", Seen::Marked(Purpose::Neutral)),
            ]
        );
    }

    #[test]
    fn what_is_wrong_with_a_line_is_said() {
        let check = |text: &str, expected: &str, hint: &str| {
            let error = Observed::typed(plan(), text).unwrap_err();
            assert_eq!(
                (error.to_string().as_str(), error.hint().as_deref()),
                (expected, Some(hint))
            );
        };
        check(
            "continuity/grey 0.66",
            "line 1: `continuity/grey 0.66` has no colon between step and reading",
            "write a line a reading: `continuity/grey: 0.66 ohm`",
        );
        check(
            "\ncontinuity/pink: 0.66",
            "line 2: the plan has no step `continuity/pink`",
            "steps like it are `continuity/brown`, `continuity/black`, `continuity/grey`, `continuity/black/with grey`",
        );
        check(
            "gremlin: 1",
            "line 1: the plan has no step `gremlin`",
            "`coreproof plan` lists the steps",
        );
        check(
            "switch-off: done",
            "line 1: nothing is seen at `switch-off`",
            "leave the line out: only readings and answers are evidence",
        );
        check(
            "indicator-first: on",
            "line 1: `on` is neither `lit` nor `dark`",
            "type what the display showed, or what was answered",
        );
        check(
            "feed: -230",
            "line 1: `-230` is below zero, which no a.c. voltage is; type what the display shows, in V, for example `230.4`",
            "type what the display showed, or what was answered",
        );
        let below = Observed::typed(plan(), "continuity/grey: -0.3")
            .unwrap_err()
            .to_string();
        assert!(
            below.starts_with("line 1: `-0.3` is below zero, which no resistance is"),
            "{below}"
        );
        check(
            "feed: 1200 V",
            "line 1: `1200 V` at `feed` cannot be: no low-voltage supply delivers as much",
            "look at the display again: prefix, sign, the position of the dial, the probes",
        );
        check(
            "feed: 231 V\nfeed: 229 V",
            "line 2: `feed` is given twice",
            "keep the later one, if nothing was changed between them",
        );
    }
}
