//! Random walks of the shipped sequence, and of plans whose names are meant to be mistaken: legal and illegal lines, failures, repairs, breaks and power cuts in any order.
//!
//! The rule inside: the oracle does not ask the fold. It keeps its own picture of the place (what is switched on, linked, joined,
//! connected) from the acts that were said to be done, and its own list of what passed since what. One seed drives a walk and
//! is printed with every breach; `COREPROOF_SEED` repeats one, `COREPROOF_WALKS` sets how many are walked.

use std::collections::{BTreeMap, BTreeSet};

use coreproof::judge::window::{Edge, Outcome, Window};
use coreproof::located::{Findings, Text};
use coreproof::plan::{Act, Kind, Plan, Stage, Step, Timing, WindowRule};
use coreproof::run::dialogue::{Ask, Dialogue, Heard, Output, Prompt, Show};
use coreproof::run::engine::{Engine, PortInstrument};
use coreproof::run::event::{Ending, Event, Opened};
use coreproof::run::fold::Run;
use coreproof::value::raw::Raw;
use coreproof::value::reading::{Function, Origin, Reading};
use jiff::{SignedDuration, Timestamp};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

mod hostile;
mod oracle;
use oracle::Oracle;

/// A small generator (the constants of Numerical Recipes); quality does not matter, repeatability does.
struct Dice(u64);

impl Dice {
    fn below(&mut self, n: u64) -> u64 {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223) & 0xffff_ffff;
        (self.0 >> 8) % n
    }

    fn one_of<'a>(&mut self, of: &[&'a str]) -> &'a str {
        of[usize::try_from(self.below(of.len() as u64)).unwrap()]
    }
}

/// What a sound installation shows at a step.
fn sound(step: &Step) -> String {
    match &step.kind {
        Kind::Do | Kind::Gate => "done".into(),
        Kind::Note { .. } => "a note".into(),
        Kind::Indicator { lit, .. } => if *lit { "lit" } else { "dark" }.into(),
        Kind::Connect { carries, .. } => carries.words().into(),
        Kind::Look(look) if look.expected.is_empty() => "none".into(),
        Kind::Look(look) => look.expected.join(", "),
        Kind::Measure(measure) => {
            let WindowRule::Fixed(Window { low, high, .. }) = &measure.window else {
                panic!("the length of the cable is known")
            };
            let edge = |edge: &Option<Edge>| edge.as_ref().map(|edge| edge.amount.value());
            let leads = if measure.subtract_null { LEADS } else { Decimal::ZERO };
            match (measure.used.function, edge(low), edge(high)) {
                _ if measure.is_null => LEADS.to_string(),
                (Function::Insulation(_), ..) => ">299".into(),
                (Function::Continuity, _, None) => "OL".into(),
                (_, low, high) => {
                    let (low, high) = (low.unwrap_or_default(), high.expect("the others have an upper edge"));
                    ((low + high) / Decimal::TWO + leads).round_dp(2).to_string()
                }
            }
        }
    }
}

/// Voltages above extra-low voltage, as tired people type them.
const VOLTS: &[&str] = &[
    "230v",
    "230 VAC",
    "230V~",
    "240 volts",
    "0.23 kV",
    "229,6 V",
    "live",
    "60 V",
    "it's live",
    "ac 230 V",
    "325 V dc",
    "still live",
    "reason: 230 v on brown",
];
/// Slips of the fingers that are no voltage above extra-low voltage.
const SLIPS: &[&str] = &[
    "12 v",
    "0,42",
    ".42",
    "200R",
    "2k2",
    ">200 mohm",
    "1,234",
    "230 vase",
    "lit",
    "420 Mohm",
    "24 ms",
    "6.3",
    "0.063",
    "1 mm\u{b2}",
    "yes",
    "doen",
    "dakr",
    "48V",
    "230",
];

