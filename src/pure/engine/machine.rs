//! The machine itself.
//!
//! The rule inside: nothing is judged or shown as taken before its event has come back from the journal
//! ([`Engine::handle_recorded`]); every input leads to outputs that are polled, never to a call outwards.

use std::collections::VecDeque;

use jiff::Timestamp;

use super::answer::{self, Decision};
use super::prompt::Show;
use super::watch::Watch;
use crate::pure::diagnosis::{Observed, locate};
use crate::pure::event::{Answer, Ending, Event, Photograph};
use crate::pure::plan::{Act, Kind, Measure, Stage, Step, Then};
use crate::pure::proof::{ISOLATE_FIRST, may_follow};
use crate::pure::reading::Reading;
use crate::pure::record::Run;

/// The instrument whose cable is plugged in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PortInstrument {
    pub instrument: String,
}

/// What came from the meter.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Heard {
    /// A decoded reading, whether it stands still, and how its movement is called.
    Reading {
        reading: Reading,
        settled: bool,
        state: String,
    },
    /// Trouble with the meter or its cable, with the next act; empty when it is over.
    Trouble(String),
}

/// What the machine wants done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Output<E = Event, S = Show> {
    /// Append to the journal, sync, then call [`Engine::handle_recorded`].
    Record(E),
    Show(S),
    /// Read this photograph's file and hash it, then call [`Engine::handle_photograph`].
    Photograph(String),
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Asking {
    Step(usize),
    /// Links and joints must be otherwise before this step.
    Arrange(usize),
    WhyNotDone(usize),
    Decision(usize),
    RepairWhat(usize),
    RepairTouched(usize, String),
    WhyLeft(usize),
    Blocked {
        by: usize,
    },
    WhyAbandon,
    MakeSafe,
    ResumeTouched {
        torn_bytes: u64,
    },
}

/// A run being walked.
#[derive(Debug)]
pub struct Engine {
    pub(super) run: Run,
    pub(super) port: Option<PortInstrument>,
    pub(super) asking: Option<Asking>,
    /// Bytes dropped from a torn last line, until the engineer has said what was touched in the break.
    resume: Option<u64>,
    /// Why the run is abandoned, while it is being made safe.
    abandoning: Option<String>,
    outputs: VecDeque<Output>,
    /// An event is on its way to the disk; inputs wait.
    pub(super) recording: bool,
    pub(super) watch: Watch,
    pub(super) watch_number: u64,
    stage_shown: Option<Stage>,
    /// What the note that is being asked for binds in.
    photograph: Option<Photograph>,
}

impl Engine {
    /// An engine at the start of a run, or after its events have been folded.
    ///
    /// `torn_bytes` is given when a broken-off run goes on: the bytes dropped from its unfinished last line.
    pub fn new(run: Run, port: Option<PortInstrument>, resumed: Option<u64>) -> Engine {
        let mut engine = Engine {
            run,
            port,
            asking: None,
            resume: resumed,
            abandoning: None,
            outputs: VecDeque::new(),
            recording: false,
            watch: Watch::default(),
            watch_number: 0,
            stage_shown: None,
            photograph: None,
        };
        engine.go_on();
        engine
    }

    /// The run so far.
    pub fn run(&self) -> &Run {
        &self.run
    }

    /// The next thing to record or show.
    pub fn poll_output(&mut self) -> Option<Output> {
        self.outputs.pop_front()
    }

    /// Whether the run is over and sealed next.
    pub fn is_finished(&self) -> bool {
        self.run.ending.is_some() && self.outputs.is_empty()
    }

    /// Changes whenever probes are placed anew, so that settling starts afresh.
    pub fn watch_number(&self) -> u64 {
        self.watch_number
    }

    /// The measurement that listens to the meter now.
    pub fn listening(&self) -> Option<&Measure> {
        match self.asking {
            Some(Asking::Step(step)) if !self.recording => self.metered(step),
            _ => None,
        }
    }

    pub(super) fn metered(&self, step: usize) -> Option<&Measure> {
        match &self.run.plan.steps[step].kind {
            Kind::Measure(m) if self.port.as_ref().is_some_and(|p| p.instrument == m.used.instrument) => Some(m),
            _ => None,
        }
    }

    pub(super) fn show(&mut self, show: Show) {
        self.outputs.push_back(Output::Show(show));
    }

    pub(super) fn notice(&mut self, text: impl Into<String>) {
        self.show(Show::Notice(text.into()));
    }

    pub(super) fn record(&mut self, event: Event) {
        assert!(!self.recording, "one event at a time goes to the journal");
        self.recording = true;
        self.outputs.push_back(Output::Record(event));
    }

    pub(super) fn step_id(&self, step: usize) -> String {
        self.run.plan.steps[step].id.clone()
    }

