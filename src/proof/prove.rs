//! The proof itself: every rule at every step, and for each breach the shortest path that leads into it.
//!
//! The rule inside: a breach without a path is useless to the person who has to mend the sequence, so there is none.

use std::collections::{BTreeMap, BTreeSet};

use super::asked::{Asks, Doing, clear, doings, energises};
use super::breach::{Breach, Stop};
use super::build::graph;
use super::evidence::Slip;
use super::fact::Fact;
use super::facts::Facts;
use super::flow::Reached;
use super::graph::{Graph, Label, Node, label_words};
use super::outcome::Expected;
use super::rules::{self, Rule};
use super::standing;
use crate::job::{End, Job};
use crate::located::{Finding, Findings};
use crate::plan::{Act, Isolating, Plan, Stage, ends_on};

/// Breaches that are reported with their paths; the rest are counted.
pub const BREACHES_MAX: usize = 24;

/// The longest plan that is looked at, in steps: days of work, and some 30 MB.
pub const STEPS_MAX: usize = 10_000;

/// The most live steps of a plan, each of which is tried on the model with its opposites: more than a week of readings.
const LIVE_MAX: usize = 2_000;

/// The most cores of a cable whose plan is looked at: facts grow with the square of the cores.
pub const CORES_MAX: usize = 36;

/// Steps times facts that are looked at, which bounds the memory to some 30 MB: the shipped sequences on a cable of 36 cores.
const WORK_MAX: usize = 4_500_000;

/// What was proved, or what breaks it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Proof {
    /// Steps of the plan.
    pub steps: usize,
    /// Edges of the graph: outcomes that were followed.
    pub outcomes: usize,
    /// Facts that were followed along every path.
    pub facts: usize,
    /// None where every path keeps every rule.
    pub breaches: Vec<Breach>,
    /// Breaches that are not listed.
    pub more: usize,
}

impl Proof {
    /// Whether every path keeps every rule.
    pub fn holds(&self) -> bool {
        self.breaches.is_empty()
    }
}

/// Proves a plan, or says what is wrong with it.
pub fn prove(plan: &Plan) -> Proof {
    match too_much(plan) {
        Some(words) => Proof {
            steps: plan.steps.len(),
            outcomes: 0,
            facts: 0,
            breaches: vec![Breach {
                rule: rules::BOUNDED,
                step: None,
                missing: vec![words],
                path: Vec::new(),
            }],
            more: 0,
        },
        None => examine(plan, &graph(plan)),
    }
}

/// Why a plan is not looked at; found before anything grows with it.
pub(super) fn too_much(plan: &Plan) -> Option<String> {
    let (steps, cores) = (plan.steps.len(), plan.job.cores.len());
    if steps == 0 || STEPS_MAX < steps {
        return Some(format!("the plan has {steps} steps, 1 to {STEPS_MAX} are walked"));
    }
    if CORES_MAX < cores {
        return Some(format!(
            "the cable has {cores} cores, at most {CORES_MAX} are looked at"
        ));
    }
    let live = plan
        .steps
        .iter()
        .filter(|step| matches!(step.stage, Stage::FaultFinding | Stage::Live))
        .count();
    if LIVE_MAX < live {
        return Some(format!(
            "the plan has {live} live steps, at most {LIVE_MAX} are tried on the model"
        ));
    }
    let most = steps_max(&plan.job);
    (most < steps).then(|| format!("the plan has {steps} steps, at most {most} are walked with {cores} cores"))
}

/// The longest plan of a job that is looked at, in steps.
pub fn steps_max(job: &Job) -> usize {
    STEPS_MAX.min(WORK_MAX / Facts::most(job).max(1))
}

/// Proves a plan over a graph of it.
pub fn examine(plan: &Plan, graph: &Graph) -> Proof {
    let (breaches, more) = Search::new(plan, graph).run();
    Proof {
        steps: plan.steps.len(),
        outcomes: graph.labels.len(),
        facts: graph.facts.count(),
        breaches,
        more,
    }
}

