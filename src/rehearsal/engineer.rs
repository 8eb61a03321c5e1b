//! A scripted engineer: does what a prompt asks, looks, and types what was seen.
//!
//! The rule inside: answers come from the prompt's acts and probes, from the world and from the markings of the job;
//! never from the plan, a window or a verdict. Whatever does not pass ends the walk.

use std::collections::BTreeMap;

use tokio::sync::mpsc::UnboundedSender;

use super::clock::{FRAME_MS, SimClock};
use super::display::{Display, Face};
use super::meter::Port;
use crate::job::{End, Job};
use crate::model::look::typed as typed_look;
use crate::plan::{Act, Look, Probes, Stage};
use crate::run::dialogue::{Ask, Engineer, Prompt, Said, Show};
use crate::value::quantity::Shown;
use crate::value::reading::Function;

/// Simulated time for one thing done with the hands, in milliseconds.
const HANDS_MS: u32 = 2000;
/// Simulated time for which a display that is read off by eye is watched first, in milliseconds.
const WATCH_MS: u32 = 3000;
/// Frames for which the probes are in the air before they go on the next points.
const LIFTED_FRAMES: u32 = 3;
/// Frames after which a reading that is still not taken will not be: 600 s, longer than wax takes either way.
const PATIENCE_FRAMES: u32 = 600_000 / FRAME_MS;
/// Times an answer is typed again because its time has not come, as long.
const PATIENCE_LINES: u32 = 600_000 / WATCH_MS;
/// Why a walk with a failed step is abandoned.
const FAULT_FOUND: &str = "rehearsal: a fault was found";

