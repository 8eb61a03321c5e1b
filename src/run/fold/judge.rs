//! The verdict on what was answered or read at a step.
//!
//! The rule inside: a verdict is a function of the plan, the events before it and the evidence, so the audit can make it
//! again and compare.

use std::collections::BTreeSet;

use jiff::Timestamp;
use rust_decimal::Decimal;

use super::again::Given;
use super::run::{Attempt, Evidence, Run};
use crate::job::Purpose;
use crate::judge::insulation::{GroupProof, group};
use crate::judge::window::{Decision, Outcome, Terms, Verdict, Window, judge};
use crate::plan::{Kind, Leads, Look, Measure, Plan, Point, Timing, WindowRule, proves_earth};
use crate::run::event::Answer;
use crate::value::quantity::{Amount, Digits, Shown, Unit};
use crate::value::reading::{Function, Origin, Reading};

/// Why a step passed that was done in the record that the run rests on.
pub(super) const TAKEN_OVER: &str = "taken over from the record that this one rests on";

impl Run {
    /// Judges evidence for a step that comes now, given when.
    pub fn judged(&self, step: usize, evidence: &Evidence, at: Timestamp) -> Verdict {
        self.judged_given(step, (evidence, at), &self.given(step))
    }

    /// Judges an attempt again by the plan that is there, with what was given when it came.
    pub(super) fn judged_as_given(&self, step: usize, attempt: &Attempt) -> Verdict {
        self.judged_given(step, (&attempt.evidence, attempt.at), &attempt.given)
    }

    /// What stands now of what a verdict on a step rests on.
    pub(super) fn given(&self, step: usize) -> Given {
        let here = &self.plan.steps[step];
        let lead = match &here.kind {
            Kind::Measure(measure) if measure.subtract_null => {
                let leads = measure.probes.leads();
                (self.null(leads), self.null_uncertainty(leads))
            }
            _ => Default::default(),
        };
        let since = match here.timing() {
            Some(Timing::Within { since, .. } | Timing::After { since, .. }) => self.done_at(since),
            Some(Timing::Any) | None => None,
        };
        Given {
            lead,
            since,
            chosen: self.why_chosen(step),
        }
    }

    fn judged_given(&self, step: usize, (evidence, at): (&Evidence, Timestamp), given: &Given) -> Verdict {
        match (&self.plan.steps[step].kind, evidence) {
            // of any kind
            (_, Evidence::Answer(Answer::NotDone(why))) => {
                Verdict::plain(Outcome::NotTested, format!("not done: {why}"))
            }
            (_, Evidence::Answer(Answer::TakenOver)) => Verdict::plain(Outcome::Pass, TAKEN_OVER),
            (_, Evidence::Answer(Answer::NotNeeded)) if self.is_enough(step) => {
                Verdict::plain(Outcome::Pass, "not read: enough was known")
            }
            (_, Evidence::Answer(Answer::NotNeeded)) => Verdict::plain(Outcome::Pass, "not needed here"),
            (Kind::Measure(measure), Evidence::Reading(reading)) => {
                let mut verdict = self.judged_reading(measure, (reading, at), given);
                let marks = verdict.mark.into_iter().chain(given.chosen.clone());
                verdict.mark = marks.reduce(|all, part| format!("{all}; {part}"));
                verdict
            }
            (Kind::Indicator { .. }, Evidence::Answer(answer)) if proves_earth(&self.plan.steps[step]) => earth(answer),
            (Kind::Indicator { lit, .. }, Evidence::Answer(answer)) => indicator(*lit, answer),
            (
                Kind::Connect {
                    core,
                    terminal,
                    carries,
                    ..
                },
                Evidence::Answer(answer),
            ) => connection(core, terminal, *carries, answer),
            (Kind::Look(look), Evidence::Answer(answer)) => {
                let mut verdict = looked(look, answer);
                judge_timing(&look.timing, true, (given.since, at), &mut verdict);
                verdict
            }
            (Kind::Note { photograph: true, .. }, Evidence::Answer(Answer::Note { photograph: None, .. })) => {
                Verdict::plain(Outcome::Pass, "written down, without a photograph")
            }
            (Kind::Note { .. }, Evidence::Answer(Answer::Note { .. })) => Verdict::plain(Outcome::Pass, "written down"),
            (Kind::Do | Kind::Gate, Evidence::Answer(Answer::Done)) => Verdict::plain(Outcome::Pass, "done"),
            _ => Verdict::plain(Outcome::NotTested, "the answer does not belong to this step"),
        }
    }

