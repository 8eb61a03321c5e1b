//! Random walks of the engine in a world of hands: what is asked for never finds the world in a state that the proof rules out.

use coreproof::pure::engine::{Ask, Engine, Output, Prompt, Show};
use coreproof::pure::event::{Carried, Ending, Event, Opened};
use coreproof::pure::job::{At, ControlPair, Nature, Purpose};
use coreproof::pure::plan::{Act, Kind, Look, Plan, Probes, Stage, Subject, Then, Timing};
use coreproof::pure::proof::{Fact, Graph, Reached, graph, may_follow, prove};
use coreproof::pure::quantity::Amount;
use coreproof::pure::reading::Function;
use coreproof::pure::record::{Run, Status};
use coreproof::pure::window::Outcome;
use jiff::{SignedDuration, Timestamp};

use super::hands::Hands;
use super::{Dice, stat_cable};

struct Walk<'a> {
    engine: Engine,
    now: Timestamp,
    dice: Dice,
    hands: Hands,
    prompt: Option<Prompt>,
    plan: &'a Plan,
    graph: &'a Graph,
    reached: &'a Reached,
    seed: u64,
    /// One bad answer in so many.
    trouble: usize,
    trail: Vec<String>,
    asked: usize,
}

fn opened() -> Opened {
    Opened {
        program: "coreproof test".into(),
        ..Opened::new(
            coreproof::pure::shipped::carried("stat-cable").expect("it is shipped"),
            Carried::new("saltmarsh.ron", include_str!("../../fixtures/saltmarsh.ron")),
            "2018+A2:2022",
        )
    }
}

