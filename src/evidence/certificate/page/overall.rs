//! What the whole run came to, what was observed on the way, and what was not tested.
//!
//! The rule inside: the words are no larger than what was shown, and whatever is short of that is as loud as a pass.

use serde::Serialize;

use super::steps::span;
use super::words::{Clock, symbols, what};
use crate::judge::window::Outcome;
use crate::run::event::{Answer, Ending, Touched};
use crate::run::fold::{Evidence, Run, Status};

/// What the whole run came to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Overall {
    /// What it came to, in as many words as it deserves.
    pub word: String,
    /// The outcome behind that, for its frame.
    pub outcome: Outcome,
    /// How many steps came to what, how the run ended, and how far that reaches.
    pub lines: Vec<String>,
}

/// The words over the whole.
pub(super) fn overall(run: &Run) -> Overall {
    let outcome = run.outcome();
    let ended = match &run.ending {
        Some((Ending::Completed, _)) => None,
        Some((Ending::Abandoned(reason), _)) => Some(format!("The run was abandoned: {reason}")),
        None => Some("The run is not closed: this shows it so far.".into()),
    };
    let is_empty = (0..run.steps.len()).all(|step| run.verdict(step).outcome != Outcome::Pass);
    let word = match (outcome, &run.ending) {
        (Outcome::Pass, _) => "Every step of this proof passed",
        (Outcome::Conditional, _) => "PASSED UNDER A CONDITION: nearer to a limit than the instrument can tell",
        (Outcome::Fail, Some((Ending::Abandoned(_), _))) => "FAILED, AND ABANDONED",
        (Outcome::Fail, _) => "FAILED",
        (Outcome::NotTested, Some((Ending::Abandoned(_), _))) if is_empty => "ABANDONED: nothing was tested",
        (Outcome::NotTested, Some((Ending::Abandoned(_), _))) => "ABANDONED: tested in part",
        (Outcome::NotTested, None) if is_empty => "NOT CLOSED: nothing was tested",
        (Outcome::NotTested, None) => "NOT CLOSED: tested in part",
        (Outcome::NotTested, Some(_)) => "TESTED IN PART",
    };
    let mut lines = vec![counts(run)];
    lines.extend(ended);
    lines.extend(
        run.made_safe
            .iter()
            .map(|what| format!("Before the run was closed: {what}.")),
    );
    lines.push(match outcome {
        Outcome::Pass => "That holds for this cable and what hangs on it, at the points and times listed, and for nothing else of the \
                          installation."
            .into(),
        _ => "The proof is not complete: do not put the circuit into use on the strength of this record.".into(),
    });
    Overall {
        word: word.into(),
        outcome,
        lines,
    }
}

fn counts(run: &Run) -> String {
    let total = run.plan.steps.len();
    let verdicts: Vec<_> = (0..total).map(|step| run.verdict(step).outcome).collect();
    let count = |wanted| verdicts.iter().filter(|outcome| **outcome == wanted).count();
    let mut counts = format!("{} of {total} steps passed", count(Outcome::Pass));
    for (wanted, word) in [
        (Outcome::Fail, "failed"),
        (Outcome::Conditional, "conditional"),
        (Outcome::NotTested, "not tested"),
    ] {
        let number = count(wanted);
        if number > 0 {
            counts.push_str(&format!(", {number} {word}"));
        }
    }
    counts + "."
}

/// What was found on the way: steps that did not pass, repairs, breaks, voltages seen, notes, and questions that passes raise.
pub(super) fn observations(run: &Run) -> Vec<String> {
    let mut all = open(run);
    all.extend(happenings(run));
    all.extend((0..run.plan.steps.len()).filter_map(|step| noted(run, step)));
    all
}

/// A note, or the question that a pass still raises.
fn noted(run: &Run, step: usize) -> Option<String> {
    let attempt = run.standing(step)?;
    let told = match &attempt.evidence {
        Evidence::Answer(answer @ (Answer::Note { .. } | Answer::Found(_))) => answer.words(),
        _ if attempt.verdict.outcome == Outcome::Pass && asks(run, step) => symbols(attempt.verdict.mark.as_ref()?),
        _ => return None,
    };
    Some(format!(
        "Step {}, {}: {told}",
        step + 1,
        what(&run.plan.steps[step], &run.plan.job)
    ))
}

