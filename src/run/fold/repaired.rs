//! Repairs: of what failed, of what failed live, and of what eyes found before anything was switched.
//!
//! The rule inside: no repair before dead is proved. What was found by eye stays as it was found, with what was repaired and what was seen as
//! left beside it; it is looked at again only once it was repaired.

use jiff::Timestamp;

use super::by_eye::ByEye;
use super::run::{Evidence, Repair, Run, Status};
use crate::judge::window::Outcome;
use crate::plan::{ISOLATE_FIRST, Stage, Supply, Then, done_as_found, looks_as_found};
use crate::run::event::{Photograph, Touched};

/// What is said of a fault found by eye until it is repaired.
const TO_BE_REPAIRED: &str = "to be repaired once it is proved dead";

impl Run {
    /// What was found by eye, in the order of time, each with its step, its picture, and what was repaired of it.
    pub fn found_by_eye_words(&self) -> Vec<String> {
        let words = |found: &ByEye| {
            let mut repairs = self.repairs.iter();
            let repair = repairs.find(|repair| repair.step == found.step && found.at <= repair.at);
            let repair = repair.map_or("not repaired".into(), |repair| format!("repaired: {}", repair.what));
            format!("{}: {}; {repair}", found.step, found.words())
        };
        self.by_eye.iter().map(words).collect()
    }

    /// Whether isolation is proved before a step is repaired: after it was energised, after a break, and for what was found by eye.
    pub fn isolates_first(&self, step: usize) -> bool {
        let stage = self.plan.steps[step].stage;
        let is_found = done_as_found(&self.plan.steps[step]);
        is_found || ISOLATE_FIRST.contains(&stage) || (Stage::Isolate < stage && !self.stage_passed(Stage::Isolate))
    }

    /// The step whose repair is due: dead is proved, and nothing before it is left to do or decide.
    pub fn repair_due(&self) -> Option<usize> {
        let first = self.repairing.first().copied()?;
        let isolated = self
            .cursor()
            .is_none_or(|at| Stage::Isolate < self.plan.steps[at].stage);
        (isolated && self.undecided().is_none() && self.is_proved_dead_for(first)).then_some(first)
    }

    /// Whether a step that looked at the place as it was found is looked at again now that dead is proved.
    pub fn looks_again(&self, step: usize) -> bool {
        let is_dead = self.hands.supply == Supply::SwitchedOff && self.stage_passed(Stage::Isolate);
        is_dead && looks_as_found(&self.plan.steps[step]) && !self.steps[step].attempts.is_empty()
    }

    /// Whether a step was found wrong by eye and can be noted, to be repaired once dead is proved.
    pub fn can_be_noted(&self, step: usize) -> bool {
        let failed = self
            .standing(step)
            .is_some_and(|it| it.verdict.outcome == Outcome::Fail);
        let may_be = failed && self.hands.supply != Supply::SwitchedOn && !self.repairing.contains(&step);
        may_be && self.plan.is_repaired_once_dead(step)
    }

    /// Whether what was found by eye at a step may only be looked at again once it is repaired: it was noted, and is no more as it was found.
    pub fn waits_for_repair(&self, step: usize) -> bool {
        let failed = self
            .standing(step)
            .is_some_and(|it| it.verdict.outcome == Outcome::Fail);
        let noted = self.found_by_eye(&self.plan.steps[step].id).is_some();
        failed && noted && self.hands.supply != Supply::AsFound
    }

    /// The latest fault that eyes found at a step.
    pub fn found_by_eye(&self, id: &str) -> Option<&ByEye> {
        self.by_eye.iter().rfind(|found| found.step == id)
    }

    /// Whether the proof of isolation stands; for what was found by eye with the supply switched off in this run, as it never was before.
    fn is_proved_dead_for(&self, step: usize) -> bool {
        let is_off = self.hands.supply == Supply::SwitchedOff || !done_as_found(&self.plan.steps[step]);
        is_off && self.stage_passed(Stage::Isolate)
    }

