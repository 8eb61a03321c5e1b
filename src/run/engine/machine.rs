//! The machine itself.
//!
//! The rule inside: nothing is judged or shown as taken before its event has come back from the journal
//! ([`Engine::handle_recorded`]); every input leads to outputs that are polled, never to a call outwards.

use std::collections::VecDeque;

use jiff::Timestamp;

use super::prompt::Show;
use super::watch::Watch;
use crate::plan::{Kind, Measure, Stage};
use crate::run::event::{Answer, Ending, Event, Photograph};
use crate::run::fold::Run;
use crate::value::reading::Reading;

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
#[derive(Debug, Clone)]
pub enum Output<E = Event, S = Show> {
    /// Append to the journal, sync, then call [`Engine::handle_recorded`].
    Record(E),
    Show(S),
    /// Read this photograph's file and hash it, then call [`Engine::handle_photograph`].
    Photograph(String),
    /// Work out where the fault must be by all of this run, then call [`Engine::handle_located`].
    Locate(Box<Run>),
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
    pub(super) abandoning: Option<String>,
    pub(super) outputs: VecDeque<Output>,
    /// An event is on its way to the disk; inputs wait.
    pub(super) recording: bool,
    pub(super) watch: Watch,
    pub(super) watch_number: u64,
    stage_shown: Option<Stage>,
    /// What the note that is being asked for binds in.
    pub(super) photograph: Option<Photograph>,
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
                let typed = matches!(reading.origin, crate::value::reading::Origin::Typed { .. });
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

    pub(super) fn go_on(&mut self) {
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

    /// Work that was left while it was proved dead goes on as after a break; true where that is asked now.
    pub(super) fn went_away(&mut self, now: Timestamp) -> bool {
        let asks = !matches!(
            self.asking,
            None | Some(Asking::ResumeTouched { .. } | Asking::WhyAbandon | Asking::MakeSafe)
        );
        if !asks || !self.run.is_left(now) {
            return false;
        }
        self.notice("the work was left for a while: what was proved dead is proved again");
        self.resume = Some(0);
        self.go_on();
        true
    }

    /// Where the fault must be, in lines. What was asked stays asked.
    pub fn handle_located(&mut self, text: &str) {
        text.lines().for_each(|line| self.notice(line));
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
}
