//! Seeded faults: the power goes at every write of a whole run, the run is recovered and walked to its end, and comes to the same.
//!
//! One printed seed drives the engineer's typed readings, the clock's steps and the disk. `COREPROOF_SEED` repeats a failure.

use std::cell::Cell;

use coreproof::evidence::journal::faulty::{Disk, Faults};
use coreproof::evidence::journal::{self, Journal, Line};
use coreproof::explain::Explain;
use coreproof::judge::window::Outcome;
use coreproof::located::Text;
use coreproof::plan::Stage;
use coreproof::run::dialogue::{Ask, Clock, Engineer, Said, Show};
use coreproof::run::engine::Engine;
use coreproof::run::event::{Event, Opened};
use coreproof::run::fold::Run;

use coreproof::value::reading::Function;
use coreproof::walk::{Around, Stop, walk};
use jiff::{SignedDuration, Timestamp};
use tokio::sync::mpsc::{UnboundedSender, unbounded_channel};

/// A small generator (the constants of Numerical Recipes); quality does not matter, repeatability does.
struct Dice(u64);

impl Dice {
    fn below(&mut self, n: u64) -> u64 {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223) & 0xffff_ffff;
        (self.0 >> 8) % n
    }
}

/// A clock that steps each time it is read.
struct Steps {
    now: Cell<Timestamp>,
    step_ms: i64,
}

impl Clock for Steps {
    fn now(&self) -> Timestamp {
        self.now.set(self.now.get() + SignedDuration::from_millis(self.step_ms));
        self.now.get()
    }
}

/// An engineer at a sound installation who types.
struct Typist {
    lines: UnboundedSender<Said>,
    dice: Dice,
    /// Everything shown as taken or judged, which must be on disk already.
    shown: Vec<String>,
    again: String,
}

impl Typist {
    fn reading(&mut self, step: &str, function: Function) -> String {
        let cents = self.dice.below(20);
        match (step, function) {
            ("lead-null", _) => "0.04".into(),
            ("long-lead-null", _) => "0.51".into(),
            ("earthed-near", _) => "0.61".into(),
            ("earthed-far", _) => "0.90".into(),
            (step, _) if step.starts_with("clip") => "0.10".into(),
            (step, _) if step.starts_with("clamp") => "0.06".into(),
            (_, Function::Insulation(_)) => ">299".into(),
            (step, _) if step.contains("open") => "OL".into(),
            (_, Function::Continuity) => format!("0.{}", 45 + cents),
            (step, _) if step.ends_with("-off") => format!("0.{cents}"),
            _ => format!("23{}.{}", cents % 4, cents % 10),
        }
    }
}

impl Engineer for Typist {
    fn show(&mut self, show: &Show) {
        let line = match show {
            Show::Prompt(prompt) => match &prompt.ask {
                Ask::Done { word } => (*word).to_owned(),
                Ask::Indicator if prompt.step.starts_with("indicator") || prompt.stage == Some(Stage::Survey) => {
                    "lit".into()
                }
                Ask::Indicator => "dark".into(),
                Ask::Purpose { terminal } => match terminal.as_str() {
                    "1" | "L" => "1".into(),
                    "2" | "N" => "3".into(),
                    "3" | "SL" => "2".into(),
                    _ => "4".into(),
                },
                Ask::Reading { function, .. } => {
                    self.again = self.reading(&prompt.step, *function);
                    self.again.clone()
                }
                Ask::Look { look } => look.expected[0].clone(),
                Ask::Touched => "none".into(),
                other => panic!("a sound installation does not ask {other:?}"),
            },
            // the valve still closes: read again
            Show::Notice(text) if text.starts_with("too early") => self.again.clone(),
            Show::Taken { step, .. } | Show::Verdict { step, .. } => {
                self.shown.push(step.clone());
                return;
            }
            _ => return,
        };
        self.lines.send(Said::from(&line)).unwrap();
    }
}

fn opened() -> Opened {
    Opened {
        program: "coreproof simulation".into(),
        ..Opened::new(
            coreproof::sequence::shipped::carried("stat-cable").expect("it is shipped"),
            Text::new("saltmarsh.ron", include_str!("../fixtures/saltmarsh.ron")),
            "2018+A2:2022",
        )
    }
}

/// Walks until the end or until the journal fails; what was shown comes back.
fn go(
    engine: &mut Engine,
    journal: &mut Journal<Event>,
    seed: u64,
    from: Timestamp,
) -> (Result<Stop, journal::Error>, Vec<String>) {
    let (sender, mut lines) = unbounded_channel();
    let mut typist = Typist {
        lines: sender,
        dice: Dice(seed),
        shown: Vec::new(),
        again: String::new(),
    };
    let clock = Steps {
        now: Cell::new(from),
        step_ms: 400 + i64::try_from(seed % 300).unwrap(),
    };
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .unwrap();
    let around = Around {
        journal,
        meter: None,
        said: &mut lines,
        page: None,
        engineer: &mut typist,
        clock: &clock,
    };
    let stopped = runtime.block_on(walk(engine, around));
    (stopped, typist.shown)
}

