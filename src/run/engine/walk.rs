//! Walks of the shipped sequence with typed answers: what may be reached, what a failure and a repair bring.

use jiff::{SignedDuration, Timestamp};

mod as_found;
mod back;
mod by_eye;
mod circuit;
mod doubted;
mod faced;
mod held;
mod length;
mod moving;
mod pace;
mod together;

use super::{Engine, PortInstrument};
use crate::judge::window::Outcome;
use crate::located::Text;
use crate::plan::{Act, Stage, Supply};
use crate::run::dialogue::{Ask, Dialogue, Heard, Output, Prompt, Show};
use crate::run::event::{Event, Opened};
use crate::run::fold::{Run, Status};
use crate::value::reading::{Function, Reading};

/// The shipped sequence, but that the valve must open within its time, so that both kinds of waiting are walked.
fn opened() -> Opened {
    let (mut sequence, parts) = crate::sequence::shipped::carried("stat-cable").expect("it is shipped");
    let opens = "after: (\"call\", ValveOpens)";
    assert_eq!(sequence.text.matches(opens).count(), 1);
    sequence.text = sequence.text.replace(opens, &opens.replace("after", "within")).into();
    Opened {
        program: "coreproof test".into(),
        ..Opened::new(
            (sequence, parts),
            Text::new("saltmarsh.ron", include_str!("../../../fixtures/saltmarsh.ron")),
            "2018+A2:2022",
        )
    }
}

/// A walk: the engine, a stepping clock, everything shown and recorded.
struct Walk {
    engine: Engine,
    now: Timestamp,
    events: Vec<(Timestamp, Event)>,
    notices: Vec<String>,
    prompt: Option<Prompt>,
    asked: Vec<String>,
}

impl Walk {
    fn new() -> Walk {
        Walk::with_port(None)
    }

    fn with_port(port: Option<&str>) -> Walk {
        let now: Timestamp = "2026-11-25T08:00:00Z".parse().unwrap();
        let run = Run::open(opened(), now).unwrap();
        let port = port.map(|instrument| PortInstrument {
            instrument: instrument.into(),
            on_change: false,
            guarded: true,
        });
        let mut walk = Walk::around(Engine::new(run, port, None), now);
        walk.drain();
        walk
    }

    /// A walk of the demonstration job with one piece of its text replaced.
    fn with_job(from: &str, to: &str) -> Walk {
        let now: Timestamp = "2026-11-25T08:00:00Z".parse().unwrap();
        let mut opened = opened();
        assert!(opened.job.text.contains(from), "{from}");
        opened.job.text = opened.job.text.replacen(from, to, 1).into();
        let run = Run::open(opened, now).unwrap_or_else(|findings| panic!("{findings:?}"));
        let mut walk = Walk::around(Engine::new(run, None, None), now);
        walk.drain();
        walk
    }

    fn around(engine: Engine, now: Timestamp) -> Walk {
        Walk {
            engine,
            now,
            events: Vec::new(),
            notices: Vec::new(),
            prompt: None,
            asked: Vec::new(),
        }
    }

    fn drain(&mut self) {
        let now = self.now;
        let events = &mut self.events;
        let mut shown = Vec::new();
        self.engine.drain(
            || now,
            |event, at| events.push((at, event.clone())),
            |show| shown.push(show.clone()),
        );
        for show in shown {
            match show {
                Show::Prompt(prompt) => {
                    self.asked.push(prompt.step.clone());
                    self.prompt = Some(*prompt);
                }
                Show::Notice(text) => self.notices.push(text),
                _ => {}
            }
        }
    }

    fn wait(&mut self, seconds: i64) {
        self.now += SignedDuration::from_secs(seconds);
    }

    fn say(&mut self, line: &str) {
        self.wait(1);
        self.engine.handle_answer(line, self.now);
        self.drain();
    }

    fn at(&self) -> &str {
        self.prompt.as_ref().map_or("", |p| p.step.as_str())
    }

    /// The answer of a sound installation.
    fn good_answer(prompt: &Prompt) -> String {
        match &prompt.ask {
            Ask::Done { word } => (*word).into(),
            Ask::Indicator if prompt.step.starts_with("indicator") || prompt.stage == Some(Stage::Survey) => {
                "lit".into()
            }
            Ask::Indicator => "dark".into(),
            Ask::Purpose { terminal } => match terminal.as_str() {
                "1" | "L" => "permanent live",
                "2" | "N" => "neutral",
                "3" | "SL" => "switched live",
                "E" => "earth",
                other => panic!("no terminal {other}"),
            }
            .into(),
            Ask::Reading {
                function: Function::Insulation(_),
                ..
            } => ">299".into(),
            Ask::Reading { .. } if prompt.step.ends_with("-null") => "0.04".into(),
            Ask::Look { look } => look.expected[0].clone(),
            Ask::Reading { .. } if prompt.step.starts_with("clamp") => "0.07".into(),
            Ask::Reading { .. } if prompt.step.starts_with("clip") || prompt.step.starts_with("earth") => "0.16".into(),
            Ask::Reading { .. } if prompt.step.starts_with("continuity") => "0.63".into(),
            Ask::Reading { .. } if prompt.step.contains("open") => "OL".into(),
            Ask::Reading { .. } if prompt.step.ends_with("-off") => "0.3".into(),
            Ask::Reading { .. } => "231.4".into(),
            other => panic!("a sound installation does not ask {other:?} at {}", prompt.step),
        }
    }