    /// An event is on disk: fold it, judge what it brought, ask for what comes next.
    ///
    /// # Panics
    /// When the event does not fit the run, which would be a fault of this machine.
    pub fn handle_recorded(&mut self, event: &Event, at: Timestamp) {
        self.recording = false;
        self.run
            .apply(at, event)
            .unwrap_or_else(|why| panic!("the machine recorded what does not fit: {why}"));
        match event {
            Event::Taken { step, reading } => {
                let typed = matches!(reading.origin, crate::pure::reading::Origin::Typed { .. });
                self.show(Show::Taken {
                    step: step.clone(),
                    display: reading.display(),
                    typed,
                });
            }
            Event::Judged { step, verdict } => {
                self.show(Show::Verdict {
                    step: step.clone(),
                    verdict: verdict.clone(),
                });
            }
            Event::Closed { ending } => {
                let words = match ending {
                    Ending::Completed => "completed".to_owned(),
                    Ending::Abandoned(reason) => format!("abandoned: {reason}"),
                };
                self.asking = None;
                self.show(Show::Finished {
                    outcome: self.run.outcome(),
                    ending: words,
                });
                return;
            }
            Event::LiveSeen { reading, .. } => self.show(Show::Danger(format!(
                "{} WHERE EVERYTHING WAS PROVED DEAD. Take your hands away. Find the other supply, isolate it, prove dead again.",
                reading.display()
            ))),
            Event::Resumed { .. } => self.resume = None,
            _ => {}
        }
        self.asking = None;
        self.go_on();
    }

    fn go_on(&mut self) {
        if self.run.ending.is_some() {
            return;
        }
        if let Some((step, evidence, at)) = self.run.awaiting_verdict() {
            let verdict = self.run.judged(step, evidence, at);
            let step = self.step_id(step);
            return self.record(Event::Judged { step, verdict });
        }
        if let Some(reason) = self.abandoning.take() {
            return self.record(Event::Closed {
                ending: Ending::Abandoned(reason),
            });
        }
        if let Some(torn_bytes) = self.resume {
            return self.ask(Asking::ResumeTouched { torn_bytes });
        }
        if let Some(step) = self.run.repairing {
            return match self
                .run
                .cursor()
                .filter(|&i| self.run.plan.steps[i].stage == Stage::Isolate)
            {
                Some(isolate) if self.run.undecided().is_none() => self.ask_or_block(isolate),
                _ => match self.run.undecided() {
                    Some(failed) => self.ask(Asking::Decision(failed)),
                    None if self.run.stage_passed(Stage::Isolate) => self.ask(Asking::RepairWhat(step)),
                    // an isolation step was left: it must be gone back to
                    None => self.ask_or_block(step),
                },
            };
        }
        match (self.run.undecided(), self.run.cursor()) {
            (Some(step), _) => self.ask(Asking::Decision(step)),
            (None, Some(step)) => self.ask_or_block(step),
            (None, None) => match self.run.left_live() {
                Some(by) => self.ask(Asking::Blocked { by }),
                None => self.record(Event::Closed {
                    ending: Ending::Completed,
                }),
            },
        }
    }

    fn ask_or_block(&mut self, step: usize) {
        if let Some(by) = self.run.blocked_by(step) {
            self.ask(Asking::Blocked { by });
        } else if !self.run.is_needed(step) {
            let step = self.step_id(step);
            self.record(Event::Answered {
                step,
                answer: Answer::NotNeeded,
            });
        } else if self.run.to_arrange(step).is_some() {
            self.ask(Asking::Arrange(step));
        } else if self.run.plan.steps[step].kind == Kind::Gate {
            let step = self.step_id(step);
            self.record(Event::Answered {
                step,
                answer: Answer::Done,
            });
        } else {
            self.ask(Asking::Step(step));
        }
    }

    pub(super) fn ask(&mut self, asking: Asking) {
        if let Asking::Step(step) = asking {
            let stage = self.run.plan.steps[step].stage;
            if self.stage_shown != Some(stage) {
                self.stage_shown = Some(stage);
                self.show(Show::Stage(stage));
            }
        }
        self.watch = Watch::default();
        self.photograph = None;
        self.watch_number += 1;
        let prompt = self.prompt(&asking);
        self.asking = Some(asking);
        self.show(Show::Prompt(Box::new(prompt)));
    }

