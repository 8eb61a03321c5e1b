//! Whole rehearsals over the machine and the real serial code, without a journal.
//!
//! The rule inside: the loop is the smallest that a walk needs; what it proves holds for any loop of this kind.

use jiff::Timestamp;
use rust_decimal::prelude::ToPrimitive;
use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};

use super::{DirectMeter, RehearsalError, Scripted, Seen, SimClock, SimMeter, World, walk_direct};
use crate::job::Job;
use crate::judge::window::Outcome;
use crate::located::Text;
use crate::meter::decode::Decoded;
use crate::meter::port::event::MeterEvent;
use crate::meter::port::source::Meter;
use crate::meter::profile::find;
use crate::meter::settle::{Motion, Settling};
use crate::model::library;
use crate::run::dialogue::{Clock, Dialogue, Engineer, Heard, Said};
use crate::run::engine::{Engine, PortInstrument};
use crate::run::event::{Event, Opened, Rehearsal};
use crate::run::fold::{Evidence, Run};
use crate::value::reading::{Function, Reading};

const JOB: &str = include_str!("../../fixtures/saltmarsh.ron");

/// What came of a walk.
struct Walked {
    run: Run,
    events: Vec<Event>,
    lines: Vec<String>,
}

impl Walked {
    /// Steps whose last verdict is not a pass though they were reached, with the reason.
    fn not_passed(&self) -> Vec<(String, String)> {
        let steps = self.run.steps.iter().enumerate();
        let reached = steps.filter(|(_, state)| !state.attempts.is_empty());
        let verdicts = reached.map(|(i, _)| (self.run.plan.steps[i].id.clone(), self.run.verdict(i)));
        verdicts
            .filter(|(_, v)| v.outcome != Outcome::Pass)
            .map(|(id, v)| (id, v.because))
            .collect()
    }

    fn reading(&self, id: &str) -> &Reading {
        let step = self.run.plan.index(id).unwrap();
        match &self.run.standing(step).unwrap().evidence {
            Evidence::Reading(reading) => reading,
            Evidence::Answer(answer) => panic!("{answer:?} at {id}"),
        }
    }

    /// The value that was judged, in the plain unit.
    fn value(&self, id: &str) -> f64 {
        let step = self.run.plan.index(id).unwrap();
        self.run.verdict(step).value.unwrap().value().to_f64().unwrap()
    }
}

/// The demonstration job with a piece of its text replaced.
pub(super) fn job_with(from: &str, to: &str) -> Job {
    assert!(JOB.contains(from), "{from}");
    let text = Text {
        name: "saltmarsh.ron".into(),
        text: JOB.replace(from, to).into(),
    };
    crate::job::read(&text).unwrap()
}

/// The demonstration job.
pub(super) fn job() -> Job {
    job_with("18 m", "18 m")
}

/// A rehearsal of the shipped sequence: the job's text, the instrument on the port, a fault, a seed.
struct Trial {
    job: String,
    port: Option<&'static str>,
    fault: Option<&'static str>,
    seed: u64,
}

impl Default for Trial {
    fn default() -> Trial {
        Trial {
            job: JOB.to_owned(),
            port: Some("tester"),
            fault: None,
            seed: 1,
        }
    }
}

impl Trial {
    fn opened(&self) -> Opened {
        Opened {
            program: "coreproof".into(),
            rehearsal: Some(Rehearsal {
                fault: self.fault.map(str::to_owned),
                seed: self.seed,
            }),
            ..Opened::new(
                crate::sequence::shipped::carried("stat-cable").expect("it is shipped"),
                Text::new("saltmarsh.ron", &*self.job),
                "2018+A2:2022",
            )
        }
    }

    fn walk(&self) -> Walked {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .unwrap();
        runtime.block_on(self.walk_inside())
    }

