//! A forger with a good key who lies in what a record says beside readings and answers: who chose what was read, what was enough, for which
//! steps one answer stood, by which face it came, which supply was isolated, which frame of a meter was doubted, what was arranged.
//!
//! The honest record is walked in memory: no heat, sought live in any order; a point that is lit at the dead tests; a frame that fell over.

use coreproof::diagnosis::locate::Halving;
use coreproof::evidence::audit::Known;
use coreproof::evidence::keys::{SigningKey, Trust};
use coreproof::evidence::{Sealed, prove_known};
use coreproof::located::Text;
use coreproof::plan::{Kind, Timing};
use coreproof::run::dialogue::{Ask, Dialogue, Prompt, Show};
use coreproof::run::engine::Engine;
use coreproof::run::event::{Event, Opened};
use coreproof::run::fold::Run;
use coreproof::sequence::shipped;
use coreproof::value::quantity::Unit;
use coreproof::value::reading::Function;
use coreproof::{job, sequence};
use jiff::{SignedDuration, Timestamp};
use rust_decimal::Decimal;

use crate::forged::Forged;
use crate::world::{World, repo};

const RUN: &str = "01a1f7f8-0000-7b76-86d4-5342b4ba7f0a";
/// How long an answer takes here: less than hands need, and sooner than any valve opens.
const ANSWERS: SignedDuration = SignedDuration::from_secs(3);
/// Longer than anything in the plan is waited for.
const WAITS: SignedDuration = SignedDuration::from_mins(8);

/// A walk in memory by an engineer whose wiring is sound.
struct Walked {
    engine: Engine,
    now: Timestamp,
    lines: Vec<(String, String)>,
    prompt: Option<Prompt>,
}

impl Walked {
    fn begin() -> Walked {
        let job = job::read(&shipped::job("race-office-heating").unwrap()).unwrap();
        let read = sequence::read(&shipped::texts("no-heat").unwrap()).unwrap();
        let plan = sequence::bind(&read, &job).unwrap();
        let profile = std::fs::read_to_string(repo("src/meter/profile/shipped/line-stream.ron")).unwrap();
        let opened = Opened {
            profiles: vec![Text::new("line-stream.ron", profile)],
            ..Opened::of_plan(&plan, RUN.parse().unwrap())
        };
        let now = "2026-11-20T08:00:00Z".parse().unwrap();
        let run = Run::open(opened.clone(), now).unwrap();
        let mut walked = Walked {
            engine: Engine::new(run, None, None).choosing(Box::new(Halving::default())),
            now,
            lines: Vec::new(),
            prompt: None,
        };
        walked.write(&Event::Opened(Box::new(opened)));
        walked.drain();
        walked
    }

    fn write(&mut self, event: &Event) {
        self.lines.push(line(self.now, &serde_json::to_string(event).unwrap()));
    }

    fn drain(&mut self) {
        let now = self.now;
        let (lines, prompt) = (&mut self.lines, &mut self.prompt);
        self.engine.drain(
            || now,
            |event, at| lines.push(line(at, &serde_json::to_string(event).unwrap())),
            |show| {
                if let Show::Prompt(asked) = show {
                    *prompt = Some((**asked).clone());
                }
            },
        );
    }

    fn say(&mut self, line: &str) {
        self.now += ANSWERS;
        self.engine.handle_answer(line, self.now);
        self.drain();
    }

    /// Goes on after a break.
    fn breaks_off(&mut self) {
        let run = self.engine.run().clone();
        self.engine = Engine::new(run, None, Some(0)).choosing(Box::new(Halving::default()));
        self.drain();
    }

    fn ended(&self) -> bool {
        self.engine.run().ending.is_some()
    }

    fn step(&self) -> String {
        self.prompt.as_ref().unwrap().step.clone()
    }

    /// Good answers up to a step that begins so.
    fn to(&mut self, step: &str) {
        while !self.ended() && !self.step().starts_with(step) {
            self.good();
        }
        assert!(!self.ended(), "{step} never came");
    }