/// What passed between the walk and the engineer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Seen<'a> {
    /// The walk showed this.
    Show(&'a Show),
    /// The engineer answered this.
    Line(&'a str),
}

/// Is told everything that passes, in order.
pub type Observer = Box<dyn FnMut(Seen<'_>)>;

/// What the engineer is in the middle of.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Doing {
    Nothing,
    /// The probes are in the air for so many frames more.
    Lifting {
        probes: Probes,
        frames: u32,
    },
    /// The probes are on; so many frames have gone by, and whether `on` was said.
    Touching {
        frames: u32,
        said_on: bool,
    },
    /// Something is looked at; so many times it was answered.
    Looking {
        looks: Vec<Look>,
        times: u32,
    },
    /// A reading was read off and typed so many times.
    Typing {
        instrument: String,
        times: u32,
    },
}

/// The engineer of a rehearsal.
pub struct Scripted {
    job: Job,
    clock: SimClock,
    /// The instrument on the port, with its dial.
    port: Option<Port>,
    /// Displays that are read by eye, by instrument.
    others: BTreeMap<String, Display>,
    seed: u64,
    lines: UnboundedSender<Said>,
    observer: Observer,
    doing: Doing,
    reason: String,
}

impl Scripted {
    /// An engineer in the world of this clock. `port` is the simulated meter on the port, if there is one; typed lines go to
    /// `lines`; `observer` is told everything.
    pub fn new(
        clock: &SimClock,
        port: Option<Port>,
        seed: u64,
        lines: UnboundedSender<Said>,
        observer: Observer,
    ) -> Scripted {
        Scripted {
            job: clock.with_world(|world, _| world.job().clone()),
            clock: clock.clone(),
            port,
            others: BTreeMap::new(),
            seed,
            lines,
            observer,
            doing: Doing::Nothing,
            reason: FAULT_FOUND.to_owned(),
        }
    }

    fn say(&mut self, line: impl AsRef<str>) {
        let line = line.as_ref();
        (self.observer)(Seen::Line(line));
        // nobody listens any more once the walk is over
        let _ = self.lines.send(Said::from(line));
    }

    fn give_up(&mut self, why: &str) {
        self.doing = Doing::Nothing;
        self.reason = format!("rehearsal: {why}");
        self.say("abandon");
    }

    fn place(&self, probes: Option<Probes>) {
        self.clock.with_world(|world, _| world.place(probes));
    }

    fn prompt(&mut self, prompt: &Prompt) {
        if matches!(prompt.ask, Ask::Reading { .. }) && prompt.probes.is_none() {
            // whether what was typed really stands there: it was read off the display, and the probes have not moved
            return self.say("yes");
        }
        self.doing = Doing::Nothing;
        self.place(None);
        self.clock
            .with_world(|world, _| prompt.acts.iter().for_each(|act| world.apply(act)));
        self.clock.advance(HANDS_MS);
        match &prompt.ask {
            Ask::Done { word } => self.say(word),
            Ask::Indicator => {
                let probes = prompt.probes.as_ref().expect("an indicator goes on two points");
                // before anything is switched off it is wanted lit
                let wanted = prompt.stage == Some(Stage::Survey);
                let lit = self.clock.with_world(|world, _| world.answers_lit(probes, wanted));
                self.say(if lit { "lit" } else { "dark" });
            }
            Ask::Purpose { terminal } => {
                let marking = self.marking(prompt, terminal);
                self.say(marking);
            }
            Ask::Reading { function, from_meter } => {
                let probes = prompt.probes.clone().expect("looked at above");
                self.reading(prompt, *function, *from_meter, probes);
            }
            Ask::Look { look } => {
                let shared = prompt.together.iter().filter_map(|one| match &one.ask {
                    Ask::Look { look } => Some(look.clone()),
                    _ => None,
                });
                let mut looks: Vec<Look> = shared.collect();
                if looks.is_empty() {
                    looks.push(look.clone());
                }
                self.doing = Doing::Looking { looks, times: 0 };
                self.look();
            }
            Ask::Note { .. } => self.say("rehearsed"),
            Ask::Decision { .. } | Ask::Blocked { .. } => self.say("abandon"),
            Ask::Text => self.say(self.reason.clone()),
            Ask::Touched => self.say("none"),
            Ask::Held => self.doing = Doing::Nothing,
            Ask::Told => panic!("nobody tells cores apart in a rehearsal"),
        }
    }

    /// What is marked at the terminal where the core really went in.
    fn marking(&self, prompt: &Prompt, terminal: &str) -> &'static str {
        let connected = prompt.acts.iter().find_map(|act| match act {
            Act::Connect { core, end } => Some((core, *end)),
            _ => None,
        });
        let into = connected.map(|(core, end)| {
            self.clock
                .with_world(|world, _| world.terminal_of(core, end).to_owned())
        });
        let at = self.job.end(connected.map_or(End::Near, |(_, end)| end));
        let into = into.as_deref().unwrap_or(terminal);
        let marked = at.terminals.iter().find(|there| there.name == into);
        marked.map_or("no", |there| there.takes.words())
    }

    fn reading(&mut self, prompt: &Prompt, function: Function, from_meter: bool, probes: Probes) {
        match &self.port {
            Some(port) if from_meter => {
                port.panel().turn(function);
                self.doing = Doing::Lifting {
                    probes,
                    frames: LIFTED_FRAMES,
                };
            }
            _ => {
                let Some(instrument) = self.instrument(prompt) else {
                    return self.give_up("the prompt names no instrument of the job");
                };
                self.display(&instrument).turn(function);
                self.place(Some(probes));
                self.type_reading(instrument, 1);
            }
        }
    }

    /// The instrument that a prompt names.
    fn instrument(&self, prompt: &Prompt) -> Option<String> {
        let words = prompt.instrument.as_deref()?;
        let named = |name: &str| {
            words
                .strip_prefix(name)
                .is_some_and(|rest| rest.starts_with(" (serial "))
        };
        self.job
            .instruments
            .iter()
            .map(|there| &there.name)
            .find(|name| named(name))
            .cloned()
    }

    fn display(&mut self, instrument: &str) -> &mut Display {
        let listed = self.job.instruments.iter().find(|there| there.name == instrument);
        let listed = listed.expect("found in the job by the prompt");
        let seed = self.seed;
        self.others
            .entry(instrument.to_owned())
            .or_insert_with(|| Display::new(listed, seed))
    }

    /// Watches the display for a while, then types what it says.
    fn type_reading(&mut self, instrument: String, times: u32) {
        let mut face = None;
        let clock = self.clock.clone();
        for _ in 0..WATCH_MS / FRAME_MS {
            clock.advance(FRAME_MS);
            let display = self.display(&instrument);
            let prefix = display.dial().map(Function::prefix).unwrap_or_default();
            face = clock.with_world(|world, now| display.look(world, now, &[prefix]));
        }
        self.doing = Doing::Typing { instrument, times };
        self.say(typed(&face.expect("the dial was turned before")));
    }

    /// Looks after a while, and says what is seen.
    fn look(&mut self) {
        let Doing::Looking { looks, times } = self.doing.clone() else {
            return;
        };
        self.clock.advance(WATCH_MS);
        let seen = |look: &Look| {
            let seen = self.clock.with_world(|world, _| world.sees(look));
            typed_look(look, &seen)
        };
        let lines: Vec<String> = looks.iter().map(seen).collect();
        let is_one = lines.iter().all(|line| *line == lines[0]);
        self.doing = Doing::Looking {
            looks,
            times: times + 1,
        };
        self.say(if is_one { &lines[0] } else { "no" });
    }

    fn live(&mut self) {
        match self.doing.clone() {
            Doing::Lifting { probes, frames: 0 } => {
                self.place(Some(probes));
                self.doing = Doing::Touching {
                    frames: 0,
                    said_on: false,
                };
                self.say_on();
            }
            Doing::Lifting { probes, frames } => {
                self.doing = Doing::Lifting {
                    probes,
                    frames: frames - 1,
                };
            }
            Doing::Touching { frames, .. } if PATIENCE_FRAMES <= frames => {
                self.give_up("the meter's reading was never taken");
            }
            Doing::Touching { frames, said_on } => {
                self.doing = Doing::Touching {
                    frames: frames + 1,
                    said_on,
                };
                if !said_on {
                    self.say_on();
                }
            }
            Doing::Nothing | Doing::Typing { .. } | Doing::Looking { .. } => {}
        }
    }

    /// Says that both probes are on, where the display could not tell.
    fn say_on(&mut self) {
        let Some(port) = &self.port else { return };
        let like_bare = port
            .panel()
            .with(|display| self.clock.with_world(|world, _| display.like_bare(world)));
        if like_bare && let Doing::Touching { frames, .. } = self.doing {
            self.doing = Doing::Touching { frames, said_on: true };
            self.say("on");
        }
    }

    fn notice(&mut self, text: &str) {
        match self.doing.clone() {
            Doing::Typing { instrument, times } => {
                if is_not_yet(text) && times < PATIENCE_LINES {
                    self.type_reading(instrument, times + 1);
                } else {
                    self.give_up(&format!("a typed reading was not taken: {text}"));
                }
            }
            Doing::Looking { times, .. } if is_not_yet(text) && times < PATIENCE_LINES => self.look(),
            Doing::Looking { .. } => self.give_up(&format!("what was seen was not taken: {text}")),
            // trouble with the meter counts against the same patience
            Doing::Touching { .. } => self.live(),
            Doing::Nothing | Doing::Lifting { .. } => {}
        }
    }
}