    async fn walk_inside(&self) -> Walked {
        let start: Timestamp = "2026-11-25T09:00:00Z".parse().unwrap();
        let run = Run::open(self.opened(), start).unwrap();
        let job = run.plan.job.clone();
        let mut world = World::new(&job, self.seed).unwrap();
        if let Some(fault) = self.fault {
            for fault in library::find(&job, fault).unwrap() {
                world.put(&fault).unwrap();
            }
        }
        let clock = SimClock::new(start, world);
        let instrument = self
            .port
            .map(|name| job.instruments.iter().find(|there| there.name == name).unwrap());
        let profile = instrument.map(|there| find(there.profile.as_deref().unwrap()).unwrap());
        let sim = instrument.map(|there| SimMeter::start(profile.unwrap(), there, &clock, self.seed).unwrap());
        let mut meter = sim
            .as_ref()
            .map(|sim| Meter::open_serial(sim.path(), profile.unwrap().clone()).unwrap());
        let (to_walk, mut lines) = unbounded_channel();
        let said = std::rc::Rc::new(std::cell::RefCell::new(Vec::new()));
        let heard = said.clone();
        let observer = Box::new(move |seen: Seen<'_>| {
            heard.borrow_mut().push(match seen {
                Seen::Line(line) => format!("> {line}"),
                Seen::Show(show) => format!("{show:?}"),
            });
        });
        let mut engineer = Scripted::new(&clock, sim.as_ref().map(SimMeter::port), self.seed, to_walk, observer);
        let port = self.port.map(|name| PortInstrument {
            instrument: name.to_owned(),
            on_change: false,
            guarded: false,
        });
        let mut engine = Engine::new(run, port, None);
        let events = walk(&mut engine, &mut engineer, &clock, meter.as_mut(), &mut lines).await;
        Walked {
            run: engine.run().clone(),
            events,
            lines: said.take(),
        }
    }
}

/// Walks to the end and returns the events in their order.
async fn walk(
    engine: &mut Engine,
    engineer: &mut dyn Engineer,
    clock: &dyn Clock,
    mut meter: Option<&mut Meter>,
    lines: &mut UnboundedReceiver<Said>,
) -> Vec<Event> {
    let mut events = Vec::new();
    let (mut settling, mut watched) = (Settling::new(None).holding(engine.over_s()), engine.watch_number());
    loop {
        engine.drain(
            || clock.now(),
            |event, _| events.push(event.clone()),
            |show| engineer.show(show),
        );
        if engine.is_finished() {
            return events;
        }
        if watched != engine.watch_number() {
            (settling, watched) = (Settling::new(None).holding(engine.over_s()), engine.watch_number());
        }
        // what was typed goes first, so that no frame is asked for before the hands are done
        tokio::select! {
            biased;
            line = lines.recv() => engine.handle_answer(line.expect("the engineer is there"), clock.now()),
            event = next(&mut meter) => {
                if matches!(event, MeterEvent::Frame(_)) {
                    clock.frame_read();
                }
                let now = clock.now();
                engine.handle_heard(heard(&event, &mut settling, now), now);
                engine.handle_tick(now);
            }
        }
    }
}

async fn next(meter: &mut Option<&mut Meter>) -> MeterEvent {
    match meter {
        Some(meter) => meter.next().await,
        None => std::future::pending().await,
    }
}

fn heard(event: &MeterEvent, settling: &mut Settling, now: Timestamp) -> Heard {
    let MeterEvent::Frame(Decoded::Reading(reading)) = event else {
        let text = event.message().unwrap_or_default();
        return Heard::Trouble(event.hint().map_or(text.clone(), |hint| format!("{text}: {hint}")));
    };
    let motion = settling.push_reading(now.as_millisecond() as f64 / 1000.0, reading);
    let state = match motion {
        Motion::Moving => "moving".to_owned(),
        Motion::Drifting { bound } => format!("drifting, by up to {bound:.3}"),
        Motion::Settled => "still".to_owned(),
    };
    Heard::Reading {
        reading: reading.clone(),
        settled: motion == Motion::Settled,
        to_go: None,
        state,
    }
}

fn assert_all_passed(walked: &Walked) {
    assert_eq!(walked.not_passed(), []);
    assert_eq!(walked.run.outcome(), Outcome::Pass);
}