    /// Goes on with good answers until a step is asked for, or to the end.
    fn to(&mut self, step: &str) {
        for _ in 0..300 {
            if self.engine.run().ending.is_some() || self.at() == step {
                return;
            }
            let prompt = self.prompt.clone().unwrap();
            if prompt.step.ends_with("-off") && prompt.stage == Some(Stage::Live) {
                self.wait(11);
            }
            self.say(&Walk::good_answer(&prompt));
        }
        panic!("`{step}` was not reached, the walk is at `{}`", self.at());
    }

    /// Goes on with good answers until a question other than the step's own is asked at a step.
    fn until_question(&mut self, step: &str) {
        for _ in 0..300 {
            let prompt = self.prompt.clone().unwrap();
            let own = matches!(
                prompt.ask,
                Ask::Done { .. } | Ask::Indicator | Ask::Look { .. } | Ask::Purpose { .. } | Ask::Reading { .. }
            );
            if prompt.step == step && (step.is_empty() || !own) {
                return;
            }
            self.say(&Walk::good_answer(&prompt));
        }
        panic!("no question at `{step}`, the walk is at `{}`", self.at());
    }

    fn status(&self, step: &str) -> Status {
        let run = self.engine.run();
        run.steps[run.plan.index(step).unwrap()].status.clone()
    }

    fn verdict(&self, step: &str) -> (Outcome, String) {
        let run = self.engine.run();
        let verdict = run.verdict(run.plan.index(step).unwrap());
        (verdict.outcome, verdict.because)
    }

    fn pending(&self, stage: Stage) -> usize {
        let run = self.engine.run();
        run.plan
            .steps
            .iter()
            .zip(&run.steps)
            .filter(|(p, s)| p.stage == stage && s.status == Status::Pending)
            .count()
    }
}

#[test]
fn a_sound_installation_passes_and_its_events_fold_to_the_same_run() {
    let mut walk = Walk::new();
    walk.to("nowhere");
    assert_eq!(walk.engine.run().outcome(), Outcome::Pass);
    let mut again = Run::open(opened(), walk.events[0].0).unwrap();
    for (at, event) in &walk.events {
        again.apply(*at, event).unwrap();
    }
    assert_eq!(again.steps, walk.engine.run().steps);
    assert_eq!(again.outcome(), Outcome::Pass);
}

#[test]
fn the_lead_resistance_is_measured_and_subtracted() {
    let mut walk = Walk::new();
    walk.to("nowhere");
    // 18 m of 1.0/1.0 mm2 at 15 degC: 36.2 mohm/m x 18 m x 0.98 = 0.638568 ohm; 0.63 - 0.04 = 0.59
    assert_eq!(
        walk.verdict("continuity/brown"),
        (Outcome::Pass, "0.59 ohm is within the window: at most 0.689 ohm".into())
    );
}

#[test]
fn a_point_found_lit_isolates_its_supply_and_everything_is_proved_again() {
    let supply = "immersion heater, its switch beside the cylinder";
    for step in ["dead-far/black-neutral", "parted-near/terminal-2-earth"] {
        let mut walk = Walk::new();
        walk.to(step);
        walk.say("lit");
        assert_eq!(walk.verdict(step).0, Outcome::Fail);
        walk.say("repair");
        assert_eq!(
            walk.notices.last().unwrap(),
            "`repair` is none of `isolate`, `again`, `leave`, `locate`, `abandon`"
        );
        walk.say("isolate");
        walk.say(supply);
        let asked = |walk: &Walk| walk.prompt.as_ref().unwrap().say.clone();
        assert_eq!(
            asked(&walk),
            format!("For the supply that lit it, switch off: {supply}.")
        );
        walk.say("no");
        assert_eq!(
            walk.notices.last().unwrap(),
            "type `done` when it is done; if it cannot be, `abandon` and keep everybody away"
        );
        for next in ["lock it off", "keep its only key", "post a notice"] {
            walk.say("done");
            assert!(asked(&walk).contains(next), "{}", asked(&walk));
        }
        walk.say("done");
        // switch, lock, key and notice are in the record, and nothing that was dark before counts
        let acts = walk
            .events
            .iter()
            .filter(|(_, event)| matches!(event, Event::Isolated { .. }));
        assert_eq!(acts.count(), 4);
        assert_eq!(
            (walk.at(), walk.status("dead-near/earth-line")),
            ("switch-off", Status::Pending)
        );
        assert_eq!(walk.engine.run().further[0].2, supply);
        walk.to("nowhere");
        assert_eq!(walk.engine.run().outcome(), Outcome::Pass);
    }
}

