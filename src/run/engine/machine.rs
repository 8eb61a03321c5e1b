//! The machine itself.
//!
//! The rule inside: nothing is judged or shown as taken before its event has come back from the journal
//! ([`Dialogue::handle_recorded`]); every input leads to outputs that are polled, never to a call outwards.

use jiff::Timestamp;

use super::answer;
use super::choosing::{AsListed, Choosing};
use super::others::Others;
use crate::plan::{Kind, Measure, Stage, Stand};
use crate::run::dialogue::{Dialogue, Heard, Output, Show, Talk};
use crate::run::event::{Answer, AnsweredBy, Ending, Event, Face, Photograph};
use crate::run::fold::{Further, Run};
use crate::run::folded::Folded;
use crate::value::quantity::{Amount, Shown};
use crate::value::reading::{Origin, Reading};

/// The instrument whose cable is plugged in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PortInstrument {
    /// Its name in the job.
    pub instrument: String,
    /// It sends only when its display changes, so nothing of it counts by time.
    pub on_change: bool,
    /// A frame that fell over on the wire is noticed: a checksum guards it, or a second one must say the same.
    pub guarded: bool,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Asking {
    Step(usize),
    /// Steps that one answer may stand for.
    Together(Vec<usize>),
    /// Which reading of the set of this one is taken next.
    Other(usize),
    /// Links and joints must be otherwise before this step.
    Arrange(usize),
    WhyNotDone(usize),
    Decision(usize),
    /// Which supply lit a point at this step.
    FurtherWhat(usize),
    /// One act of isolating it.
    Further(Further),
    RepairWhat(usize),
    RepairTouched(usize, String),
    WhyLeft(usize),
    /// How long the cable is, where it is not as stated.
    NewLength,
    /// Why it is corrected to this, where something was read against the length before.
    WhyLength(Amount),
    Blocked {
        by: usize,
    },
    /// Others rest on the lock that this step takes off.
    Locked(usize),
    WhyAbandon,
    MakeSafe,
    ResumeTouched {
        torn_bytes: u64,
    },
    /// What is to stand beside an answer that stays as it is.
    Beside(usize),
    /// A text that answers another question names a voltage.
    SeenNow {
        then: Box<Asking>,
        line: String,
        reading: Reading,
    },
    /// A line that is likely a slip is what stands on the display; without a reading it can be none.
    Doubted(usize, String, Option<Reading>),
    /// Nothing: one frame of voltage holds the run at this step.
    Held(usize),
    /// A bare figure at an insulation test that may be the mains.
    VoltsOrMegohm {
        step: usize,
        line: String,
    },
}

impl Asking {
    /// Whether the answer before it can be taken back.
    pub(super) fn can_go_back(&self) -> bool {
        matches!(
            self,
            Asking::WhyAbandon
                | Asking::Beside(_)
                | Asking::Doubted(..)
                | Asking::WhyNotDone(_)
                | Asking::FurtherWhat(_)
                | Asking::RepairWhat(_)
                | Asking::RepairTouched(..)
                | Asking::WhyLeft(_)
                | Asking::NewLength
                | Asking::WhyLength(_)
        )
    }

    /// The step that is asked, the first of several.
    fn first_step(&self) -> Option<usize> {
        match self {
            Asking::Step(step) => Some(*step),
            Asking::Together(steps) => steps.first().copied(),
            _ => None,
        }
    }

    /// Whether `abandon` is heard as the wish to end the run, and not as an answer.
    fn can_be_abandoned(&self) -> bool {
        !matches!(self, Asking::WhyAbandon | Asking::MakeSafe)
    }
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
    pub(super) talk: Talk<Event>,
    stage_shown: Option<Stage>,
    /// By which way answers come; absent for a person at a terminal.
    pub(super) answered_by: Option<AnsweredBy>,
    /// What is asked about once it is written down.
    pub(super) doubt: Option<Asking>,
    /// The picture that the note being asked for binds in, or what was found by eye.
    pub(super) photograph: Option<Photograph>,
    /// Where the person stands, as far as what was asked tells.
    pub(super) stood: Vec<Stand>,
    /// Every step is asked by itself, whatever the sequence lets be answered together.
    one_by_one: bool,
    /// Who else rests on the lock of the supply.
    pub(super) others: Option<Others>,
    /// Who chooses among readings that are taken in any order.
    pub(super) choosing: Box<dyn Choosing>,
    /// Which faults were left when the last of them was chosen.
    pub(super) left: String,
}