impl<'a> Walk<'a> {
    fn new(seed: u64, plan: &'a Plan, graph: &'a Graph, reached: &'a Reached) -> Walk<'a> {
        let now: Timestamp = "2026-11-25T08:00:00Z".parse().unwrap();
        let run = Run::with_plan(opened(), now, plan.clone());
        let mut dice = Dice(seed);
        let trouble = 6 + dice.below(60);
        Walk {
            engine: Engine::new(run, None, None),
            now,
            dice,
            hands: Hands::new(plan),
            prompt: None,
            plan,
            graph,
            reached,
            seed,
            trouble,
            trail: Vec::new(),
            asked: 0,
        }
    }

    fn must(&self, holds: bool, what: &str) {
        let last = &self.trail[self.trail.len().saturating_sub(25)..];
        assert!(holds, "seed {}: {what}\nlast: {last:#?}\n{:#?}", self.seed, self.hands);
    }

    fn drain(&mut self) {
        while let Some(output) = self.engine.poll_output() {
            match output {
                Output::Record(event) => {
                    self.engine.handle_recorded(&event, self.now);
                    self.recorded(&event);
                }
                Output::Show(Show::Prompt(prompt)) => self.prompt = Some(*prompt),
                Output::Show(_) => {}
                Output::Photograph(file) => panic!("nobody photographs `{file}` here"),
            }
        }
    }

    fn recorded(&mut self, event: &Event) {
        self.trail.push(format!("{event:?}").chars().take(140).collect());
        self.hands.hear(event, self.plan, &self.graph.facts);
        if let Event::Closed { ending } = event {
            let live = self.hands.on && self.hands.switched;
            let passed = self.engine.run().outcome() == Outcome::Pass;
            self.must(!live || passed, "closed while energised and not passed");
            let node = match ending {
                Ending::Completed => self.node(|node| matches!(node, coreproof::pure::proof::Node::Completed)),
                Ending::Abandoned(_) => self.node(|node| matches!(node, coreproof::pure::proof::Node::AbandonedClosed)),
            };
            self.compare(node, "the end");
        }
    }

    fn node(&self, wanted: impl Fn(&coreproof::pure::proof::Node) -> bool) -> usize {
        self.graph.nodes.iter().position(wanted).unwrap()
    }

    /// Whatever the proof says holds at a node on every path holds on this one.
    fn compare(&self, node: usize, at: &str) {
        for (number, fact) in self.graph.facts.all().iter().enumerate() {
            if self.reached.holds(node, number)
                && let Some(holds) = self.hands.holds(*fact, self.plan)
            {
                self.must(holds, &format!("the proof says {fact:?} at `{at}`"));
            }
        }
    }

    /// Looks at what is asked before it is done.
    fn look(&mut self, prompt: &Prompt) {
        let is_step = matches!(
            prompt.ask,
            Ask::Done { .. }
                | Ask::Indicator
                | Ask::Purpose { .. }
                | Ask::Reading { .. }
                | Ask::Look { .. }
                | Ask::Note { .. }
        );
        let Some(index) = self.plan.index(&prompt.step).filter(|_| is_step) else {
            return;
        };
        self.asked += 1;
        let node = self.graph.numbers.doing(index);
        self.must(self.reached.is_reached(node), "a step that no path leads to");
        self.compare(node, &prompt.step);
        let all_passed = self.graph.facts.number(Fact::AllPassed);
        let before = &self.engine.run().steps[..index];
        let passed = before.iter().all(|state| state.status == Status::Passed);
        self.must(
            passed || !self.reached.holds(node, all_passed),
            &format!("the proof says that all has passed at `{}`", prompt.step),
        );
        let step = &self.plan.steps[index];
        let reads = step.stage == Stage::Survey && matches!(step.kind, Kind::Measure(_));
        self.must(
            !reads || !self.hands.switched,
            "a reading as found where it is no longer as found",
        );
    }

    fn answer(&mut self, prompt: &Prompt) -> String {
        let bad = self.dice.one_in(self.trouble);
        match &prompt.ask {
            Ask::Done { .. } if bad && !prompt.step.is_empty() => "no".into(),
            Ask::Done { word } => (*word).into(),
            Ask::Indicator => {
                let lit = prompt.step.starts_with("indicator") != bad;
                if lit { "lit".into() } else { "dark".into() }
            }
            Ask::Purpose { terminal } => {
                let index = self.plan.index(&prompt.step).unwrap();
                let Kind::Connect { end, .. } = self.plan.steps[index].kind else {
                    unreachable!("only a connection asks for a purpose")
                };
                let mut terminals = self.plan.job.end(end).terminals.iter();
                let takes = terminals.find(|t| t.name == *terminal).unwrap().takes;
                let said = if bad { Purpose::VoltFree } else { takes };
                said.words().into()
            }
            Ask::Reading { function, .. } => reading(*function, &prompt.step, bad, &mut self.dice).into(),
            Ask::Look { look } if bad => look.words.iter().find(|w| !look.expected.contains(w)).unwrap().clone(),
            Ask::Look { look } => look.expected[0].clone(),
            Ask::Note { .. } => "seen".into(),
            Ask::Decision { .. } => self.decision(prompt),
            Ask::Blocked { .. } => if self.dice.one_in(9) { "abandon" } else { "again" }.into(),
            Ask::Text => "because".into(),
            Ask::Touched => {
                let cores = &self.plan.job.cores;
                match self.dice.below(cores.len() + 2) {
                    0 => "none".into(),
                    1 => "all".into(),
                    n => cores[n - 2].name.clone(),
                }
            }
        }
    }

    /// One of the decisions that the plan allows there; abandoning always is.
    fn decision(&mut self, prompt: &Prompt) -> String {
        let step = &self.plan.steps[self.plan.index(&prompt.step).unwrap()];
        let mut may = vec!["abandon"];
        for then in step.after_failure.iter().filter(|then| may_follow(step, then)) {
            match then {
                Then::Again => may.extend(["again"; 2]),
                Then::Repair(_) => may.extend(["repair"; 4]),
                Then::Leave => may.extend(["leave"; 4]),
                Then::Locate => {}
            }
        }
        may[self.dice.below(may.len())].into()
    }

    /// The machine stops and goes on later.
    fn pause(&mut self) {
        self.trail.push("a break".into());
        self.engine = Engine::new(self.engine.run().clone(), None, Some(0));
        self.prompt = None;
        self.drain();
    }

    fn go(&mut self, prompts_max: usize) {
        self.drain();
        for _ in 0..prompts_max {
            if self.engine.run().ending.is_some() {
                return;
            }
            if self.dice.one_in(10 * self.trouble) {
                self.pause();
            }
            let prompt = self.prompt.clone().expect("a run that is not over asks");
            self.look(&prompt);
            let line = self.answer(&prompt);
            self.trail.push(format!("{} <- {line}", prompt.step));
            self.now += SignedDuration::from_secs(if prompt.step.ends_with("-off") { 11 } else { 1 });
            let before = self.trail.len();
            self.engine.handle_line(&line, self.now);
            self.drain();
            if self.trail.len() == before && matches!(prompt.ask, Ask::Reading { .. }) {
                // not yet time for this reading
                self.now += SignedDuration::from_secs(40);
            }
        }
    }
}

fn reading(function: Function, step: &str, bad: bool, dice: &mut Dice) -> &'static str {
    let dead = step.contains("continuity") || step.contains("open") || step.contains("insulation");
    if bad && dead && dice.one_in(4) && !step.starts_with("pair") {
        return "231 V";
    }
    if bad && step.starts_with("continuity") && dice.one_in(4) {
        return "leads";
    }
    match (function, bad) {
        (Function::Insulation(_), false) => ">299",
        (Function::Insulation(_), true) => "0.2",
        (_, false) if step == "lead-null" => "0.04",
        (_, true) if step == "lead-null" => "9.5",
        (Function::Continuity, false) if step.starts_with("continuity") => "0.63",
        (Function::Continuity, true) if step.starts_with("continuity") => "OL",
        (Function::Continuity, false) => "OL",
        (Function::Continuity, true) => "0.5",
        (_, false) if step.ends_with("-off") => "0.3",
        (_, true) if step.ends_with("-off") => "120",
        (_, false) => "231.4",
        (_, true) => "12",
    }
}