#[test]
fn a_break_in_the_middle_of_a_further_isolation_proves_the_point_again() {
    let mut walk = Walk::new();
    walk.to("dead-near/black-earth");
    for line in ["lit", "isolate", "frost thermostat, spur in the porch", "done", "done"] {
        walk.say(line);
    }
    let mut run = Run::open(opened(), walk.events[0].0).unwrap();
    for (at, event) in &walk.events {
        run.apply(*at, event).unwrap();
    }
    let half = run.apply(
        walk.now,
        &Event::Again {
            step: "dead-near/black-earth".into(),
        },
    );
    assert_eq!(half.unwrap_err().what, "a further supply is only half isolated");
    let mut after = Walk::around(Engine::new(run, None, Some(0)), walk.now);
    after.drain();
    after.say("none");
    assert_eq!(after.at(), "switch-off");
    after.to("dead-near/black-earth");
    after.say("lit");
    assert!(
        after
            .prompt
            .as_ref()
            .unwrap()
            .choices
            .iter()
            .any(|choice| choice.word == "isolate")
    );
}

#[test]
fn after_a_break_nothing_is_repaired_before_isolation_is_proved_again() {
    let mut walk = Walk::new();
    walk.to("continuity/grey");
    walk.say("OL");
    let mut after = Walk::around(Engine::new(walk.engine.run().clone(), None, Some(0)), walk.now);
    after.drain();
    after.say("none");
    after.say("repair");
    assert_eq!(after.at(), "switch-off");
    after.until_question("continuity/grey");
    assert_eq!(
        (
            after.prompt.as_ref().unwrap().ask.clone(),
            after.pending(Stage::Isolate)
        ),
        (Ask::Text, 0)
    );
    after.say("joint remade");
    after.say("grey");
    after.to("nowhere");
    assert_eq!(after.engine.run().outcome(), Outcome::Pass);
}

#[test]
fn an_indicator_that_fails_afterwards_proves_nothing() {
    let mut walk = Walk::new();
    walk.to("indicator-second");
    walk.say("dark");
    assert_eq!(walk.status("dead-near/earth-line"), Status::Pending);
    walk.say("leave");
    walk.say("flat battery");
    // left or not, nothing after it can be reached
    assert_eq!(walk.at(), "indicator-first");
    walk.to("indicator-second");
    assert!(matches!(walk.prompt.as_ref().unwrap().ask, Ask::Blocked { .. }));
}

#[test]
fn dead_tests_left_undone_bar_the_way_to_live_ones() {
    let mut walk = Walk::new();
    walk.to("insulation/black");
    walk.say("0.4");
    walk.say("leave");
    walk.say("cable to be replaced");
    for _ in 0..20 {
        let prompt = walk.prompt.clone().unwrap();
        if matches!(prompt.ask, Ask::Blocked { .. }) {
            break;
        }
        walk.say(&Walk::good_answer(&prompt));
    }
    assert_eq!(
        walk.prompt.as_ref().unwrap().ask,
        Ask::Blocked {
            by: "insulation/black".into()
        }
    );
    walk.say("energise");
    assert_eq!(
        walk.notices.last().unwrap(),
        "`energise` is neither `again` nor `abandon`"
    );
    // going back to a dead test takes the cores off their terminals first
    walk.say("again");
    assert_eq!(walk.at(), "off-far");
    assert_eq!(walk.pending(Stage::Isolate), 0);
    walk.to("insulation/grey");
}

#[test]
fn mains_never_meets_another_terminal() {
    let mut walk = Walk::new();
    walk.to("connect-far/black");
    walk.say("volt-free");
    let (outcome, because) = walk.verdict("connect-far/black");
    assert_eq!(outcome, Outcome::Fail);
    assert_eq!(
        because,
        "mains would meet what is not mains: core black carries switched live, terminal SL is for volt-free: take it out again"
    );
    walk.say("leave");
    walk.say("asked the maker");
    walk.to("connect-far/black");
    assert!(matches!(walk.prompt.as_ref().unwrap().ask, Ask::Blocked { .. }));
}

#[test]
fn a_repair_after_a_live_failure_proves_isolation_again() {
    let mut walk = Walk::new();
    walk.to("end-switch-on");
    walk.wait(31);
    walk.say("0.2");
    assert_eq!(walk.verdict("end-switch-on").0, Outcome::Fail);
    walk.say("repair");
    // nothing live is repaired: what was repaired is asked once isolation is proved again, against an earth that is lit again
    assert_eq!(walk.at(), "earth-near");
    walk.say("lit");
    walk.say("lit");
    assert_eq!(walk.at(), "switch-off");
    assert_eq!(
        walk.engine.run().hands.supply,
        Supply::SwitchedOn,
        "it is not off before somebody has switched it off"
    );
    walk.until_question("end-switch-on");
    assert_eq!(
        (walk.prompt.as_ref().unwrap().ask.clone(), walk.pending(Stage::Isolate)),
        (Ask::Text, 0)
    );
    walk.say("new valve head");
    walk.say("none");
    // no core was touched: the dead tests stand, the live ones do not
    assert_eq!(
        (walk.pending(Stage::Test), walk.pending(Stage::Connect), walk.at()),
        (0, 0, "energise")
    );
    walk.to("nowhere");
    assert_eq!(walk.engine.run().outcome(), Outcome::Pass);
}