impl Engine {
    /// An engine at the start of a run, or after its events have been folded.
    ///
    /// `torn_bytes` is given when a broken-off run goes on: the bytes dropped from its unfinished last line.
    pub fn new(run: Run, port: Option<PortInstrument>, resumed: Option<u64>) -> Engine {
        Engine::starting(run, port, resumed, false)
    }

    /// An engine that asks every step by itself, for whoever answers as something is and not as it should be.
    pub fn one_by_one(run: Run) -> Engine {
        Engine::starting(run, None, None, true)
    }

    fn starting(run: Run, port: Option<PortInstrument>, resume: Option<u64>, one_by_one: bool) -> Engine {
        let mut engine = Engine {
            run,
            port,
            asking: None,
            resume,
            abandoning: None,
            talk: Talk::default(),
            stage_shown: None,
            answered_by: None,
            doubt: None,
            photograph: None,
            stood: Vec::new(),
            one_by_one,
            others: None,
            choosing: Box::new(AsListed),
            left: String::new(),
        };
        engine.go_on();
        engine
    }

    /// The same engine, answered by this way.
    pub fn answered_by(mut self, way: Option<AnsweredBy>) -> Engine {
        self.answered_by = way;
        self
    }

    /// The run so far.
    pub fn run(&self) -> &Run {
        &self.run
    }

    pub(super) fn metered(&self, step: usize) -> Option<&Measure> {
        match &self.run.plan.steps[step].kind {
            Kind::Measure(m) if self.port.as_ref().is_some_and(|p| p.instrument == m.used.instrument) => Some(m),
            _ => None,
        }
    }

    pub(super) fn step_id(&self, step: usize) -> String {
        self.run.plan.steps[step].id.clone()
    }

    fn finished(&mut self, ending: &Ending) {
        let ending = ending.words();
        let outcome = self.run.outcome();
        self.talk.give(Show::Finished { outcome, ending });
    }

    pub(super) fn go_on(&mut self) {
        if self.run.ending.is_some() {
            return;
        }
        if let Some(why) = &self.run.broken {
            let reason = format!("the run cannot go on: {why}");
            if self.abandoning.is_none() {
                self.talk.notice(&*reason);
                // what did not fit may quote whatever a forged record holds
                self.abandoning = answer::text(&reason);
            }
            // in a break somebody may have been there
            if self.run.made_safe.is_none() || self.resume.is_some() {
                return self.ask(Asking::MakeSafe);
            }
        }
        if let Some((step, verdict)) = self.run.due() {
            let step = self.step_id(step);
            return self.talk.give(Event::Judged { step, verdict });
        }
        // a voltage was seen meanwhile
        if self.abandoning.is_some() && self.run.made_safe.is_none() && !self.run.to_make_safe().is_empty() {
            return self.ask(Asking::MakeSafe);
        }
        if let Some(reason) = self.abandoning.take() {
            return self.talk.give(Event::Closed {
                ending: Ending::Abandoned(reason),
            });
        }
        if let Some(held) = self.run.held.as_ref().filter(|_| self.resume.is_none()) {
            return self.ask(Asking::Held(held.step));
        }
        if let Some(torn_bytes) = self.resume {
            for step in self.run.outdated() {
                self.talk.notice(format!(
                    "`{step}` passed by the rules `{}`, which are no longer today's: it is done again",
                    self.run.rules.name
                ));
            }
            return self.ask(Asking::ResumeTouched { torn_bytes });
        }
        if let Some(further) = self.run.isolating.clone() {
            return self.ask(Asking::Further(further));
        }
        match self.run.repair_due() {
            Some(step) => self.ask(Asking::RepairWhat(step)),
            None => self.come_to_next(),
        }
    }

