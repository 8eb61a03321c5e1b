//! How fast the model is: solving, coverage, diagnosis, rehearsing. Each line states what was asked and what was measured.
//!
//! `cargo bench --no-default-features --bench installation`. It fails where a figure is missed, so a slow machine says so.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use coreproof::diagnosis::coverage::{Coverage, Row, Trials, walk};
use coreproof::diagnosis::locate::{Observed, locate};
use coreproof::evidence::journal::Journal;
use coreproof::evidence::journal::faulty::Disk;
use coreproof::job::{self, Job};
use coreproof::judge::window::Outcome;
use coreproof::located::Text;
use coreproof::meter::port::source::Meter;
use coreproof::meter::profile::find;
use coreproof::model::element::Supply;
use coreproof::model::installation::Installation;
use coreproof::model::network::Network;
use coreproof::model::{library, variants};
use coreproof::plan::{Kind, Plan};
use coreproof::rehearsal::{DirectMeter, Scripted, SimClock, SimMeter, World, walk_direct};
use coreproof::run::dialogue::Clock;
use coreproof::run::engine::{Engine, PortInstrument};
use coreproof::run::event::{Event, Opened, Rehearsal};
use coreproof::run::fold::Run;

use coreproof::sequence;
use coreproof::walk::{self, Around};
use jiff::{SignedDuration, Timestamp};
use tokio::sync::mpsc::unbounded_channel;

#[path = "../it/zones.rs"]
mod zones;

const JOB: &str = include_str!("../../fixtures/saltmarsh.ron");

/// The quickest of so many goes, so that what else runs on the machine counts least.
fn quickest<T>(goes: usize, mut work: impl FnMut() -> T) -> (Duration, T) {
    let mut best: Option<(Duration, T)> = None;
    for _ in 0..goes {
        let start = Instant::now();
        let made = work();
        let took = start.elapsed();
        if best.as_ref().is_none_or(|(least, _)| took < *least) {
            best = Some((took, made));
        }
    }
    best.expect("at least one go")
}

fn state(what: &str, limit: Duration, took: Duration, missed: &mut Vec<String>) {
    println!("{what:<78} {took:>12.3?}   asked: under {limit:?}");
    if limit <= took {
        missed.push(what.to_owned());
    }
}

fn job(text: &str) -> Job {
    let text = Text {
        name: "job".into(),
        text: text.into(),
    };
    job::read(&text).unwrap_or_else(|problems| panic!("{problems:?}"))
}

fn plan(job: &Job) -> Plan {
    plan_of("stat-cable", job)
}

fn plan_of(sequence: &str, job: &Job) -> Plan {
    let sequence = sequence::read(&coreproof::sequence::shipped::texts(sequence).expect("it is shipped"))
        .unwrap_or_else(|problems| panic!("{problems:?}"));
    sequence::bind(&sequence, job).unwrap_or_else(|findings| panic!("{findings:?}"))
}

/// The demonstration job with so many cores more, each in a terminal: with one more it has 70 parts that can fail.
fn more_cores(count: usize) -> Job {
    let extra = &["red", "orange", "yellow", "violet", "white"][..count];
    let cores: String = extra
        .iter()
        .map(|name| format!("(name: \"{name}\", size: \"1.0 mm2\", carries: EndSwitch, near: \"4\", far: \"{name}\"),"))
        .collect();
    let terminals: String = extra
        .iter()
        .map(|name| format!("(name: \"{name}\", takes: EndSwitch),"))
        .collect();
    let text = JOB
        .replace(
            "(name: \"green-yellow\", size",
            &format!("{cores}(name: \"green-yellow\", size"),
        )
        .replace(
            "(name: \"SL\", takes: SwitchedLive),",
            &format!("(name: \"SL\", takes: SwitchedLive),{terminals}"),
        );
    job(&text)
}

/// Sixty points: two cables of ten cores with joints, leakage and loads, a supply.
fn sixty_points() -> Network {
    let mut network = Network::new(Supply::Ac { hz: 50.0 }).expect("50 Hz");
    let mut number = 0;
    let mut add = |network: &mut Network, a: String, b: String, ohms: f64| {
        number += 1;
        network.resistor(&format!("r{number}"), &a, &b, ohms).expect("in range");
    };
    for core in 0..10 {
        for part in 0..5 {
            let (a, b) = (format!("p{}", core * 6 + part), format!("p{}", core * 6 + part + 1));
            add(&mut network, a, b, 0.1 + 0.01 * f64::from(part));
        }
        for other in core + 1..10 {
            add(
                &mut network,
                format!("p{}", core * 6 + 3),
                format!("p{}", other * 6 + 3),
                1e10,
            );
        }
    }
    network.source("supply", "p0", "p6", 230.0, 0.3).expect("in range");
    network
}