#[test]
fn a_repair_that_touched_a_core_voids_its_dead_tests() {
    let mut walk = Walk::new();
    walk.to("switched-on");
    walk.say("0.2");
    walk.say("repair");
    walk.until_question("switched-on");
    walk.say("core black remade in its terminal");
    walk.say("blue");
    assert_eq!(
        walk.notices.last().unwrap(),
        "the cable has no core `blue`; it has `brown`, `grey`, `black`, `green-yellow`"
    );
    walk.say("black");
    assert_eq!(walk.at(), "off-far");
    for step in [
        "off-near",
        "link-first",
        "link/grey+black",
        "continuity/black",
        "insulation/black",
        "connect-near/brown",
        "energise",
    ] {
        assert_eq!(walk.status(step), Status::Pending, "{step}");
    }
    assert_eq!(walk.status("lead-null"), Status::Passed);
    walk.to("nowhere");
    assert_eq!(walk.engine.run().outcome(), Outcome::Pass);
}

#[test]
fn a_repair_in_the_dead_tests_repeats_the_link() {
    let mut walk = Walk::new();
    walk.to("continuity/grey");
    walk.say("OL");
    assert_eq!(
        walk.verdict("continuity/grey"),
        (Outcome::Fail, "over-range: above 1999 ohm, so above 0.689 ohm".into())
    );
    walk.say("repair");
    walk.say("joint remade in the box behind the galley");
    walk.say("grey");
    // grey was told from brown while brown was linked: that test was about grey too, and its link has been off since
    let say = walk.prompt.as_ref().unwrap().say.clone();
    assert_eq!(
        say,
        "Before `continuity/brown`: see that at the sail loft thermostat cores black and brown are linked to the earth core \
         and nothing else is linked, and that at the wiring centre no cores are joined; no clip is on the earth core."
    );
    assert_eq!(walk.pending(Stage::Isolate), 0);
    walk.to("nowhere");
    assert_eq!(walk.engine.run().outcome(), Outcome::Pass);
}

#[test]
fn testing_again_repeats_only_the_reading() {
    let mut walk = Walk::new();
    walk.to("continuity/grey");
    walk.say("0.99");
    walk.say("again");
    assert_eq!(walk.at(), "continuity/grey");
    assert_eq!(walk.status("link/grey+black"), Status::Passed);
}

#[test]
fn readings_out_of_their_time_are_not_recorded() {
    let mut walk = Walk::new();
    walk.to("end-switch-on");
    let before = walk.events.len();
    walk.say("0.2");
    assert_eq!(
        walk.notices.last().unwrap(),
        "it may still be on its way: 28 s left; type the reading when it has come, or when the time is up"
    );
    assert_eq!(walk.events.len(), before);
    walk.say("230.1");
    assert_eq!(walk.at(), "satisfy");
    walk.say("done");
    walk.say("0.2");
    assert_eq!(
        walk.notices.last().unwrap(),
        "too early: read again in 9 s and type it then; you are told when"
    );
    walk.wait(10);
    walk.say("0.2");
    assert_eq!(walk.at(), "end-switch-off");
}

#[test]
fn a_typed_reading_after_the_time_does_not_tell_when_it_came() {
    let mut walk = Walk::new();
    walk.to("end-switch-on");
    walk.wait(60);
    walk.say("230.1");
    assert_eq!(walk.verdict("end-switch-on").0, Outcome::NotTested);
    walk.say("again");
    assert_eq!(walk.at(), "call");
}

#[test]
fn abandoning_while_live_makes_safe_first() {
    let mut walk = Walk::new();
    walk.to("call");
    walk.say("abandon");
    walk.say("storm warning");
    assert_eq!(walk.prompt.as_ref().unwrap().acts, [Act::MakeSafe]);
    walk.say("fine");
    assert!(walk.engine.run().ending.is_none());
    walk.say("done");
    let run = walk.engine.run();
    assert!(run.ending.is_some() && run.made_safe.is_some());
    assert_eq!(run.outcome(), Outcome::NotTested);
    assert_eq!(walk.verdict("satisfy").1, "the run was abandoned: storm warning");
}

#[test]
fn what_hands_were_asked_for_may_be_done_when_a_run_is_abandoned() {
    for (step, todo) in [
        ("energise", "switch off, lock off, prove dead"),
        ("link-first", "take off every link"),
        ("links-off", "take off every link"),
        ("insulation/brown", "discharge the cores"),
        ("off-near", "cover every loose core end"),
    ] {
        let mut walk = Walk::new();
        walk.to(step);
        walk.say("abandon");
        walk.say("storm warning");
        let prompt = walk.prompt.as_ref().unwrap();
        assert_eq!(prompt.acts, [Act::MakeSafe], "{step}");
        assert!(prompt.say.contains(todo), "{step}: {}", prompt.say);
        walk.say("done");
        assert!(walk.engine.run().ending.is_some(), "{step}");
    }
}

