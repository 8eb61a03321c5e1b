//! The machine itself.
//!
//! The rule inside: nothing is judged or shown as taken before its event has come back from the journal
//! ([`Engine::handle_recorded`]); every input leads to outputs that are polled, never to a call outwards.

use std::collections::VecDeque;

use jiff::Timestamp;
use rust_decimal::Decimal;

use super::answer::{self, Decision};
use super::prompt::{Ask, Prompt, Show};
use super::watch::Watch;
use crate::pure::event::{Answer, Ending, Event};
use crate::pure::plan::{Act, Kind, Measure, Stage, Timing};
use crate::pure::reading::{Flag, Reading};
use crate::pure::record::{Evidence, Run};
use crate::pure::window::Outcome;

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
pub enum Output {
    /// Append to the journal, sync, then call [`Engine::handle_recorded`].
    Record(Event),
    Show(Show),
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Asking {
    Step(usize),
    WhyNotDone(usize),
    Decision(usize),
    RepairWhat(usize),
    RepairTouched(usize, String),
    WhyLeft(usize),
    Blocked { by: usize },
    WhyAbandon,
    MakeSafe,
    ResumeTouched { torn_bytes: u64 },
}

/// A run being walked.
#[derive(Debug)]
pub struct Engine {
    run: Run,
    port: Option<PortInstrument>,
    asking: Option<Asking>,
    /// Bytes dropped from a torn last line, until the engineer has said what was touched in the break.
    resume: Option<u64>,
    /// Why the run is abandoned, while it is being made safe.
    abandoning: Option<String>,
    outputs: VecDeque<Output>,
    /// An event is on its way to the disk; inputs wait.
    recording: bool,
    watch: Watch,
    watch_number: u64,
    stage_shown: Option<Stage>,
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

    fn metered(&self, step: usize) -> Option<&Measure> {
        match &self.run.plan.steps[step].kind {
            Kind::Measure(m) if self.port.as_ref().is_some_and(|p| p.instrument == m.used.instrument) => Some(m),
            _ => None,
        }
    }

    fn show(&mut self, show: Show) {
        self.outputs.push_back(Output::Show(show));
    }

    fn notice(&mut self, text: impl Into<String>) {
        self.show(Show::Notice(text.into()));
    }

    fn record(&mut self, event: Event) {
        assert!(!self.recording, "one event at a time goes to the journal");
        self.recording = true;
        self.outputs.push_back(Output::Record(event));
    }

    fn step_id(&self, step: usize) -> String {
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
        match (self.run.undecided(), self.run.cursor()) {
            (Some(step), _) => self.ask(Asking::Decision(step)),
            (None, Some(step)) => match self.run.blocked_by(step) {
                Some(by) => self.ask(Asking::Blocked { by }),
                None if self.run.plan.steps[step].kind == Kind::Gate => {
                    let step = self.step_id(step);
                    self.record(Event::Answered {
                        step,
                        answer: Answer::Done,
                    });
                }
                None => self.ask(Asking::Step(step)),
            },
            (None, None) => self.record(Event::Closed {
                ending: Ending::Completed,
            }),
        }
    }

    fn ask(&mut self, asking: Asking) {
        if let Asking::Step(step) = asking {
            let stage = self.run.plan.steps[step].stage;
            if self.stage_shown != Some(stage) {
                self.stage_shown = Some(stage);
                self.show(Show::Stage(stage));
            }
        }
        self.watch = Watch::default();
        self.watch_number += 1;
        let prompt = self.prompt(&asking);
        self.asking = Some(asking);
        self.show(Show::Prompt(Box::new(prompt)));
    }

    fn prompt(&self, asking: &Asking) -> Prompt {
        let about = match asking {
            Asking::Step(step) | Asking::WhyNotDone(step) | Asking::Decision(step) | Asking::RepairWhat(step) => {
                Some(*step)
            }
            Asking::RepairTouched(step, _) | Asking::WhyLeft(step) | Asking::Blocked { by: step } => Some(*step),
            Asking::WhyAbandon | Asking::MakeSafe | Asking::ResumeTouched { .. } => None,
        };
        let (say, ask) = match asking {
            Asking::Step(step) => return self.step_prompt(*step),
            Asking::WhyNotDone(_) => ("Why can it not be done?".to_owned(), Ask::Text),
            Asking::Decision(step) => (format!("`{}` did not pass. What now?", self.step_id(*step)), Ask::Decision),
            Asking::RepairWhat(_) => ("What was repaired?".to_owned(), Ask::Text),
            Asking::RepairTouched(..) => ("Which cores did the repair touch or move?".to_owned(), Ask::Touched),
            Asking::WhyLeft(_) => ("Why is it left?".to_owned(), Ask::Text),
            Asking::Blocked { by } => {
                let by_id = self.step_id(*by);
                let verdict = self.run.verdict(*by);
                let say = format!("The walk cannot go on: `{by_id}` has not passed ({}).", verdict.because);
                (say, Ask::Blocked { by: by_id })
            }
            Asking::WhyAbandon => ("Why is the run abandoned?".to_owned(), Ask::Text),
            Asking::MakeSafe => (
                "Before you leave: switch off, lock off, prove dead with the two-pole indicator, cover what was uncovered.".to_owned(),
                Ask::Done { word: "done" },
            ),
            Asking::ResumeTouched { .. } => (
                "The run goes on after a break. Isolation is proved again. Which cores may have been touched meanwhile?".to_owned(),
                Ask::Touched,
            ),
        };
        let stage = about.map_or(Stage::Isolate, |step| self.run.plan.steps[step].stage);
        Prompt {
            step: about.map_or_else(String::new, |step| self.step_id(step)),
            place: (about.map_or(0, |step| step + 1), self.run.plan.steps.len()),
            stage,
            say,
            cautions: Vec::new(),
            instrument: None,
            window: None,
            sources: Vec::new(),
            acts: if matches!(asking, Asking::MakeSafe) {
                vec![Act::MakeSafe]
            } else {
                Vec::new()
            },
            probes: None,
            ask,
        }
    }

