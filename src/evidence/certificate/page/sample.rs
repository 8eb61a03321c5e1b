//! Runs for the tests of this room: the shipped sequence on the demonstration job, walked by a typed answer a prompt.

use jiff::{SignedDuration, Timestamp};
use rust_decimal::prelude::ToPrimitive;

use super::head::Seal;
use crate::located::Text;
use crate::plan::{Kind, Leads, Measure, Point, Stage, Step, Subject, Timing};
use crate::run::dialogue::{Ask, Dialogue, Output, Prompt, Show};
use crate::run::engine::Engine;
use crate::run::event::{Event, Opened, Rehearsal};
use crate::run::fold::Run;
use crate::value::quantity::Unit;
use crate::value::reading::Function;

/// Three zones of an underfloor manifold.
pub(crate) const UNDERFLOOR: &str = include_str!("../../../../fixtures/loft-underfloor.ron");

pub(crate) const JOB: &str = include_str!("../../../../fixtures/saltmarsh.ron");

/// A run that has been opened and nothing more.
pub(crate) fn opened(job: &str, rehearsal: Option<Rehearsal>) -> Run {
    opened_by("stat-cable", job, rehearsal)
}

/// The same by any shipped sequence.
pub(crate) fn opened_by(sequence: &str, job: &str, rehearsal: Option<Rehearsal>) -> Run {
    let opened = Opened {
        program: "coreproof 0.1.0".into(),
        run: "019abf6e-7a10-7c3e-9d52-5a17b20c44ef".parse().expect("a run's name"),
        rehearsal,
        ..Opened::new(
            crate::sequence::shipped::carried(sequence).expect("it is shipped"),
            Text::new("saltmarsh.ron", job),
            "2018+A2:2022",
        )
    };
    let at: Timestamp = "2026-11-25T07:16:21.123Z".parse().expect("a time");
    Run::open(opened, at).expect("the sample binds")
}

/// Walks to the end; `answer` gives the lines it wants to give itself, anything else gets the healthy answer.
pub(crate) fn walk(run: Run, mut answer: impl FnMut(&Prompt) -> Option<String>) -> Run {
    let mut now = run.opened_at + SignedDuration::from_secs(9);
    let mut engine = Engine::new(run, None, None);
    let mut asked = None;
    for _ in 0..10_000 {
        match engine.poll_output() {
            Some(Output::Record(event)) => {
                engine.handle_recorded(&event, now);
                now += SignedDuration::from_millis(if matches!(event, Event::Judged { .. }) {
                    7_250
                } else {
                    3
                });
            }
            Some(Output::Photograph(file)) => panic!("nobody photographs `{file}` here"),
            Some(Output::Locate(_)) => panic!("nobody asks where the fault is here"),
            Some(Output::Show(Show::Prompt(prompt))) => asked = Some(prompt),
            Some(Output::Show(_)) => {}
            None if engine.is_finished() => return engine.run().clone(),
            None => {
                let prompt = asked.take().expect("every answer of a sample is understood");
                let line = match answer(&prompt)
                    .unwrap_or_else(|| healthy(engine.run(), &prompt))
                    .as_str()
                {
                    // stops the walk in the middle, as a crash would
                    BREAK => {
                        engine = Engine::new(engine.run().clone(), None, Some(37));
                        continue;
                    }
                    line => line.to_owned(),
                };
                let timing = step(engine.run(), &prompt).and_then(Step::timing);
                if let Some(Timing::After { wait, .. }) = timing {
                    let seconds = wait.value().to_i64().expect("a wait is of whole seconds");
                    now += SignedDuration::from_secs(seconds + 1);
                }
                engine.handle_answer(&line, now);
            }
        }
    }
    panic!("the walk does not end");
}

/// An answer that breaks the run off and goes on with it.
pub(crate) const BREAK: &str = "\u{1b}break";

fn step<'a>(run: &'a Run, prompt: &Prompt) -> Option<&'a Step> {
    run.plan.index(&prompt.step).map(|i| &run.plan.steps[i])
}

fn kind<'a>(run: &'a Run, prompt: &Prompt) -> Option<&'a Kind> {
    step(run, prompt).map(|step| &step.kind)
}

fn healthy(run: &Run, prompt: &Prompt) -> String {
    match (&prompt.ask, kind(run, prompt)) {
        (Ask::Done { word }, _) => (*word).into(),
        (Ask::Indicator, Some(Kind::Indicator { lit, .. })) => if *lit { "lit" } else { "dark" }.into(),
        (Ask::Purpose { .. }, Some(Kind::Connect { carries, .. })) => carries.words().into(),
        (Ask::Reading { .. }, Some(Kind::Measure(m))) => reading(run, m).into(),
        (Ask::Look { look }, _) if look.subject == Subject::Moved && look.expected.is_empty() => "none".into(),
        (Ask::Look { look }, _) if look.subject == Subject::Moved => look.expected.join(", "),
        (Ask::Look { look }, _) => look.expected[0].clone(),
        (Ask::Touched, _) => "none".into(),
        (Ask::Blocked { .. }, _) => "abandon".into(),
        (Ask::Text, _) => "rain came in".into(),
        other => panic!("no healthy answer to {other:?}"),
    }
}