#[test]
fn after_a_break_isolation_comes_first_and_a_recorded_reading_keeps_its_place() {
    let mut walk = Walk::new();
    walk.to("continuity/grey");
    walk.engine.handle_answer("0.63", walk.now);
    // the reading is on disk, then the machine dies before its verdict
    let Some(Output::Record(taken)) = walk.engine.poll_output() else {
        panic!("a reading is recorded first")
    };
    assert!(
        walk.engine.poll_output().is_none(),
        "nothing is judged or shown before it is on disk"
    );
    walk.events.push((walk.now, taken));
    let mut run = Run::open(opened(), walk.events[0].0).unwrap();
    for (at, event) in &walk.events {
        run.apply(*at, event).unwrap();
    }
    let mut after = Walk::around(Engine::new(run, None, Some(17)), walk.now);
    after.drain();
    assert!(matches!(after.events[0].1, Event::Judged { .. }), "{:?}", after.events);
    assert_eq!(after.prompt.as_ref().unwrap().ask, Ask::Touched);
    after.say("none");
    assert_eq!(after.at(), "switch-off");
    assert_eq!(
        after.events[1].1,
        Event::Resumed {
            touched: crate::run::event::Touched::Nothing,
            torn_bytes: 17,
            outdated: Vec::new(),
            answered_by: None,
        }
    );
    assert_eq!(after.status("continuity/brown"), Status::Passed);
    // nobody knows what is linked since the break: it is looked at before the next reading
    after.until_question("");
    assert!(
        after
            .prompt
            .as_ref()
            .unwrap()
            .say
            .contains("cores black and grey are linked to the earth core")
    );
    after.to("nowhere");
    assert_eq!(after.engine.run().outcome(), Outcome::Pass);
}

#[test]
fn a_meter_is_read_without_a_key_once_the_probes_lifted() {
    let mut walk = Walk::with_port(Some("tester"));
    walk.to("lead-null");
    let hear = |walk: &mut Walk, text: &str, function: Function, settled: bool| {
        let mut reading = Reading::typed(text, function).unwrap();
        reading.function = Some(function);
        walk.wait(1);
        let heard = Heard::Reading {
            reading,
            settled,
            to_go: None,
            state: if settled { "settled" } else { "moving" }.into(),
        };
        walk.engine.handle_heard(heard, walk.now);
        walk.drain();
    };
    hear(&mut walk, "0.04", Function::Continuity, true);
    assert_eq!(walk.at(), "lead-null", "contact was not seen to be new");
    hear(&mut walk, "OL", Function::Continuity, true);
    hear(&mut walk, "0.04", Function::Continuity, false);
    assert_eq!(walk.at(), "lead-null", "it still moves");
    hear(&mut walk, "0.3", Function::VoltageAc, true);
    assert_eq!(
        walk.notices.last().unwrap(),
        "the meter is on a.c. volts: turn the dial to low-resistance continuity"
    );
    hear(&mut walk, "0.04", Function::Continuity, true);
    assert_eq!(walk.at(), "continuity/brown");
}

#[test]
fn a_multimeter_is_indicative_and_never_passes_a_dead_test() {
    let mut walk = Walk::with_job(
        "Continuity(ceiling: \"1999 ohm\", accuracy: (percent: \"2\", digits: 2)),",
        "",
    );
    walk.to("continuity/brown");
    let with = walk.prompt.as_ref().unwrap().instrument.clone().unwrap();
    assert_eq!(with, "multimeter (serial SM-0031), dial on ohms");
    walk.say("0.6");
    let (outcome, because) = walk.verdict("continuity/brown");
    assert_eq!(outcome, Outcome::NotTested);
    assert!(
        because
            .starts_with("indicative only: the ohms range of `multimeter` is not the continuity test of IEC 61557-4"),
        "{because}"
    );
    walk.say("again");
    // it can still show that a core is broken
    walk.say("OL");
    assert_eq!(walk.verdict("continuity/brown").0, Outcome::Fail);
    let limits = &walk.engine.run().plan.limitations;
    assert!(limits.iter().any(|l| l.starts_with("indicative only")), "{limits:?}");
}

#[test]
fn no_voltage_on_a_high_impedance_meter_is_inconclusive() {
    let mut walk = Walk::with_job(
        "Voltage(input: \"10 kohm\", accuracy: (percent: \"1.5\", digits: 2)),",
        "",
    );
    walk.to("switched-off");
    walk.wait(11);
    for reading in ["0.0", "63"] {
        walk.say(reading);
        let (outcome, because) = walk.verdict("switched-off");
        assert_eq!(outcome, Outcome::NotTested, "{reading}");
        assert!(
            because.starts_with("inconclusive:") && because.ends_with("repeat with an input of 10 kohm or less"),
            "{because}"
        );
        walk.say("again");
        walk.say("done");
        walk.wait(11);
    }
}

