//! The state that the fold keeps, and what can be asked of it.
//!
//! The rule inside: a step has the standing its last attempt gave it, and every attempt stays on record.

use std::collections::BTreeSet;
use std::sync::Arc;

use jiff::Timestamp;
use rust_decimal::Decimal;

use crate::job;
use crate::judge::window::{Outcome, Verdict};
use crate::located::{Findings, Problem, Text};
use crate::plan::{
    Act, Came, Hands, Isolating, Leads, Lock, Plan, SetUp, Stage, Supply, charges, clipped_by, reads_live_as_found,
    shows_dark,
};
use crate::run::event::{Answer, AnsweredBy, ChosenBy, Ending, Face, Opened, Touched};
use crate::run::rules::{self, Rules};
use crate::sequence;
use crate::value::reading::Reading;

use super::again::{ByLength, Given, JudgedAgain};
use super::by_eye::ByEye;
use super::frame::Held;
use super::last::Last;

/// What a verdict rests on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Evidence {
    /// Words.
    Answer(Answer),
    /// A reading.
    Reading(Reading),
}

/// One attempt at a step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Attempt {
    /// When it was taken or answered.
    pub at: Timestamp,
    /// What was taken or answered.
    pub evidence: Evidence,
    /// What it came to: by today's rules, or the worse of today's and what was recorded under older ones.
    pub verdict: Verdict,
    /// What was recorded under older rules, where today's give another.
    pub recorded: Option<Verdict>,
    /// What it was judged by beside the plan, as it stood then.
    pub given: Given,
    /// What it came to by lengths of the cable that were corrected since, the first of them first.
    pub by_length: Vec<ByLength>,
    /// A later event made it void: a repair, a break, a failed proof of the indicator.
    pub void: bool,
}

impl Attempt {
    /// One that stands, with nothing given beside the plan.
    pub fn new(at: Timestamp, evidence: Evidence, verdict: Verdict) -> Attempt {
        Attempt {
            at,
            evidence,
            verdict,
            recorded: None,
            given: Given::default(),
            by_length: Vec::new(),
            void: false,
        }
    }

    /// The verdict that the walk went on from, which is the one that was recorded.
    pub fn walked_on(&self) -> &Verdict {
        self.recorded.as_ref().unwrap_or(&self.verdict)
    }
}

/// Where a step stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Status {
    /// To be done, for the first time or again.
    Pending,
    /// Its standing attempt is a pass.
    Passed,
    /// The last attempt did not pass and nothing has been decided yet.
    Open,
    /// The last attempt did not pass and stays so, with the reason.
    Left(String),
}

/// A step during the run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StepState {
    /// Where it stands.
    pub status: Status,
    /// Every attempt, the void ones too, in the order of time.
    pub attempts: Vec<Attempt>,
}

/// A repair as recorded.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Repair {
    pub at: Timestamp,
    pub step: String,
    pub what: String,
    pub touched: Touched,
}

/// A further supply that is being isolated, since it lit a point.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Further {
    /// The step at which it was lit.
    pub step: usize,
    /// The supply and its point of isolation, as they were typed.
    pub supply: String,
    /// What is to be done there next.
    pub next: Isolating,
}