/// What takes back what was said.
const CORRECTIONS: &[&str] = &[
    "back",
    "back",
    "BACK ",
    "back",
    "back",
    "was lit",
    "was lit dead-far/black-neutral",
    "was lit nowhere",
];

/// What corrects the length of the cable, and what must not.
const LENGTHS: &[&str] = &[
    "length 19 m because measured along its run",
    "length 17.5 m because paced",
    "length 20 m",
    "length 15 m because a piece was cut off",
    "length 22 m because it goes round the loft",
    "length 23 m because of another 5 m",
    "length 18 m because as it was stated",
    "length 13 m because shorter",
    "length",
    "length 14 V because nothing",
    "length -1 m",
];

/// Ohms of the test leads.
const LEADS: Decimal = Decimal::from_parts(4, 0, 0, false, 2);

/// A plan to walk, with the files it came from and what a sound installation answers at each step.
struct Subject {
    opened: Opened,
    plan: Plan,
    good: Vec<String>,
}

impl Subject {
    /// The error is what the plan is refused for.
    fn of(sequence: (Text, Vec<Text>), job: Text) -> Result<Subject, Findings> {
        let opened = Opened {
            program: "coreproof test".into(),
            ..Opened::new(sequence, job, "2018+A2:2022")
        };
        let plan = Run::open(opened.clone(), Timestamp::UNIX_EPOCH)?.plan;
        let good = plan.steps.iter().map(sound).collect();
        Ok(Subject {
            opened,
            plan: Plan::clone(&plan),
            good,
        })
    }

    fn shipped() -> Subject {
        let sequence = coreproof::sequence::shipped::carried("stat-cable").expect("it is shipped");
        let job = Text::new("saltmarsh.ron", include_str!("../../fixtures/saltmarsh.ron"));
        Subject::of(sequence, job).unwrap()
    }

