//! Faults hidden one by one and two by two, of any size that the library takes, in shipped and made-up jobs: walked by the scripted engineer on
//! uneven wiring with displays that flicker, up to the first step that does not pass, then sought in the record.
//!
//! The rule inside: where a step did not pass, some answer holds nothing but what was hidden, and the wiring is never called sound. Where
//! every step passed it is called sound, or what was hidden is among the answers all the same.
//! `cargo test` hides a few; the feature `long` hides as many as `COREPROOF_CASES` says, from the seed `COREPROOF_SEED`.

use coreproof::diagnosis::coverage::unwalked;
use coreproof::diagnosis::locate::{Located, Observation, Observed, locate};
use coreproof::job;
use coreproof::judge::window::Outcome;
use coreproof::located::Text;
use coreproof::model::fault::{Fault, Size};
use coreproof::model::library;
use coreproof::model::noise::Noise;
use coreproof::plan::Plan;
use coreproof::rehearsal::{Scripted, SimClock, World, walk_direct};
use coreproof::run::engine::Engine;
use coreproof::run::event::Event;
use coreproof::run::fold::Run;
use coreproof::run::folded::fold;
use coreproof::sequence::{self, shipped};
use tokio::sync::mpsc::unbounded_channel;

use crate::zones::underfloor;

/// How many are hidden where nobody says how many.
const CASES: usize = if cfg!(feature = "long") { 600 } else { 14 };
const SEED: u64 = 20_261_130;
/// The zones of the jobs that are made up.
const MADE_UP: [usize; 2] = [2, 4];

fn stated<T: std::str::FromStr>(name: &str, without: T) -> T {
    std::env::var(name)
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(without)
}

/// A plan with the faults that its job has a place for.
struct Place {
    name: String,
    plan: Plan,
    faults: Vec<Fault>,
}

impl Place {
    fn of(name: &str, sequence: &str, job: &Text) -> Place {
        let job = job::read(job).unwrap();
        let sequence = sequence::read(&shipped::texts(sequence).unwrap()).unwrap();
        let plan = sequence::bind(&sequence, &job).unwrap();
        Place {
            name: name.to_owned(),
            faults: library::faults(&plan.job).unwrap(),
            plan,
        }
    }

    /// Every shipped sequence on its own job, and two jobs that nobody wrote by hand.
    fn nth(at: usize) -> Place {
        match shipped::SEQUENCES.get(at) {
            Some(there) => Place::of(there.name, there.name, &shipped::job(there.job).unwrap()),
            None => {
                let zones = MADE_UP[at - shipped::SEQUENCES.len()];
                let text = Text::new("made-up.ron", underfloor(zones));
                Place::of(&format!("{zones} zones"), "underfloor-zones", &text)
            }
        }
    }
}

/// Numbers from one seed.
struct Dice(Noise);

impl Dice {
    fn below(&mut self, n: usize) -> usize {
        let share = (self.0.even() + 1.0) / 2.0;
        ((share * n as f64) as usize).min(n - 1)
    }
}

/// What is hidden: one fault or two of different parts, each with its size.
fn hidden<'a>(faults: &'a [Fault], count: usize, dice: &mut Dice) -> Vec<(&'a Fault, Size)> {
    let mut set: Vec<(&Fault, Size)> = Vec::new();
    while set.len() < count {
        let fault = &faults[dice.below(faults.len())];
        let steps = usize::try_from(Size::STEPS).unwrap() + 1;
        let size = Size::Step(i16::try_from(dice.below(steps)).unwrap());
        if set.iter().all(|(there, _)| there.part != fault.part) {
            set.push((fault, size));
        }
    }
    set
}

/// The record that an engineer leaves who knows nothing of what is hidden, read again; `None` where the faults cannot stand together.
fn recorded(plan: &Plan, set: &[(&Fault, Size)], seed: u64) -> Option<Run> {
    let mut world = World::new(&plan.job, seed).unwrap();
    for (fault, size) in set {
        world.put_sized(fault, *size).ok()?;
    }
    let run = unwalked(plan);
    let mut record = vec![(run.opened_at, Event::Opened(Box::new(run.opened.clone())))];
    let clock = SimClock::new(run.opened_at, world);
    let mut engine = Engine::new(run, None, None);
    let (to_walk, mut lines) = unbounded_channel();
    let mut engineer = Scripted::new(&clock, None, seed, to_walk, Box::new(|_| {}));
    walk_direct(&mut engine, &mut engineer, &clock, None, &mut lines, |event, at| {
        record.push((at, event.clone()));
    });
    let run = fold::<Run>(record, |_, _, _| {}, |_, _| {}).unwrap_or_else(|_| panic!("a record opens"));
    assert_eq!(run.broken, None);
    Some(run)
}