fn solving(missed: &mut Vec<String>) {
    let network = sixty_points();
    let (took, ohms) = quickest(200, || network.resistance("p0", "p59").expect("points"));
    assert!(1e8 < ohms && ohms < 1e10, "{ohms}");
    state(
        "one probe pair of 60 points, resistance",
        Duration::from_micros(100),
        took,
        missed,
    );
    let (took, volts) = quickest(200, || network.voltage("p5", "p11", 1e6).expect("points"));
    assert!((229.0..231.0).contains(&volts), "{volts}");
    state(
        "one probe pair of 60 points, voltage",
        Duration::from_micros(100),
        took,
        missed,
    );
    let mut open = network.clone();
    open.remove("r1").expect("it is there");
    let pair = ["p0".to_owned(), "p59".to_owned()];
    let change = variants::Difference::between(&network, &open);
    let variants = variants::Variants::new(&network, vec![change], std::slice::from_ref(&pair));
    let (took, ohms) = quickest(200, || variants.resistance(&[0], &pair));
    assert!(1e8 < ohms, "{ohms}");
    state(
        "the same with a change, all else reduced before",
        Duration::from_micros(100),
        took,
        missed,
    );
}

fn covering(missed: &mut Vec<String>) {
    let plan = plan(&job(JOB));
    let (took, coverage) = quickest(3, || Coverage::of(&plan, false).expect("it covers"));
    let what = format!(
        "coverage of {} steps over {} single faults",
        plan.steps.len(),
        coverage.rows.len()
    );
    state(&what, Duration::from_secs(5), took, missed);
    let (took, coverage) = quickest(1, || Coverage::of(&plan, true).expect("it covers"));
    println!(
        "  for comparison: {} pairs of faults in {took:.3?}",
        coverage.rows.len()
    );
}

/// Zones with which the underfloor sequence has about as many steps as a plan of this trade ever has.
const MANY_ZONES: usize = 11;

/// As the command does it: on as many threads as there are processors.
fn covering_many(missed: &mut Vec<String>) {
    let plan = plan_of("underfloor-zones", &job(&zones::underfloor(MANY_ZONES)));
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let (took, rows) = quickest(1, || {
        let trials = Trials::of(&plan, false).expect("it covers");
        let next = AtomicUsize::new(0);
        let nth = || Some(next.fetch_add(1, Ordering::Relaxed)).filter(|nth| *nth < trials.count());
        let worker = || std::iter::from_fn(nth).filter_map(|nth| trials.row(nth)).collect();
        std::thread::scope(|scope| {
            let workers: Vec<_> = (0..cores).map(|_| scope.spawn(worker)).collect();
            let rows = workers
                .into_iter()
                .map(|worker| worker.join().expect("no trial panics"));
            rows.flat_map(|rows: Vec<Row>| rows).count()
        })
    });
    let what = format!(
        "coverage of {} steps over {rows} single faults on {cores} cores",
        plan.steps.len()
    );
    state(&what, Duration::from_secs(10), took, missed);
}

/// Dead tests of a cable with these faults, up to the last dead step.
fn dead_tests(plan: &Plan, faults: &str) -> Observed {
    let mut installation = Installation::of(&plan.job).expect("it is sound");
    for fault in library::find(&plan.job, faults).expect("they fit") {
        installation.put(&fault).expect("it fits");
    }
    let walked = walk(plan, installation);
    let lines: Vec<String> = plan
        .steps
        .iter()
        .zip(&walked.lines)
        .filter(|(step, _)| matches!(&step.kind, Kind::Measure(m) if m.used.input.is_none()))
        .map(|(step, line)| format!("{}: {line}", step.id))
        .collect();
    Observed::typed(plan.clone(), &lines.join("\n")).expect("lines of a display")
}

fn diagnosing(missed: &mut Vec<String>) {
    for (cores, asked) in [(1, true), (5, false)] {
        let plan = plan(&more_cores(cores));
        let faults = library::faults(&plan.job).expect("it is sound");
        let parts: std::collections::BTreeSet<&str> = faults.iter().map(|fault| fault.part.as_str()).collect();
        println!(
            "  a cable of {} cores: {} parts, {} faults",
            4 + cores,
            parts.len(),
            faults.len()
        );
        let one = dead_tests(&plan, "core-open:grey");
        let (took, located) = quickest(5, || locate(&one, 1).expect("it is sound"));
        assert!(!located.diagnoses.is_empty());
        let what = format!("diagnosis, single faults, {} readings", one.list.len());
        if asked {
            state(&what, Duration::from_millis(50), took, missed);
        } else {
            println!("  for comparison: {what}: {took:.3?}");
        }
        let three = dead_tests(
            &plan,
            "core-open:grey+insulation-low:brown/red+cores-touching:brown/black",
        );
        let (took, located) = quickest(1, || locate(&three, 3).expect("it is sound"));
        assert!(
            located.diagnoses.iter().any(|found| found.faults.len() == 3),
            "{located:#?}"
        );
        let what = format!("diagnosis, complete to three at once, {} readings", three.list.len());
        if asked {
            state(&what, Duration::from_secs(2), took, missed);
        } else {
            println!("  for comparison: {what}: {took:.3?}");
        }
    }
}