/// A run as far as its events tell.
#[derive(Debug, Clone)]
pub struct Run {
    /// Its first event.
    pub opened: Opened,
    /// When that was written down.
    pub opened_at: Timestamp,
    /// The plan, bound again from what the first event carries.
    pub plan: Arc<Plan>,
    /// The plans by which it was walked before, with another length of the cable.
    pub bound_before: Vec<Arc<Plan>>,
    /// The state of each step of the plan, in the same order.
    pub steps: Vec<StepState>,
    /// In the order of time.
    pub repairs: Vec<Repair>,
    /// Times at which the run went on after a break.
    pub resumptions: Vec<Timestamp>,
    /// What was made safe before it was abandoned.
    pub made_safe: Option<String>,
    /// Voltage seen in dead tests: when, at which step, what the display said.
    pub live_seen: Vec<(Timestamp, String, String)>,
    /// Further supplies that lit a point and were isolated: when, at which step, which.
    pub further: Vec<(Timestamp, String, String)>,
    /// The further supply that is being isolated.
    pub isolating: Option<Further>,
    /// The place as the hands left it.
    pub hands: Hands,
    /// The steps whose failure is repaired once isolation is proved.
    pub repairing: BTreeSet<usize>,
    /// Faults that eyes found before anything was switched, noted to be repaired, in the order of time.
    pub by_eye: Vec<ByEye>,
    /// Times between which the clock stepped back.
    pub clock_back: Vec<(Timestamp, Timestamp)>,
    /// Times at which work went on after it had been left, without isolation proved again.
    pub went_on_late: Vec<Timestamp>,
    /// The rules that the record names.
    pub rules: &'static Rules,
    /// Verdicts recorded under older rules that today's do not give, in words: when, at which step.
    pub differences: Vec<(Timestamp, String, String)>,
    /// Why the run cannot go on: an event did not fit. It can only be made safe and abandoned.
    pub broken: Option<String>,
    /// The earth core was read through its clip since it was last clipped.
    pub(super) clip_read: bool,
    /// For each step the one that clipped the earth core to the earth of the building, where the clip is on.
    pub(super) clipped: Vec<Option<usize>>,
    /// What was said of earlier answers: when, at which step, in words.
    pub told: Vec<(Timestamp, String, String)>,
    /// By which face answers come now.
    pub(super) face: Face,
    /// Times from which answers came by a pipe.
    pub by_pipe: Vec<Timestamp>,
    /// What was answered or read by hand: when, at which step.
    pub(super) by_hand: Vec<(Timestamp, Vec<usize>)>,
    /// The last answer that stood for several steps, until something else happens.
    pub(super) together: Option<Together>,
    /// Steps for which one answer did not hold: each is asked by itself.
    pub(super) one_by_one: BTreeSet<usize>,
    /// What is known of readings that are taken in any order.
    pub(super) any_order: AnyOrder,
    /// The frame of voltage that holds the run.
    pub held: Option<Held>,
    /// What can be taken back now.
    pub(super) last: Option<Last>,
    /// The place before what waits for its verdict.
    pub(super) before: Option<Box<Hands>>,
    pub(super) last_at: Timestamp,
    /// Times at which the supply was switched on, whatever was said of it later.
    pub energised: Vec<Timestamp>,
    /// How it ended, and when; `None` while it is open.
    pub ending: Option<(Ending, Timestamp)>,
    pub(super) pending: Option<(usize, Evidence, Timestamp)>,
    /// What waits to be judged again since the length was corrected.
    pub(super) again: Option<JudgedAgain>,
}

/// What is known of readings that are taken in any order.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct AnyOrder {
    /// The reading that comes next, who chose it, and why.
    pub chosen: Option<(usize, ChosenBy, String)>,
    /// Sets of which no more is read.
    pub enough: BTreeSet<usize>,
}

/// An answer that stands for several steps.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Together {
    pub steps: Vec<usize>,
    pub answer: Answer,
}

impl Run {
    /// Opens a run: binds the carried sequence to the carried job.
    ///
    /// Errors are the findings of either file; a run that opened cannot have any.
    pub fn open(opened: Opened, at: Timestamp) -> Result<Run, Findings> {
        let plan = Run::plan_of(&opened)?;
        Run::open_of(opened, at, plan)
    }

    /// The plan that an opening carries: its sequence bound to its job.
    ///
    /// # Errors
    /// The findings of either file.
    pub fn plan_of(opened: &Opened) -> Result<Plan, Findings> {
        let texts: Vec<Text> = std::iter::once(&opened.sequence)
            .chain(&opened.parts)
            .cloned()
            .collect();
        let sequence = sequence::read(&texts)?;
        let job = job::read(&opened.job).map_err(|p| opened.job.findings(p))?;
        let lock = opened.rests_on.as_ref().map_or(Lock::Own, |_| Lock::TakenOver);
        sequence::bind_unproved_behind(&sequence, &job, lock)
    }

    /// Opens a run of the plan that its opening carries, which was bound before.
    ///
    /// # Errors
    /// Rules that nobody knows.
    pub fn open_of(opened: Opened, at: Timestamp, plan: impl Into<Arc<Plan>>) -> Result<Run, Findings> {
        let unknown = |what: String| Findings::from(opened.sequence.finding(Problem::new(&(0..0), what)));
        rules::named(opened.rules.as_deref()).map_err(unknown)?;
        Ok(Run::with_plan(opened, at, plan))
    }