    fn good(&mut self) {
        let (answer, waits) = self.answer();
        if waits {
            self.now += WAITS;
        }
        let asked = self.prompt.as_ref().map(|prompt| prompt.number);
        self.say(&answer);
        let next = self.prompt.as_ref().map(|prompt| prompt.number);
        assert!(self.ended() || asked != next, "`{answer}` at {:?}", self.prompt);
        assert!(self.lines.len() < 2_000, "it goes round at {:?}", self.prompt);
    }

    /// What sound wiring answers, and whether it is waited for.
    fn answer(&self) -> (String, bool) {
        let prompt = self.prompt.as_ref().unwrap();
        let at = prompt.place.0.checked_sub(1);
        let kind = at.map(|at| &self.engine.run().plan.steps[at].kind);
        let timing = match kind {
            Some(Kind::Measure(measure)) => Some(&measure.timing),
            Some(Kind::Look(look)) => Some(&look.timing),
            _ => None,
        };
        let answer = match (&prompt.ask, kind) {
            (Ask::Done { word }, _) => (*word).to_owned(),
            (Ask::Indicator, Some(Kind::Indicator { lit, .. })) => if *lit { "lit" } else { "dark" }.to_owned(),
            (Ask::Purpose { .. }, Some(Kind::Connect { carries, .. })) => carries.words().to_owned(),
            (Ask::Look { look }, _) if look.expected.is_empty() => "none".to_owned(),
            (Ask::Look { look }, _) => look.expected.join(","),
            (Ask::Note { .. } | Ask::Text, _) => "as it was found".to_owned(),
            (Ask::Touched, _) => "none".to_owned(),
            (Ask::Reading { function, .. }, _) => self.reading(prompt, *function, at.unwrap()),
            other => panic!("{other:?} at {prompt:?}"),
        };
        (answer, matches!(timing, Some(Timing::After { .. })))
    }

    /// A display in the middle of the window.
    fn reading(&self, prompt: &Prompt, function: Function, at: usize) -> String {
        let window = prompt.window.as_ref().unwrap();
        let [low, high] = [&window.low, &window.high].map(|edge| edge.as_ref().map(|edge| edge.amount.value()));
        let value = match (low, high) {
            (Some(_), None) if matches!(function, Function::Insulation(_)) => return ">299 Mohm".into(),
            (Some(_), None) => return "OL".into(),
            (low, Some(high)) => (low.unwrap_or(Decimal::ZERO) + high) / Decimal::TWO,
            (None, None) => panic!("no window at {prompt:?}"),
        };
        let unit = match window.unit {
            Unit::Ohm => "ohm",
            Unit::Volt => "V",
            other => panic!("{other:?}"),
        };
        let shown = value + self.engine.run().lead_taken_off(at);
        format!("{} {unit}", shown.round_dp(2).normalize())
    }
}

fn line(at: Timestamp, event: &str) -> (String, String) {
    (at.strftime("%Y-%m-%dT%H:%M:%S.%3fZ").to_string(), event.to_owned())
}

/// Bytes of a frame as a record has them.
fn hexadecimal(frame: &str) -> String {
    frame.bytes().map(|byte| format!("{byte:02x}")).collect()
}

const VOLTS: &str = "VAC;231.4;V;-";
const LIFTED: &str = "LOWOHM;OL;ohm;-";

fn frame(kind: &str, step: &str, frame: &str) -> String {
    let shown = match frame {
        VOLTS => r#""shown":{"digits":"231.4"},"prefix":"one","unit":"volt","function":"voltage_ac""#,
        _ => r#""shown":"over","prefix":"one","unit":"ohm","function":"continuity""#,
    };
    let raw = hexadecimal(frame);
    format!(
        "{{\"{kind}\":{{\"step\":\"{step}\",\"reading\":{{{shown},\"origin\":{{\"meter\":{{\"profile\":\"line-stream\",\"raw\":\"{raw}\"}}}}}}}}}}"
    )
}

/// The step at which the frame fell over.
const HELD: &str = "continuity/brown";