#[test]
fn cores_of_unknown_length_are_compared_with_each_other() {
    let mut walk = Walk::with_job("        length: \"18 m\",\n", "");
    walk.to("continuity/brown");
    walk.say("0.63");
    assert_eq!(walk.verdict("continuity/brown").0, Outcome::Pass);
    walk.to("continuity/grey");
    assert_eq!(
        walk.prompt.as_ref().unwrap().window.as_ref().unwrap().words(),
        "0.54 ohm to 0.64 ohm"
    );
    walk.say("0.71");
    assert_eq!(
        walk.verdict("continuity/grey"),
        (Outcome::Fail, "0.67 ohm is above 0.64 ohm".into())
    );
    assert!(walk.engine.run().plan.limitations[0].starts_with("The length of the cable is not known."));
}

#[test]
fn each_core_of_unknown_length_is_solved_and_a_joint_in_the_return_core_fails() {
    let mut walk = Walk::with_job("        length: \"18 m\",\n", "");
    walk.to("continuity/brown");
    // a joint of 3 ohm in the return core reads like a longer cable
    walk.say("3.63");
    for core in ["black", "grey", "black/with grey"] {
        let step = format!("continuity/{core}");
        walk.to(&step);
        walk.say("3.63");
        assert_eq!(walk.verdict(&step).0, Outcome::Pass);
    }
    walk.to("solve");
    let prompt = walk.prompt.as_ref().unwrap();
    assert_eq!(prompt.window.as_ref().unwrap().words(), "3.54 ohm to 3.64 ohm");
    walk.say("0.63");
    assert_eq!(
        walk.verdict("solve"),
        (Outcome::Fail, "0.59 ohm is below 3.54 ohm".into())
    );
    let run = walk.engine.run();
    let mark = run.verdict(run.plan.index("solve").unwrap()).mark;
    assert_eq!(
        mark.as_deref(),
        Some("each core solved: brown 0.295 ohm, grey 0.295 ohm, green-yellow 3.295 ohm")
    );
}

#[test]
fn what_stays_connected_is_tested_at_250_volts_to_earth_only() {
    let to = "stays_connected: \"the wiring centre's receiver\",\n    equipment: [";
    let walk = Walk::with_job("equipment: [", to);
    let plan = &walk.engine.run().plan;
    let insulation: Vec<_> = plan.steps.iter().filter(|s| s.id.starts_with("insulation")).collect();
    assert_eq!(insulation.len(), 1, "no pair of cores gets the voltage");
    assert!(
        insulation[0]
            .say
            .starts_with("Insulation at 250 V: first probe on core green-yellow"),
        "{}",
        insulation[0].say
    );
    assert!(
        plan.limitations[0].contains("Insulation between cores is not shown"),
        "{:?}",
        plan.limitations
    );
}

#[test]
fn work_that_was_left_begins_with_isolation_again() {
    let mut walk = Walk::new();
    walk.to("continuity/grey");
    walk.wait(1801);
    walk.say("0.61");
    assert_eq!(
        walk.notices.last().unwrap(),
        "the work was left for a while: what was proved dead is proved again"
    );
    walk.say("none");
    assert_eq!(
        walk.prompt.as_ref().unwrap().step,
        "switch-off",
        "what was typed was not taken"
    );
    let resumed = |(_, event): &&(Timestamp, Event)| matches!(event, Event::Resumed { .. });
    assert_eq!(walk.events.iter().filter(resumed).count(), 1);
    // half an hour to the second is not long, and while it is live nothing is proved dead
    let mut walk = Walk::new();
    walk.to("continuity/grey");
    walk.wait(1799);
    walk.say("0.61");
    walk.to("call");
    walk.wait(4000);
    walk.say("done");
    assert!(!walk.events.iter().any(|event| resumed(&event)) && walk.engine.run().went_on_late.is_empty());
}

#[test]
fn voltage_in_a_dead_test_stops_it_and_voids_the_isolation() {
    let mut walk = Walk::new();
    walk.to("continuity/grey");
    walk.say("24 V");
    assert!(
        walk.notices.last().unwrap().starts_with("`24 V` is a voltage"),
        "extra-low voltage is a wrong dial, not a danger"
    );
    walk.say("231 V");
    assert_eq!(walk.at(), "switch-off");
    let run = walk.engine.run();
    assert_eq!(run.live_seen.len(), 1);
    assert!(matches!(walk.events.last().unwrap().1, Event::LiveSeen { .. }));
    // what was proved before stands
    assert_eq!(walk.status("continuity/black"), Status::Passed);
    walk.to("nowhere");
    assert_eq!(walk.engine.run().outcome(), Outcome::Pass);
}

#[test]
fn a_meter_that_shows_volts_in_a_dead_test_stops_it_whatever_its_dial() {
    let mut walk = Walk::with_port(Some("tester"));
    walk.to("lead-null");
    let mut reading = Reading::typed("118", Function::VoltageAc).unwrap();
    reading.function = Some(Function::VoltageAc);
    let heard = Heard::Reading {
        reading,
        settled: false,
        to_go: None,
        state: "moving".into(),
    };
    walk.engine.handle_heard(heard, walk.now);
    walk.drain();
    assert_eq!(walk.at(), "switch-off");
}