    /// The same with a look at both ends, and one at neither, before anything is switched.
    fn looked_at() -> Subject {
        let (mut sequence, parts) = coreproof::sequence::shipped::carried("stat-cable").expect("it is shipped");
        let isolates = "        Include(\"parts/isolate.ron\"),";
        let looks = "
            Inspect(id: \"eye-near\", stage: Survey, end: Near, thing: \"the {near}\", say: \"Sound?\"),
            Inspect(id: \"eye-far\", stage: Survey, end: Far, thing: \"the {far}\", say: \"Sound?\"),
            Inspect(id: \"eye-else\", stage: Survey, thing: \"the valve\", say: \"Sound?\"),\n";
        assert!(sequence.text.contains(isolates));
        sequence.text = sequence
            .text
            .replacen(isolates, &format!("{looks}{isolates}"), 1)
            .into();
        let job = Text::new("saltmarsh.ron", include_str!("../../fixtures/saltmarsh.ron"));
        Subject::of((sequence, parts), job).unwrap_or_else(|findings| panic!("{findings:?}"))
    }

    /// The same where metalwork touches both ends.
    fn beside_metal() -> Subject {
        let sequence = coreproof::sequence::shipped::carried("stat-cable").expect("it is shipped");
        let mut job = include_str!("../../fixtures/saltmarsh.ron").to_owned();
        for end in ["near", "far"] {
            let field = format!("    {end}: (\n");
            job = job.replace(&field, &format!("{field}        metalwork: \"copper pipe\",\n"));
        }
        Subject::of(sequence, Text::new("saltmarsh.ron", job)).unwrap()
    }
}

/// One walk: the engine, a stepping clock, the journal, the oracle.
struct Walk<'a> {
    subject: &'a Subject,
    engine: Engine,
    seed: u64,
    dice: Dice,
    now: Timestamp,
    opened_at: Timestamp,
    events: Vec<(Timestamp, Event)>,
    prompt: Option<Prompt>,
    oracle: Oracle,
    breaches: Vec<String>,
    /// The power went while the last line was taken in.
    was_cut: bool,
}

impl<'a> Walk<'a> {
    fn new(seed: u64, subject: &'a Subject) -> Walk<'a> {
        let now: Timestamp = "2026-11-25T08:00:00Z".parse().unwrap();
        let run = Run::with_plan(subject.opened.clone(), now, subject.plan.clone());
        let mut walk = Walk {
            subject,
            engine: Engine::new(run, Some(port(seed)), None),
            seed,
            dice: Dice(seed),
            now,
            opened_at: now,
            events: Vec::new(),
            prompt: None,
            oracle: Oracle::new(&subject.plan),
            breaches: Vec::new(),
            was_cut: false,
        };
        walk.drain(false);
        walk
    }

    fn keep(&mut self, event: &Event) {
        self.events.push((self.now, event.clone()));
        let breaches = self.oracle.hear(self.events.len(), event);
        self.breaches.extend(breaches);
    }

    /// Takes what the engine puts out; with `cuts` the power may go before or after an event is on disk.
    fn drain(&mut self, cuts: bool) {
        while let Some(output) = self.engine.poll_output() {
            match output {
                Output::Photograph(file) => panic!("nobody photographs `{file}` here"),
                Output::Locate(_) => panic!("nobody asks where the fault is here"),
                Output::Record(event) => {
                    let cut = if cuts { self.dice.below(120) } else { 2 };
                    if cut == 0 {
                        return self.power_cut();
                    }
                    self.keep(&event);
                    if cut == 1 {
                        return self.power_cut();
                    }
                    self.engine.handle_recorded(&event, self.now);
                }
                Output::Show(Show::Prompt(prompt)) => {
                    if !matches!(
                        prompt.ask,
                        Ask::Text | Ask::Touched | Ask::Decision { .. } | Ask::Blocked { .. }
                    ) {
                        self.breaches.extend(self.oracle.breaches(&prompt.step));
                    }
                    self.prompt = Some(*prompt);
                }
                Output::Show(_) => {}
            }
        }
    }

    /// The journal as it stands is folded anew, as a resumed run does.
    fn power_cut(&mut self) {
        self.was_cut = true;
        let mut run = Run::with_plan(self.subject.opened.clone(), self.opened_at, self.subject.plan.clone());
        for (at, event) in &self.events {
            run.apply(*at, event).expect("what was recorded folds again");
        }
        self.engine = Engine::new(run, Some(port(self.seed)), Some(0));
        self.drain(false);
    }

    fn say(&mut self, line: &str, cuts: bool) {
        self.now += SignedDuration::from_millis(i64::try_from(200 + self.dice.below(3000)).unwrap());
        // where isolation is being proved again, or the indicator that proved it is dark, nothing is claimed
        let plan = &self.oracle.plan;
        let isolates = self.prompt.as_ref().is_some_and(|prompt| {
            let kind = plan.index(&prompt.step).map(|step| &plan.steps[step].kind);
            prompt.stage == Some(Stage::Isolate) || matches!(kind, Some(Kind::Indicator { lit: true, .. }))
        });
        let said_at = self
            .prompt
            .as_ref()
            .map(|prompt| (prompt.step.clone(), prompt.say.clone()));
        let (claims, before) = (self.oracle.claims_dead() && !isolates, self.events.len());
        self.was_cut = false;
        self.engine.handle_answer(line, self.now);
        self.drain(cuts);
        let heard = self.events[before..]
            .iter()
            .any(|(_, event)| matches!(event, Event::LiveSeen { .. }));
        let asked = self.prompt.as_ref().is_some_and(|prompt| prompt.ask == Ask::Told);
        if claims && VOLTS.contains(&line) && !heard && !asked && !self.was_cut {
            self.breaches.push(format!(
                "`{line}` was not heard where everything was proved dead, at {said_at:?}"
            ));
        }
    }

    /// What a sound installation and a patient engineer would answer.
    fn good(&self, prompt: &Prompt) -> String {
        match &prompt.ask {
            // links and joints are made otherwise before the step itself is asked for
            Ask::Done { word } => (*word).into(),
            // what was found by eye is repaired before it is looked at again
            Ask::Decision { .. } | Ask::Blocked { .. }
                if prompt.choices.iter().any(|choice| choice.word == "again") =>
            {
                "again".into()
            }
            Ask::Decision { .. } | Ask::Blocked { .. } => prompt.choices[0].word.clone(),
            // there is always something to correct, and no need to
            Ask::Text if prompt.say.contains("How long is it") => "back".into(),
            Ask::Text => "a reason".into(),
            Ask::Held => "live".into(),
            Ask::Told => if prompt.step.is_empty() { "no" } else { "megohm" }.into(),
            Ask::Touched => "none".into(),
            _ => self.good_at(prompt).1,
        }
    }

    /// The wait that the step asks for, and what is answered after it.
    fn good_at(&self, prompt: &Prompt) -> (SignedDuration, String) {
        let Some(step) = self.subject.plan.index(&prompt.step) else {
            return (SignedDuration::ZERO, "done".into());
        };
        let wait = match self.subject.plan.steps[step].timing() {
            Some(Timing::After { wait, .. }) => wait.value().to_i64().expect("whole seconds") + 1,
            _ => 0,
        };
        (SignedDuration::from_secs(wait), self.subject.good[step].clone())
    }

    /// A line at random: often right, sometimes wrong, sometimes nonsense.
    fn any_line(&mut self) -> String {
        let prompt = self.prompt.clone().expect("something is always asked");
        let luck = self.dice.below(100);
        let makes_safe = prompt.acts.contains(&Act::MakeSafe);
        let was_begun = self.oracle.passed.values().next().is_some();
        if prompt.stage == Some(Stage::Isolate) && self.oracle.hands.supply_on && was_begun && !makes_safe && luck < 15
        {
            return "abandon".into();
        }
        if makes_safe {
            return self.dice.one_of(&["done", "fine", "abandon"]).into();
        }
        if self.dice.below(150) == 0 {
            return self.dice.one_of(VOLTS).into();
        }
        if self.dice.below(25) == 0 {
            return self.dice.one_of(CORRECTIONS).into();
        }
        if self.dice.below(40) == 0 {
            return self.dice.one_of(SLIPS).into();
        }
        if self.dice.below(25) == 0 {
            return self.dice.one_of(LENGTHS).into();
        }
        if luck < 86 && !matches!(prompt.ask, Ask::Decision { .. } | Ask::Touched) {
            return self.good(&prompt);
        }
        let line = match &prompt.ask {
            Ask::Decision { .. } | Ask::Blocked { .. } => self
                .dice
                .one_of(&["again", "again", "repair", "repair", "leave", "ABANDON", ""]),
            Ask::Touched => self.dice.one_of(&[
                "none",
                "all",
                "brown",
                "grey, black",
                "green-yellow",
                "brown,",
                "blue",
                "",
                "ALL",
                "repair",
            ]),
            Ask::Indicator => self.dice.one_of(&["lit", "dark", "no", "done", "off"]),
            Ask::Done { .. } => self.dice.one_of(&["no", "done", "energise", "yes", "leave"]),
            Ask::Purpose { .. } => self.dice.one_of(&["1", "2", "3", "4", "6", "7", "no", "0", "L"]),
            Ask::Reading { .. } => self.dice.one_of(&[
                "0", "0.3", "0.66", "0.66", "0.77", "0.99", "OL", ">299", ">0", "231", "-1", "1e3", "9.9E37", "no",
                "on", "\u{3a9}", "0.4 Mohm", "50 V",
            ]),
            Ask::Look { look } => self
                .dice
                .one_of(&[look.words[0].as_str(), "found a mouse", "found", "no", "x"]),
            Ask::Note { .. } => self.dice.one_of(&["", "no", "seen"]),
            Ask::Held => "live",
            Ask::Told => self.dice.one_of(&["yes", "no", "volts", "megohm", "perhaps"]),
            Ask::Text => self
                .dice
                .one_of(&["again", "", "\u{7}", "lost the key", "19.5 m", "abandon", "leave"]),
        };
        // abandoning ends a walk, so it is rare, but where the place may be live
        let odds = if self.oracle.hands.supply_on { 1 } else { 6 };
        if luck == 99 && self.dice.below(odds) == 0 {
            return "abandon".into();
        }
        line.to_owned()
    }

    fn is_over(&self) -> bool {
        self.engine.run().ending.is_some()
    }

    fn at_random(&mut self, lines: usize) {
        for _ in 0..lines {
            if self.is_over() {
                return;
            }
            if self.dice.below(40) == 0 {
                self.frames();
            }
            if self.is_over() {
                return;
            }
            let line = self.any_line();
            self.say(&line, true);
            if self.dice.below(250) == 0 && !self.is_over() {
                self.power_cut();
            }
        }
    }

    /// The meter sends some frames, a voltage among them every so often, and time goes by between them.
    fn frames(&mut self) {
        for _ in 0..1 + self.dice.below(4) {
            let shown = [
                ("231", Function::VoltageAc),
                ("0.3", Function::VoltageAc),
                ("OL", Function::Continuity),
                ("0.63", Function::Continuity),
            ];
            let (text, function) = shown[usize::try_from(self.dice.below(4)).unwrap()];
            let mut reading = Reading::typed(text, function).unwrap();
            reading.function = Some(function);
            reading.origin = Origin::Meter {
                profile: "line-stream".into(),
                raw: Raw::new(text.as_bytes()),
                contact: None,
                to_go: None,
            };
            let heard = Heard::Reading {
                reading,
                settled: self.dice.below(2) == 0,
                to_go: None,
                state: String::new(),
            };
            self.now += SignedDuration::from_millis(i64::try_from(20 + self.dice.below(1_500)).unwrap());
            self.engine.handle_heard(heard, self.now);
            self.drain(true);
            self.engine.handle_tick(self.now);
            self.drain(true);
        }
    }

    /// Good answers for a while, so that every part of the sequence is where the trouble begins.
    fn warm_up(&mut self, lines: u64) {
        for _ in 0..lines {
            let prompt = self.prompt.clone().expect("something is always asked");
            if self.is_over() {
                return;
            }
            self.now += self.good_at(&prompt).0;
            self.say(&self.good(&prompt), false);
        }
    }

    /// From anywhere good answers lead to a completed run.
    fn finish(&mut self) {
        for _ in 0..16 * self.subject.plan.steps.len() {
            if self.is_over() {
                return;
            }
            let prompt = self.prompt.clone().expect("something is always asked");
            if prompt.stage == Some(Stage::Live) {
                self.now += self.good_at(&prompt).0;
            }
            // the question why the run is abandoned cannot be taken back: answered, it ends the run
            let line = if prompt.acts.contains(&Act::MakeSafe) {
                "done".into()
            } else {
                self.good(&prompt)
            };
            self.say(&line, false);
        }
        self.breaches.push(format!(
            "no answer leads on from `{}`",
            self.prompt.as_ref().map_or("", |p| &p.step)
        ));
    }

    fn folds_to_the_same(&mut self) {
        let mut run = Run::with_plan(self.subject.opened.clone(), self.opened_at, self.subject.plan.clone());
        for (at, event) in &self.events {
            if let (Event::Judged { verdict, .. }, Some((_, due))) = (event, run.due())
                && due != *verdict
            {
                self.breaches.push("a verdict judged again is another".into());
            }
            run.apply(*at, event).expect("what was recorded folds again");
        }
        let walked = self.engine.run();
        if run.steps != walked.steps || run.outcome() != walked.outcome() || run.hands != walked.hands {
            self.breaches.push("the journal folds to another run".into());
        }
        if run.plan.job.length != walked.plan.job.length {
            self.breaches.push("the journal folds to another length".into());
        }
        if walked.outcome() == Outcome::Pass && self.oracle.passed.len() != self.oracle.plan.steps.len() {
            self.breaches.push("the run passes and a step does not".into());
        }
    }
}

/// The meter on the port: its frames are guarded in every other walk.
fn port(seed: u64) -> PortInstrument {
    PortInstrument {
        instrument: "tester".into(),
        on_change: false,
        guarded: seed.is_multiple_of(2),
    }
}

fn number(name: &str, otherwise: u64) -> u64 {
    std::env::var(name)
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(otherwise)
}

#[test]
fn no_walk_reaches_a_step_before_what_it_rests_on() {
    check_walks(&Subject::shipped(), number("COREPROOF_WALKS", 150), 74);
}

#[test]
fn nor_where_eyes_find_something_wrong_before_it_is_isolated() {
    check_walks(&Subject::looked_at(), number("COREPROOF_WALKS", 150), 74);
}

#[test]
fn nor_where_metal_pipe_touches_both_ends() {
    let subject = Subject::beside_metal();
    let off = subject.plan.index("earth-off-near").expect("pipe touches there");
    check_walks(&subject, number("COREPROOF_WALKS", 60), off as u64 + 30);
}

/// Walks at random, each begun with up to so many good answers.
fn check_walks(subject: &Subject, walks: u64, good_max: u64) {
    let first = number("COREPROOF_SEED", 1);
    let mut found: BTreeMap<String, (u64, usize)> = BTreeMap::new();
    let mut completed = 0;
    for seed in first..first + walks {
        let mut walk = Walk::new(seed, subject);
        let lines = walk.dice.below(good_max);
        walk.warm_up(lines);
        walk.at_random(250);
        walk.finish();
        walk.folds_to_the_same();
        completed += usize::from(matches!(walk.engine.run().ending, Some((Ending::Completed, _))));
        for breach in walk.breaches {
            found.entry(breach).or_insert((seed, 0)).1 += 1;
        }
    }
    assert!(found.is_empty(), "breach: (first seed, times)\n{found:#?}");
    assert!(
        1 < completed || walks < 10,
        "too few walks were completed: {completed} of {walks}"
    );
}

/// Goes to a step with good answers, says the lines, then goes on with good answers to the end: the oracle must not object.
fn check(step: &str, lines: &[&str]) {
    let subject = Subject::shipped();
    let mut walk = Walk::new(1, &subject);
    for _ in 0..subject.plan.steps.len() {
        if walk.prompt.as_ref().is_some_and(|p| p.step == step) {
            break;
        }
        walk.warm_up(1);
    }
    assert_eq!(walk.prompt.as_ref().map(|p| p.step.as_str()), Some(step));
    for line in lines {
        walk.say(line, false);
    }
    walk.finish();
    walk.folds_to_the_same();
    let done: Vec<_> = walk.breaches.into_iter().collect::<BTreeSet<_>>().into_iter().collect();
    assert!(done.is_empty(), "{lines:?} at `{step}`: {done:#?}");
}

#[test]
fn joining_done_late_repeats_what_rests_on_it() {
    check("join-rest/brown", &["no", "no clamp here", "leave", "later"]);
}

#[test]
fn parting_done_late_repeats_what_rests_on_it() {
    check("part-rest", &["no", "no clamp here", "leave", "later"]);
}

#[test]
fn a_core_in_a_terminal_comes_out_before_its_dead_tests_are_done_again() {
    check("connect-near/brown", &["6", "repair", "moved the core", "all"]);
}

#[test]
fn joined_cores_are_parted_before_continuity_is_measured_again() {
    check("insulation/grey", &["0.2", "repair", "joint remade", "brown"]);
}

#[test]
fn a_repair_begun_live_and_abandoned_is_made_safe() {
    check("switched-on", &["0.2", "repair", "abandon", "storm", "done"]);
}