#[test]
fn a_sound_cable_passes_every_step_from_the_meter() {
    for seed in [1, 2, 77] {
        let walked = Trial {
            seed,
            ..Trial::default()
        }
        .walk();
        assert_all_passed(&walked);
        let from_meter = |event: &&Event| matches!(event, Event::Taken { reading, .. } if reading.function.is_some());
        assert_eq!(walked.events.iter().filter(from_meter).count(), 28);
        // 18 m of 1.0/1.0 mm² at 15 °C by IEC 60228: 18 * 36.2 mΩ * 0.98 = 0.639 Ω at most
        let value = walked.value("continuity/brown");
        assert!((0.60..=0.639).contains(&value), "{value}");
        assert_eq!(walked.reading("insulation/brown").display(), ">299 Mohm");
        assert_eq!(walked.reading("all-open/grey").display(), "OL (ohm)");
        assert_eq!(walked.reading("lead-null").function, Some(Function::Continuity));
    }
}

#[test]
fn each_fault_fails_the_one_step_that_it_must_fail() {
    let table = [
        ("core-open", "continuity/black"),
        ("cores-swapped", "continuity/black/with grey"),
        ("insulation-low", "insulation/black"),
        ("insulation-low-to-building", "insulation/black"),
        ("earth-clip-loose", "clip-bites"),
        ("loop-high", "earthed-far"),
        ("conductor-not-gripped:green-yellow@far", "tug-far/green-yellow"),
        ("end-switch-open", "end-switch-on"),
        ("end-switch-closed", "end-switch-off"),
        ("neutral-missing", "supply"),
        ("earth-core-open", "continuity/brown"),
        ("core-shorted-to-earth", "insulation/black"),
        ("high-resistance-joint", "continuity/black"),
        ("insulation-low-between-cores", "insulation/brown"),
        ("supply-still-live", "dead-near/earth-line"),
        ("indicator-dead", "earth-near"),
        ("thermostat-contact-open", "switched-on"),
        ("thermostat-contact-closed", "switched-off"),
        ("valve-stuck", "end-switch-on"),
        ("valve-held-open", "end-switch-off"),
        ("conductor-not-gripped:grey@far", "tug-far/grey"),
        ("high-resistance-clamp:grey@far", "clamp-far/grey"),
        ("neutral-leaking:N@far", "connected"),
        ("terminals-swapped", "connect-far/brown"),
        ("valve-stuck+core-open:grey", "continuity/grey"),
    ];
    for (fault, step) in table {
        let walked = Trial {
            fault: Some(fault),
            ..Trial::default()
        }
        .walk();
        let failed: Vec<String> = walked.not_passed().into_iter().map(|(id, _)| id).collect();
        assert_eq!(failed, [step], "{fault}: {:?}", walked.not_passed());
        assert_eq!(walked.run.outcome(), Outcome::Fail, "{fault}");
        // whatever was energised is made safe before the walk is left
        assert!(
            walked.run.made_safe.is_some() || walked.run.hands.to_make_safe(&walked.run.plan.job).is_empty(),
            "{}",
            fault
        );
        assert!(walked.lines.iter().any(|line| line == "> rehearsal: a fault was found"));
    }
}

#[test]
fn a_longer_cable_reads_higher() {
    let value = |metres: &str| {
        let job = JOB.replace("length: \"18 m\"", &format!("length: \"{metres} m\""));
        assert!(job.contains(metres));
        let walked = Trial {
            job,
            ..Trial::default()
        }
        .walk();
        assert_all_passed(&walked);
        walked.value("continuity/brown")
    };
    let values = [value("12"), value("22"), value("50")];
    assert!(values[0] < values[1] && values[1] < values[2], "{values:?}");
    // in proportion, as far as the last digit shows
    assert!((values[2] / values[1] - 50.0 / 22.0).abs() < 0.05, "{values:?}");
}

#[test]
fn a_cable_of_unknown_length_is_compared_core_with_core() {
    let job = JOB.replace("        length: \"18 m\",\n", "");
    assert!(!job.contains("18 m"));
    assert_all_passed(
        &Trial {
            job,
            ..Trial::default()
        }
        .walk(),
    );
}

