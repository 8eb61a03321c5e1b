//! The record of a run, as it is examined.
//!
//! The rule inside: beside what its events come to, a record is held against what today's proof says of its sequence; that is
//! told, and what was walked stays as it was walked.

use super::examine::Examinable;
use super::identification::examine_carried;
use super::remark::{Concern, Remarks};
use crate::located::{Finding, Findings, Text};
use crate::plan::Kind;
use crate::proof;
use crate::run::event::{Event, Opened};
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
            Event::LiveSeen { reading, .. } => Some((reading, Ok(Function::VoltageAc))),
            _ => None,
        }
    }

    fn step(event: &Event) -> Option<&str> {
        match event {
            Event::Taken { step, .. } | Event::LiveSeen { step, .. } => Some(step),
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
        for what in self.differences_words() {
            remarks.add(Concern::Verdict, 0, what);
        }
        let concern = if self.rules == rules::today() {
            Concern::Proof
        } else {
            Concern::LaterProof
        };
        for finding in proof::problems(&self.plan) {
            let what = format!("today's proof of order refuses its sequence: {}", finding.problem.what);
            remarks.add(concern, 1, what);
        }
        if self.ending.is_none() {
            remarks.add(Concern::Ending, lines, "the run is not closed");
        }
    }
}