fn reading(run: &Run, m: &Measure) -> &'static str {
    let window = run.window(m).expect("fixed windows");
    match (m.used.function, window.low.is_some(), window.unit) {
        (Function::Insulation(_), ..) => ">299",
        (_, true, Unit::Ohm) => "OL",
        (_, false, Unit::Ohm) if m.is_null => "0.10",
        (_, false, Unit::Ohm) if m.is_join => "0.20",
        (_, false, Unit::Ohm) if m.probes.leads() == Leads::Long => "0.15",
        (_, false, Unit::Ohm) if matches!(m.probes.first, Point::Terminal { .. }) => "0.12",
        (_, false, Unit::Ohm) => "0.70",
        (_, true, _) => "231.4",
        (_, false, _) => "0.3",
    }
}

/// A run in which everything passed.
pub(crate) fn passed() -> Run {
    walk(opened(JOB, None), |_| None)
}

/// A run in which eyes found something before anything was switched: noted, repaired, looked at again, and given up at the dead tests.
pub(crate) fn found_by_eye() -> Run {
    let mut looked = 0;
    let job = include_str!("../../../../fixtures/boathouse-valve.ron");
    walk(opened_by("zone-valve", job, None), move |prompt| {
        let line = match (prompt.step.as_str(), &prompt.ask) {
            (_, Ask::Note { .. }) => "as it is",
            // not the same at both ends: one by one
            ("sound-near", _) if !prompt.together.is_empty() => "no",
            ("sound-near", Ask::Look { .. }) if looked == 0 => {
                looked += 1;
                "found bare copper at a clamp"
            }
            ("sound-near", Ask::Decision { .. }) => "repair",
            ("sound-near", Ask::Text) => "copper cut back",
            _ if prompt.stage == Some(Stage::Test) => "abandon",
            _ => return None,
        };
        Some(line.to_owned())
    })
}

/// A run with a repair, a break and a failure that was left, abandoned at the gate.
pub(crate) fn failed() -> Run {
    let mut grey = 0;
    let mut broken = false;
    walk(opened(JOB, None), move |prompt| {
        let line = match (prompt.step.as_str(), &prompt.ask) {
            ("continuity/grey", Ask::Reading { .. }) if grey == 0 => {
                grey += 1;
                "1.95"
            }
            ("continuity/grey", Ask::Decision { .. }) => "repair",
            ("continuity/grey", Ask::Text) => "clamp screw at the joint box tightened, grey core re-terminated",
            ("continuity/grey", Ask::Touched) => "grey",
            ("all-open/grey", Ask::Reading { .. }) if !broken => {
                broken = true;
                BREAK
            }
            ("insulation/brown", Ask::Reading { .. }) => "0.42",
            ("insulation/brown", Ask::Decision { .. }) => "leave",
            ("insulation/brown", Ask::Text) => "cable is to be replaced on Thursday",
            ("", Ask::Text) => "insulation between brown and grey is too low",
            _ => return None,
        };
        Some(line.to_owned())
    })
}

pub(crate) fn rehearsal(fault: Option<&str>) -> Rehearsal {
    Rehearsal {
        fault: fault.map(str::to_owned),
        seed: 7,
    }
}

pub(crate) fn seal() -> Seal {
    Seal {
        signed_by: "Morgan Teal".into(),
        fingerprint: "SHA256:9l2m0C4kQn3y5s8v1xWzT7uRbEoPaJdHgFcKiLmNqYs".into(),
        public_key: PUBLIC_KEY_LINE.trim().into(),
        record_sha256: "5f0c6a1d2e3b4c5d6e7f8091a2b3c4d5e6f708192a3b4c5d6e7f8091a2b3c4d5".into(),
        known_as: Some("Morgan Teal".into()),
        further: Vec::new(),
        superseded: Vec::new(),
        stamped: Vec::new(),
        photographs: Vec::new(),
        checkpoint: Some("coreproof/archive/4d2c\n1\nBwc=\n\n\u{2014} coreproof/archive/4d2c AAAA\n".into()),
    }
}

pub(crate) const PUBLIC_KEY_LINE: &str =
    "ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAIIq2b4m0dW5n8kzJ3v1xQ7yR6sTfUaPcEoHgLiKjMnBd Morgan Teal\n";
pub(crate) const SIGNATURE_TEXT: &str =
    "-----BEGIN SSH SIGNATURE-----\nU1NIU0lHAAAAAQ==\n-----END SSH SIGNATURE-----\n";

