//! The length of the cable corrected while it is walked, and what was read against it judged again.
//!
//! The rule inside: the plan is bound again with the corrected length, and a step rests on the length where that changes it. What was
//! judged by the length before is judged by the one in force, as it stood when it was read; both verdicts stay.

use std::collections::{BTreeSet, VecDeque};
use std::mem;
use std::sync::Arc;

use jiff::Timestamp;

use super::again::{ByLength, JudgedAgain};
use super::circuit::Circuit;
use super::run::{Attempt, Evidence, Run, Status, StepState};
use crate::job::{Job, LengthError};
use crate::judge::window::{Outcome, Verdict};
use crate::plan::{Act, Plan, Stage, Step, done_as_found, is_join};
use crate::run::event::Answer;
use crate::sequence;
use crate::value::quantity::Amount;

/// Why what did not pass stays so where it was read as the place was found.
pub(super) const AS_FOUND: &str = "as found";

/// Why the length is not corrected now.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Uncorrected {
    /// The plan has other windows then, and other steps.
    #[error(
        "the job states no length: its cores are compared with each other, and no window rests on a length; state it in the job of the \
         next run"
    )]
    NotStated,
    /// Attention belongs to what is live.
    #[error("the supply is on, or a voltage was seen: the length is corrected once isolation is proved again")]
    Live,
    /// A test voltage is on the cores, or what was asked last puts it there.
    #[error(
        "a test voltage is or may be on the cores: take the reading and let the tester discharge them, then correct the length"
    )]
    TestVoltage,
    /// The sequence cannot be bound with it.
    #[error("the sequence does not fit a length of {to}: {why}")]
    Unbound {
        /// What it was to be corrected to.
        to: Amount,
        /// What is wrong then.
        why: String,
    },
    /// It is no correction of this length.
    #[error(transparent)]
    Length(#[from] LengthError),
}

impl Attempt {
    /// What it came to by each length that was in force before, in words; nothing where the length never changed after it.
    pub fn by_length_words(&self) -> Option<String> {
        let words = self.by_length.iter().map(ByLength::words);
        words.reduce(|all, next| format!("{all}; {next}"))
    }
}

impl Run {
    /// Whether the length may be corrected now, whatever it is corrected to.
    ///
    /// # Errors
    /// The job states none; hands are, or may be, at what is live or under a test voltage.
    pub fn may_correct_length(&self) -> Result<(), Uncorrected> {
        if self.plan.job.length.is_none() {
            return Err(Uncorrected::NotStated);
        }
        let next = self.cursor();
        let reads_live = next.is_some_and(|step| self.plan.steps[step].stage == Stage::FaultFinding);
        match self.circuit(&[], next) {
            Circuit::TestVoltage => Err(Uncorrected::TestVoltage),
            Circuit::Live => Err(Uncorrected::Live),
            _ if reads_live => Err(Uncorrected::Live),
            Circuit::NotProved | Circuit::ProvedDead { .. } => Ok(()),
        }
    }

    /// The plan with the length corrected so, for this reason.
    ///
    /// # Errors
    /// Where it may not be corrected now, or not so.
    pub fn with_length(&self, to: &Amount, because: Option<&str>) -> Result<Plan, Uncorrected> {
        self.may_correct_length()?;
        let length = self.plan.job.length.as_ref().ok_or(Uncorrected::NotStated)?;
        let unbound = |why: String| Uncorrected::Unbound { to: to.clone(), why };
        let job = Job {
            length: Some(length.corrected(to, because, false)?),
            ..self.plan.job.clone()
        };
        let mut plan = sequence::bound_to(&self.plan, &job).map_err(|found| unbound(found[0].problem.what.clone()))?;
        let is_same = |(old, new): (&_, &_)| names(old) == names(new);
        if plan.steps.len() != self.plan.steps.len() || !self.plan.steps.iter().zip(&plan.steps).all(is_same) {
            return Err(unbound("it has other steps then".into()));
        }
        let was_read = |step: &usize| self.steps[*step].attempts.iter().any(is_judged_by_kind);
        if self.changed_in(&plan).iter().any(was_read) {
            plan.job.length = Some(length.corrected(to, because, true)?);
        }
        Ok(plan)
    }

    /// The steps of which another plan of the same steps asks something else: another window, another time.
    fn changed_in(&self, plan: &Plan) -> Vec<usize> {
        let all = 0..self.steps.len();
        all.filter(|step| plan.steps[*step].kind != self.plan.steps[*step].kind)
            .collect()
    }

