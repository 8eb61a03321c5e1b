//! Which steps may be reached, and what a repair, a break or a repeated step makes void.
//!
//! The rule inside: no dead test before isolation is proved in this run, no live step before every dead test has passed,
//! and whatever a void result served is void with it. The rows of [`crate::plan::tables`] say what that means,
//! for every cause.

use std::collections::BTreeSet;

use super::run::{Attempt, Run, Status};
use crate::judge::window::Outcome;
use crate::plan::{
    Condition, Earlier, Kind, Rests, SPREADS, SetUp, Stage, Supply, TAKEN_OUT, Timing, closing_needs, done_as_found,
    goes_back_to, is_arranged, needs, reads_as_set, shows_parted, takes_off, touchable, waits_for_charge,
};
use crate::run::event::Touched;

impl Run {
    /// The first step that must have passed before this one and has not.
    pub fn blocked_by(&self, step: usize) -> Option<usize> {
        let here = &self.plan.steps[step];
        let blocks = |i: &usize| self.steps[*i].status != Status::Passed && needs(here, &self.plan.steps[*i]);
        // what waits to be repaired waits itself for whatever else is in the way
        let other = (0..step).filter(blocks).find(|i| !self.repairing.contains(i));
        other.or_else(|| (0..step).find(blocks))
    }

    /// A step left behind that closing asks for, as everything is while the supply is on: such a run ends by going back to it or by
    /// being made safe.
    pub fn left_live(&self) -> Option<usize> {
        let supply_on = self.hands.supply == Supply::SwitchedOn;
        let mut steps = self.steps.iter().zip(&self.plan.steps);
        steps.position(|(state, step)| matches!(state.status, Status::Left(_)) && closing_needs(step, supply_on))
    }

    /// The set-up that a step needs where the place is otherwise or not known; asked for before the step is.
    pub fn to_arrange(&self, step: usize) -> Option<SetUp> {
        let here = &self.plan.steps[step];
        if !is_arranged(here) {
            return None;
        }
        let wanted = SetUp::before(&self.plan, step);
        if self.hands.charged && waits_for_charge(here) {
            return Some(wanted);
        }
        match &self.hands.set_up {
            // taking off what is off already does no harm, and what is unknown is looked at before the next test
            None if takes_off(here) => None,
            None => Some(wanted),
            Some(there) if here.kind == Kind::Do => (!there.is_within(&wanted)).then_some(wanted),
            Some(there) => (*there != wanted).then_some(wanted),
        }
    }

    /// Steps that stand as passed only by rules that are no longer today's. Going on does them again: the journal names them, so that
    /// it folds to the same whatever the rules are when it is read.
    pub fn outdated(&self) -> Vec<String> {
        let is_outdated = |i: &usize| {
            let passed = self.steps[*i].status == Status::Passed;
            let stands = |attempt: &Attempt| attempt.verdict.outcome == Outcome::Pass;
            passed && !self.standing(*i).is_some_and(stands)
        };
        let all = (0..self.steps.len()).filter(is_outdated);
        all.map(|i| self.plan.steps[i].id.clone()).collect()
    }

    /// What must be done again when this step is: itself, the call it is timed from, and what a control was set to for it.
    pub(super) fn repeated_with(&self, step: usize) -> BTreeSet<usize> {
        let mut set = BTreeSet::from([step]);
        // whatever else was read of its set stands
        if self.plan.steps[step].any_order.is_some() {
            return set;
        }
        // a parted neutral that was not dark: isolation was not what it was taken for
        if shows_parted(&self.plan.steps[step]) {
            set.extend(self.stage_steps(Stage::Isolate));
        }
        if reads_as_set(&self.plan.steps[step]) {
            let before = &self.plan.steps[..step];
            let set_to = before
                .iter()
                .rposition(|there| Earlier::Set.holds(there, Rests::default()));
            set.extend(set_to.into_iter().flat_map(|from| from..=step));
        }
        if let Some(Timing::Within { since, .. } | Timing::After { since, .. }) = self.plan.steps[step].timing()
            && let Some(since) = self.plan.index(since)
        {
            set.extend(since..=step);
        }
        // what was read live as found, for its own sake, is not read again with what lies around it
        let of_its_own = self.plan.steps[step].stage == Stage::FaultFinding;
        set.retain(|i| of_its_own || self.plan.steps[*i].stage != Stage::FaultFinding);
        set
    }