impl Engineer for Scripted {
    fn show(&mut self, show: &Show) {
        (self.observer)(Seen::Show(show));
        match show {
            Show::Prompt(prompt) => self.prompt(prompt),
            Show::Live { .. } => self.live(),
            Show::Notice(text) => self.notice(text),
            Show::Refused { what, .. } => self.notice(what),
            Show::Stage(_)
            | Show::Now(_)
            | Show::Danger(_)
            | Show::Fault(_)
            | Show::Taken { .. }
            | Show::Verdict { .. }
            | Show::Finished { .. } => {}
        }
    }
}

/// Whether the walk says that the time of an answer has not come.
fn is_not_yet(notice: &str) -> bool {
    let not_yet = ["too early", "it may still be on its way"];
    not_yet.iter().any(|words| notice.starts_with(words))
}

/// What the display says, as it is typed.
fn typed(face: &Face) -> String {
    let unit = format!("{}{}", face.prefix.letter(), face.unit);
    match &face.shown {
        Shown::Digits(digits) => format!("{} {unit}", digits.text()),
        Shown::Above(digits) => format!(">{} {unit}", digits.text()),
        Shown::Over => "OL".into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{Point, Stage};
    use crate::rehearsal::World;
    use crate::rehearsal::trial::job;
    use jiff::Timestamp;
    use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};

    fn engineer() -> (Scripted, UnboundedReceiver<Said>) {
        let clock = SimClock::new(Timestamp::UNIX_EPOCH, World::new(&job(), 1).unwrap());
        let (to_walk, lines) = unbounded_channel();
        (Scripted::new(&clock, None, 1, to_walk, Box::new(|_| {})), lines)
    }

    fn prompt(ask: Ask, acts: Vec<Act>) -> Show {
        let prompt = Prompt {
            step: "step".into(),
            place: (1, 1),
            stage: Some(Stage::Live),
            instrument: Some("tester (serial SM-2290), dial on a.c. volts".into()),
            acts,
            probes: Some(Probes {
                first: Point::KnownSource,
                second: Point::KnownSource,
            }),
            ..Prompt::default()
        };
        Show::Prompt(Box::new(prompt.asking(ask)))
    }

    fn said(lines: &mut UnboundedReceiver<Said>) -> Vec<String> {
        std::iter::from_fn(|| lines.try_recv().ok()?.into_line()).collect()
    }

    #[test]
    fn each_question_has_its_answer() {
        let connect = |core: &str| Act::Connect {
            core: core.into(),
            end: End::Far,
        };
        let purpose = |terminal: &str| Ask::Purpose {
            terminal: terminal.into(),
        };
        let cases = [
            (Ask::Done { word: "energise" }, vec![], "energise"),
            (Ask::Indicator, vec![], "lit"),
            (purpose("SL"), vec![connect("black")], "switched live"),
            (purpose("9"), vec![], "no"),
            (Ask::Decision { offers: Vec::new() }, vec![], "abandon"),
            (Ask::Text, vec![], "rehearsal: a fault was found"),
            (Ask::Touched, vec![], "none"),
        ];
        for (ask, acts, expected) in cases {
            let (mut engineer, mut lines) = engineer();
            engineer.show(&prompt(ask, acts));
            assert_eq!(said(&mut lines), [expected]);
        }
    }

    fn typing() -> (Scripted, UnboundedReceiver<Said>) {
        let (mut engineer, mut lines) = engineer();
        let ask = Ask::Reading {
            function: Function::VoltageAc,
            from_meter: false,
        };
        engineer.show(&prompt(ask, Vec::new()));
        let typed = said(&mut lines);
        // the nominal 230 V, give or take 2 %
        let volts: f64 = typed[0].strip_suffix(" V").unwrap().parse().unwrap();
        assert!((225.0..=235.0).contains(&volts), "{volts}");
        (engineer, lines)
    }

    #[test]
    fn a_reading_typed_too_early_is_typed_again() {
        let (mut engineer, mut lines) = typing();
        engineer.show(&Show::Notice("too early: read again in 9 s and type it then".into()));
        assert_eq!(said(&mut lines).len(), 1);
    }

    #[test]
    fn a_reading_that_is_asked_about_again_stands_there_so() {
        let (mut engineer, mut lines) = typing();
        let ask = Ask::Reading {
            function: Function::VoltageAc,
            from_meter: false,
        };
        let Show::Prompt(mut doubted) = prompt(ask, Vec::new()) else {
            panic!("it makes prompts")
        };
        doubted.probes = None;
        engineer.show(&Show::Prompt(doubted));
        assert_eq!(said(&mut lines), ["yes"]);
    }

    #[test]
    fn a_walk_that_does_not_take_what_was_typed_is_given_up() {
        let (mut engineer, mut lines) = typing();
        engineer.show(&Show::Notice("not understood".into()));
        engineer.show(&prompt(Ask::Text, Vec::new()));
        let expected = ["abandon", "rehearsal: a typed reading was not taken: not understood"];
        assert_eq!(said(&mut lines), expected);
    }
}
