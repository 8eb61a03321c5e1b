//! A plan in the making: the job, the steps and findings so far, and the groups around the step that is being bound.
//!
//! The rule inside: a finding stands in the text that is being bound, and a name is looked for in the same groups first.

use std::collections::BTreeMap;

use serde::Serialize;

use super::check::Sequence;
use super::names::{Around, Names};
use super::raw::RawStep;
use super::say::fill;
use crate::job::{Core, End, Job};
use crate::located::{Findings, Lines, Located, Problem};
use crate::plan::{Kind, Lock, Point, Stage, Step, Then, has_earth_core_at_far_end, turns};
use crate::value::quantity::Amount;

/// Most bytes of a plan's steps, as they are written down: a step repeats what its groups, its windows and its job say, and a small
/// file could fill the memory. The shipped sequence on a cable of 36 cores takes a fifth.
const PLAN_BYTES_MAX: usize = 16 << 20;

/// What a piece of a plan takes written down.
pub(super) fn bytes(piece: &impl Serialize) -> usize {
    serde_json::to_vec(piece)
        .expect("a plan has no maps with odd keys")
        .len()
}

/// What is bound so far.
pub(super) struct Binder<'a> {
    pub(super) sequence: &'a Sequence,
    pub(super) job: &'a Job,
    /// Whose lock keeps the supply off.
    pub(super) lock: Lock,
    pub(super) steps: Vec<Step>,
    pub(super) findings: Findings,
    pub(super) names: Names<'a>,
    /// The first step of the plan that each step of the sequence has become.
    pub(super) firsts: BTreeMap<String, usize>,
    /// Where the lines of each text begin.
    pub(super) lines: Vec<Lines>,
    /// The most steps that are walked with so many cores.
    pub(super) most: usize,
    /// What the steps take so far.
    pub(super) bytes: usize,
    pub(super) first_continuity: Option<String>,
    /// The last step so far that reads the supply to neutral at its own terminals.
    pub(super) supply_read: Option<String>,
    pub(super) limitations: Vec<String>,
    /// How many groups of steps that are answered together there are so far.
    pub(super) groups: usize,
    /// The text that is being bound, by its place among the sequence's texts.
    pub(super) at: usize,
    /// What the groups around the step give.
    pub(super) around: Around<'a>,
}

impl<'a> Binder<'a> {
    pub(super) fn problem(&mut self, at: &Located<String>, what: impl Into<String>, hint: Option<String>) {
        let mut problem = Problem::new(&at.span, what);
        problem.hint = hint;
        self.say(problem);
    }

    pub(super) fn say(&mut self, problem: Problem) {
        self.findings.push(self.sequence.texts[self.at].finding(problem));
    }

    /// A figure of the job by the name that an expression gives it.
    pub(super) fn figure(&self, name: &str) -> Option<Amount> {
        let job = self.job;
        match name {
            "supply.nominal" => Some(job.supply.nominal.clone()),
            "supply.ze" => job.supply.ze.clone(),
            "supply.residual" => job.supply.residual.clone(),
            "cable.length" => job.length.as_ref().map(|length| length.in_force().clone()),
            "cable.temperature" => Some(job.temperature.clone()),
            "pair.volts" => job.control_pair.as_ref().map(|pair| pair.volts.clone()),
            _ => job.parameters.get(name.strip_prefix("parameter.")?).cloned(),
        }
    }