#[test]
fn changed_leads_are_measured_again() {
    let mut walk = Walk::new();
    walk.to("continuity/grey");
    walk.say("leads");
    assert_eq!(walk.at(), "lead-null");
    walk.say("0.06");
    assert_eq!(walk.at(), "continuity/grey");
    walk.say("0.65");
    assert_eq!(
        walk.verdict("continuity/grey").1,
        "0.59 ohm is within the window: at most 0.689 ohm"
    );
    assert_eq!(
        walk.verdict("continuity/brown").1,
        "0.59 ohm is within the window: at most 0.689 ohm"
    );
    walk.to("nowhere");
    assert_eq!(walk.engine.run().outcome(), Outcome::Pass);
}

/// A walk with a meter on its port, at a step, and what it hears there.
fn metered(step: &str, on_change: bool) -> Walk {
    let now: Timestamp = "2026-11-25T08:00:00Z".parse().unwrap();
    let port = PortInstrument {
        instrument: "tester".into(),
        on_change,
        guarded: true,
    };
    let mut walk = Walk::around(Engine::new(Run::open(opened(), now).unwrap(), Some(port), None), now);
    walk.drain();
    walk.to(step);
    walk
}

fn heard(walk: &mut Walk, heard: Heard) {
    walk.engine.handle_heard(heard, walk.now);
    walk.drain();
}

fn shown(text: &str, function: Function) -> Heard {
    let mut reading = Reading::typed(text, function).unwrap();
    reading.function = Some(function);
    reading.origin = crate::value::reading::Origin::Meter {
        profile: "line-stream".into(),
        raw: crate::value::raw::Raw::new(text.as_bytes()),
        contact: None,
        to_go: None,
    };
    Heard::Reading {
        reading,
        settled: true,
        to_go: None,
        state: "steady".into(),
    }
}

#[test]
fn what_stood_before_trouble_is_not_taken_when_the_time_is_up() {
    let volts = Function::VoltageAc;
    for trouble in [
        Heard::Trouble("nothing heard".into()),
        shown("0.4 ohm", Function::Resistance),
    ] {
        let mut walk = metered("end-switch-on", false);
        walk.say("on");
        heard(&mut walk, shown("3.0", volts));
        heard(&mut walk, trouble);
        walk.wait(60);
        walk.engine.handle_tick(walk.now);
        walk.drain();
        let (outcome, because) = walk.verdict("end-switch-on");
        assert_eq!(outcome, Outcome::NotTested);
        assert_eq!(because, "not done: no reading was in force when the time was up");
    }
    // what still stands is
    let mut walk = metered("end-switch-on", false);
    walk.say("on");
    heard(&mut walk, shown("3.0", volts));
    walk.wait(60);
    walk.engine.handle_tick(walk.now);
    walk.drain();
    assert_eq!(walk.verdict("end-switch-on").0, Outcome::Fail);
}

#[test]
fn what_was_said_of_the_probes_is_forgotten_where_hands_leave_them() {
    let mut flagged = shown("OL", Function::Continuity);
    if let Heard::Reading { reading, .. } = &mut flagged {
        reading.flags = vec![crate::value::reading::Flag::Hold];
    }
    for (trouble, said) in [
        (
            Heard::Trouble("the port vanished: plug it in".into()),
            "the port vanished: plug it in",
        ),
        (
            flagged,
            "the meter holds an old value: press HOLD so that the mark goes out",
        ),
        (
            shown("OL", Function::Resistance),
            "the meter is on ohms: turn the dial to low-resistance continuity",
        ),
    ] {
        let mut walk = metered("lead-null", false);
        walk.say("on");
        heard(&mut walk, trouble.clone());
        heard(&mut walk, trouble);
        assert_eq!(
            walk.notices[walk.notices.len() - 1],
            format!("{said}; then put both probes on the points and type `on` again")
        );
        heard(&mut walk, shown("OL", Function::Continuity));
        assert_eq!(walk.at(), "lead-null");
        walk.say("on");
        heard(&mut walk, shown("OL", Function::Continuity));
        assert_eq!(walk.verdict("lead-null").0, Outcome::Fail);
    }
}

#[test]
fn a_meter_that_sends_on_change_is_taken_by_its_digits_alone() {
    let mut walk = metered("lead-null", true);
    heard(&mut walk, shown("OL", Function::Continuity));
    walk.say("on");
    heard(&mut walk, shown("0.04", Function::Continuity));
    assert_eq!(walk.at(), "lead-null", "nothing counts by time");
    walk.say("0.04");
    assert_ne!(walk.at(), "lead-null");
    let taken = walk.events.iter().rev().find_map(|(_, event)| match event {
        Event::Taken { reading, .. } => Some(reading.origin.clone()),
        _ => None,
    });
    assert!(
        matches!(taken, Some(crate::value::reading::Origin::Meter { .. })),
        "{taken:?}"
    );
    // other digits than those that it sent are typed
    let mut walk = metered("lead-null", true);
    heard(&mut walk, shown("0.04", Function::Continuity));
    walk.say("0.05");
    let typed = walk.events.iter().rev().find_map(|(_, event)| match event {
        Event::Taken { reading, .. } => Some(reading.origin.clone()),
        _ => None,
    });
    assert!(
        matches!(typed, Some(crate::value::reading::Origin::Typed { .. })),
        "{typed:?}"
    );
}