/// Whether a pass raises a question: what a load's voltage is told beside the supply's is none while the drop is small.
fn asks(run: &Run, step: usize) -> bool {
    let volts = |step: usize| Some(run.standing(step)?.verdict.value.as_ref()?.value());
    let Some(fed_from) = super::pick::measure(run, step).and_then(|m| m.fed_from.as_ref()) else {
        return true;
    };
    let lost = run.plan.index(&fed_from.step).and_then(volts).zip(volts(step));
    lost.is_some_and(|(supply, here)| fed_from.asks_above.value() < supply - here)
}

/// Every step that was tried and whose standing result is no pass.
fn open(run: &Run) -> Vec<String> {
    let told = |index: usize| {
        let step = &run.plan.steps[index];
        let attempt = run.standing(index)?;
        let outcome = attempt.verdict.outcome;
        let because = match &attempt.evidence {
            Evidence::Reading(_) => symbols(&attempt.verdict.because),
            // a person's words stay as they are
            Evidence::Answer(_) => attempt.verdict.because.clone(),
        };
        let left = match &run.steps[index].status {
            Status::Left(reason) => format!("; left: {reason}"),
            _ => String::new(),
        };
        let what = what(step, &run.plan.job);
        (outcome != Outcome::Pass).then(|| format!("Step {}, {}: {what}: {because}{left}", index + 1, outcome.word()))
    };
    (0..run.plan.steps.len()).filter_map(told).collect()
}

/// What was found by eye, repairs and breaks, in order of time.
fn happenings(run: &Run) -> Vec<String> {
    let clock = Clock::of(run);
    let number = |step: &str| run.plan.index(step).map_or(0, |at| at + 1);
    let repairs = (1..).zip(&run.repairs).map(|(n, repair)| {
        let touched = match &repair.touched {
            Touched::Nothing => "no core touched".into(),
            Touched::Everything => "every core may have been touched".into(),
            Touched::Cores(cores) => format!("touched: {}", cores.join(", ")),
        };
        let told = format!(
            "Repair {n}, at step {}: {} ({touched})",
            number(&repair.step),
            repair.what
        );
        (repair.at, told)
    });
    let by_eye = run.by_eye.iter().map(|found| {
        let told = format!(
            "Found by eye at step {}, {}; to be repaired once it was proved dead",
            number(&found.step),
            found.words()
        );
        (found.at, told)
    });
    let breaks = (1..).zip(&run.resumptions).map(|(n, at)| {
        let told = format!("Break {n}: the run went on after it; isolation was to be proved again");
        (*at, told)
    });
    let live = run.live_seen.iter().map(|(at, step, display)| {
        let told = format!(
            "VOLTAGE SEEN at step {}, in a dead test: {display}; isolation was to be proved again",
            number(step)
        );
        (*at, told)
    });
    let further = run.further.iter().map(|(at, step, supply)| {
        let told = format!(
            "FURTHER SUPPLY lit at step {}; switched off, locked off, key kept, notice posted: {supply}; isolation was to be proved again",
            number(step)
        );
        (*at, told)
    });
    let mut all: Vec<_> = by_eye.chain(repairs).chain(breaks).chain(live).chain(further).collect();
    all.sort_by_key(|(at, _)| *at);
    all.into_iter()
        .map(|(at, told)| format!("{} {told}", clock.time(at)))
        .collect()
}

/// Steps that nothing was taken at, by their stage and reason.
pub(super) fn not_tested(run: &Run) -> Vec<String> {
    let mut groups: Vec<(&'static str, String, Vec<usize>)> = Vec::new();
    for step in 0..run.plan.steps.len() {
        let verdict = run.verdict(step);
        if run.standing(step).is_some() || verdict.outcome == Outcome::Pass {
            continue;
        }
        let stage = run.plan.steps[step].stage.words();
        match groups.last_mut() {
            Some((last, because, steps)) if *last == stage && *because == verdict.because => steps.push(step),
            _ => groups.push((stage, verdict.because, vec![step])),
        }
    }
    let told = |(stage, because, steps): (&str, String, Vec<usize>)| format!("{}, {stage}: {because}", span(&steps));
    groups.into_iter().map(told).collect()
}

/// What the run could not show.
pub(super) fn limitations(run: &Run) -> Vec<String> {
    let mut all = run.plan.limitations.clone();
    all.extend(run.departures());
    all.extend(run.opened.identified.iter().flat_map(crate::identify::session::said_of));
    all
}