    /// Whether a reading shows a voltage above extra-low voltage, which no dead test goes on under.
    pub fn is_live(&self, reading: &Reading) -> bool {
        let bound = self.plan.job.extra_low_upper().value();
        reading.unit == Unit::Volt
            && match &reading.shown {
                Shown::Digits(digits) => bound < (digits.value() * reading.prefix.factor()).abs(),
                Shown::Above(_) | Shown::Over => true,
            }
    }

    /// The window in force at a step, worked out from what was measured where the plan says so.
    pub fn window(&self, measure: &Measure) -> Result<Window, String> {
        match &measure.window {
            WindowRule::Fixed(window) => Ok(window.clone()),
            WindowRule::Solved(solved) => self.solved_window(solved, measure),
            WindowRule::Like { first, within, basis } => {
                let value = self
                    .plan
                    .index(first)
                    .and_then(|step| self.standing(step))
                    .and_then(|attempt| attempt.verdict.value.as_ref())
                    .map(Amount::value)
                    .ok_or_else(|| format!("`{first}`, with which this core is compared, has no value"))?;
                let edge = |v: Decimal| Some(Amount::new(v.normalize(), Unit::Ohm));
                let low = (value - within.value()).max(Decimal::ZERO);
                let mut basis = basis.clone();
                basis.what = format!("compared with `{first}`; {}", basis.what);
                let mut bases = vec![basis];
                if self.plan.job.decision == Decision::Guarded {
                    bases.push(measure.used.known.basis.clone());
                }
                Ok(Window::new(edge(low), edge(value + within.value()), Unit::Ohm, bases))
            }
        }
    }

    /// What the leads add to a live reading at a step, which the judge takes off.
    pub fn lead_taken_off(&self, step: usize) -> Decimal {
        match &self.plan.steps[step].kind {
            Kind::Measure(measure) if measure.subtract_null => self.null(measure.probes.leads()),
            _ => Decimal::ZERO,
        }
    }

    fn judged_reading(&self, measure: &Measure, (reading, at): (&Reading, Timestamp), given: &Given) -> Verdict {
        let not_tested = |because: String| Verdict::plain(Outcome::NotTested, because);
        let used = &measure.used;
        if reading.unit != used.function.unit() {
            return not_tested(format!("the reading is {}", reading.unit.quantity()));
        }
        if let Some(function) = reading.function
            && function != used.function
        {
            return not_tested(format!(
                "the meter was on {}, not on {}",
                function.dial(),
                used.function.dial()
            ));
        }
        let window = match self.window(measure) {
            Ok(window) => window,
            Err(why) => return not_tested(why),
        };
        if let Some(flag) = reading.flags.first() {
            return not_tested(flag.refusal().to_owned());
        }
        let terms = Terms {
            null: given.lead.0,
            null_uncertainty: given.lead.1,
            ceiling: used.ceiling.as_ref(),
            accuracy: &used.known.accuracy,
            decision: self.plan.job.decision,
        };
        let mut verdict = judge(&window, reading, &terms);
        let moved = still_moving(&window, reading, &terms, &mut verdict);
        if used.function != Function::VoltageDc {
            refuse_below_zero(reading, &mut verdict);
        }
        let by_value = verdict.outcome;
        self.mark(measure, &window, at, &mut verdict);
        if let (Some((greatest, _)), Some(input)) = (&measure.input_max, &used.input)
            && greatest.value() < input.value()
        {
            verdict.outcome = Outcome::NotTested;
            verdict.because = format!(
                "inconclusive: {} on an input of {input}, where a floating core reads a ghost; repeat with an input of {greatest} or less",
                reading.display()
            );
        }
        verdict.mark = verdict
            .mark
            .into_iter()
            .chain(moved)
            .reduce(|all, part| format!("{all}; {part}"));
        let typed = matches!(reading.origin, Origin::Typed { .. });
        judge_timing(&measure.timing, typed, (given.since, at), &mut verdict);
        if let (Outcome::Pass | Outcome::Conditional, Some(why)) = (verdict.outcome, &used.indicative) {
            verdict.outcome = Outcome::NotTested;
            verdict.because = format!("{why} ({})", verdict.because);
        }
        // a risk speaks of the decision by value; where something else decided there is none
        if verdict.outcome != by_value {
            verdict.risk = None;
            verdict.edge = None;
        }
        verdict
    }

    /// Says beside a reading what else it tells.
    fn mark(&self, measure: &Measure, window: &Window, at: Timestamp, verdict: &mut Verdict) {
        if let Some(fed_from) = &measure.fed_from {
            self.mark_drop(fed_from, at, verdict);
        }
        if let WindowRule::Solved(solved) = &measure.window {
            self.mark_solved(solved, verdict);
        }
        if measure.probes.second == Point::JoinedCores {
            self.mark_group(window, verdict);
        }
    }