/// The place of the first answer that holds nothing but what was hidden.
fn found(located: &Located, set: &[(&Fault, Size)]) -> Option<usize> {
    let is_hidden = |name: &String| set.iter().any(|(fault, _)| fault.name == *name);
    located
        .diagnoses
        .iter()
        .position(|there| !there.faults.is_empty() && there.faults.iter().all(is_hidden))
}

/// How often what was hidden came first, elsewhere among the answers, or showed in no step.
#[derive(Debug, Default, Clone, Copy)]
struct Tally {
    first: usize,
    among: usize,
    hidden: usize,
    wrong: usize,
}

impl Tally {
    fn words(self, what: &str) -> String {
        let all = self.first + self.among + self.hidden + self.wrong;
        let share = |count: usize| 100 * count / all.max(1);
        format!(
            "{what}: {all} hidden; found first {} ({} %), among the answers {} ({} %), shown by no step {} ({} %), not found {}",
            self.first,
            share(self.first),
            self.among,
            share(self.among),
            self.hidden,
            share(self.hidden),
            self.wrong
        )
    }
}

/// Hides one set, seeks it, and says what was wrong with the answer.
fn sought(place: &Place, set: &[(&Fault, Size)], seed: u64, tally: &mut Tally) -> Option<String> {
    let run = recorded(&place.plan, set, seed)?;
    let observed = Observed::of(&run);
    let not_passed = |there: &&Observation| there.outcome != Some(Outcome::Pass);
    let stopped = observed.list.iter().find(not_passed).map(|there| there.step);
    let stopped = stopped.or(observed.left.first().map(|(step, _)| *step));
    let mut located = locate(&observed, 1).unwrap();
    // where one alone explains it the second need not show; where none does, or only a stranger, two at once are asked for
    if set.len() == 2 && stopped.is_some() && found(&located, set).is_none() {
        located = locate(&observed, 2).unwrap();
    }
    let is_wrong = match (stopped, found(&located, set)) {
        (None, None) => {
            tally.hidden += 1;
            !located.is_sound()
        }
        (_, Some(0)) => {
            tally.first += 1;
            false
        }
        (_, Some(_)) => {
            tally.among += 1;
            false
        }
        (Some(_), None) => {
            tally.wrong += 1;
            true
        }
    };
    let is_wrong = is_wrong || stopped.is_some() && located.is_sound();
    is_wrong.then(|| {
        let names = set.iter().map(|(fault, size)| format!("{} {size:?}", fault.name));
        let because = stopped.map_or("every step passed".to_owned(), |step| {
            format!("`{}` ({})", run.plan.steps[step].id, run.verdict(step).because)
        });
        format!(
            "{}, seed {seed}: {} at {because}\n{}",
            place.name,
            names.collect::<Vec<_>>().join("+"),
            located.text()
        )
    })
}

#[test]
fn what_is_hidden_is_among_the_answers_wherever_a_step_does_not_pass() {
    let (cases, seed): (usize, u64) = (stated("COREPROOF_CASES", CASES), stated("COREPROOF_SEED", SEED));
    let mut dice = Dice(Noise::new(seed));
    let mut tallies = [Tally::default(); 2];
    let mut wrong = Vec::new();
    let places = shipped::SEQUENCES.len() + MADE_UP.len();
    let mut last: Option<(usize, Place)> = None;
    for case in 0..cases {
        let at = case * places / cases;
        if last.as_ref().is_none_or(|(there, _)| *there != at) {
            last = Some((at, Place::nth(at)));
        }
        let (_, place) = last.as_ref().expect("it was just made");
        let count = 1 + case % 2;
        let set = hidden(&place.faults, count, &mut dice);
        wrong.extend(sought(place, &set, seed + case as u64, &mut tallies[count - 1]));
    }
    let told = [tallies[0].words("single"), tallies[1].words("in pairs")].join("\n");
    println!("{told}");
    assert!(wrong.is_empty(), "{told}\n{}", wrong.join("\n"));
}