    /// What must be done again after a repair, whatever it touched: back to the step that the plan names, where it names one.
    pub(super) fn repaired_with(&self, step: usize) -> BTreeSet<usize> {
        let mut set = self.repeated_with(step);
        if let Some(back) = goes_back_to(&self.plan.steps[step]).and_then(|id| self.plan.index(id)) {
            set.extend(back.min(step)..=step);
        }
        set
    }

    /// What a repair or a break that touched these cores makes void.
    pub(super) fn touched_steps(&self, touched: &Touched) -> BTreeSet<usize> {
        let about_a_core = |i: &usize| {
            let step = &self.plan.steps[*i];
            let begun = self.steps[*i].status != Status::Pending;
            begun
                && touchable(step)
                && match touched {
                    Touched::Nothing => false,
                    Touched::Everything => true,
                    Touched::Cores(cores) => step.cores.iter().any(|c| cores.contains(c)),
                }
        };
        (0..self.steps.len()).filter(about_a_core).collect()
    }

    /// Steps of one stage.
    pub(super) fn stage_steps(&self, stage: Stage) -> BTreeSet<usize> {
        (0..self.steps.len())
            .filter(|&i| self.plan.steps[i].stage == stage)
            .collect()
    }

    /// Makes steps void, with everything that rested on them.
    pub(super) fn make_void(&mut self, mut set: BTreeSet<usize>) {
        loop {
            let before = set.len();
            self.close_over(&mut set);
            set.extend(self.conditional_on(&set));
            if set.len() == before {
                break;
            }
        }
        for i in set {
            self.void_one(i);
        }
    }

    pub(super) fn void_one(&mut self, step: usize) {
        if done_as_found(&self.plan.steps[step]) {
            self.repairing.remove(&step);
        }
        let state = &mut self.steps[step];
        state.status = Status::Pending;
        if let Some(attempt) = state.attempts.last_mut() {
            attempt.void = true;
        }
    }

    /// What is done only if one of these steps came to something: it is looked at anew when that step is.
    pub(super) fn conditional_on(&self, set: &BTreeSet<usize>) -> BTreeSet<usize> {
        let rests = |condition: &Condition| {
            self.plan
                .index(&condition.step)
                .is_some_and(|there| set.contains(&there))
        };
        let all = 0..self.steps.len();
        all.filter(|i| self.plan.steps[*i].only_if.iter().any(rests)).collect()
    }

    fn close_over(&self, set: &mut BTreeSet<usize>) {
        let plan = &self.plan.steps;
        let supply_on = self.hands.supply == Supply::SwitchedOn;
        for row in SPREADS.iter().filter(|row| supply_on || !row.supply_on) {
            let hits = |i: &usize| row.hit.contains(&plan[*i].stage) && (row.gates || plan[*i].kind != Kind::Gate);
            if set.iter().any(hits) {
                let also = |i: &usize| row.also.iter().any(|class| class.holds(&plan[*i]));
                set.extend((0..plan.len()).filter(also));
            }
        }
    }

    /// Cores that may be in a terminal come out before a dead test is done: the disconnecting is done again, and then the
    /// connecting.
    pub(super) fn take_out_for_tests(&mut self) {
        let next = (0..self.steps.len())
            .find(|&i| self.plan.steps[i].stage != Stage::Isolate && self.steps[i].status == Status::Pending);
        let tests_next = next.is_some_and(|i| self.plan.steps[i].stage == Stage::Test);
        if tests_next && !self.hands.in_terminals.is_empty() {
            let set = TAKEN_OUT.iter().flat_map(|stage| self.stage_steps(*stage)).collect();
            self.make_void(set);
        }
    }
}
