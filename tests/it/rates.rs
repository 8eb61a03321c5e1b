//! Each case in which a meter was heard wrong once, through a pseudo-terminal, at 1, 4, 10 and 50 readings a second.
//!
//! The rule inside: nothing is judged by how long it took. A case does to the meter and to the prompt what hands would, and the record
//! then says what was taken, whatever the rate. With the feature `outside`, which waits for other programs anyway, each case is gone through at
//! every rate; without it at two, a slow and a quick one in turn.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use serde_json::Value;

use crate::cable::Cable;
use crate::world::{Walk, World, repo, text};

const RATES: [u32; 4] = [1, 4, 10, 50];
/// Walks that go on at the same time: each waits for its meter most of the time.
const AT_ONCE: usize = 14;
/// Longer than any reading takes to come.
const WAIT_MAX: Duration = Duration::from_secs(40);

const LIFTED: &str = "LOWOHM;OL;ohm;-";
const SHORTED: &str = "LOWOHM;0.62;ohm;-";
const VOLTS: &str = "VAC;231.4;V;-";
const SOUND: &str = "INS500;>299;Mohm;-";
const LEAKS: &str = "INS500;0.30;Mohm;-";

/// What hands do, and what the record must say next.
enum Act {
    /// The meter sends this line from now on; it was sent once before the next act.
    Shows(&'static str),
    /// The meter sends these lines, each once, and is silent after them.
    SendsOnce(&'static [&'static str]),
    /// The meter sends this line once, and then the other from now on.
    Then(&'static str, &'static str),
    /// The meter sends so many frames.
    Frames(usize),
    /// The meter falls asleep.
    Sleeps,
    Unplug,
    Plug,
    /// So many milliseconds go by.
    For(u64),
    Says(&'static str),
    /// The program says this.
    Hears(&'static str),
    /// The next events of the record begin so.
    Tells(&'static [&'static str]),
}
use Act::{For, Frames, Hears, Plug, Says, SendsOnce, Shows, Sleeps, Tells, Then, Unplug};

struct Case {
    name: &'static str,
    /// The step at which the meter is read.
    step: &'static str,
    /// What the profile says in place of its silence; `{ms}` is the time between two readings.
    period: Option<&'static str>,
    /// What the tester's entry says of its hold.
    hold: Option<&'static str>,
    acts: &'static [Act],
}

const PLACED: &str = "taken as soon as it stands still";

const CASES: &[Case] = &[
    Case {
        name: "over-range that stood for less than its time is no reading",
        step: "all-open/grey",
        period: Some("period: Ms({ms})"),
        hold: None,
        acts: &[
            Shows(LIFTED),
            // a range that is still being looked for
            Says("on"),
            Hears(PLACED),
            For(600),
            Shows(SHORTED),
            Says("0.62"),
            Tells(&["taken 0.62", "fail"]),
            // what stood on another dial
            Says("again"),
            Tells(&["again"]),
            Shows("OHMS;OL;Mohm;-"),
            Says("on"),
            Hears(
                "the meter is on ohms: turn the dial to low-resistance continuity; then put both probes on the points",
            ),
            For(2_500),
            Says("on"),
            Shows(LIFTED),
            For(600),
            Shows(SHORTED),
            Says("0.62"),
            Tells(&["taken 0.62", "fail"]),
            // what was held, and is not looked at again after the key was pressed
            Says("again"),
            Tells(&["again"]),
            Says("on"),
            Shows("LOWOHM;OL;ohm;H"),
            Hears("press HOLD"),
            For(2_500),
            Shows(LIFTED),
            Shows(SHORTED),
            Says("0.62"),
            Tells(&["taken 0.62", "fail"]),
            // what stood before the meter fell asleep
            Says("again"),
            Tells(&["again"]),
            Shows(LIFTED),
            Says("on"),
            Hears(PLACED),
            For(1_200),
            Sleeps,
            Hears("nothing heard from the meter for"),
            Shows(LIFTED),
            Says("on"),
            For(600),
            Shows(SHORTED),
            Says("0.62"),
            Tells(&["taken 0.62", "fail"]),
            // and before its cable was pulled out
            Says("again"),
            Tells(&["again"]),
            Shows(LIFTED),
            Says("on"),
            Hears(PLACED),
            For(1_200),
            Unplug,
            Hears("vanished: plug the meter's cable in again; then put both probes on the points and type `on` again"),
            Plug,
            Hears("is back"),
            // hands were at the plug: nothing is said of the probes, however long it stands
            For(2_500),
            Shows(SHORTED),
            Says("0.62"),
            Tells(&["taken 0.62", "fail"]),
        ],
    },
    Case {
        name: "over-range that stands is taken",
        step: "all-open/grey",
        period: None,
        hold: None,
        acts: &[Shows(LIFTED), Says("on"), Tells(&["taken OL meter said", "pass"])],
    },
    Case {
        name: "insulation that falls within the hold never passes",
        step: "insulation/brown",
        period: None,
        hold: None,
        acts: &[
            Shows(SOUND),
            // the button comes late: what stands until then is nobody's insulation
            Says("on"),
            Hears(PLACED),
            For(3_000),
            Shows(LEAKS),
            Says("0.30"),
            Tells(&["taken 0.30", "fail"]),
        ],
    },
    Case {
        name: "insulation that stands for five seconds is taken",
        step: "insulation/brown",
        period: None,
        hold: None,
        acts: &[Shows(SOUND), Says("on"), Tells(&["taken >299 meter said", "pass"])],
    },
    Case {
        name: "an instrument that holds longer is waited for",
        step: "insulation/brown",
        period: None,
        hold: Some("9 s"),
        acts: &[
            Shows(SOUND),
            Says("on"),
            Hears(PLACED),
            For(6_500),
            Shows(LEAKS),
            Says("0.30"),
            Tells(&["taken 0.30", "fail"]),
        ],
    },
    Case {
        name: "what stood before silence is not taken when the time is up",
        step: "end-switch-on",
        period: Some("period: Ms({ms})"),
        hold: None,
        acts: &[
            Shows("VAC;3.0;V;-"),
            Says("on"),
            // it stands still, which takes a dozen readings and two seconds
            Frames(14),
            For(2_000),
            Sleeps,
            Tells(&["not done: no reading was in force when the time was up", "not_tested"]),
        ],
    },
    Case {
        name: "what still stands is taken when the time is up",
        step: "end-switch-on",
        period: None,
        hold: None,
        acts: &[
            Shows("VAC;3.0;V;-"),
            Says("on"),
            Tells(&["taken 3.0 meter said", "fail"]),
        ],
    },
    Case {
        name: "a meter that sends on change counts by nothing but its digits",
        step: "continuity/brown",
        period: Some("period: OnChange"),
        hold: None,
        acts: &[
            SendsOnce(&[LIFTED, "LOWOHM;0.91;ohm;-", "LOWOHM;0.70;ohm;-", "LOWOHM;0.63;ohm;-"]),
            For(3_000),
            // its words for a display that stands are no reading
            Says("on"),
            Hears("this meter sends only when its display changes"),
            Says("0.63"),
            Tells(&["taken 0.63 meter said", "pass"]),
            // what stood at the last prompt is not what is typed at this one
            Says("OL"),
            Tells(&["taken OL typed", "fail"]),
        ],
    },
    Case {
        name: "what a meter sent before its cable was pulled out confirms nothing",
        step: "continuity/brown",
        period: Some("period: OnChange"),
        hold: None,
        acts: &[
            SendsOnce(&[LIFTED, "LOWOHM;0.63;ohm;-"]),
            For(500),
            Unplug,
            Hears("vanished"),
            Plug,
            Hears("is back"),
            Says("0.63"),
            Tells(&["taken 0.63 typed", "pass"]),
        ],
    },
    Case {
        name: "a display that is sent many times is no dozen readings",
        step: "continuity/brown",
        period: None,
        hold: None,
        acts: &[
            Shows(LIFTED),
            Shows("LOWOHM;0.93;ohm;-"),
            For(800),
            Shows("LOWOHM;0.78;ohm;-"),
            For(800),
            Shows("LOWOHM;0.68;ohm;-"),
            For(800),
            Shows("LOWOHM;0.63;ohm;-"),
            Tells(&["taken 0.63 meter seen", "pass"]),
        ],
    },
    Case {
        name: "one frame of voltage holds the run until two show none; voltage again is a voltage that was seen",
        step: "lead-null",
        period: None,
        hold: None,
        acts: &[
            Shows(LIFTED),
            Then(VOLTS, LIFTED),
            Hears("231.4 V IN ONE FRAME OF THE METER. Take your hands away."),
            Hears("two frames without voltage followed: `lead-null` goes on"),
            Tells(&["frame_doubted 231.4", "frame_cleared OL", "frame_cleared OL"]),
            Shows(VOLTS),
            Hears("231.4 V WHERE EVERYTHING WAS PROVED DEAD."),
            Tells(&["frame_doubted 231.4", "live_seen 231.4"]),
        ],
    },
    Case {
        name: "silence after a frame of voltage is a voltage that was seen",
        step: "lead-null",
        period: None,
        hold: None,
        acts: &[
            Shows(LIFTED),
            SendsOnce(&[VOLTS]),
            Hears("231.4 V WHERE EVERYTHING WAS PROVED DEAD."),
            Tells(&["frame_doubted 231.4", "live_seen 231.4"]),
        ],
    },
];

#[test]
fn every_measured_case_is_heard_right_at_every_rate() {
    let walked = |(nth, rate): (usize, usize)| cfg!(feature = "outside") || nth % 2 == rate % 2;
    // the slowest rate first, so that the last to end is not the longest
    let all = (0..RATES.len()).flat_map(|rate| (0..CASES.len()).map(move |nth| (nth, rate)));
    let all: Vec<(usize, usize)> = all.filter(|one| walked(*one)).collect();
    let next = AtomicUsize::new(0);
    let wrong: Vec<String> = std::thread::scope(|scope| {
        let worker = || {
            let (world, mut wrong) = (World::with_key(), Vec::new());
            while let Some((nth, rate)) = all.get(next.fetch_add(1, Ordering::Relaxed)) {
                let (case, rate) = (&CASES[*nth], RATES[*rate]);
                if let Err(why) = Bench::at(&world, case, rate).goes_through(case.acts) {
                    wrong.push(format!("{} ({rate} a second): {why}", case.name));
                }
            }
            wrong
        };
        let workers: Vec<_> = (0..AT_ONCE).map(|_| scope.spawn(worker)).collect();
        workers.into_iter().flat_map(|worker| worker.join().unwrap()).collect()
    });
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

/// A walk with its meter at the step of a case.
struct Bench<'a> {
    world: &'a World,
    cable: Cable,
    walk: Walk,
    /// Events that the record already had.
    told: usize,
}

impl Bench<'_> {
    fn at<'a>(world: &'a World, case: &Case, rate: u32) -> Bench<'a> {
        let cable = Cable::new();
        let write = |name: &str, text: String| {
            std::fs::write(world.path(name), text).unwrap();
            world.path(name).display().to_string()
        };
        let shipped = std::fs::read_to_string(repo("src/meter/profile/shipped/line-stream.ron")).unwrap();
        let period = case.period.unwrap_or("quiet_ms_max: 3000");
        let period = period.replace("{ms}", &(1000 / rate).to_string());
        let profile = write("meter.ron", changed(&shipped, "quiet_ms_max: 3000", &period));
        let job = std::fs::read_to_string(repo("fixtures/saltmarsh.ron")).unwrap();
        let (volts, hold) = ("volts: [250, 500], ", case.hold);
        let hold = hold.map_or_else(String::new, |hold| format!("hold: \"{hold}\", "));
        let job = write("job.ron", changed(&job, volts, &format!("{volts}{hold}")));
        let sequence = std::fs::read_to_string(world.sequence()).unwrap();
        let opens = "within: (\"call\", Stated(time: \"22 s\", source: \"stated for a test\"))";
        let sequence = write(
            "sequence.ron",
            changed(&sequence, "within: (\"call\", ValveOpens)", opens),
        );
        let meter = cable.spec().replace("line-stream", &profile);
        let mut walk = world.talk(&["run", &sequence, "--job", &job, "--new", "--meter", &meter]);
        assert!(walk.to(case.step), "{}", walk.seen);
        cable.rate(rate);
        let told = events(world).len();
        Bench {
            world,
            cable,
            walk,
            told,
        }
    }

    fn goes_through(mut self, acts: &[Act]) -> Result<(), String> {
        for act in acts {
            match act {
                Shows(line) => {
                    self.cable.shows(line);
                    self.cable.frames(1);
                }
                Frames(count) => self.cable.frames(*count),
                SendsOnce(lines) => {
                    self.cable.sends_once(lines);
                    self.cable.frames(lines.len());
                }
                Then(once, line) => self.cable.shows_after(once, line),
                Sleeps => self.cable.sleeps(),
                Unplug => self.cable.unplug(),
                Plug => self.cable.plug(),
                For(ms) => std::thread::sleep(Duration::from_millis(*ms)),
                Says(line) => self.walk.answer(line),
                Hears(text) => self.walk.until(text),
                Tells(expected) => self.tells(expected)?,
            }
        }
        let more = events(self.world).split_off(self.told);
        self.walk.kill();
        if more.is_empty() {
            Ok(())
        } else {
            Err(format!("the record goes on with {more:?}"))
        }
    }

    /// The next events of the record, as soon as they are written down.
    fn tells(&mut self, expected: &[&str]) -> Result<(), String> {
        let began = Instant::now();
        let found = loop {
            let found = events(self.world).split_off(self.told);
            if expected.len() <= found.len() || WAIT_MAX < began.elapsed() {
                break found;
            }
            std::thread::sleep(Duration::from_millis(50));
        };
        let fits = |(found, expected): (&String, &&str)| found.starts_with(expected);
        if found.len() != expected.len() || !found.iter().zip(expected).all(fits) {
            return Err(format!("{found:?} in place of {expected:?}\n{}", self.walk.seen));
        }
        self.told += expected.len();
        Ok(())
    }
}

