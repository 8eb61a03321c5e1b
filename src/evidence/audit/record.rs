//! The record of a run, as it is examined.
//!
//! The rule inside: beside what its events come to, a record is held against what today's proof says of its sequence; that is
//! told, and what was walked stays as it was walked.

use super::choice::chosen_again;
use super::examine::Examinable;
use super::identification::examine_carried;
use super::known::Known;
use super::remark::{Concern, Remarks};
use super::when::times;
use jiff::Timestamp;

use crate::located::{Finding, Findings, Text};
use crate::plan::Kind;
use crate::run::event::{Event, Opened, PROGRAM};
use crate::run::fold::Run;
use crate::run::rules;
use crate::value::reading::{Function, Reading};

/// What a record says of the one that it supersedes.
fn supersedes(run: &Run, remarks: &mut Remarks) {
    let Some(earlier) = &run.opened.supersedes else {
        return;
    };
    let is_digest =
        earlier.sha256.len() == 64 && earlier.sha256.bytes().all(|c| matches!(c, b'0'..=b'9' | b'a'..=b'f'));
    for (holds, what) in [
        (earlier.run != run.opened.run, "it says that it supersedes itself"),
        (
            is_digest,
            "what it gives as the SHA-256 of the record that it supersedes is none",
        ),
        (
            !earlier.because.trim().is_empty(),
            "it supersedes another record and does not say why",
        ),
        (
            earlier.run.get_version_num() != 7 || earlier.run.as_bytes()[..6] <= run.opened.run.as_bytes()[..6],
            "it supersedes a run that was begun after it",
        ),
    ] {
        if !holds {
            remarks.add(Concern::Text, 1, what);
        }
    }
}

/// What a record says of the one on whose lock it rests.
fn rests_on(run: &Run, remarks: &mut Remarks) {
    let Some(rest) = &run.opened.rests_on else { return };
    let is_digest = rest.sha256.len() == 64 && rest.sha256.bytes().all(|c| matches!(c, b'0'..=b'9' | b'a'..=b'f'));
    for (holds, what) in [
        (rest.run != run.opened.run, "it says that it rests on itself"),
        (
            is_digest,
            "what it gives as the SHA-256 of the record that it rests on is none",
        ),
        (
            rest.run.get_version_num() != 7 || rest.run.as_bytes()[..6] <= run.opened.run.as_bytes()[..6],
            "it rests on a run that was begun after it",
        ),
    ] {
        if !holds {
            remarks.add(Concern::Lock, 1, what);
        }
    }
}

/// What a record says of its cable's length, where that was corrected after something had been read against it.
fn length(run: &Run, remarks: &mut Remarks) {
    if let Some(length) = run.plan.job.length.as_ref().filter(|length| length.is_corrected_late()) {
        let judged: String = run.by_length_words().iter().map(|words| format!("; {words}")).collect();
        let what = format!("its length was corrected after something was read against it, it is {length}{judged}");
        remarks.add(Concern::Length, 0, what);
    }
}

/// What today's proof refuses in the sequence of a record, with each length by which it was walked.
fn refused(run: &Run, known: &Known) -> Vec<Finding> {
    let plans = run.bound_before.iter().chain([&run.plan]);
    plans.flat_map(|plan| known.problems(plan)).collect()
}

impl Examinable for Run {
    fn profiles(opened: &Opened) -> &[Text] {
        &opened.profiles
    }

    fn unopened(why: Findings) -> Vec<String> {
        let words = |finding: &Finding| format!("{}: {}", finding.text.name, finding.problem.what);
        why.iter().map(words).collect()
    }

    fn reading<'e>(&self, event: &'e Event) -> Option<(&'e Reading, Result<Option<Function>, String>)> {
        match event {
            Event::Taken { step, reading } => {
                let kind = self.plan.index(step).map(|i| &self.plan.steps[i].kind);
                let function = match kind {
                    Some(Kind::Measure(measure)) => Ok(Some(measure.used.function)),
                    _ => Err("a reading at a step that measures nothing".to_owned()),
                };
                Some((reading, function))
            }
            Event::LiveSeen { reading, .. }
            | Event::FrameDoubted { reading, .. }
            | Event::FrameCleared { reading, .. } => Some((reading, Ok(None))),
            _ => None,
        }
    }

    fn is_doubted(event: &Event) -> bool {
        matches!(event, Event::FrameDoubted { .. })
    }

    fn made_again(&self, event: &Event, known: &Known) -> Result<(), String> {
        chosen_again(self, event, known)
    }

    fn step(event: &Event) -> Option<&str> {
        match event {
            Event::Taken { step, .. }
            | Event::LiveSeen { step, .. }
            | Event::FrameDoubted { step, .. }
            | Event::FrameCleared { step, .. }
            | Event::Chosen { step, .. }
            | Event::Enough { step, .. } => Some(step),
            _ => None,
        }
    }

    fn open_known(opened: Opened, at: Timestamp, known: &Known) -> Result<Run, Findings> {
        let plan = known.plan(&opened)?;
        Run::open_of(opened, at, plan)
    }

    fn on_all(&self, lines: u64, known: &Known, remarks: &mut Remarks) {
        if let Some(identified) = &self.opened.identified {
            for found in examine_carried(identified, &self.plan.job).1 {
                remarks.add(found.concern, found.line, found.what);
            }
        }
        if self.plan.job.limits.edition != self.opened.edition {
            let what = format!(
                "the record names the edition `{}`, its job another",
                self.opened.edition
            );
            remarks.add(Concern::Text, 1, what);
        }
        if self.opened.program == PROGRAM && self.opened.caveat != self.plan.job.limits.caveat {
            let what = "its caveat is not that of its edition".to_owned();
            remarks.add(Concern::Text, 1, what);
        }
        supersedes(self, remarks);
        rests_on(self, remarks);
        times(self, remarks);
        for what in self.differences_words() {
            remarks.add(Concern::Verdict, 0, what);
        }
        length(self, remarks);
        let refused = refused(self, known);
        if self.rules == rules::today() {
            for finding in &refused {
                let what = format!("today's proof of order refuses its sequence: {}", finding.problem.what);
                remarks.add(Concern::Proof, 1, what);
            }
        } else if let Some(first) = refused.first() {
            let what = format!(
                "it was walked as it was proved then; today's proof of order asks for more, at {} places, first: {}",
                refused.len(),
                first.problem.what
            );
            remarks.add(Concern::LaterProof, 1, what);
        }
        if self.ending.is_none() {
            remarks.add(Concern::Ending, lines, "the run is not closed");
        }
    }
}