    fn step_prompt(&self, index: usize) -> Prompt {
        let step = &self.run.plan.steps[index];
        let job = &self.run.plan.job;
        let mut cautions = vec![step.stage.caution().to_owned()];
        cautions.extend(step.caution.clone());
        let mut prompt = Prompt {
            step: step.id.clone(),
            place: (index + 1, self.run.plan.steps.len()),
            stage: step.stage,
            say: step.say.clone(),
            cautions,
            instrument: None,
            window: None,
            sources: Vec::new(),
            acts: step.acts.clone(),
            probes: None,
            ask: Ask::Done {
                word: if step.acts.contains(&Act::Energise) {
                    "energise"
                } else {
                    "done"
                },
            },
        };
        match &step.kind {
            Kind::Do | Kind::Gate => {}
            Kind::Indicator { probes, .. } => {
                prompt.probes = Some(probes.clone());
                prompt.ask = Ask::Indicator;
            }
            Kind::Connect { terminal, .. } => {
                prompt.ask = Ask::Purpose {
                    terminal: terminal.clone(),
                }
            }
            Kind::Measure(m) => {
                let serial = job
                    .instruments
                    .iter()
                    .find(|i| i.name == m.used.instrument)
                    .map_or("", |i| i.serial.as_str());
                prompt.instrument = Some(format!(
                    "{} (serial {serial}), dial on {}",
                    m.used.instrument,
                    m.used.function.dial()
                ));
                if let Ok(window) = self.run.window(m) {
                    prompt.window = Some(window.words());
                    prompt.sources = window.basis.iter().map(|b| b.words()).collect();
                }
                match &m.timing {
                    Timing::Any => {}
                    Timing::Within { limit, basis, .. } => {
                        prompt.sources.push(format!("within {limit}: {}", basis.words()));
                    }
                    Timing::After { wait, basis, .. } => {
                        prompt.sources.push(format!("after {wait}: {}", basis.words()));
                    }
                }
                prompt.probes = Some(m.probes.clone());
                let from_meter = self.metered(index).is_some();
                prompt.ask = Ask::Reading {
                    function: m.used.function,
                    from_meter,
                };
            }
        }
        prompt
    }