    /// Says what a low reading over joined cores does and does not prove of each.
    fn mark_group(&self, window: &Window, verdict: &mut Verdict) {
        let members = self.plan.job.test_cores().count() as u32;
        let (Some(value), Some(low)) = (&verdict.value, &window.low) else {
            return;
        };
        let what = match group(members, value.value(), low.amount.value()) {
            GroupProof::EachIsGood => return,
            GroupProof::NothingOfEach => "each may be good by itself: test every core alone",
            GroupProof::OneIsBad => "at least one is bad: test every core alone to find it",
        };
        verdict.mark = Some(format!("{members} cores were joined, {what}"));
    }

    /// The expanded uncertainty of the lead resistance as it was read; zero until the leads are measured.
    fn null_uncertainty(&self, leads: Leads) -> Decimal {
        // what is not subtracted adds nothing
        let passed = |i: usize| {
            self.standing(i)
                .is_some_and(|attempt| attempt.verdict.outcome == Outcome::Pass)
        };
        let read = self
            .plan
            .lead_null(leads)
            .and_then(|(i, measure)| match &self.standing(i)?.evidence {
                Evidence::Reading(reading) if passed(i) => Some((reading, &measure.used.known.accuracy)),
                Evidence::Reading(_) | Evidence::Answer(_) => None,
            });
        match read {
            Some((reading, accuracy)) => match &reading.shown {
                Shown::Digits(digits) => {
                    let factor = reading.prefix.factor();
                    accuracy.uncertainty(digits.value() * factor, digits.last_digit() * factor)
                }
                Shown::Above(_) | Shown::Over => Decimal::ZERO,
            },
            None => Decimal::ZERO,
        }
    }

    /// The same evidence judged under a plan of the same sequence and job by another edition.
    ///
    /// Only verdicts change: nothing is walked again, and a step that was left or not reached stays so.
    pub fn judged_by(&self, plan: Plan) -> Run {
        let ids = |plan: &Plan| plan.steps.iter().map(|s| s.id.clone()).collect::<Vec<_>>();
        assert_eq!(ids(&plan), ids(&self.plan), "an edition changes windows, never steps");
        let mut other = self.clone();
        other.plan = plan.into();
        for step in 0..other.steps.len() {
            let Some(attempt) = other.standing(step) else { continue };
            let verdict = other.judged_as_given(step, attempt);
            let attempt = other.steps[step].attempts.last_mut().expect("it stands");
            attempt.verdict = verdict;
        }
        other
    }
}

/// Whether it came in its time, counted from when the step was done that it is timed from.
fn judge_timing(timing: &Timing, typed: bool, (since, at): (Option<Timestamp>, Timestamp), verdict: &mut Verdict) {
    let elapsed = since.map(|then| milliseconds(then, at));
    match timing {
        Timing::Any => {}
        Timing::Within { since, limit, .. } => match elapsed {
            Some(elapsed) if elapsed <= limit.value() * Decimal::ONE_THOUSAND => {}
            Some(elapsed) if matches!(verdict.outcome, Outcome::Pass | Outcome::Conditional) => {
                let late = format!("it came {} after `{since}`, {limit} is allowed", seconds(elapsed));
                if typed {
                    verdict.outcome = Outcome::NotTested;
                    verdict.because =
                        format!("typed too late to tell when it came: {late}; end the call, wait, and call again");
                } else {
                    verdict.outcome = Outcome::Fail;
                    verdict.because = format!("too late: {late}");
                }
            }
            Some(_) => {}
            None => {
                verdict.outcome = Outcome::NotTested;
                verdict.because = format!("`{since}` was not done before it");
            }
        },
        Timing::After { since, wait, .. } => match elapsed {
            Some(elapsed) if wait.value() * Decimal::ONE_THOUSAND <= elapsed => {}
            Some(elapsed) => {
                verdict.outcome = Outcome::NotTested;
                verdict.because = format!(
                    "too early: {} after `{since}`, {wait} must pass first",
                    seconds(elapsed)
                );
            }
            None => {
                verdict.outcome = Outcome::NotTested;
                verdict.because = format!("`{since}` was not done before it");
            }
        },
    }
}