/// Bytes that stand for a record: lines, an odd length, every byte value.
pub(crate) fn record() -> Vec<u8> {
    let mut bytes: Vec<u8> = (0..200)
        .flat_map(|n| format!("{{\"n\":{n},\"digits\":\"0.{n}\"}}\n").into_bytes())
        .collect();
    bytes.extend(0..=255);
    bytes
}

/// Names that a typesetting language would act on.
pub(crate) const HOSTILE: [&str; 5] = [
    r#"#panic("x")"#,
    "*bold* _it_ `raw`",
    "= H $x$ // c",
    r"<label> @ref \",
    r#"#read("/etc/hostname")"#,
];

/// A run whose place, part, client, engineer and reason are hostile, with names that no font has and long ones.
pub(crate) fn hostile() -> Run {
    let quoted = |text: &str| format!("{text:?}");
    let long = "a-name-of-sixty-characters-without-any-blank-to-break-it-at0";
    let job = JOB
        .replace("\"Saltmarsh Sailing Club\"", &quoted(HOSTILE[0]))
        .replace("\"clubhouse, sail loft heating zone\"", &quoted(HOSTILE[1]))
        .replace("\"the club's house committee\"", &quoted(HOSTILE[2]))
        .replace("\"Morgan Teal\"", &quoted(HOSTILE[3]))
        .replace("\"brown\"", &quoted(long))
        .replace("\"tester\"", &quoted(&long.replace("name", "tool")))
        .replace("\"flat three-core and earth\"", "\"cable \u{4e2d}\u{202e}\u{1f527}\"");
    let mut asked = 0;
    walk(opened(&job, None), move |prompt| {
        let line = match &prompt.ask {
            Ask::Indicator if asked == 0 => {
                asked = 1;
                "no"
            }
            Ask::Text => HOSTILE[4],
            Ask::Decision { .. } => "abandon",
            _ => return None,
        };
        Some(line.to_owned())
    })
}

/// A run of a job with 20 cores and 63 zones, each named with 60 characters of another script, of a cable whose length nobody knows.
/// Nothing in it was walked.
pub(crate) fn extreme() -> Run {
    let job = UNDERFLOOR;
    let list = |of: &dyn Fn(usize) -> String, count: usize| (1..=count).map(of).collect::<String>();
    // the text between the line that begins a list and the one that ends it
    let with = |job: &str, begin: &str, end: &str, list: &str| {
        let (before, rest) = job.split_once(begin).expect("the fixture has that list");
        let (_, after) = rest.split_once(end).expect("the list ends");
        format!("{before}{begin}{list}{end}{after}")
    };
    let cores = list(
        &|n| {
            format!(
                "(name: \"\u{436}\u{438}\u{43b}\u{430} {n}\", size: \"0.75 mm2\", carries: SwitchedLive, near: \"Z{n}\", far: \"Z{n}\"),"
            )
        },
        18,
    ) + "(name: \"grey\", size: \"0.75 mm2\", carries: Neutral, near: \"N\", far: \"N\"),"
        + "(name: \"green-yellow\", size: \"0.75 mm2\", carries: Earth, near: \"E\", far: \"E\"),";
    let terminals = list(&|n| format!("(name: \"Z{n}\", takes: SwitchedLive),"), 18);
    let others = "(name: \"L\", takes: PermanentLive), (name: \"N\", takes: Neutral), (name: \"P\", takes: EndSwitch), (name: \"E\", takes: Earth),";
    let equipment = list(
        &|n| {
            let at = (n - 1) % 18 + 1;
            format!(
                "(name: \"stat {n}\", is: Contact(between: (Near(\"L\"), Near(\"Z{at}\")), moved_by: Control(\"stat {n}\"))),\
             (name: \"actuator {n}\", is: Motor(between: (Far(\"Z{at}\"), Far(\"N\")), power: \"2 W\", opens: \"180 s\", closes: \"240 s\", wax: true)),"
            )
        },
        63,
    ) + "(name: \"underfloor pump\", is: Load(between: (Near(\"P\"), Near(\"N\")), ohms: \"1.2 kohm\")),";
    let zones = list(
        &|n| {
            format!(
                "(name: \"{n:02} {}\", control: \"stat {n}\", actuators: [\"actuator {n}\"]),",
                "\u{434}\u{43e}\u{43c}".repeat(19)
            )
        },
        63,
    );
    let job = with(job, "        cores: [\n", "        ],\n", &cores);
    let (near, far) = job
        .split_once("    far: (")
        .expect("the far end stands behind the near one");
    let near = with(
        near,
        "        terminals: [\n",
        "        ],\n",
        &format!("{terminals}{others}"),
    );
    let far = with(
        far,
        "        terminals: [\n",
        "        ],\n",
        &format!("{terminals}{others}"),
    );
    let job = with(
        &format!("{near}    far: ({far}"),
        "    equipment: [\n",
        "    ],\n",
        &equipment,
    );
    let job = with(&job, "    zones: [\n", "    ],\n", &zones).replace("        length: \"9 m\",\n", "");
    opened_by("underfloor-zones", &job, None)
}