/// Every breach of a plan as a finding in its file.
pub fn problems(plan: &Plan) -> Findings {
    let proof = prove(plan);
    let mut findings: Vec<Finding> = proof.breaches.iter().map(|breach| breach.finding(plan)).collect();
    if let Some(last) = findings.last_mut()
        && 0 < proof.more
    {
        let hint = last.problem.hint.take().unwrap_or_default();
        let more = format!("{hint}\n{} more breaches after these {BREACHES_MAX}", proof.more);
        last.problem.hint = Some(more);
    }
    findings.into_iter().collect()
}

/// What slipped through at a step, and what would catch it.
fn slip_words(slip: &Slip, plan: &Plan) -> String {
    let Slip {
        step,
        with,
        reads,
        caught,
        ..
    } = slip;
    let id = &plan.steps[*step].id;
    format!("`{id}` would pass with {with}: it would show {reads}; what catches it is {caught}")
}

/// That each control which calls while the supply is on drives something.
fn called(plan: &Plan) -> Vec<Fact> {
    let live = plan.steps.iter().filter(|step| step.stage == Stage::Live);
    let acts: Vec<&Act> = live.flat_map(|step| &step.acts).collect();
    let calls = |control: &str| {
        acts.iter()
            .any(|act| matches!(act, Act::Call(called) if called == control))
    };
    let controls = plan.job.controls().into_iter().enumerate();
    controls
        .filter(|(_, control)| calls(control))
        .map(|(number, _)| Fact::Driven(number))
        .collect()
}

struct Search<'a> {
    plan: &'a Plan,
    graph: &'a Graph,
    reached: Reached,
    /// Rule, node, missing fact; one entry for each fact a rule misses, at the first step where it does.
    found: Vec<(Rule, usize, Option<Fact>, String)>,
    seen: BTreeSet<(u8, Fact)>,
}

