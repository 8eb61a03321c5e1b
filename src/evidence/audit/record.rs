//! The record of a run, as it is examined.
//!
//! The rule inside: beside what its events come to, a record is held against what today's proof says of its sequence; that is
//! told, and what was walked stays as it was walked.

use super::examine::Examinable;
use super::identification::examine_carried;
use super::remark::{Concern, Remarks};
use super::when::times;
use crate::located::{Finding, Findings, Text};
use crate::plan::Kind;
use crate::proof;
use crate::run::event::{Event, Opened, PROGRAM};
use crate::run::fold::Run;
use crate::run::rules;
use crate::value::reading::{Function, Reading};

impl Examinable for Run {
    fn profiles(opened: &Opened) -> &[Text] {
        &opened.profiles
    }

    fn unopened(why: Findings) -> Vec<String> {
        let words = |finding: &Finding| format!("{}: {}", finding.text.name, finding.problem.what);
        why.iter().map(words).collect()
    }

    fn reading<'e>(&self, event: &'e Event) -> Option<(&'e Reading, Result<Function, String>)> {
        match event {
            Event::Taken { step, reading } => {
                let kind = self.plan.index(step).map(|i| &self.plan.steps[i].kind);
                let function = match kind {
                    Some(Kind::Measure(measure)) => Ok(measure.used.function),
                    _ => Err("a reading at a step that measures nothing".to_owned()),
                };
                Some((reading, function))
            }
            Event::LiveSeen { reading, .. }
            | Event::FrameDoubted { reading, .. }
            | Event::FrameCleared { reading, .. } => Some((reading, Ok(Function::VoltageAc))),
            _ => None,
        }
    }

    fn step(event: &Event) -> Option<&str> {
        match event {
            Event::Taken { step, .. }
            | Event::LiveSeen { step, .. }
            | Event::FrameDoubted { step, .. }
            | Event::FrameCleared { step, .. } => Some(step),
            _ => None,
        }
    }

    fn on_all(&self, lines: u64, remarks: &mut Remarks) {
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
        times(self, remarks);
        for what in self.differences_words() {
            remarks.add(Concern::Verdict, 0, what);
        }
        let refused: Vec<_> = proof::problems(&self.plan).into_iter().collect();
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