/// The honest record.
fn honest() -> Forged {
    let mut walked = Walked::begin();
    // the program's choice
    walked.to("found-programmer-out");
    walked.good();
    walked.say("other");
    walked.say("found-valve");
    walked.say("0.3 V");
    walked.say("enough");
    walked.to("dead-near");
    walked.good();
    walked.say("lit");
    walked.say("isolate");
    walked.to("dead-far");
    walked.good();
    walked.say("back");
    walked.to("continuity/black");
    walked.breaks_off();
    while !walked.ended() {
        walked.good();
    }
    let mut record = Forged(walked.lines);
    let at = record.find(&["\"taken\"", &format!("\"{HELD}\"")]);
    for (kind, shown) in [
        ("frame_cleared", LIFTED),
        ("frame_cleared", LIFTED),
        ("frame_doubted", VOLTS),
    ] {
        record.0.insert(at, (record.0[at].0.clone(), frame(kind, HELD, shown)));
    }
    // the page takes over at the far end
    let at = record.find(&["\"answered\"", "\"dead-far"]);
    let turned = "{\"turned_to\":{\"face\":\"page\"}}";
    record.0.insert(at, (record.0[at].0.clone(), turned.into()));
    record
}

/// One change of the honest record.
enum Lie {
    /// A text replaced in the first line that holds the marks.
    Says(&'static [&'static str], &'static str, &'static str),
    /// That line left out.
    Without(&'static [&'static str]),
    /// That line twice.
    Twice(&'static [&'static str]),
    /// That line and the one after it the other way round.
    Swapped(&'static [&'static str]),
    /// Another event before that line.
    Before(&'static [&'static str], &'static str),
    /// A frame of the meter before that line.
    Frame(&'static [&'static str], &'static str, &'static str, &'static str),
    /// Its time later by so many seconds, and all times after it.
    Later(&'static [&'static str], i64),
}

impl Lie {
    fn told(&self, honest: &Forged) -> Forged {
        let mut forged = honest.clone();
        match self {
            Lie::Says(marks, from, to) => return honest.edited(marks, from, to),
            Lie::Without(marks) => drop(forged.0.remove(honest.find(marks))),
            Lie::Twice(marks) => {
                let at = honest.find(marks);
                forged.0.insert(at, honest.0[at].clone());
            }
            Lie::Swapped(marks) => {
                let at = honest.find(marks);
                let (one, other) = (honest.0[at].1.clone(), honest.0[at + 1].1.clone());
                (forged.0[at].1, forged.0[at + 1].1) = (other, one);
            }
            Lie::Before(marks, event) => {
                let at = honest.find(marks);
                forged.0.insert(at, (honest.0[at].0.clone(), (*event).to_owned()));
            }
            Lie::Frame(marks, kind, step, shown) => {
                let at = honest.find(marks);
                forged.0.insert(at, (honest.0[at].0.clone(), frame(kind, step, shown)));
            }
            Lie::Later(marks, seconds) => {
                for (at, _) in &mut forged.0[honest.find(marks)..] {
                    let later = at.parse::<Timestamp>().unwrap() + SignedDuration::from_secs(*seconds);
                    *at = line(later, "").0;
                }
            }
        }
        forged
    }
}

const BY_PROGRAM: &[&str] = &["\"chosen\"", "\"program\""];
const BY_ENGINEER: &[&str] = &["\"chosen\"", "\"engineer\""];
const ENOUGH: &[&str] = &["\"enough\""];
const TOGETHER: &[&str] = &["\"answered_together\""];
const ISOLATED: &[&str] = &["\"isolated\""];
const DOUBTED: &[&str] = &["\"frame_doubted\""];
const CLEARED: &[&str] = &["\"frame_cleared\""];
const TURNED: &[&str] = &["\"turned_to\""];
const REASON: &[&str] = &["\"answered\"", "\"why-live"];
const READ: &[&str] = &["\"taken\"", "\"continuity/brown\""];