#[test]
fn the_same_seed_gives_the_same_record() {
    let events = |seed| {
        Trial {
            seed,
            ..Trial::default()
        }
        .walk()
        .events
    };
    let first = events(5);
    assert_eq!(events(5), first);
    assert_ne!(events(6), first);
}

#[test]
fn without_a_port_every_reading_is_typed() {
    let walked = Trial {
        port: None,
        ..Trial::default()
    }
    .walk();
    assert_all_passed(&walked);
    assert!(walked.reading("feed").function.is_none());
    let failed = Trial {
        port: None,
        fault: Some("end-switch-closed"),
        ..Trial::default()
    }
    .walk();
    assert_eq!(failed.not_passed()[0].0, "end-switch-off");
}

#[test]
fn without_a_terminal_the_same_bytes_come_to_the_same() {
    let trial = Trial::default();
    let start: Timestamp = "2026-11-25T09:00:00Z".parse().unwrap();
    let run = Run::open(trial.opened(), start).unwrap();
    let job = run.plan.job.clone();
    let clock = SimClock::new(start, World::new(&job, trial.seed).unwrap());
    let mut meter = DirectMeter::new(find("line-stream").unwrap(), &job.instruments[1], &clock, trial.seed).unwrap();
    let (to_walk, mut lines) = unbounded_channel();
    let mut engineer = Scripted::new(&clock, Some(meter.port()), trial.seed, to_walk, Box::new(|_| {}));
    let port = PortInstrument {
        instrument: "tester".to_owned(),
        on_change: false,
        guarded: false,
    };
    let mut engine = Engine::new(run, Some(port), None);
    let mut taken = Vec::new();
    let record = |event: &Event, _| taken.extend(matches!(event, Event::Taken { .. }).then(|| event.clone()));
    walk_direct(&mut engine, &mut engineer, &clock, Some(&mut meter), &mut lines, record);
    assert_eq!(engine.run().outcome(), Outcome::Pass);
    let through_the_terminal: Vec<Event> = trial
        .walk()
        .events
        .into_iter()
        .filter(|event| matches!(event, Event::Taken { .. }))
        .collect();
    assert_eq!(taken.len(), through_the_terminal.len());
    assert!(
        taken
            .iter()
            .all(|event| matches!(event, Event::Taken { reading, .. } if reading.function.is_some()))
    );
}

#[test]
fn a_meter_that_is_asked_answers_on_the_same_line() {
    // volts from a low-impedance multimeter on the port, the rest read off the tester by eye
    let job = JOB
        .replace(
            "                Voltage(input: \"10 kohm\", accuracy: (percent: \"1.5\", digits: 2)),\n",
            "",
        )
        .replace("10 Mohm", "10 kohm");
    let trial = |fault| Trial {
        job: job.clone(),
        port: Some("multimeter"),
        fault,
        ..Trial::default()
    };
    let walked = trial(None).walk();
    assert_all_passed(&walked);
    assert_eq!(walked.reading("feed").function, Some(Function::VoltageAc));
    assert_eq!(walked.reading("continuity/brown").function, None);
    let failed = trial(Some("neutral-missing")).walk();
    assert_eq!(failed.not_passed()[0].0, "supply");
}

#[tokio::test]
async fn a_profile_without_the_words_is_refused() {
    let run = Run::open(Trial::default().opened(), Timestamp::UNIX_EPOCH).unwrap();
    let world = World::new(&run.plan.job, 1).unwrap();
    let clock = SimClock::new(Timestamp::UNIX_EPOCH, world);
    let tester = &run.plan.job.instruments[1];
    let Err(error) = SimMeter::start(find("query-488").unwrap(), tester, &clock, 1) else {
        panic!("a meter without continuity was started")
    };
    let expected = RehearsalError::ProfileDoesNotFit {
        profile: "query-488".into(),
        instrument: "tester".into(),
        why: "it has no low-resistance continuity".into(),
    };
    assert_eq!(error, expected);
}