    pub(super) fn length_corrected(&mut self, to: &Amount, because: Option<&str>, at: Timestamp) -> Result<(), String> {
        let plan = self.with_length(to, because).map_err(|why| why.to_string())?;
        let stands = |step: &usize| self.standing(*step).is_some_and(is_judged_by_kind);
        let steps: VecDeque<usize> = self.changed_in(&plan).into_iter().filter(stands).collect();
        let length = |plan: &Plan| plan.job.length.clone().expect("it was corrected");
        let (before, now) = (length(&self.plan), length(&plan));
        let late = match now.is_corrected_late() {
            true => ", after something was read against it",
            false => "",
        };
        let id = self
            .cursor()
            .map_or_else(String::new, |step| self.plan.steps[step].id.clone());
        let what = format!("the length of the cable was corrected{late}, it is {now} from here on");
        self.told.push((at, id, what));
        self.bound_before
            .push(std::mem::replace(&mut self.plan, Arc::new(plan)));
        self.again = (!steps.is_empty()).then(|| JudgedAgain {
            before: before.in_force().clone(),
            steps,
            fallen: BTreeSet::new(),
            risen: BTreeSet::new(),
        });
        Ok(())
    }

    /// The step that waits to be judged again by the length in force, and what it comes to.
    pub(super) fn due_again(&self) -> Option<(usize, Verdict)> {
        let step = *self.again.as_ref()?.steps.front()?;
        Some((step, self.judged_as_given(step, self.standing(step)?)))
    }

    /// A step was judged again by the length in force.
    pub(super) fn judged_again(&mut self, step: usize, (verdict, recorded): (Verdict, Option<Verdict>)) {
        let mut again = self.again.take().expect("it waits");
        again.steps.pop_front();
        let attempt = self.steps[step].attempts.last_mut().expect("it stands");
        let passed = |attempt: &Attempt| attempt.walked_on().outcome == Outcome::Pass;
        let before = passed(attempt);
        attempt.by_length.push(ByLength {
            length: again.before.clone(),
            verdict: mem::replace(&mut attempt.verdict, verdict),
        });
        attempt.recorded = recorded;
        match (before, passed(attempt)) {
            (true, false) => drop(again.fallen.insert(step)),
            (false, true) => drop(again.risen.insert(step)),
            _ => {}
        }
        match again.steps.is_empty() {
            true => self.stand_by_length(again),
            false => self.again = Some(again),
        }
    }

    /// What passes no more is done again, with what rests on it; what passes now stands, and what was done because it had failed is looked at
    /// anew.
    fn stand_by_length(&mut self, again: JudgedAgain) {
        let JudgedAgain { fallen, risen, .. } = again;
        for step in &risen {
            self.steps[*step].status = Status::Passed;
        }
        let mut set = self.conditional_on(&risen);
        for step in fallen {
            // the place is no longer as it was found
            if done_as_found(&self.plan.steps[step]) {
                self.steps[step].status = Status::Left(AS_FOUND.into());
                continue;
            }
            if is_join(&self.plan.steps[step]) {
                self.clip_settled(step, Outcome::Fail);
            }
            set.extend(self.repeated_with(step));
        }
        self.make_void(set);
    }

    /// Every step that was judged by a length before the one in force, with all its verdicts, in words.
    pub fn by_length_words(&self) -> Vec<String> {
        let steps = self.plan.steps.iter().zip(&self.steps);
        let of_step = |(step, state): (&Step, &StepState)| {
            let words = |attempt: &Attempt| {
                let earlier = attempt.by_length_words()?;
                let verdict = &attempt.verdict;
                let outcome = verdict.outcome.word();
                Some(format!(
                    "`{}`, judged again: {outcome}, {}; {earlier}",
                    step.id, verdict.because
                ))
            };
            state.attempts.iter().filter_map(words).collect::<Vec<_>>()
        };
        steps.flat_map(of_step).collect()
    }
}

/// What a step is called, and what hands do at it, which no length changes.
fn names(step: &Step) -> (&str, &[Act]) {
    (&step.id, &step.acts)
}

/// Whether what the step asks for decided: not where it was passed over.
fn is_judged_by_kind(attempt: &Attempt) -> bool {
    !matches!(
        attempt.evidence,
        Evidence::Answer(Answer::NotDone(_) | Answer::NotNeeded | Answer::TakenOver)
    )
}