    pub(super) fn words(&self, say: &str, extra: &[(&str, &str)]) -> String {
        let job = self.job;
        let return_core = job.return_words();
        let building_earth = Point::building_earth(job).words(job);
        let linked = linked_words(&self.around.linked);
        let mut words = extra.to_vec();
        words.extend([
            ("near", job.near.name.as_str()),
            ("far", job.far.name.as_str()),
            (
                "supply",
                self.around
                    .supply
                    .map_or(job.supply.from.as_str(), |further| further.from.as_str()),
            ),
            ("known source", job.supply.known_source.as_str()),
            ("cable", job.cable.as_str()),
            ("return core", return_core.as_str()),
            ("building earth", building_earth.as_str()),
        ]);
        words.extend(self.around.core.map(|core| ("core", core.name.as_str())));
        words.extend(self.around.other.map(|core| ("other", core.name.as_str())));
        if !self.around.linked.is_empty() {
            words.push(("linked", linked.as_str()));
        }
        words.extend(self.around.zone.map(|zone| ("zone", zone.name.as_str())));
        words.extend(self.around.zone.map(|zone| ("control", zone.control.as_str())));
        fill(say, &words)
    }

    /// The name of an earlier step as it stands in the plan: the one inside the same groups where there is one.
    pub(super) fn earlier(&self, name: &str) -> String {
        let zone = self.around.zone.map(|zone| format!("{name}/{}", zone.name));
        let core = self.around.core.map(|core| format!("{name}/{}", core.name));
        let is_there = |id: &String| self.names.contains_key(id);
        [Some(self.named(name)), zone, core]
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
        self.take_name(at, &id);
        self.firsts.entry(at.value.clone()).or_insert(self.steps.len());
        let step = Step {
            id,
            text: self.at,
            line: self.lines[self.at].of(at.span.start),
            stage,
            say: self.words(say, extra),
            caution: None,
            acts: Vec::new(),
            kind,
            cores: Vec::new(),
            only_if: Vec::new(),
            after_failure: Then::usual(),
            at: None,
            together: None,
            any_order: None,
        };
        let bytes = bytes(&step);
        if self.has_room(at, bytes) {
            self.steps.push(step);
        } else {
            self.steps.push(Step {
                say: String::new(),
                kind: Kind::Gate,
                ..step
            });
        }
    }

    /// Whether so much more still goes into the plan; what does not is a finding, so that the plan is refused and can be left short.
    pub(super) fn has_room(&mut self, at: &Located<String>, bytes: usize) -> bool {
        self.bytes = self.bytes.saturating_add(bytes);
        if self.bytes <= PLAN_BYTES_MAX {
            return true;
        }
        let what = format!("the steps of the plan hold more than {PLAN_BYTES_MAX} bytes with this one");
        self.say(Problem::new(&at.span, what).hint("shorten what it says, or take it out of its group"));
        false
    }

    /// A step's name with what the groups add to it: `link/brown`, `link/brown+blue`, `insulation/brown-grey`, `zone-map/sail loft`.
    pub(super) fn named(&self, name: &str) -> String {
        let name = self.placed(name);
        match (self.around.core, self.around.other) {
            (Some(core), Some(other)) => format!("{name}/{}", self.pair(core, other)),
            (Some(core), None) => format!("{name}/{}", core.name),
            _ if !self.around.linked.is_empty() => format!("{name}/{}", names(&self.around.linked).join("+")),
            _ => name,
        }
    }

