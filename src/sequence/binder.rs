//! A plan in the making: the job, the steps and findings so far, and the groups around the step that is being bound.
//!
//! The rule inside: a finding stands in the text that is being bound, and a name is looked for in the same groups first.

use super::check::Sequence;
use super::say::fill;
use crate::job::{Core, Job, Zone};
use crate::located::{Finding, Located, Problem};
use crate::plan::{Condition, Kind, Stage, Step, Then};
use crate::value::quantity::Amount;

/// What is bound so far.
pub(super) struct Binder<'a> {
    pub(super) sequence: &'a Sequence,
    pub(super) job: &'a Job,
    pub(super) steps: Vec<Step>,
    pub(super) findings: Vec<Finding>,
    pub(super) first_continuity: Option<String>,
    pub(super) limitations: Vec<String>,
    /// The text that is being bound, by its place among the sequence's texts.
    pub(super) at: usize,
    /// What the groups around the step give.
    pub(super) around: Around<'a>,
}

/// What the groups around a step give it.
#[derive(Debug, Clone, Default)]
pub(super) struct Around<'a> {
    pub(super) core: Option<&'a Core>,
    pub(super) other: Option<&'a Core>,
    pub(super) zone: Option<&'a Zone>,
    pub(super) only_if: Vec<Condition>,
}

impl Around<'_> {
    /// A step's name with what the groups add to it: `link/brown`, `insulation/brown-grey`, `zone-map/sail loft`.
    pub(super) fn named(&self, name: &str) -> String {
        let zone = self.zone.map(|zone| format!("/{}", zone.name)).unwrap_or_default();
        match (self.core, self.other) {
            (Some(core), Some(other)) => format!("{name}{zone}/{}-{}", core.name, other.name),
            (Some(core), None) => format!("{name}{zone}/{}", core.name),
            _ => format!("{name}{zone}"),
        }
    }
}

impl<'a> Binder<'a> {
    pub(super) fn problem(&mut self, at: &Located<String>, what: impl Into<String>, hint: Option<String>) {
        let mut problem = Problem::new(&at.span, what);
        problem.hint = hint;
        self.say(problem);
    }

    pub(super) fn say(&mut self, problem: Problem) {
        self.findings
            .extend(self.sequence.texts[self.at].findings(vec![problem]));
    }

    /// A figure of the job by the name that an expression gives it.
    pub(super) fn figure(&self, name: &str) -> Option<Amount> {
        let job = self.job;
        match name {
            "supply.nominal" => Some(job.supply.nominal.clone()),
            "supply.ze" => job.supply.ze.clone(),
            "supply.residual" => job.supply.residual.clone(),
            "cable.length" => job.length.clone(),
            "cable.temperature" => Some(job.temperature.clone()),
            "pair.volts" => job.control_pair.as_ref().map(|pair| pair.volts.clone()),
            _ => job.parameters.get(name.strip_prefix("parameter.")?).cloned(),
        }
    }

    pub(super) fn words(&self, say: &str, extra: &[(&str, &str)]) -> String {
        let job = self.job;
        let return_core = job.return_words();
        let mut words = extra.to_vec();
        words.extend([
            ("near", job.near.name.as_str()),
            ("far", job.far.name.as_str()),
            ("supply", job.supply.from.as_str()),
            ("known source", job.supply.known_source.as_str()),
            ("cable", job.cable.as_str()),
            ("return core", return_core.as_str()),
        ]);
        words.extend(self.around.core.map(|core| ("core", core.name.as_str())));
        words.extend(self.around.other.map(|core| ("other", core.name.as_str())));
        words.extend(self.around.zone.map(|zone| ("zone", zone.name.as_str())));
        words.extend(self.around.zone.map(|zone| ("control", zone.control.as_str())));
        fill(say, &words)
    }

    /// The name of an earlier step as it stands in the plan: the one inside the same groups where there is one.
    pub(super) fn earlier(&self, name: &str) -> String {
        let inner = self.around.named(name);
        let zone = self.around.zone.map(|zone| format!("{name}/{}", zone.name));
        let is_there = |id: &String| self.steps.iter().any(|step| step.id == *id);
        [Some(inner), zone]
            .into_iter()
            .flatten()
            .find(is_there)
            .unwrap_or_else(|| name.to_owned())
    }

    pub(super) fn push(
        &mut self,
        at: &Located<String>,
        id: String,
        stage: Stage,
        say: &str,
        extra: &[(&str, &str)],
        kind: Kind,
    ) {
        let step = Step {
            id,
            text: self.at,
            line: self.sequence.texts[self.at].place(at.span.start).0,
            stage,
            say: self.words(say, extra),
            caution: None,
            acts: Vec::new(),
            kind,
            cores: Vec::new(),
            only_if: Vec::new(),
            after_failure: Then::usual(),
        };
        self.steps.push(step);
    }
}
