//! Random walks of the engine in a world of hands: what is asked for never finds the world in a state that the proof rules out.

use coreproof::job::Purpose;
use coreproof::judge::window::{Edge, Outcome};
use coreproof::located::Text;
use coreproof::plan::may_follow;
use coreproof::plan::{Kind, Measure, Plan, Stage, Step, Then, WindowRule};
use coreproof::proof::{Fact, Graph, Reached, graph, prove};
use coreproof::run::dialogue::{Ask, Dialogue, Output, Prompt, Show};
use coreproof::run::engine::Engine;
use coreproof::run::event::{Ending, Event, Opened};
use coreproof::run::fold::{Run, Status};
use coreproof::value::reading::{Function, Multiple};
use jiff::{SignedDuration, Timestamp};
use rust_decimal::Decimal;

use super::hands::Hands;
use super::{Dice, bound, bound_with, stat_cable};

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
            coreproof::sequence::shipped::carried("stat-cable").expect("it is shipped"),
            Text::new("saltmarsh.ron", include_str!("../../fixtures/saltmarsh.ron")),
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
                Output::Locate(_) => panic!("nobody asks where the fault is here"),
            }
        }
    }

    fn recorded(&mut self, event: &Event) {
        self.trail.push(format!("{event:?}").chars().take(140).collect());
        if let Event::Repaired { step, .. } = event
            && self.plan.steps[self.plan.index(step).unwrap()].stage == Stage::Survey
        {
            let node = self.graph.numbers.repairing();
            self.must(self.reached.is_reached(node), "a repair that no path leads to");
            self.compare(node, step);
        }
        self.hands.hear(event, self.plan, &self.graph.facts);
        if let Event::Closed { ending } = event {
            let live = self.hands.on && self.hands.switched;
            let passed = self.engine.run().outcome() == Outcome::Pass;
            self.must(!live || passed, "closed while energised and not passed");
            let node = match ending {
                Ending::Completed => self.node(|node| matches!(node, coreproof::proof::Node::Completed)),
                Ending::Abandoned(_) => self.node(|node| matches!(node, coreproof::proof::Node::AbandonedClosed)),
            };
            self.compare(node, "the end");
        }
    }

    fn node(&self, wanted: impl Fn(&coreproof::proof::Node) -> bool) -> usize {
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
        let before = self.engine.run().steps[..index].iter().zip(&self.plan.steps);
        // nothing rests on what was read as found
        let mut counts = before.filter(|(_, step)| step.stage != Stage::FaultFinding);
        let passed = counts.all(|(state, _)| state.status == Status::Passed);
        self.must(
            passed || !self.reached.holds(node, all_passed),
            &format!("the proof says that all has passed at `{}`", prompt.step),
        );
        let step = &self.plan.steps[index];
        let reads = step.stage <= Stage::FaultFinding && matches!(step.kind, Kind::Measure(_));
        self.must(
            !reads || !self.hands.switched,
            "a reading as found where it is no longer as found",
        );
    }

    fn answer(&mut self, prompt: &Prompt) -> String {
        let bad = self.dice.one_in(self.trouble);
        if self.dice.one_in(4 * self.trouble) {
            return if self.dice.one_in(4) { "was lit" } else { "back" }.into();
        }
        match &prompt.ask {
            Ask::Done { .. } if bad && !prompt.step.is_empty() => "no".into(),
            Ask::Done { word } => (*word).into(),
            Ask::Indicator => {
                let step = &self.plan.steps[self.plan.index(&prompt.step).unwrap()];
                let lit = matches!(step.kind, Kind::Indicator { lit: true, .. }) != bad;
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
            Ask::Reading { .. } => {
                let index = self.plan.index(&prompt.step).unwrap();
                reading(self.plan, &self.plan.steps[index], bad, &mut self.dice)
            }
            Ask::Look { look } if bad => {
                let other = look.words.iter().find(|word| !look.expected.contains(word));
                let else_seen = if self.dice.one_in(4) { "no" } else { "found scorched" };
                other.cloned().unwrap_or(else_seen.into())
            }
            Ask::Look { look } => look.expected[0].clone(),
            Ask::Note { .. } => "seen".into(),
            Ask::Decision { .. } => self.decision(prompt),
            Ask::Blocked { .. } if self.dice.one_in(9) => "abandon".into(),
            Ask::Blocked { .. } => prompt.choices[0].word.clone(),
            // what was found by eye may stay so
            Ask::Text if prompt.choices[0].word == "leave" && self.dice.one_in(4) => "leave".into(),
            Ask::Text | Ask::Told | Ask::Held => "because".into(),
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
                Then::Isolate => {}
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
            self.engine.handle_answer(&line, self.now);
            self.drain();
            if self.trail.len() == before && matches!(prompt.ask, Ask::Reading { .. }) {
                // not yet time for this reading
                self.now += SignedDuration::from_secs(40);
            }
        }
    }
}