fn fold(lines: &[Line<Event>]) -> Run {
    let Event::Opened(opened) = &lines[0].event else {
        panic!("a journal begins with its opening")
    };
    let mut run = Run::open((**opened).clone(), lines[0].at).unwrap();
    for line in &lines[1..] {
        run.apply(line.at, &line.event).unwrap();
    }
    run
}

const BEGAN: &str = "2026-11-25T08:00:00Z";

/// One run with the power cut before the call of this number; true when it ended before the cut.
fn crash(call: u64, seed: u64) -> bool {
    let began: Timestamp = BEGAN.parse().unwrap();
    let disk = Disk::default();
    let first = Event::Opened(Box::new(opened()));
    let mut journal = Journal::create_in(disk.store(), &first, began).unwrap();
    let disk = disk.with(Faults {
        power_cut_at: Some(call),
        ..Faults::default()
    });
    let mut engine = Engine::new(Run::open(opened(), began).unwrap(), None, None);
    let (stopped, shown) = go(&mut engine, &mut journal, seed, began);
    if let Ok(stop) = stopped {
        assert_eq!((stop, engine.run().outcome()), (Stop::Closed, Outcome::Pass));
        return true;
    }
    drop(journal);

    let after = Disk::holding(&disk.durable());
    let recovered = Journal::<Event>::recover_in(after.store()).unwrap();
    let kept = recovered.lines.clone();
    let on_disk: Vec<_> = kept
        .iter()
        .filter_map(|l| match &l.event {
            Event::Taken { step, .. } | Event::Judged { step, .. } => Some(step.clone()),
            _ => None,
        })
        .collect();
    assert!(
        on_disk.starts_with(&shown),
        "call {call}: what was shown is not all on disk"
    );
    let run = fold(&kept);
    let passed_before: Vec<_> = (0..run.steps.len())
        .filter(|&i| run.verdict(i).outcome == Outcome::Pass)
        .collect();
    let mut journal = recovered.journal;
    let closed = run.ending.is_some();
    let mut engine = Engine::new(run, None, Some(recovered.torn_bytes));
    if !closed {
        let later = kept.last().unwrap().at + SignedDuration::from_secs(600);
        let (stopped, _) = go(&mut engine, &mut journal, seed ^ 0x5555, later);
        assert_eq!(stopped.unwrap(), Stop::Closed, "call {call}");
    }
    assert_eq!(engine.run().outcome(), Outcome::Pass, "call {call}");
    // the record is one chain that tells the same as the engine, and the old lines stand in it unchanged
    let record = after.cached();
    assert!(record.starts_with(&disk.durable()) || closed, "call {call}");
    let lines = journal::parse::<Event>(&record).unwrap();
    assert_eq!(lines[..kept.len()], kept[..]);
    let again = fold(&lines);
    assert_eq!(again.steps, engine.run().steps);
    assert!(passed_before.iter().all(|&i| !again.steps[i].attempts.is_empty()));
    false
}

#[test]
fn power_cut_at_every_write_comes_to_the_same_record() {
    let seed: u64 = std::env::var("COREPROOF_SEED")
        .ok()
        .and_then(|s| s.parse().ok())
        .unwrap_or(20_261_125);
    println!("seed {seed}");
    let mut calls = 0;
    while !crash(calls, seed.wrapping_add(calls)) {
        calls += 1;
    }
    println!("{calls} power cuts");
    assert!(
        200 < calls,
        "the run makes two calls a line, and has over a hundred lines"
    );
}

#[test]
fn a_full_disk_stops_the_run_and_keeps_what_was_written() {
    let began: Timestamp = BEGAN.parse().unwrap();
    for room in [20_000_u64, 30_000, 40_001] {
        let disk = Disk::default();
        let mut journal = Journal::create_in(disk.store(), &Event::Opened(Box::new(opened())), began).unwrap();
        let disk = disk.with(Faults {
            room_bytes: Some(room),
            ..Faults::default()
        });
        let mut engine = Engine::new(Run::open(opened(), began).unwrap(), None, None);
        let (stopped, _) = go(&mut engine, &mut journal, 7, began);
        let error = stopped.unwrap_err();
        assert!(matches!(error, journal::Error::DiskFull { .. }), "{error}");
        assert!(error.is_equipment() && error.hint().is_some());
        let recovered = Journal::<Event>::recover_in(Disk::holding(&disk.cached()).store()).unwrap();
        let run = fold(&recovered.lines);
        assert!(
            run.steps
                .iter()
                .zip(&engine.run().steps)
                .all(|(disk, seen)| seen.attempts.len() <= disk.attempts.len())
        );
    }
}