/// A text with one place in it changed.
fn changed(text: &str, from: &str, to: &str) -> String {
    assert_eq!(text.matches(from).count(), 1, "{from}");
    text.replace(from, to)
}

/// The events of the newest journal, a few words each.
fn events(world: &World) -> Vec<String> {
    let journal = text(&std::fs::read(world.journals().last().unwrap()).unwrap());
    // a line that is still being written is not yet there
    let whole = journal.rsplit_once('\n').map_or("", |(whole, _)| whole);
    let events = whole.lines().map(|line| serde_json::from_str::<Value>(line).unwrap());
    events.map(|line| in_words(&line["event"])).collect()
}

fn in_words(event: &Value) -> String {
    let (name, of) = match event {
        Value::String(name) => return name.clone(),
        event => event.as_object().unwrap().iter().next().unwrap(),
    };
    if let Some(outcome) = of["verdict"]["outcome"].as_str() {
        return outcome.to_owned();
    }
    if let Some(why) = of["answer"]["not_done"].as_str() {
        return format!("not done: {why}");
    }
    let reading = &of["reading"];
    let shown = match &reading["shown"] {
        Value::Null => return name.clone(),
        Value::String(_) => "OL".to_owned(),
        shown => match (&shown["digits"], &shown["above"]) {
            (Value::String(digits), _) => digits.clone(),
            (_, above) => format!(">{}", above.as_str().unwrap()),
        },
    };
    let meter = &reading["origin"]["meter"];
    let from = match meter["contact"].as_str() {
        Some(contact) => format!("meter {contact}"),
        None if meter.is_object() => "meter".to_owned(),
        None => "typed".to_owned(),
    };
    format!("{name} {shown} {from}")
}