fn reading(plan: &Plan, step: &Step, bad: bool, dice: &mut Dice) -> String {
    let Kind::Measure(measure) = &step.kind else {
        unreachable!("only a measurement asks for a reading")
    };
    let (id, function) = (step.id.as_str(), measure.used.function);
    if bad && step.stage == Stage::Test && !measure.is_null && dice.one_in(4) {
        return "231 V".into();
    }
    if bad && id.starts_with("continuity") && dice.one_in(4) {
        return "leads".into();
    }
    let word = match (function, bad) {
        (Function::Insulation(_), false) => ">299",
        (Function::Insulation(_), true) => "0.2",
        (_, false) if measure.is_null => "0.04",
        (_, true) if measure.is_null => "9.5",
        (Function::Continuity, false) if id.starts_with("continuity") => return ohms(plan, measure),
        (Function::Continuity, true) if id.starts_with("continuity") => "OL",
        (Function::Continuity, bad) if has_top(measure) => {
            if bad {
                "OL"
            } else {
                "0.06"
            }
        }
        (Function::Continuity, false) => "OL",
        (Function::Continuity, true) => "0.5",
        (Function::Loop, false) => "0.62",
        (Function::Loop, true) => "90",
        (Function::ResidualTrip(Multiple::Half), false) => ">1999",
        (Function::ResidualTrip(Multiple::Half), true) => "120",
        (Function::ResidualTrip(_), false) => "28",
        (Function::ResidualTrip(_), true) => ">300",
        _ => return volts(measure, bad),
    };
    word.into()
}

fn has_top(measure: &Measure) -> bool {
    matches!(&measure.window, WindowRule::Fixed(window) if window.high.is_some())
}

/// A resistance that passes, with the leads: in the middle of the window, which for a core like the first is the first one's.
fn ohms(plan: &Plan, measure: &Measure) -> String {
    let windows = plan.steps.iter().filter_map(|step| match &step.kind {
        Kind::Measure(m) if m.used.function == Function::Continuity && m.subtract_null => Some(&m.window),
        _ => None,
    });
    let window = std::iter::once(&measure.window)
        .chain(windows)
        .find_map(|rule| match rule {
            WindowRule::Fixed(window) => Some(window),
            WindowRule::Like { .. } | WindowRule::Solved(_) => None,
        });
    let window = window.expect("the first core has a window of its own");
    let edge = |edge: &Option<Edge>| edge.as_ref().map_or(Decimal::ZERO, |edge| edge.amount.value());
    let middle = (edge(&window.low) + edge(&window.high)) / Decimal::TWO;
    (middle + Decimal::new(4, 2)).round_dp(2).to_string()
}

/// A voltage that passes, or one that does not: in the middle of the window, or beyond its edge.
fn volts(measure: &Measure, bad: bool) -> String {
    let WindowRule::Fixed(window) = &measure.window else {
        unreachable!("a voltage has a window of its own")
    };
    let edge = |edge: &Option<Edge>| edge.as_ref().map(|edge| edge.amount.value());
    let value = match (edge(&window.low), edge(&window.high), bad) {
        (Some(low), Some(high), false) => (low + high) / Decimal::TWO,
        (Some(low), None, false) => low + Decimal::TEN,
        (Some(low), _, true) => low / Decimal::TWO,
        (None, Some(high), true) => high + Decimal::TEN,
        (None, ..) => Decimal::new(3, 1),
    };
    value.round_dp(1).to_string()
}

/// Live fault-finding: why, the feed, and what is read only where that failed.
const FOUND_LIVE: &str = "
    LiveReasons(id: \"why\", say: \"Still on.\"),
    Do(id: \"found-rest\", stage: FaultFinding, act: EveryCallOff, say: \"Turn all down.\"),
    Voltage(id: \"found-feed\", end: Near, between: (\"permanent live\", \"neutral\"), window: LoadVoltage, stage: FaultFinding, say: \"{first}, {second}.\"),
    AnyOrder([
        Voltage(id: \"found-any\", end: Near, between: (\"permanent live\", \"neutral\"), window: LoadVoltage, stage: FaultFinding, say: \"{first}, {second}.\"),
        Voltage(id: \"found-other\", end: Near, between: (\"permanent live\", \"earth\"), window: LoadVoltage, stage: FaultFinding, say: \"{first}, {second}.\"),
    ]),
    If(Failed(\"found-any\"), [
        Voltage(id: \"found-earth\", end: Near, between: (\"permanent live\", \"earth\"), window: LoadVoltage, stage: FaultFinding, say: \"{first}, {second}.\"),
    ]),
";

/// A plan with a control pair classified as found, live fault-finding, extra-low voltage shown absent and a hand-over, with its own ways on after
/// failures.
pub fn framed() -> Plan {
    let isolating = "        EachSupply([";
    let mut plan = bound_with(
        "extra-low-pair",
        "changing-rooms-pair",
        isolating,
        &format!("{FOUND_LIVE}{isolating}"),
    );
    let after = [
        (
            "insulation-return",
            vec![Then::Repair(Some("link-first".into())), Then::Again],
        ),
        (
            "connect-far/red",
            vec![Then::Repair(Some("connect-near/white".into())), Then::Leave],
        ),
        ("open-volts", vec![Then::Repair(Some("off-near".into())), Then::Leave]),
    ];
    for (id, after) in after {
        let index = plan.index(id).unwrap();
        plan.steps[index].after_failure = after;
    }
    plan
}

/// The shipped plan with its dead tests made twice.
pub fn twice() -> Plan {
    let mut plan = stat_cable();
    // the first link is put on before the tests, in passing
    let is_test = |s: &&Step| s.stage == Stage::Test || s.id == "link-first";
    let again: Vec<_> = plan.steps.iter().filter(is_test).cloned().collect();
    let to = plan.index("connect-near/brown").unwrap();
    for (more, mut step) in again.into_iter().enumerate() {
        step.id.push('~');
        step.stage = Stage::Test;
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

#[test]
fn nor_where_metal_pipe_touches_both_ends() {
    check(&super::metal::at_both_ends(), WALKS / 2);
}

#[test]
fn nor_where_the_residual_current_device_trips() {
    check(&bound("fused-spur", "workshop-spur"), WALKS / 2);
}

const WALKS: u64 = if cfg!(feature = "long") { 5_000 } else { 300 };