    /// The turns of the link at the far end. One core may be linked in all of them where the sequence reads the earth core there as well.
    pub(super) fn turns(&self) -> Vec<Vec<&'a Core>> {
        fn reads(steps: &[Located<RawStep>]) -> bool {
            let reads_it = |step: &RawStep| matches!(step, RawStep::EarthContinuity(read) if read.end == End::Far);
            steps
                .iter()
                .any(|step| reads_it(&step.value) || reads(step.value.inside()))
        }
        let is_read = self.sequence.files.iter().any(|steps| reads(steps));
        turns(self.job, is_read && has_earth_core_at_far_end(self.job))
    }

    /// The name of the reading of a core in a turn of the link: `continuity/black`, and where an earlier turn has read it as well,
    /// `continuity/black/with grey`.
    pub(super) fn named_in_turn(&self, name: &str, core: &Core) -> String {
        let linked = names(&self.around.linked);
        let all = self.turns();
        let mut earlier = all.iter().map(|turn| names(turn)).take_while(|turn| *turn != linked);
        let name = format!("{}/{}", self.placed(name), core.name);
        if !earlier.any(|turn| turn.contains(&core.name.as_str())) {
            return name;
        }
        let others: Vec<_> = linked.into_iter().filter(|there| *there != core.name).collect();
        format!("{name}/with {}", others.join("+"))
    }

    /// A step's name with the zone or the further supply that it is about.
    fn placed(&self, name: &str) -> String {
        let zone = self.around.zone.map(|zone| format!("/{}", zone.name));
        let supply = self.around.supply.map(|supply| format!("/{}", supply.name));
        format!("{name}{}", zone.or(supply).unwrap_or_default())
    }

    /// A pair of cores: `brown-grey`; where the hyphens of two pairs fall so that they read the same, `1/2-3`.
    pub(super) fn pair(&self, core: &Core, other: &Core) -> String {
        let plain = format!("{}-{}", core.name, other.name);
        let place = |name: &str| self.job.test_cores().position(|core| core.name == name);
        let reads_as_pair = |(at, _): &(usize, &str)| {
            let (first, second) = (place(&plain[..*at]), place(&plain[at + 1..]));
            first.zip(second).is_some_and(|(first, second)| first < second)
        };
        if 1 < plain.match_indices('-').filter(reads_as_pair).count() {
            format!("{}/{}", core.name, other.name)
        } else {
            plain
        }
    }

    /// Takes a name for a step; one that another step has is a finding, since a record could not tell the two apart.
    pub(super) fn take_name(&mut self, at: &Located<String>, id: &str) {
        let about = self.around.about();
        let Some(first) = self.names.get(id) else {
            self.names.insert(id.to_owned(), about);
            return;
        };
        let words = |about: &[(&str, &str)]| match about {
            [] => "nothing but itself".to_owned(),
            about => {
                let named: Vec<_> = about.iter().map(|(word, name)| format!("{word} `{name}`")).collect();
                named.join(" and ")
            }
        };
        let what = format!(
            "two steps of the plan are called `{id}`, one about {}, the other about {}",
            words(first),
            words(&about)
        );
        let alone: Vec<_> = about.iter().filter(|one| !first.contains(one)).copied().collect();
        let hint = match alone.as_slice() {
            [] => format!("give the step `{}` another name", at.value),
            alone => format!("rename {} in the job `{}`", words(alone), self.job.text.name),
        };
        self.say(Problem::new(&at.span, what).hint(hint));
    }

    /// Makes the steps from a place on one set of readings that are taken in any order and number.
    pub(super) fn join_any_order(&mut self, from: usize) {
        self.groups += 1;
        let groups = self.groups;
        self.steps[from..]
            .iter_mut()
            .for_each(|step| step.any_order = Some(groups));
    }

    /// Numbers the steps from a place on: neighbours with the same words to answer with are one prompt.
    pub(super) fn join(&mut self, from: usize) {
        for i in from..self.steps.len() {
            let goes_on = from < i && words(&self.steps[i - 1]) == words(&self.steps[i]);
            if !goes_on {
                self.groups += 1;
            }
            self.steps[i].together = Some(self.groups);
        }
    }
}

/// Cores that are linked at once, in words: `cores brown and blue`.
pub(super) fn linked_words(linked: &[&Core]) -> String {
    match names(linked).as_slice() {
        [one] => format!("core {one}"),
        [all @ .., last] => format!("cores {} and {last}", all.join(", ")),
        [] => String::new(),
    }
}

fn names<'a>(cores: &[&'a Core]) -> Vec<&'a str> {
    cores.iter().map(|core| core.name.as_str()).collect()
}

/// The stage, and the words that a step is answered with.
fn words(step: &Step) -> (Stage, &[String], &[String]) {
    match &step.kind {
        Kind::Look(look) => (step.stage, &look.words, &look.expected),
        _ => (step.stage, &[], &[]),
    }
}