    /// A line typed by the engineer. What is not understood is asked again and leaves no trace in the record.
    pub fn handle_line(&mut self, line: &str, now: Timestamp) {
        if self.recording {
            return;
        }
        let Some(asking) = self.asking.clone() else { return };
        let can_go_back = matches!(
            asking,
            Asking::WhyAbandon
                | Asking::WhyNotDone(_)
                | Asking::RepairWhat(_)
                | Asking::RepairTouched(..)
                | Asking::WhyLeft(_)
        );
        if can_go_back && line.trim().eq_ignore_ascii_case("back") {
            return self.go_on();
        }
        if line.trim().eq_ignore_ascii_case("abandon") && !matches!(asking, Asking::WhyAbandon | Asking::MakeSafe) {
            return self.ask(Asking::WhyAbandon);
        }
        match asking {
            Asking::Step(step) => self.step_line(step, line, now),
            Asking::Arrange(step) => match self.run.to_arrange(step) {
                Some(set_up) if is_word(line, "done") => {
                    let (links, joined) = (set_up.links.into_iter().collect(), set_up.joined);
                    let step = self.step_id(step);
                    self.record(Event::Arranged { step, links, joined });
                }
                _ => self.notice("type `done` when it is exactly so; if it cannot be, `abandon`"),
            },
            Asking::WhyNotDone(step) => self.free_text(line, |engine, why| {
                let step = engine.step_id(step);
                engine.record(Event::Answered {
                    step,
                    answer: Answer::NotDone(why),
                });
            }),
            Asking::Decision(step) => {
                match answer::decision(line).filter(|decision| self.is_offered(step, *decision)) {
                    Some(Decision::Again) => {
                        let step = self.step_id(step);
                        self.record(Event::Again { step });
                    }
                    // nothing live is repaired: isolation comes first, what was repaired is asked after it
                    Some(Decision::Repair) if ISOLATE_FIRST.contains(&self.run.plan.steps[step].stage) => {
                        let step = self.step_id(step);
                        self.record(Event::RepairBegins { step });
                    }
                    Some(Decision::Repair) => self.ask(Asking::RepairWhat(step)),
                    Some(Decision::Leave) => self.ask(Asking::WhyLeft(step)),
                    Some(Decision::Locate) => located(&self.run).lines().for_each(|line| self.notice(line)),
                    Some(Decision::Abandon) => self.ask(Asking::WhyAbandon),
                    None => {
                        let words: Vec<_> = offers(&self.run.plan.steps[step])
                            .iter()
                            .map(word)
                            .chain(["abandon"])
                            .collect();
                        self.notice(format!("`{}` is none of `{}`", line.trim(), words.join("`, `")));
                    }
                }
            }
            Asking::RepairWhat(step) => {
                self.free_text(line, |engine, what| engine.ask(Asking::RepairTouched(step, what)))
            }
            Asking::RepairTouched(step, what) => match answer::touched(line, &self.run.plan.job) {
                Ok(touched) => {
                    let step = self.step_id(step);
                    self.record(Event::Repaired { step, what, touched });
                }
                Err(why) => self.notice(why),
            },
            Asking::WhyLeft(step) => self.free_text(line, |engine, reason| {
                let step = engine.step_id(step);
                engine.record(Event::Left { step, reason });
            }),
            Asking::Blocked { by } => match answer::decision(line) {
                Some(Decision::Again) => {
                    let step = self.step_id(by);
                    self.record(Event::Again { step });
                }
                _ => self.notice(format!("`{}` is neither `again` nor `abandon`", line.trim())),
            },
            Asking::WhyAbandon => self.free_text(line, |engine, reason| {
                if !engine.run.to_make_safe().is_empty() {
                    engine.abandoning = Some(reason);
                    engine.ask(Asking::MakeSafe);
                } else {
                    engine.record(Event::Closed {
                        ending: Ending::Abandoned(reason),
                    });
                }
            }),
            Asking::MakeSafe => {
                if is_word(line, "done") {
                    let what = self.run.to_make_safe().join("; ");
                    self.record(Event::MadeSafe { what });
                } else {
                    self.notice("type `done` when it is made safe");
                }
            }
            Asking::ResumeTouched { torn_bytes } => match answer::touched(line, &self.run.plan.job) {
                Ok(touched) => self.record(Event::Resumed { touched, torn_bytes }),
                Err(why) => self.notice(why),
            },
        }
    }

    /// The hash of a photograph's file, or why it cannot be read. What was asked stays asked: the text comes after it.
    pub fn handle_photograph(&mut self, read: Result<Photograph, String>) {
        let asked = match self.asking {
            Some(Asking::Step(step)) => matches!(self.run.plan.steps[step].kind, Kind::Note { photograph: true }),
            _ => false,
        };
        match read {
            Ok(_) if !asked => {}
            Ok(photograph) => {
                self.notice(format!(
                    "bound in: {}, SHA-256 {}; keep the file; now type what it shows",
                    photograph.file, photograph.sha256
                ));
                self.photograph = Some(photograph);
            }
            Err(why) => self.notice(why),
        }
    }

    fn free_text(&mut self, line: &str, then: impl FnOnce(&mut Engine, String)) {
        match answer::text(line) {
            Some(text) => then(self, text),
            None => self.notice("type one line of text"),
        }
    }