#[rustfmt::skip]
const LIES: &[Lie] = &[
    // who chose, what and why
    Lie::Says(BY_PROGRAM, "\"program\"", "\"engineer\""),
    Lie::Says(BY_ENGINEER, "\"engineer\"", "\"program\""),
    Lie::Says(BY_PROGRAM, "faults that are left", "faults that were left"),
    Lie::Says(BY_PROGRAM, " faults", "0 faults"),
    Lie::Says(BY_PROGRAM, " (", " (9"),
    Lie::Says(BY_PROGRAM, "\"because\":\"", "\"because\":\"\",\"x\":\""),
    Lie::Says(BY_ENGINEER, "in place of another", "it tells most"),
    Lie::Says(BY_ENGINEER, "in place of another", ""),
    Lie::Says(BY_ENGINEER, "\"found-valve\"", "\"found-boiler\""),
    Lie::Says(BY_ENGINEER, "\"found-valve\"", "\"switch-off\""),
    Lie::Without(BY_PROGRAM),
    Lie::Without(BY_ENGINEER),
    Lie::Twice(BY_PROGRAM),
    Lie::Swapped(BY_ENGINEER),
    Lie::Says(&["\"judged\"", "chosen by the engineer"], "by the engineer", "by the program"),
    Lie::Says(&["\"judged\"", "chosen by the program"], "chosen by the program", "read first"),
    // what was enough
    Lie::Says(ENOUGH, "\"because\":\"", "\"because\":\"surely "),
    Lie::Says(ENOUGH, "\"step\":\"", "\"step\":\"why-live\",\"step\":\""),
    Lie::Without(ENOUGH),
    Lie::Twice(ENOUGH),
    Lie::Before(BY_PROGRAM, "{\"enough\":{\"step\":\"found-feed\",\"because\":\"it was late\"}}"),
    Lie::Before(BY_ENGINEER, "{\"enough\":{\"step\":\"found-boiler\",\"because\":\"no single fault of the library agrees with what was read\"}}"),
    Lie::Says(&["\"judged\"", "enough was known"], "not read: enough was known", "not needed here"),
    Lie::Says(&["\"judged\"", "enough was known"], "enough was known", "all was known"),
    Lie::Says(&["\"taken\"", "\"found-valve\""], "\"0.3", "\"230.3"),
    // why it was done live
    Lie::Says(REASON, "as it was found", ""),
    Lie::Says(REASON, "as it was found", "   "),
    Lie::Says(REASON, "as it was found", "as\\nfound"),
    Lie::Says(REASON, "as it was found", "as\\u001bfound"),
    Lie::Says(REASON, "{\"note\":{\"text\":\"as it was found\"}}", "\"not_needed\""),
    Lie::Says(REASON, "{\"note\":{\"text\":\"as it was found\"}}", "\"done\""),
    Lie::Says(REASON, "\"as it was found\"", "\"as it was found\",\"photograph\":{\"file\":\"a.jpg\",\"sha256\":\"00\"}"),
    Lie::Without(REASON),
    // one answer for several
    Lie::Says(TOGETHER, "\"steps\":[\"", "\"steps\":[\"switch-off\",\""),
    Lie::Says(TOGETHER, "\"steps\":[\"", "\"steps\":[],\"x\":[\""),
    Lie::Says(TOGETHER, "\"answer\":", "\"answer\":{\"not_done\":\"no time\"},\"x\":"),
    Lie::Twice(TOGETHER),
    Lie::Swapped(TOGETHER),
    // a further supply
    Lie::Says(ISOLATED, "as it was found", "another"),
    Lie::Says(ISOLATED, "as it was found", ""),
    Lie::Says(ISOLATED, "switch_off", "lock_off"),
    Lie::Without(ISOLATED),
    Lie::Without(&["\"isolated\"", "post_notice"]),
    Lie::Swapped(ISOLATED),
    Lie::Twice(&["\"isolated\"", "post_notice"]),
    Lie::Says(&["\"answered\"", "\"lit\"", "dead-near"], "\"lit\"", "\"dark\""),
    Lie::Before(READ, "{\"isolated\":{\"step\":\"continuity/brown\",\"supply\":\"a heater\",\"act\":\"switch_off\"}}"),
    // the face
    Lie::Twice(TURNED),
    Lie::Says(TURNED, "page", "terminal"),
    Lie::Says(TURNED, "page", "glass"),
    Lie::Swapped(TURNED),
    Lie::Before(&["\"judged\"", "\"switch-off\""], "{\"turned_to\":{\"face\":\"pipe\"}}"),
    // a frame that fell over
    Lie::Says(DOUBTED, "231.4", "23.1"),
    Lie::Says(DOUBTED, "\"unit\":\"volt\"", "\"unit\":\"ohm\""),
    Lie::Says(DOUBTED, "continuity/brown", "continuity/grey"),
    Lie::Says(CLEARED, "continuity/brown", "continuity/grey"),
    Lie::Says(CLEARED, "\"shown\":\"over\"", "\"shown\":{\"digits\":\"0.5\"}"),
    Lie::Says(&["\"opened\""], "    talk: Stream,\\n", "    talk: Stream,\\n    agree: 2,\\n"),
    Lie::Without(DOUBTED),
    Lie::Without(CLEARED),
    Lie::Twice(DOUBTED),
    Lie::Twice(CLEARED),
    Lie::Later(CLEARED, 4),
    Lie::Frame(READ, "frame_doubted", HELD, LIFTED),
    Lie::Frame(READ, "frame_doubted", HELD, VOLTS),
    Lie::Frame(READ, "live_seen", HELD, VOLTS),
    Lie::Frame(READ, "frame_cleared", HELD, LIFTED),
    Lie::Frame(BY_PROGRAM, "frame_doubted", "found-feed", VOLTS),
    Lie::Before(READ, "{\"frame_doubted\":{\"step\":\"continuity/brown\",\"reading\":{\"shown\":{\"digits\":\"231.4\"},\"prefix\":\"one\",\"unit\":\"volt\",\"origin\":{\"typed\":{\"text\":\"231.4\"}}}}}"),
    // links and joints
    Lie::Says(&["\"arranged\""], "\"joined\":", "\"terminals\":true,\"joined\":"),
    Lie::Says(&["\"arranged\""], "\"joined\":", "\"neutral_off\":true,\"joined\":"),
    Lie::Says(&["\"arranged\""], "\"joined\":", "\"rest\":\"brown\",\"joined\":"),
    Lie::Twice(&["\"arranged\""]),
    Lie::Without(&["\"arranged\""]),
    // taken back
    Lie::Without(&["\"taken_back\""]),
    Lie::Twice(&["\"taken_back\""]),
    Lie::Before(READ, "{\"taken_back\":{\"step\":\"switch-off\"}}"),
    Lie::Before(READ, "{\"remarked\":{\"step\":\"switch-off\",\"text\":\"it was dark\"}}"),
    Lie::Before(READ, "{\"was_lit\":{\"step\":\"switch-off\"}}"),
    Lie::Before(READ, "{\"doubted\":{\"step\":\"switch-off\",\"line\":\"63\"}}"),
];