/// A reading taken while its display moved counts only where it can end on one side of every edge; the mark that says so.
fn still_moving(window: &Window, reading: &Reading, terms: &Terms<'_>, verdict: &mut Verdict) -> Option<String> {
    let to_go = reading.to_go()?;
    let (Some(net), Some(shown)) = (verdict.value.as_ref().map(Amount::value), reading.amount()) else {
        return None;
    };
    let ends = [
        shown.digits.value() - to_go.digits.value(),
        shown.digits.value() + to_go.digits.value(),
    ];
    let judged_there = |end: &Decimal| {
        let there = Reading {
            shown: Shown::Digits(Digits::from_decimal(*end)),
            ..reading.clone()
        };
        judge(window, &there, terms).outcome
    };
    let edges = [&window.low, &window.high];
    let mut edges = edges.into_iter().flatten().map(|edge| edge.amount.value());
    let crosses = edges.any(|edge| (net - edge).abs() <= to_go.value());
    if crosses || ends.iter().any(|end| judged_there(end) != verdict.outcome) {
        *verdict = Verdict {
            value: verdict.value.take(),
            ..Verdict::plain(
                Outcome::NotTested,
                format!("it still moved, up to {to_go} to go: wait until it can end on one side of the edges alone"),
            )
        };
        return None;
    }
    Some(format!(
        "taken while it moved, up to {to_go} to go, which ends on the same side"
    ))
}

/// Nothing but direct volts is below zero: then the leads are not what they were.
fn refuse_below_zero(reading: &Reading, verdict: &mut Verdict) {
    let value = verdict.value.as_ref().map(Amount::value);
    if value.is_some_and(|value| value < Decimal::ZERO) {
        verdict.outcome = Outcome::NotTested;
        verdict.because = format!(
            "{} is below zero: measure the leads again with `leads`, or swap the probes",
            reading.display()
        );
        verdict.mark = None;
    }
}

/// Milliseconds between two times, exact; negative where the clock stepped back.
fn milliseconds(from: Timestamp, to: Timestamp) -> Decimal {
    Decimal::from(to.as_millisecond() - from.as_millisecond())
}

fn seconds(milliseconds: Decimal) -> String {
    format!("{} s", (milliseconds / Decimal::ONE_THOUSAND).round_dp(1))
}

/// What was seen against what a sound installation shows; the order of several words does not matter.
fn looked(look: &Look, answer: &Answer) -> Verdict {
    let listed = |words: &[String]| match words {
        [] => "nothing".to_owned(),
        words => words.join(", "),
    };
    let seen = match answer {
        Answer::Saw(seen) => seen,
        Answer::Found(text) => return Verdict::plain(Outcome::Fail, format!("found: {text}")),
        _ => return Verdict::plain(Outcome::NotTested, "the answer does not belong to this step"),
    };
    let strange = seen.iter().any(|word| !look.words.contains(word));
    let sorted = |words: &[String]| words.iter().cloned().collect::<BTreeSet<_>>();
    if strange {
        Verdict::plain(Outcome::NotTested, "the answer does not belong to this step")
    } else if sorted(seen) == sorted(&look.expected) {
        Verdict::plain(Outcome::Pass, listed(seen))
    } else {
        let because = format!("{}, must be {}", listed(seen), listed(&look.expected));
        Verdict::plain(Outcome::Fail, because)
    }
}

fn earth(answer: &Answer) -> Verdict {
    match answer {
        Answer::Lit => Verdict::plain(Outcome::Pass, "lit to line: this earth is one to prove dead against"),
        Answer::Dark => Verdict::plain(
            Outcome::Fail,
            "dark to line: no line, no earth, or the indicator does not work; nothing is proved dead against this earth",
        ),
        _ => Verdict::plain(Outcome::NotTested, "neither lit nor dark was answered"),
    }
}

fn indicator(expect_lit: bool, answer: &Answer) -> Verdict {
    match (expect_lit, answer) {
        (true, Answer::Lit) => Verdict::plain(Outcome::Pass, "lit on the known source"),
        (true, Answer::Dark) => Verdict::plain(
            Outcome::Fail,
            "dark on the known source: the indicator does not work, and nothing it showed is proved",
        ),
        (false, Answer::Dark) => Verdict::plain(Outcome::Pass, "dark"),
        (false, Answer::Lit) => Verdict::plain(
            Outcome::Fail,
            "LIT: the point is live; step back, find the other supply, isolate it",
        ),
        _ => Verdict::plain(Outcome::NotTested, "neither lit nor dark was answered"),
    }
}

fn connection(core: &str, terminal: &str, carries: Purpose, answer: &Answer) -> Verdict {
    match answer {
        Answer::For(purpose) if *purpose == carries => Verdict::plain(
            Outcome::Pass,
            format!("core {core} and terminal {terminal} are both for {}", carries.words()),
        ),
        Answer::For(purpose) => {
            let danger = if carries.is_mains() != purpose.is_mains() {
                "mains would meet what is not mains: "
            } else {
                ""
            };
            Verdict::plain(
                Outcome::Fail,
                format!(
                    "{danger}core {core} carries {}, terminal {terminal} is for {}: take it out again",
                    carries.words(),
                    purpose.words()
                ),
            )
        }
        _ => Verdict::plain(Outcome::NotTested, "what the terminal is for was not answered"),
    }
}