impl<'a> Search<'a> {
    fn new(plan: &'a Plan, graph: &'a Graph) -> Search<'a> {
        Search {
            plan,
            graph,
            reached: graph.flow.solve(),
            found: Vec::new(),
            seen: BTreeSet::new(),
        }
    }

    fn run(mut self) -> (Vec<Breach>, usize) {
        self.outcomes();
        self.shape();
        for (rule, step, words) in standing::breaches(self.plan) {
            let node = step.map_or(self.graph.numbers.last(), |step| self.graph.numbers.at(step));
            self.find(rule, node, words);
        }
        self.facts();
        self.evidence();
        self.breaches()
    }

    fn find(&mut self, rule: Rule, node: usize, words: impl Into<String>) {
        self.found.push((rule, node, None, words.into()));
    }

    /// Outcomes that lead nowhere.
    fn outcomes(&mut self) {
        let edges = self.graph.flow.edges();
        let mut leaving = vec![0_usize; self.graph.nodes.len()];
        edges.iter().for_each(|edge| leaving[edge.from as usize] += 1);
        let expected = Expected::of(self.plan, self.graph);
        let mut short = Vec::new();
        for (node, there) in leaving.into_iter().enumerate() {
            let mut wanted = expected.at(node);
            if there < wanted.len() {
                for (_, label) in edges
                    .iter()
                    .zip(&self.graph.labels)
                    .filter(|(e, _)| e.from as usize == node)
                {
                    if let Some(at) = wanted.iter().position(|wanted| wanted == label) {
                        wanted.remove(at);
                    }
                }
                short.extend(wanted.into_iter().map(|label| (node, label)));
            }
        }
        for (node, label) in short {
            let words = label_words(label, &self.plan.job);
            self.find(rules::LEADS_ON, node, format!("`{words}` leads nowhere"));
        }
    }

    /// Steps that nothing leads to, loops without a way out.
    fn shape(&mut self) {
        for i in 0..self.plan.steps.len() {
            if !self.reached.is_reached(self.graph.numbers.doing(i)) {
                let at = self.graph.numbers.at(i);
                self.find(rules::REACHED, at, "no path leads to it");
            }
        }
        let ends = [self.graph.numbers.completed(), self.graph.numbers.abandoned()];
        for node in self.graph.flow.without_way_out(&ends) {
            let is_step = matches!(self.graph.nodes[node], Node::At(_) | Node::Doing(_));
            if is_step && self.reached.is_reached(node) {
                self.find(rules::WAY_OUT, node, "no path leads from it to an end");
            }
        }
    }

    /// Every fact that a rule asks for, at every step.
    fn facts(&mut self) {
        let plan = self.plan;
        let asks = Asks::of(plan, &self.graph.facts);
        for (i, done) in doings(plan).into_iter().enumerate() {
            let node = self.graph.numbers.doing(i);
            for doing in done {
                for (rule, fact) in asks.at(doing) {
                    self.ask(*rule, node, *fact);
                }
            }
        }
        // hands are on the conductors there as well
        let repairing = self.graph.numbers.repairing();
        if self.reached.is_reached(repairing) {
            let touching = asks.at(Doing::Touching);
            touching
                .iter()
                .for_each(|(rule, fact)| self.ask(*rule, repairing, *fact));
        }
        let completed = self.graph.numbers.completed();
        let at_end: &[Fact] = match ends_on(plan) {
            Some(true) => &[Fact::Energised, Fact::AllPassed],
            Some(false) => &[Fact::SwitchedOff, Fact::LockedOff, Fact::NothingLeftOn],
            None => &[Fact::NothingLeftOn],
        };
        at_end.iter().for_each(|fact| self.ask(rules::ENDS, completed, *fact));
        if plan
            .steps
            .iter()
            .any(|step| (Stage::Disconnect..=Stage::Connect).contains(&step.stage))
        {
            for fact in clear(&self.graph.facts) {
                self.ask(rules::CLEAR, completed, fact);
            }
        }
        if ends_on(plan) == Some(true) {
            for fact in self.graph.facts.fed() {
                self.ask(rules::PLACES, completed, fact);
            }
            for fact in called(plan) {
                self.ask(rules::DRIVEN, completed, fact);
            }
        }
        if energises(plan) {
            for end in End::BOTH.into_iter().filter(|end| plan.job.has_earth_conductor(*end)) {
                self.ask(rules::EARTHED, completed, Fact::Earthed(end));
            }
            let gripped: Vec<Fact> = self.graph.facts.gripped().collect();
            gripped
                .into_iter()
                .for_each(|fact| self.ask(rules::EARTHED, completed, fact));
        }
        if ends_on(plan) == Some(false) {
            let off = |fact: &Fact| matches!(fact, Fact::Further(_, Isolating::SwitchOff | Isolating::LockOff));
            let further: Vec<Fact> = self.graph.facts.further().filter(off).collect();
            further
                .into_iter()
                .for_each(|fact| self.ask(rules::ENDS, completed, fact));
        }
        self.ask(rules::ABANDONS, self.graph.numbers.abandoned(), Fact::NothingLeftOn);
    }

    fn ask(&mut self, rule: Rule, node: usize, fact: Fact) {
        let number = self.graph.facts.number(fact);
        if !self.reached.holds(node, number) && self.seen.insert((rule.number, fact)) {
            let words = self.graph.facts.words(fact, &self.plan.job) + &self.slipped(fact);
            self.found.push((rule, node, Some(fact), words));
        }
    }

    /// Which steps claim a fact and would pass without it, to follow what is not shown.
    fn slipped(&self, fact: Fact) -> String {
        let slips = self.graph.evidence.slips.iter().filter(|slip| slip.fact == Some(fact));
        slips
            .map(|slip| format!(" ({})", slip_words(slip, self.plan)))
            .collect()
    }

    /// What the model found: readings that could not have failed, steps that sound wiring fails.
    fn evidence(&mut self) {
        let (plan, graph) = (self.plan, self.graph);
        let evidence = &graph.evidence;
        if let Some(why) = &evidence.no_model {
            let first = graph.numbers.at(0);
            self.find(rules::MODELLED, first, why.clone());
        }
        for (step, reads) in &evidence.unsound {
            let node = graph.numbers.doing(*step);
            self.find(rules::SOUND, node, format!("sound wiring shows {reads}, which fails"));
        }
        for step in &evidence.unproved {
            let node = graph.numbers.doing(*step);
            let what = "no earlier step reads a voltage with the same instrument and range, on the same points or on what would feed them";
            self.find(rules::PRESENCE, node, what);
        }
        for (step, how) in &evidence.lax {
            self.find(rules::COULD_FAIL, graph.numbers.doing(*step), how.clone());
        }
        for slip in evidence.slips.iter().filter(|slip| slip.fact.is_none()) {
            let node = graph.numbers.doing(slip.step);
            self.find(rules::COULD_FAIL, node, slip_words(slip, plan));
        }
    }

    /// Findings of one rule at one node together, each with its path.
    fn breaches(self) -> (Vec<Breach>, usize) {
        type Missing = (Rule, Option<Fact>, Vec<String>);
        let mut groups: BTreeMap<(usize, u8), Missing> = BTreeMap::new();
        for (rule, node, fact, words) in &self.found {
            let group = groups
                .entry((*node, rule.number))
                .or_insert_with(|| (*rule, *fact, Vec::new()));
            group.2.push(words.clone());
        }
        let more = groups.len().saturating_sub(BREACHES_MAX);
        let cost = |edge: usize| match self.graph.labels[edge] {
            Label::LetThrough => 0,
            // a path that walks on is easier to follow than one that goes over what stands
            Label::Stands | Label::StillLeft => 3,
            _ => 1,
        };
        let breach = |((node, _), (rule, fact, missing)): ((usize, u8), Missing)| {
            let flow = &self.graph.flow;
            let broken = fact.and_then(|fact| flow.shortest(node, self.graph.facts.number(fact), cost));
            // what the model finds is found there whichever way the walk came
            let of_model = [rules::COULD_FAIL, rules::SOUND, rules::PRESENCE, rules::MODELLED].contains(&rule);
            let most = if of_model { 1 } else { usize::MAX };
            let edges = broken.or_else(|| flow.way_to(node, cost)).unwrap_or_default();
            Breach {
                rule,
                step: self.step_of(node),
                missing,
                path: self.stops(&edges[..edges.len().min(most)], node),
            }
        };
        // what hands must not do is not crowded out by what a reading cannot tell; both stand in the order of the walk
        let mut kept: Vec<((usize, u8), Missing)> = groups.into_iter().collect();
        kept.sort_by_key(|(_, (rule, ..))| !rule.of_facts);
        kept.truncate(BREACHES_MAX);
        kept.sort_by_key(|(at, _)| *at);
        (kept.into_iter().map(breach).collect(), more)
    }

    fn step_of(&self, node: usize) -> Option<usize> {
        match self.graph.nodes[node] {
            Node::At(i) | Node::Doing(i) | Node::Deciding(i) => Some(i),
            Node::Repairing => self
                .plan
                .after_isolation()
                .filter(|after| *after < self.plan.steps.len()),
            _ => None,
        }
    }

    fn stops(&self, edges: &[usize], node: usize) -> Vec<Stop> {
        let stop = |number: &usize| {
            let edge = self.graph.flow.edges()[*number];
            let label = self.graph.labels[*number];
            (label != Label::LetThrough).then(|| Stop {
                step: self.step_of(edge.from as usize),
                happened: label_words(label, &self.plan.job),
            })
        };
        let mut stops: Vec<Stop> = edges.iter().filter_map(stop).collect();
        let here = self.step_of(node);
        let happened = match (here, self.reached.is_reached(node)) {
            (_, false) => "never reached",
            (Some(_), true) => "here",
            (None, true) => "the end",
        };
        stops.push(Stop {
            step: here,
            happened: happened.into(),
        });
        stops
    }
}