#[test]
fn the_end_of_a_wait_is_told_once() {
    let mut walk = Walk::new();
    walk.to("satisfy");
    walk.say("done");
    let mut told = Vec::new();
    for _ in 0..30 {
        walk.wait(1);
        walk.engine.handle_tick(walk.now);
        let now = walk.now;
        let hear = |show: &Show| {
            if let Show::Now(text) = show {
                told.push(text.clone());
            }
        };
        walk.engine.drain(|| now, |_, _| {}, hear);
    }
    assert_eq!(told, ["the wait is over: look now, and answer"]);
}

#[test]
fn a_voltage_in_any_spelling_stops_the_work_at_every_question_where_dead_is_claimed() {
    let spellings = [
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
    ];
    let isolates = |walk: &Walk| {
        let seen = walk
            .events
            .iter()
            .any(|(_, event)| matches!(event, Event::LiveSeen { .. }));
        seen && walk.engine.run().live_seen.len() == 1 && walk.status("switch-off") == Status::Pending
    };
    for spelling in spellings {
        for step in ["lead-null", "link/grey+black", "connect-near/brown", "continuity/brown"] {
            let mut walk = Walk::new();
            walk.to(step);
            assert_eq!(walk.at(), step);
            walk.say(spelling);
            assert!(isolates(&walk), "`{spelling}` at `{step}`: {:?}", walk.events.last());
        }
        // after a step that did not pass: the decision, and which cores a repair touched
        for before in [&["9.9"][..], &["9.9", "repair", "new clamp"]] {
            let mut walk = Walk::new();
            walk.to("continuity/brown");
            before.iter().for_each(|line| walk.say(line));
            walk.say(spelling);
            assert!(
                isolates(&walk),
                "`{spelling}` after {before:?}: {:?}",
                walk.events.last()
            );
        }
    }
}

#[test]
fn a_voltage_in_a_text_is_asked_and_a_bare_figure_at_insulation_too() {
    let at_text = || {
        let mut walk = Walk::new();
        walk.to("continuity/brown");
        walk.say("9.9");
        walk.say("repair");
        walk.say("clamp was at 230 v");
        assert!(walk.prompt.as_ref().unwrap().say.contains("Is that there now?"));
        walk
    };
    let mut walk = at_text();
    walk.say("perhaps");
    walk.say("yes");
    assert_eq!(walk.engine.run().live_seen.len(), 1);
    let mut walk = at_text();
    walk.say("no");
    assert_eq!(walk.engine.run().live_seen.len(), 0);
    assert!(matches!(walk.prompt.as_ref().unwrap().ask, Ask::Touched));
    walk.say("none");
    assert!(
        walk.events
            .iter()
            .any(|(_, event)| matches!(event, Event::Repaired { what, .. } if what == "clamp was at 230 v"))
    );
    for (answer, live) in [("volts", 1), ("megohm", 0)] {
        let mut walk = Walk::new();
        walk.to("insulation/brown");
        walk.say("230");
        assert!(walk.prompt.as_ref().unwrap().say.contains("volts, or megohm?"));
        walk.say(answer);
        assert_eq!(walk.engine.run().live_seen.len(), live, "{answer}");
    }
}

#[test]
fn what_is_no_more_than_extra_low_is_read_again_and_is_no_sighting() {
    let mut walk = Walk::new();
    walk.to("continuity/brown");
    walk.say("30 V");
    assert_eq!(walk.at(), "continuity/brown");
    assert_eq!(
        walk.notices.last().unwrap(),
        "`30 V` is a voltage, though no more than extra-low: take your hands away, and read it again with a low-impedance \
         meter before it is called coupled; then go on"
    );
    assert_eq!(walk.engine.run().live_seen.len(), 0);
}

#[test]
fn a_tester_that_nulls_its_leads_reads_about_zero_and_nothing_is_subtracted() {
    let mut walk = Walk::with_job(
        "kind: \"multifunction installation tester\",",
        "kind: \"multifunction installation tester\", nulls: true,",
    );
    walk.to("lead-null");
    walk.say("0.06");
    assert_eq!(
        walk.verdict("lead-null"),
        (Outcome::Fail, "0.06 ohm is above 0.05 ohm".into())
    );
    walk.say("again");
    // a display at zero may show either sign
    walk.say("-0.00");
    assert_eq!(walk.verdict("lead-null").0, Outcome::Pass);
    walk.to("continuity/grey");
    assert_eq!(
        walk.verdict("continuity/brown"),
        (Outcome::Pass, "0.63 ohm is within the window: at most 0.689 ohm".into())
    );
    // other leads are nulled again
    walk.say("leads");
    assert_eq!(walk.at(), "lead-null");
    assert!(
        walk.prompt.as_ref().unwrap().say.contains("Null the tester so"),
        "{:?}",
        walk.prompt
    );
}