/// What speaks against a record of a key that is trusted as its engineer's.
fn against(court: &(SigningKey, Trust, Known), forged: &Forged) -> Option<String> {
    let (key, trust, known) = court;
    let record = forged.bytes();
    let signature = key.sign(&record);
    let now = "2026-11-29T12:00:00Z".parse().unwrap();
    let proved = prove_known(&Sealed { record, signature }, None, trust, now, known);
    proved.against().map(|remark| remark.words())
}

#[test]
fn a_forger_of_what_stands_beside_the_answers_is_found_out_each_time() {
    let (world, key) = (World::new(), SigningKey::throw_away());
    let path = world.path("trusted");
    Trust::add(&path, "Morgan Teal", &key.public()).unwrap();
    let court = (key, Trust::read(&path).unwrap(), Known::default());
    let honest = honest();
    assert_eq!(against(&court, &honest), None);
    assert!(40 <= LIES.len());
    let mut unfound = Vec::new();
    for (n, lie) in LIES.iter().enumerate() {
        let forged = lie.told(&honest);
        assert_ne!(forged.0, honest.0, "lie {n} changes nothing");
        let found = against(&court, &forged);
        println!("{n}: {found:?}");
        if found.is_none() {
            unfound.push(n);
        }
    }
    assert_eq!(unfound, Vec::<usize>::new());
}