    /// Opens a run of a plan already bound.
    ///
    /// # Panics
    /// When the opening names rules that nobody knows; [`Run::open`] refuses those.
    pub fn with_plan(opened: Opened, at: Timestamp, plan: impl Into<Arc<Plan>>) -> Run {
        let plan = plan.into();
        let rules = rules::named(opened.rules.as_deref()).expect("known rules");
        let steps = plan
            .steps
            .iter()
            .map(|_| StepState {
                status: Status::Pending,
                attempts: Vec::new(),
            })
            .collect();
        let mut run = Run {
            opened_at: at,
            steps,
            repairs: Vec::new(),
            resumptions: Vec::new(),
            made_safe: None,
            live_seen: Vec::new(),
            further: Vec::new(),
            isolating: None,
            hands: Hands::as_found(&plan.job),
            repairing: BTreeSet::new(),
            by_eye: Vec::new(),
            bound_before: Vec::new(),
            clock_back: Vec::new(),
            went_on_late: Vec::new(),
            rules,
            differences: Vec::new(),
            broken: None,
            clip_read: false,
            clipped: clipped_by(&plan),
            face: Face::from(opened.answered_by),
            by_pipe: opened.answered_by.map(|AnsweredBy::Pipe| at).into_iter().collect(),
            by_hand: Vec::new(),
            together: None,
            one_by_one: BTreeSet::new(),
            any_order: AnyOrder::default(),
            told: Vec::new(),
            held: None,
            last: None,
            before: None,
            last_at: at,
            ending: None,
            pending: None,
            again: None,
            energised: Vec::new(),
            opened,
            plan,
        };
        run.take_over();
        run
    }