    /// Whether the sequence lets this follow a failure of the step.
    fn is_offered(&self, step: usize, decision: Decision) -> bool {
        let offers = offers(&self.run.plan.steps[step]);
        match decision {
            Decision::Again => offers.contains(&Then::Again),
            Decision::Repair => offers.iter().any(|then| matches!(then, Then::Repair(_))),
            Decision::Leave => offers.contains(&Then::Leave),
            Decision::Locate => offers.contains(&Then::Locate),
            Decision::Abandon => true,
        }
    }

    fn step_line(&mut self, step: usize, line: &str, now: Timestamp) {
        let id = self.step_id(step);
        let word = line.trim().to_lowercase();
        let energises = self.run.plan.steps[step].acts.contains(&Act::Energise);
        if word == "no" && matches!(self.run.plan.steps[step].kind, Kind::Note { .. }) {
            return self.record(Event::Answered {
                step: id,
                answer: Answer::NotNeeded,
            });
        }
        if word == "no" && !matches!(self.run.plan.steps[step].kind, Kind::Measure(_)) {
            return self.ask(Asking::WhyNotDone(step));
        }
        match &self.run.plan.steps[step].kind {
            Kind::Do | Kind::Gate => {
                let wanted = if energises { "energise" } else { "done" };
                if is_word(line, wanted) {
                    self.record(Event::Answered {
                        step: id,
                        answer: Answer::Done,
                    });
                } else {
                    self.notice(format!(
                        "`{}` is not `{wanted}`; type `{wanted}` when it is done",
                        line.trim()
                    ));
                }
            }
            Kind::Look(look) => match answer::look(line, look) {
                Ok(answer) => self.looked(step, answer, now),
                Err(why) => self.notice(why),
            },
            Kind::Note { photograph } => match (answer::photograph(line), answer::text(line)) {
                (Some(file), _) if *photograph => self.outputs.push_back(Output::Photograph(file)),
                (_, Some(text)) => {
                    let photograph = self.photograph.take();
                    self.record(Event::Answered {
                        step: id,
                        answer: Answer::Note { text, photograph },
                    });
                }
                (_, None) => self.notice("type one line of text"),
            },
            Kind::Indicator { .. } => match answer::indicator(line) {
                Some(answer) => self.record(Event::Answered { step: id, answer }),
                None => self.notice(format!("`{}` is neither `lit` nor `dark`", line.trim())),
            },
            Kind::Connect { .. } => match answer::purpose(line) {
                Some(purpose) => self.record(Event::Answered {
                    step: id,
                    answer: Answer::For(purpose),
                }),
                None => self.notice(format!(
                    "`{}` is not in the list; type its number or its words",
                    line.trim()
                )),
            },
            Kind::Measure(m) => {
                let function = m.used.function;
                if word == "on" && self.metered(step).is_some() {
                    self.watch.said_on = true;
                    self.watch.last = None;
                    self.watch_number += 1;
                    return self.notice("taken as soon as it stands still");
                }
                if word == "leads" && m.subtract_null {
                    return self.record(Event::LeadsChanged);
                }
                if let Some(reading) = self.voltage_typed(step, line) {
                    return self.record(Event::LiveSeen { step: id, reading });
                }
                if word == "no" {
                    return self.notice("leave it only after a reading; type what the display shows, or `abandon`");
                }
                match Reading::typed(line, function) {
                    Ok(reading) => self.typed(step, reading, now),
                    Err(why) => self.notice(why),
                }
            }
        }
    }
}

/// What may follow a failure of a step.
pub(super) fn offers(step: &Step) -> Vec<Then> {
    let allowed = |then: &&Then| may_follow(step, then);
    step.after_failure.iter().filter(allowed).cloned().collect()
}

fn word(then: &Then) -> &'static str {
    match then {
        Then::Again => "again",
        Then::Repair(_) => "repair",
        Then::Leave => "leave",
        Then::Locate => "locate",
    }
}

/// A word, or its first letter where a slip does no harm.
fn is_word(line: &str, word: &str) -> bool {
    let line = line.trim();
    let short = word != "energise" && line.eq_ignore_ascii_case(&word[..1]);
    short || line.eq_ignore_ascii_case(word)
}

/// Where the fault must be by everything that stands in the run: single faults, and two at once where no single one does.
fn located(run: &Run) -> String {
    let observed = Observed::of(run);
    let at_most = |count| locate(&observed, count);
    let found = at_most(1).and_then(|found| {
        if found.diagnoses.is_empty() {
            at_most(2)
        } else {
            Ok(found)
        }
    });
    match found {
        Ok(found) => found.text(),
        Err(error) => error.to_string(),
    }
}