    /// What comes next where nothing is under way.
    fn come_to_next(&mut self) {
        match (self.run.undecided(), self.run.cursor()) {
            (Some(step), _) => self.ask(Asking::Decision(step)),
            (None, Some(step)) => self.ask_or_block(step),
            (None, None) => match self.run.left_live() {
                Some(by) => self.ask(Asking::Blocked { by }),
                // what is left off and apart is left as an abandoned run would leave it
                None if self.run.made_safe.is_none() && self.run.leaves_unsafe() => self.ask(Asking::MakeSafe),
                None => self.talk.give(Event::Closed {
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
            self.talk.give(Event::Answered {
                step,
                answer: Answer::NotNeeded,
            });
        } else if self.run.to_arrange(step).is_some() {
            self.ask(Asking::Arrange(step));
        } else if self.run.plan.steps[step].kind == Kind::Gate {
            let step = self.step_id(step);
            self.talk.give(Event::Answered {
                step,
                answer: Answer::Done,
            });
        } else if !self.resting_others(step).is_empty() {
            self.ask(Asking::Locked(step));
        } else if let Some(set) = self.run.plan.steps[step]
            .any_order
            .filter(|_| self.run.chosen() != Some(step))
        {
            self.choose_next(set);
        } else if let Some(answer) = self.run.said_together(step).cloned() {
            let step = self.step_id(step);
            self.talk.give(Event::Answered { step, answer });
        } else {
            let together = self.run.together_from(step);
            self.ask(match together.is_empty() || self.one_by_one {
                true => Asking::Step(step),
                false => Asking::Together(together),
            });
        }
    }

    pub(super) fn ask(&mut self, asking: Asking) {
        if let Some(step) = asking.first_step().filter(|step| !self.run.looks_again(*step)) {
            let stage = self.run.plan.steps[step].stage;
            if self.stage_shown != Some(stage) {
                self.stage_shown = Some(stage);
                self.talk.give(Show::Stage(stage));
            }
        }
        self.photograph = None;
        let mut prompt = self.prompt(&asking);
        prompt.circuit = self.circuit(&asking);
        self.asking = Some(asking);
        self.talk.ask(prompt);
    }

    /// Answers come by another face from here on: the one that came is taken in at the question that it answers.
    fn turned(&mut self, event: &Event, at: Timestamp) {
        let line = self.talk.take_waiting();
        match (self.run.apply(at, event), line) {
            (Ok(()), Some(line)) => self.answered(&line, at),
            (Ok(()), None) => {}
            (Err(why), _) => {
                self.run.break_off(&why.what);
                self.go_on();
            }
        }
    }

    /// Whether a break is not told of yet.
    pub(super) fn goes_on_after_a_break(&self) -> bool {
        self.resume.is_some()
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
        self.talk
            .notice("the work was left for a while: what was proved dead is proved again");
        self.resume = Some(0);
        self.go_on();
        true
    }
}

/// A voltage that was seen, as it is called out.
fn seen(reading: &Reading) -> String {
    match reading.shown {
        Shown::Over => "VOLTAGE".to_owned(),
        Shown::Digits(_) | Shown::Above(_) => reading.display(),
    }
}

impl From<Event> for Output<Event> {
    fn from(event: Event) -> Output<Event> {
        Output::Record(event)
    }
}

impl Dialogue for Engine {
    type Folded = Run;

    fn folded(&self) -> &Run {
        &self.run
    }

    fn talk(&self) -> &Talk<Event> {
        &self.talk
    }

    fn talk_mut(&mut self) -> &mut Talk<Event> {
        &mut self.talk
    }

    fn is_closed(&self) -> bool {
        self.run.ending.is_some()
    }

    /// Folds an event and goes on; one that does not fit ends the run: it can be made safe, abandoned and sealed.
    fn handle_recorded(&mut self, event: &Event, at: Timestamp) {
        self.talk.recorded();
        if let Event::TurnedTo { .. } = event {
            return self.turned(event, at);
        }
        self.asking = None;
        if let Err(why) = self.run.apply(at, event) {
            self.run.break_off(&why.what);
            return self.go_on();
        }
        if let (Event::Doubted { .. }, Some(doubt)) = (event, self.doubt.take()) {
            return self.ask(doubt);
        }
        if let Event::FrameCleared { step, .. } = event {
            match &self.run.held {
                // the next frame is waited for at the same question
                Some(held) => return self.asking = Some(Asking::Held(held.step)),
                None => self
                    .talk
                    .notice(format!("two frames without voltage followed: `{step}` goes on")),
            }
        }
        match event {
            Event::FrameDoubted { reading, .. } => self.talk.give(Show::Danger(format!(
                "{} IN ONE FRAME OF THE METER. Take your hands away. The run is held until it is known whether that is so.",
                seen(reading)
            ))),
            Event::Taken { step, reading } => self.talk.give(Show::Taken {
                step: step.clone(),
                display: reading.display(),
                typed: matches!(reading.origin, Origin::Typed { .. }),
            }),
            Event::Judged { step, verdict } => self.talk.give(Show::Verdict {
                step: step.clone(),
                verdict: verdict.clone(),
            }),
            Event::Closed { ending } => self.finished(ending),
            Event::TakenBack { step } => self
                .talk
                .notice(format!("what was said at `{step}` is taken back; it stays in the record")),
            Event::LengthCorrected { .. } => self.tell_length(),
            Event::WasLit { step } => self.talk.give(Show::Danger(format!(
                "`{step}` WAS LIT. Take your hands away. Nothing is proved dead any more: find the other supply, isolate it, prove \
                 dead again."
            ))),
            Event::LiveSeen { reading, .. } => self.talk.give(Show::Danger(format!(
                "{} WHERE EVERYTHING WAS PROVED DEAD. Take your hands away. Find the other supply, isolate it, prove dead again.",
                seen(reading)
            ))),
            Event::Resumed { .. } | Event::MadeSafe { .. } => self.resume = None,
            _ => {}
        }
        self.go_on();
    }

    /// What is not understood is asked again and leaves no trace in the record.
    fn answered(&mut self, line: &str, now: Timestamp) {
        let Some(asking) = self.asking.clone() else { return };
        if let Asking::Held(_) = asking {
            return self.said_while_held(line);
        }
        // also where work was left too long: the voltage is there now
        if self.corrected(&asking, line)
            || self.voltage_said(&asking, line)
            || self.went_away(now)
            || self.length_said(&asking, line)
        {
            return;
        }
        if asking.can_be_abandoned() && line.trim().eq_ignore_ascii_case("abandon") {
            return self.ask(Asking::WhyAbandon);
        }
        match asking {
            Asking::Doubted(step, typed, reading) => self.doubt_answered(step, (typed, reading), line, now),
            Asking::Step(step) if matches!(self.run.plan.steps[step].kind, Kind::Measure(_)) => {
                self.measure_line(step, line, now);
            }
            // somebody may have begun to rest on the lock since it was asked
            Asking::Step(step) if !self.resting_others(step).is_empty() => self.ask(Asking::Locked(step)),
            other => self.answered_to(other, line, now),
        }
    }

    fn turns_to(&self, face: Face) -> Option<Event> {
        self.run.may_turn_to(face).is_ok().then_some(Event::TurnedTo { face })
    }

    fn heard(&mut self, heard: Heard, now: Timestamp) {
        Engine::heard(self, heard, now);
    }

    fn ticked(&mut self, now: Timestamp) {
        Engine::ticked(self, now);
    }

    fn over_s(&self) -> f64 {
        let measure = match self.asking {
            Some(Asking::Step(step)) => self.metered(step),
            _ => None,
        };
        measure.map_or(0.0, |measure| measure.used.hold_s())
    }

    fn handle_located(&mut self, text: &str) {
        text.lines().for_each(|line| self.talk.notice(line));
    }

    /// What was asked stays asked: the text, or the word that notes what was found, comes after the photograph.
    fn handle_photograph(&mut self, read: Result<Photograph, String>) {
        let asked = match self.asking {
            Some(Asking::Step(step)) => matches!(self.run.plan.steps[step].kind, Kind::Note { photograph: true, .. })
                .then_some("now type what it shows"),
            Some(Asking::Decision(step) | Asking::Blocked { by: step }) => {
                self.can_be_noted(step).then_some("now type `repair`")
            }
            _ => None,
        };
        match (read, asked) {
            (Ok(_), None) => {}
            (Ok(photograph), Some(next)) => {
                self.talk.notice(format!(
                    "bound in: {}, SHA-256 {}; keep the file; {next}",
                    photograph.file, photograph.sha256
                ));
                self.photograph = Some(photograph);
            }
            (Err(why), _) => self.talk.notice(why),
        }
    }
}