    /// What must be done before the place may be left now, in words: what hands were asked for last may be done, said or not.
    pub fn to_make_safe(&self) -> Vec<&'static str> {
        if self.broken.is_some() {
            return Hands::unknown(&self.plan.job).to_make_safe(&self.plan.job);
        }
        let known = self.hands.to_make_safe(&self.plan.job);
        let Some(step) = self.cursor().map(|at| &self.plan.steps[at]) else {
            return known;
        };
        let mut perhaps = self.hands.clone();
        step.acts.iter().for_each(|act| perhaps.act(act));
        // a link that is perhaps off is perhaps on
        perhaps.charged |= self.hands.charged || charges(step);
        if self.hands.set_up != Some(SetUp::default()) {
            perhaps.set_up = None;
        }
        if self.hands.supply == Supply::SwitchedOn {
            perhaps.supply = Supply::SwitchedOn;
        }
        perhaps
            .in_terminals
            .retain(|place| self.hands.in_terminals.contains(place));
        perhaps.to_make_safe(&self.plan.job)
    }

    /// Whether a run that has come to its end leaves links, loose cores or a charge behind; one that ends energised has none.
    pub fn leaves_unsafe(&self) -> bool {
        self.hands.supply != Supply::SwitchedOn && !self.to_make_safe().is_empty()
    }

    /// The step to do now: the first that is to be done, or of readings in any order the one that was chosen.
    pub fn cursor(&self) -> Option<usize> {
        let next = self.steps.iter().position(|s| s.status == Status::Pending)?;
        let set = self.plan.steps[next].any_order;
        let of_set = |step: &usize| set.is_some() && self.plan.steps[*step].any_order == set;
        Some(self.chosen().filter(of_set).unwrap_or(next))
    }

    /// Whether a step is to be done at all, by what earlier steps came to.
    pub fn is_needed(&self, step: usize) -> bool {
        !self.is_enough(step)
            && self.plan.steps[step].only_if.iter().all(|condition| {
                let came = self
                    .plan
                    .index(&condition.step)
                    .is_some_and(|earlier| self.came_to(earlier, &condition.came));
                came != condition.not
            })
    }

    fn came_to(&self, step: usize, came: &Came) -> bool {
        let Some(attempt) = self.standing(step) else {
            return false;
        };
        if attempt.evidence == Evidence::Answer(Answer::NotNeeded) {
            return false;
        }
        match came {
            Came::Passed => attempt.walked_on().outcome == Outcome::Pass,
            Came::Failed => attempt.walked_on().outcome == Outcome::Fail,
            Came::Below(bound) => {
                let value = attempt.verdict.value.as_ref();
                value.is_some_and(|value| value.value() < bound.value())
            }
            Came::Saw(word) => matches!(&attempt.evidence, Evidence::Answer(Answer::Saw(seen)) if seen.contains(word)),
        }
    }

    /// Whether a point that must be dark was lit at a step, and nothing has been decided since.
    pub fn is_lit(&self, step: usize) -> bool {
        let lit = |attempt: &Attempt| attempt.evidence == Evidence::Answer(Answer::Lit);
        shows_dark(&self.plan.steps[step]) && self.standing(step).is_some_and(lit)
    }

    /// The step whose failure waits for a decision.
    pub fn undecided(&self) -> Option<usize> {
        self.steps.iter().position(|s| s.status == Status::Open)
    }

    /// The step that waits for its verdict, and what it comes to: what was answered or read last, or what is judged again.
    pub fn due(&self) -> Option<(usize, Verdict)> {
        let last = self.pending.as_ref();
        let last = last.map(|(step, evidence, at)| (*step, self.judged(*step, evidence, *at)));
        last.or_else(|| self.due_again())
    }

    /// Whether anything waits for its verdict.
    pub(super) fn waits_for_verdict(&self) -> bool {
        self.pending.is_some() || self.again.is_some()
    }

    /// Whether isolation was proved, or a lock taken over, so long ago, with nothing entered since, that the work counts as left: it is proved
    /// again before anything else is done.
    pub fn is_left(&self, now: Timestamp) -> bool {
        let still = Decimal::from(now.as_millisecond() - self.last_at.as_millisecond());
        self.hands.supply == Supply::SwitchedOff
            && self.ending.is_none()
            && (self.stage_passed(Stage::Isolate) || self.takes_over())
            && self.plan.job.left_after().value() * Decimal::ONE_THOUSAND < still
    }

    /// The attempt that a step's standing rests on, if it was not made void.
    pub fn standing(&self, step: usize) -> Option<&Attempt> {
        self.steps[step].attempts.last().filter(|attempt| !attempt.void)
    }

    /// What the step came to.
    pub fn verdict(&self, step: usize) -> Verdict {
        let state = &self.steps[step];
        let mut verdict = self.verdict_in_force(step);
        let earlier = state.attempts.last().and_then(Attempt::by_length_words);
        verdict.because = earlier
            .into_iter()
            .fold(verdict.because, |all, part| format!("{all}; {part}"));
        verdict
    }

    fn verdict_in_force(&self, step: usize) -> Verdict {
        let state = &self.steps[step];
        match (&state.status, self.standing(step)) {
            (Status::Left(reason), Some(attempt)) => {
                let mut verdict = attempt.verdict.clone();
                verdict.because = format!("{}; left: {reason}", verdict.because);
                verdict
            }
            (_, Some(attempt)) => attempt.verdict.clone(),
            // a failure never goes away by being left behind: only a later attempt at the step replaces it
            (_, None)
                if state
                    .attempts
                    .last()
                    .is_some_and(|a| a.verdict.outcome == Outcome::Fail) =>
            {
                let failed = &state.attempts.last().expect("checked").verdict.because;
                Verdict::plain(Outcome::Fail, format!("{failed}; not tested again since"))
            }
            (_, None) => Verdict::plain(Outcome::NotTested, self.why_not_reached(state)),
        }
    }

    fn why_not_reached(&self, state: &StepState) -> String {
        let void = if state.attempts.is_empty() {
            ""
        } else {
            "earlier result void; "
        };
        match &self.ending {
            _ if self.broken.is_some() => format!("{void}the run could not go on"),
            Some((Ending::Abandoned(reason), _)) => format!("{void}the run was abandoned: {reason}"),
            _ => format!("{void}not reached"),
        }
    }

    /// The verdict of the whole run: fail if any step failed, pass only if every step passed and the run was completed,
    /// conditional if those that did not pass are conditional and none is untested.
    pub fn outcome(&self) -> Outcome {
        let counts = |step: &usize| !self.is_past(*step);
        let verdicts = || (0..self.steps.len()).filter(counts).map(|i| self.verdict(i).outcome);
        if verdicts().any(|o| o == Outcome::Fail) {
            Outcome::Fail
        } else if matches!(self.ending, Some((Ending::Completed, _))) && verdicts().all(|o| o == Outcome::Pass) {
            Outcome::Pass
        } else if matches!(self.ending, Some((Ending::Completed, _))) && verdicts().all(|o| o != Outcome::NotTested) {
            Outcome::Conditional
        } else {
            Outcome::NotTested
        }
    }

    /// Whether a reading tells only how the place was found, in a run that ended with everything tested and the supply on: what was
    /// wrong was mended or is not there, and both readings stay.
    pub fn is_past(&self, step: usize) -> bool {
        let ended = matches!(self.ending, Some((Ending::Completed, _)));
        ended && self.hands.supply == Supply::SwitchedOn && reads_live_as_found(&self.plan.steps[step])
    }

    /// Whether any step of the plan does an act.
    pub fn does(&self, act: &Act) -> bool {
        self.plan.steps.iter().any(|step| step.acts.contains(act))
    }

    /// The measured resistance of a set of leads in ohms; zero until the leads are measured.
    pub fn null(&self, leads: Leads) -> Decimal {
        let null = self.plan.lead_null(leads);
        null.and_then(|(i, _)| self.standing(i))
            .filter(|attempt| attempt.verdict.outcome == Outcome::Pass)
            .and_then(|attempt| attempt.verdict.value.as_ref())
            .map_or(Decimal::ZERO, |value| value.value())
    }

    /// When a step was last done, by its name.
    pub fn done_at(&self, id: &str) -> Option<Timestamp> {
        let step = self.plan.index(id).or_else(|| {
            // a step inside a repetition carries its core after a stroke; times refer to single steps
            self.plan.steps.iter().position(|s| s.id.split('/').next() == Some(id))
        })?;
        self.standing(step).map(|attempt| attempt.at)
    }

    /// Whether a stage has all its steps passed.
    pub fn stage_passed(&self, stage: Stage) -> bool {
        self.plan
            .steps
            .iter()
            .zip(&self.steps)
            .all(|(step, state)| step.stage != stage || state.status == Status::Passed)
    }

    /// The rules that the record names, in words.
    pub fn rules_words(&self) -> String {
        let name = self.rules.name;
        match self.rules == rules::today() {
            true => format!("rules {name}, which are today's"),
            false => format!("rules {name}, today's are {}", rules::today().name),
        }
    }

    /// Verdicts that were recorded under older rules and that today's do not give, both told in words.
    pub fn differences_words(&self) -> Vec<String> {
        let rules = self.rules.name;
        let words = |(_, _, what): &(Timestamp, String, String)| {
            format!("judged by the rules `{rules}`, which are no longer today's: {what}")
        };
        self.differences.iter().map(words).collect()
    }

    /// Overdue instruments, readings from a capture and steps of the clock, as limitations in words.
    pub fn departures(&self) -> Vec<String> {
        let back = |(before, at): &(Timestamp, Timestamp)| format!("The clock stepped back from {before} to {at}.");
        let departures = self.opened.departures.iter().map(|what| format!("Overdue: {what}."));
        let capture = self
            .opened
            .port
            .iter()
            .filter(|port| port.starts_with("replay") || port.starts_with("stdin"));
        let capture = capture
            .map(|port| format!("Readings marked as from the meter came from `{port}`, not from a meter's port."));
        let late = |at: &Timestamp| {
            format!("At {at} the work went on after it had been left, and isolation was not proved again.")
        };
        let told = |(at, step, what): &(Timestamp, String, String)| format!("At {at}, at `{step}`: {what}.");
        departures
            .chain(capture)
            .chain(
                self.by_pipe
                    .iter()
                    .map(|at| format!("From {at} on answers came by a pipe, not from a person at a terminal.")),
            )
            .chain(self.fast().map(|fast| format!("Faster than hands: {}.", fast.words())))
            .chain(self.told.iter().map(told))
            .chain(self.by_length_words())
            .chain(self.went_on_late.iter().map(late))
            .chain(self.clock_back.iter().map(back))
            .collect()
    }
}