    /// A line typed by the engineer. What is not understood is asked again and leaves no trace in the record.
    pub fn handle_line(&mut self, line: &str, now: Timestamp) {
        if self.recording {
            return;
        }
        let Some(asking) = self.asking.clone() else { return };
        if line.trim().eq_ignore_ascii_case("abandon") && !matches!(asking, Asking::WhyAbandon | Asking::MakeSafe) {
            return self.ask(Asking::WhyAbandon);
        }
        match asking {
            Asking::Step(step) => self.step_line(step, line, now),
            Asking::WhyNotDone(step) => self.free_text(line, |engine, why| {
                let step = engine.step_id(step);
                engine.record(Event::Answered {
                    step,
                    answer: Answer::NotDone(why),
                });
            }),
            Asking::Decision(step) => match answer::decision(line) {
                Some(Decision::Again) => {
                    let step = self.step_id(step);
                    self.record(Event::Again { step });
                }
                Some(Decision::Repair) => self.ask(Asking::RepairWhat(step)),
                Some(Decision::Leave) => self.ask(Asking::WhyLeft(step)),
                Some(Decision::Abandon) => self.ask(Asking::WhyAbandon),
                None => self.notice(format!(
                    "`{}` is none of `again`, `repair`, `leave`, `abandon`",
                    line.trim()
                )),
            },
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
                if engine.run.energised {
                    engine.abandoning = Some(reason);
                    engine.ask(Asking::MakeSafe);
                } else {
                    engine.record(Event::Closed {
                        ending: Ending::Abandoned(reason),
                    });
                }
            }),
            Asking::MakeSafe => {
                if line.trim().eq_ignore_ascii_case("done") {
                    self.record(Event::MadeSafe {
                        what: "switched off, locked off, proved dead, covered".into(),
                    });
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

    fn free_text(&mut self, line: &str, then: impl FnOnce(&mut Engine, String)) {
        match answer::text(line) {
            Some(text) => then(self, text),
            None => self.notice("type one line of text"),
        }
    }

    fn step_line(&mut self, step: usize, line: &str, now: Timestamp) {
        let id = self.step_id(step);
        let word = line.trim().to_lowercase();
        let energises = self.run.plan.steps[step].acts.contains(&Act::Energise);
        if word == "no" && !matches!(self.run.plan.steps[step].kind, Kind::Measure(_)) {
            return self.ask(Asking::WhyNotDone(step));
        }
        match &self.run.plan.steps[step].kind {
            Kind::Do | Kind::Gate => {
                let wanted = if energises { "energise" } else { "done" };
                if word == wanted {
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

    /// A typed reading that comes too early is not recorded: the valve may still be on its way.
    fn typed(&mut self, step: usize, reading: Reading, now: Timestamp) {
        let evidence = Evidence::Reading(reading.clone());
        match self.time_left(step, now) {
            Some(TimeLeft::UntilUp(left)) if self.run.judged(step, &evidence, now).outcome != Outcome::Pass => {
                self.notice(format!("the valve may still be travelling: {left} s left; type the reading when it has come, or when the time is up"));
            }
            Some(TimeLeft::UntilOpen(left)) => {
                self.notice(format!(
                    "too early: the valve still closes for up to {left} s; then read again and type it"
                ));
            }
            _ => {
                let step = self.step_id(step);
                self.record(Event::Taken { step, reading });
            }
        }
    }

    fn time_left(&self, step: usize, now: Timestamp) -> Option<TimeLeft> {
        let Kind::Measure(m) = &self.run.plan.steps[step].kind else {
            return None;
        };
        let left = |since: &str, limit: &crate::pure::quantity::Amount| {
            let then = self.run.done_at(since)?;
            let elapsed = Decimal::from(now.as_millisecond() - then.as_millisecond());
            let left = limit.value() * Decimal::ONE_THOUSAND - elapsed;
            (Decimal::ZERO < left).then(|| (left / Decimal::ONE_THOUSAND).ceil())
        };
        match &m.timing {
            Timing::Any => None,
            Timing::Within { since, limit, .. } => left(since, limit).map(TimeLeft::UntilUp),
            Timing::After { since, wait, .. } => left(since, wait).map(TimeLeft::UntilOpen),
        }
    }

    /// Something from the meter.
    pub fn handle_heard(&mut self, heard: Heard, now: Timestamp) {
        if self.recording {
            return;
        }
        let Some(Asking::Step(step)) = self.asking else { return };
        let Some(measure) = self.metered(step) else { return };
        let wanted = measure.used.function;
        let (reading, settled, state) = match heard {
            Heard::Trouble(text) => return self.remark(text),
            Heard::Reading {
                reading,
                settled,
                state,
            } => (reading, settled, state),
        };
        if let Some(flag) = reading.flags.first() {
            return self.remark(Flag::refusal(*flag).to_owned());
        }
        if reading.function.is_some_and(|f| f != wanted) {
            let is = reading.function.map_or_else(String::new, |f| f.dial());
            return self.remark(format!("the meter is on {is}: turn the dial to {}", wanted.dial()));
        }
        self.watch.remarked = None;
        let may_take = self.watch.hear(&reading, settled);
        let (waits, note) = match self.time_left(step, now) {
            Some(TimeLeft::UntilOpen(left)) => (true, format!(", closing time: {left} s left")),
            Some(TimeLeft::UntilUp(left)) => {
                let passes = self.run.judged(step, &Evidence::Reading(reading.clone()), now).outcome == Outcome::Pass;
                (!passes, format!(", {left} s left"))
            }
            None => (false, String::new()),
        };
        if may_take && !waits {
            let step = self.step_id(step);
            return self.record(Event::Taken { step, reading });
        }
        let contact = if settled && !waits {
            ", type `on` when both probes are on the points"
        } else {
            ""
        };
        self.show(Show::Live {
            digits: reading.display(),
            state: format!("{state}{note}{contact}"),
        });
    }

    fn remark(&mut self, text: String) {
        if text.is_empty() {
            self.watch.remarked = None;
        } else if self.watch.remarked.as_ref() != Some(&text) {
            self.watch.remarked = Some(text.clone());
            self.notice(text);
        }
    }

    /// Time goes by: a reading that had to come within a time is taken as it stands when the time is up.
    pub fn handle_tick(&mut self, now: Timestamp) {
        if self.recording {
            return;
        }
        let Some(Asking::Step(step)) = self.asking else { return };
        let Some(measure) = self.metered(step) else { return };
        if !matches!(measure.timing, Timing::Within { .. }) || self.time_left(step, now).is_some() {
            return;
        }
        match self.watch.standing().cloned() {
            Some(reading) => {
                let step = self.step_id(step);
                self.record(Event::Taken { step, reading });
            }
            None => self.remark(
                "the time is up: put both probes on the points and type `on` to take what the meter shows".into(),
            ),
        }
    }
}

enum TimeLeft {
    /// Seconds until the time for the reading to come is up.
    UntilUp(Decimal),
    /// Seconds until a reading counts.
    UntilOpen(Decimal),
}