/// The shipped plan with a control pair classified as found, a hand-over, and its own ways on after failures.
pub fn framed() -> Plan {
    let mut plan = stat_cable();
    plan.job.control_pair = Some(ControlPair {
        between: (At::Near("3".into()), At::Near("2".into())),
        control: "thermostat".into(),
        near: Nature::Mains,
        far: Nature::Mains,
        volts: Amount::parse("230 V").unwrap(),
        direct: false,
    });
    let template = plan.steps[plan.index("switched-on").unwrap()].clone();
    let mut survey = Vec::new();
    for (end, id) in [
        (coreproof::pure::job::End::Near, "plate-near"),
        (coreproof::pure::job::End::Far, "plate-far"),
    ] {
        let mut step = template.clone();
        step.id = id.into();
        step.kind = Kind::Look(Box::new(Look {
            subject: Subject::Plate(end),
            words: vec!["mains".into(), "volt-free".into()],
            expected: vec!["mains".into()],
            timing: Timing::Any,
        }));
        survey.push(step);
    }
    let thing = {
        let mut step = survey[0].clone();
        step.id = "inspect".into();
        step.kind = Kind::Look(Box::new(Look {
            subject: Subject::Thing("covers".into()),
            words: vec!["whole".into(), "broken".into()],
            expected: vec!["whole".into()],
            timing: Timing::Any,
        }));
        step
    };
    survey.insert(0, thing);
    for (act, set, id) in [
        (Act::Satisfy("thermostat".into()), "set-open", "pair-open"),
        (Act::Call("thermostat".into()), "set-closed", "pair-closed"),
    ] {
        let mut step = plan.steps[plan.index("call").unwrap()].clone();
        step.id = set.into();
        step.acts = vec![act];
        survey.push(step);
        let mut step = template.clone();
        step.id = id.into();
        let Kind::Measure(measure) = &mut step.kind else {
            unreachable!()
        };
        let Probes { first, second } = measure.probes.clone();
        measure.probes = Probes {
            first: second,
            second: first,
        };
        survey.push(step);
    }
    survey.iter_mut().for_each(|step| step.stage = Stage::Survey);
    let mut shown = survey[0].clone();
    shown.id = "shown".into();
    shown.stage = Stage::HandOver;
    plan.steps.splice(0..0, survey);
    plan.steps.push(shown);
    let set = |plan: &mut Plan, id: &str, after: Vec<Then>| {
        let index = plan.index(id).unwrap();
        plan.steps[index].after_failure = after;
    };
    set(
        &mut plan,
        "insulation-earth",
        vec![Then::Repair(Some("link/brown".into())), Then::Again],
    );
    set(
        &mut plan,
        "connect-far/grey",
        vec![Then::Repair(Some("connect-near/brown".into())), Then::Leave],
    );
    set(
        &mut plan,
        "switched-on",
        vec![Then::Repair(Some("off-near".into())), Then::Leave],
    );
    plan
}

/// The shipped plan with its dead tests made twice.
pub fn twice() -> Plan {
    let mut plan = stat_cable();
    let again: Vec<_> = plan.steps.iter().filter(|s| s.stage == Stage::Test).cloned().collect();
    let to = plan.index("connect-near/brown").unwrap();
    for (more, mut step) in again.into_iter().enumerate() {
        step.id.push('~');
        plan.steps.insert(to + more, step);
    }
    plan
}

/// Walks a proved plan at random, a few times.
pub fn walk(plan: &Plan, seeds: std::ops::Range<u64>) {
    let graph = graph(plan);
    let reached = graph.flow.solve();
    for seed in seeds {
        Walk::new(seed, plan, &graph, &reached).go(1_000);
    }
}

fn check(plan: &Plan, walks: u64) {
    let proof = prove(plan);
    let what: Vec<_> = proof.breaches.iter().map(|b| b.what(plan)).collect();
    assert!(proof.holds(), "{what:#?}");
    let graph = graph(plan);
    let reached = graph.flow.solve();
    let seeds: Vec<u64> = match std::env::var("COREPROOF_SEED") {
        Ok(seed) => vec![seed.parse().unwrap()],
        Err(_) => (0..walks).collect(),
    };
    let (mut asked, mut passed, mut over) = (0, 0, 0);
    for &seed in &seeds {
        let mut walk = Walk::new(seed, plan, &graph, &reached);
        walk.go(2_000);
        asked += walk.asked;
        over += usize::from(walk.engine.run().ending.is_some());
        passed += usize::from(walk.engine.run().outcome() == Outcome::Pass);
    }
    println!(
        "{} walks, {asked} steps asked, {over} over, {passed} passed",
        seeds.len()
    );
    let enough = passed * 50 > seeds.len() && over * 2 > seeds.len();
    assert!(seeds.len() == 1 || enough, "{passed} passed, {over} over");
}

#[test]
fn the_engine_never_comes_where_the_proof_says_nobody_comes() {
    check(&stat_cable(), WALKS);
}

#[test]
fn nor_with_a_survey_a_hand_over_and_ways_of_its_own_after_failures() {
    check(&framed(), WALKS);
}

#[test]
fn nor_with_its_dead_tests_made_twice() {
    check(&twice(), WALKS / 2);
}

const WALKS: u64 = if cfg!(all(feature = "outside", not(debug_assertions))) {
    5_000
} else {
    300
};
