//! Which steps may be reached, and what a repair, a break or a repeated step makes void.
//!
//! The rule inside: no dead test before isolation is proved in this run, no live step before every dead test has passed,
//! and whatever a void result served is void with it. One closure of rules serves every cause.

use std::collections::BTreeSet;

use super::hands::{SetUp, Supply};
use super::run::{Run, Status};
use crate::pure::event::Touched;
use crate::pure::plan::{Act, Condition, Kind, Stage, Timing};
use crate::pure::reading::Function;

impl Run {
    /// The first step that must have passed before this one and has not.
    pub fn blocked_by(&self, step: usize) -> Option<usize> {
        let here = &self.plan.steps[step];
        let needs_null = matches!(&here.kind, Kind::Measure(m) if m.subtract_null);
        (0..step).find(|&i| {
            let there = &self.plan.steps[i];
            let is_null = matches!(&there.kind, Kind::Measure(m) if m.is_null);
            let before_tests = (Stage::Isolate..Stage::Test).contains(&there.stage);
            let needed = match here.stage {
                Stage::Survey => false,
                Stage::Live | Stage::HandOver => true,
                Stage::Connect if here.kind == Kind::Gate => true,
                Stage::Isolate => there.stage == Stage::Isolate,
                Stage::Disconnect => before_tests,
                // a link or a joint that was not made, or not taken off, spoils what comes after it
                Stage::Test => {
                    before_tests || (needs_null && is_null) || (there.kind == Kind::Do && there.stage != Stage::Survey)
                }
                // a core in a wrong terminal stops the connecting, and so does a pair of which nobody knows what stands on it
                Stage::Connect => there.stage < Stage::Test || there.stage == Stage::Connect || there.kind == Kind::Do,
            };
            needed && self.steps[i].status != Status::Passed
        })
    }

    /// A step left behind while the supply is on: such a run ends by going back to it or by being made safe.
    pub fn left_live(&self) -> Option<usize> {
        let left = self.steps.iter().position(|s| matches!(s.status, Status::Left(_)));
        left.filter(|_| self.hands.supply == Supply::SwitchedOn)
    }

    /// The set-up that a step needs where the place is otherwise or not known; asked for before the step is.
    pub fn to_arrange(&self, step: usize) -> Option<SetUp> {
        let here = &self.plan.steps[step];
        // measuring the leads themselves does not touch the wiring
        let is_null = matches!(&here.kind, Kind::Measure(m) if m.is_null);
        if !(Stage::Test..=Stage::Live).contains(&here.stage) || is_null {
            return None;
        }
        let wanted = SetUp::before(&self.plan, step);
        let undoes = here
            .acts
            .iter()
            .any(|act| matches!(act, Act::RemoveLink(_) | Act::RemoveEveryLink | Act::PartLiveCores));
        let charges = matches!(&here.kind, Kind::Measure(m) if matches!(m.used.function, Function::Insulation(_)));
        if self.hands.charged && !charges && here.kind != Kind::Do {
            return Some(wanted);
        }
        match &self.hands.set_up {
            // taking off what is off already does no harm, and what is unknown is looked at before the next test
            None if undoes => None,
            None => Some(wanted),
            Some(there) if here.kind == Kind::Do => (!there.is_within(&wanted)).then_some(wanted),
            Some(there) => (*there != wanted).then_some(wanted),
        }
    }

    /// What must be done again when this step is: itself, and the call it is timed from.
    pub(super) fn repeated_with(&self, step: usize) -> BTreeSet<usize> {
        let mut set = BTreeSet::from([step]);
        if let Some(Timing::Within { since, .. } | Timing::After { since, .. }) = self.plan.steps[step].timing()
            && let Some(since) = self.plan.index(since)
        {
            set.extend(since..=step);
        }
        set
    }

    /// What a repair or a break that touched these cores makes void.
    pub(super) fn touched_steps(&self, touched: &Touched) -> BTreeSet<usize> {
        let about_a_core = |i: &usize| {
            let step = &self.plan.steps[*i];
            // the leads were not touched, so their null stands
            let is_null = matches!(&step.kind, Kind::Measure(m) if m.is_null);
            let begun = self.steps[*i].status != Status::Pending;
            begun
                && !is_null
                && (Stage::Test..=Stage::Connect).contains(&step.stage)
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
            self.depending_on(&mut set);
            if set.len() == before {
                break;
            }
        }
        for i in set {
            self.void_one(i);
        }
    }

    pub(super) fn void_one(&mut self, step: usize) {
        let state = &mut self.steps[step];
        state.status = Status::Pending;
        if let Some(attempt) = state.attempts.last_mut() {
            attempt.void = true;
        }
    }

    /// What is done only if an earlier step came to something is looked at anew when that step is.
    fn depending_on(&self, set: &mut BTreeSet<usize>) {
        for (i, step) in self.plan.steps.iter().enumerate() {
            let rests = |condition: &Condition| {
                self.plan
                    .index(&condition.step)
                    .is_some_and(|there| set.contains(&there))
            };
            if step.only_if.iter().any(rests) {
                set.insert(i);
            }
        }
    }

    fn close_over(&self, set: &mut BTreeSet<usize>) {
        let plan = &self.plan.steps;
        let has = |set: &BTreeSet<usize>, stages: std::ops::RangeInclusive<Stage>| {
            set.iter().any(|&i| stages.contains(&plan[i].stage))
        };
        // nothing is touched while it may be live
        if has(set, Stage::Disconnect..=Stage::Connect) && self.hands.supply == Supply::SwitchedOn {
            set.extend(self.stage_steps(Stage::Isolate));
        }
        // the proof of isolation is one proof
        if has(set, Stage::Isolate..=Stage::Isolate) {
            set.extend(self.stage_steps(Stage::Isolate));
        }
        if has(set, Stage::Isolate..=Stage::Connect) {
            set.extend(self.stage_steps(Stage::Live));
            set.extend((0..plan.len()).filter(|&i| plan[i].kind == Kind::Gate));
        }
    }

    /// Cores that may be in a terminal come out before a dead test is done: the disconnecting is done again, and then the
    /// connecting.
    pub(super) fn take_out_for_tests(&mut self) {
        let next = (0..self.steps.len())
            .find(|&i| self.plan.steps[i].stage != Stage::Isolate && self.steps[i].status == Status::Pending);
        let tests_next = next.is_some_and(|i| self.plan.steps[i].stage == Stage::Test);
        if tests_next && !self.hands.in_terminals.is_empty() {
            let mut set = self.stage_steps(Stage::Disconnect);
            set.extend(self.stage_steps(Stage::Connect));
            self.make_void(set);
        }
    }
}