/// Two hours of a job.
const HOURS: SignedDuration = SignedDuration::from_hours(2);

fn opened(seed: u64) -> Opened {
    Opened {
        program: "bench".into(),
        rehearsal: Some(Rehearsal { fault: None, seed }),
        ..Opened::new(
            coreproof::sequence::shipped::carried("stat-cable").expect("it is shipped"),
            Text::new("saltmarsh.ron", JOB),
            "2018+A2:2022",
        )
    }
}

/// Rehearses the shipped job with one seed after the other until two hours of simulated time have gone by; how often.
fn two_hours(mut once: impl FnMut(u64) -> SignedDuration) -> u64 {
    let (mut simulated, mut seed) = (SignedDuration::ZERO, 0);
    while simulated < HOURS {
        seed += 1;
        simulated += once(seed);
    }
    seed
}

/// One rehearsal: the run, its clock, the instrument on the port and the profile it talks.
fn set_up(seed: u64) -> (Engine, SimClock, Job, Timestamp) {
    let start: Timestamp = "2026-11-25T09:00:00Z".parse().expect("a time");
    let run = Run::open(opened(seed), start).unwrap_or_else(|findings| panic!("{findings:?}"));
    let job = run.plan.job.clone();
    let clock = SimClock::new(start, World::new(&job, seed).expect("it is sound"));
    let port = PortInstrument {
        instrument: "tester".into(),
        on_change: false,
        guarded: false,
    };
    (Engine::new(run, Some(port), None), clock, job, start)
}

fn rehearsing(missed: &mut Vec<String>) {
    let profile = find("line-stream").expect("it is shipped");
    let in_process = |seed| {
        let (mut engine, clock, job, start) = set_up(seed);
        let mut meter = DirectMeter::new(profile, &job.instruments[1], &clock, seed).expect("it fits");
        let (to_walk, mut lines) = unbounded_channel();
        let mut engineer = Scripted::new(&clock, Some(meter.port()), seed, to_walk, Box::new(|_| {}));
        walk_direct(
            &mut engine,
            &mut engineer,
            &clock,
            Some(&mut meter),
            &mut lines,
            |_, _| {},
        );
        assert_eq!(engine.run().outcome(), Outcome::Pass);
        clock.now().duration_since(start)
    };
    let (took, jobs) = quickest(1, || two_hours(in_process));
    let what = format!("two hours rehearsed at byte level in process ({jobs} runs of the job)");
    state(&what, Duration::from_secs(1), took, missed);
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .expect("an event loop");
    let through_terminal = |seed| runtime.block_on(rehearsed(seed));
    let (took, jobs) = quickest(1, || two_hours(through_terminal));
    let what = format!("two hours rehearsed through the pseudo-terminal ({jobs} runs of the job)");
    state(&what, Duration::from_secs(10), took, missed);
}

/// One rehearsal through the pseudo-terminal and the program's own loop, with a journal in memory.
async fn rehearsed(seed: u64) -> SignedDuration {
    let (mut engine, clock, job, start) = set_up(seed);
    let profile = find("line-stream").expect("it is shipped");
    let sim = SimMeter::start(profile, &job.instruments[1], &clock, seed).expect("a pseudo-terminal");
    let mut meter = Meter::open_serial(sim.path(), profile.clone()).expect("it was just made");
    let first = Event::Opened(Box::new(opened(seed)));
    let mut journal = Journal::create_in(Disk::holding(&[]).store(), &first, start).expect("memory");
    let (to_walk, mut lines) = unbounded_channel();
    let mut engineer = Scripted::new(&clock, Some(sim.port()), seed, to_walk, Box::new(|_| {}));
    let around = Around {
        journal: &mut journal,
        meter: Some(&mut meter),
        said: &mut lines,
        page: None,
        engineer: &mut engineer,
        clock: &clock,
    };
    walk::walk(&mut engine, around).await.expect("memory takes everything");
    assert_eq!(engine.run().outcome(), Outcome::Pass);
    clock.now().duration_since(start)
}

fn main() {
    let mut missed = Vec::new();
    solving(&mut missed);
    covering(&mut missed);
    covering_many(&mut missed);
    diagnosing(&mut missed);
    rehearsing(&mut missed);
    assert!(missed.is_empty(), "too slow: {missed:?}");
}