    pub(super) fn repair_begins(
        &mut self,
        id: &str,
        photograph: Option<&Photograph>,
        at: Timestamp,
    ) -> Result<(), String> {
        let step = self.decidable(id)?;
        if !self.isolates_first(step) {
            return Err(
                "only what failed live, what was found by eye, or what nothing is proved dead for, is isolated before it is repaired"
                    .into(),
            );
        }
        self.may_follow(step, |then| matches!(then, Then::Repair(_)))?;
        if done_as_found(&self.plan.steps[step]) {
            return self.noted(step, photograph, at);
        }
        if photograph.is_some() {
            return Err(format!(
                "a picture is bound in at `{id}`, where nothing was found by eye"
            ));
        }
        let mut set = self.repaired_with(step);
        set.extend(self.stage_steps(Stage::Isolate));
        self.make_void(set);
        self.repairing.insert(step);
        Ok(())
    }

    /// What was found by eye stays as it was found, and nothing is touched, until it is repaired.
    fn noted(&mut self, step: usize, photograph: Option<&Photograph>, at: Timestamp) -> Result<(), String> {
        let id = self.plan.steps[step].id.clone();
        if !self.can_be_noted(step) {
            return Err(format!(
                "nothing that waits to be repaired once it is dead was found at `{id}`"
            ));
        }
        let what = match self.standing(step).map(|attempt| &attempt.evidence) {
            Some(Evidence::Answer(answer)) => answer.words(),
            Some(Evidence::Reading(_)) | None => unreachable!("what is looked at is answered in words"),
        };
        self.steps[step].status = Status::Left(TO_BE_REPAIRED.into());
        self.repairing.insert(step);
        // noted, left, taken back and noted again: the same fault
        let seen_at = self.standing(step).map(|attempt| attempt.at);
        self.by_eye.retain(|found| found.step != id || Some(found.at) < seen_at);
        self.by_eye.push(ByEye {
            at,
            step: id,
            what,
            photograph: photograph.cloned(),
        });
        Ok(())
    }

    /// That a fault found by eye is to be repaired is taken back, where it was noted.
    pub(super) fn noted_no_more(&mut self, step: usize) -> bool {
        let was_noted = self.repairing.remove(&step);
        if was_noted {
            self.by_eye.pop();
        }
        was_noted
    }

    pub(super) fn repaired(&mut self, id: &str, what: &str, touched: &Touched, at: Timestamp) -> Result<(), String> {
        let step = self.find(id)?;
        let is_found = done_as_found(&self.plan.steps[step]);
        self.check_touched(touched)?;
        if self.repairing.contains(&step) {
            if !self.is_proved_dead_for(step) {
                return Err("a repair before isolation was proved again".into());
            }
            if is_found && self.repair_due() != Some(step) {
                return Err(format!("a repair at `{id}` before its turn"));
            }
            self.repairing.remove(&step);
        } else {
            self.decidable(id)?;
            self.may_follow(step, |then| matches!(then, Then::Repair(_)))?;
            if is_found {
                return Err(format!(
                    "a repair of what was found by eye at `{id}`, and was not noted before"
                ));
            }
            if ISOLATE_FIRST.contains(&self.plan.steps[step].stage) {
                return Err("a repair of what failed live, without isolating it first".into());
            }
        }
        self.repairs.push(Repair {
            at,
            step: id.to_owned(),
            what: what.to_owned(),
            touched: touched.clone(),
        });
        let mut set = self.touched_steps(touched);
        set.extend(match is_found {
            true => self.repeated_with(step),
            false => self.repaired_with(step),
        });
        self.make_void(set);
        Ok(())
    }

    /// A look that failed as the place was found, and passes now that the supply is off with no repair between: it is said.
    pub(super) fn looked_again(&mut self, step: usize, at: Timestamp) {
        let id = &self.plan.steps[step].id;
        let attempts = &self.steps[step].attempts;
        let Some(failed) = attempts
            .iter()
            .rfind(|attempt| attempt.verdict.outcome == Outcome::Fail)
        else {
            return;
        };
        let repaired = self
            .repairs
            .iter()
            .any(|repair| repair.step == *id && failed.at <= repair.at);
        if self.looks_again(step) && !repaired {
            let what = "it failed as it was found, and passed when it was looked at again; no repair of it is recorded";
            self.told.push((at, id.clone(), what.to_owned()));
        }
    }
}
