//! Which steps may be reached, and what a repair, a break or a repeated step makes void.
//!
//! The rule inside: no dead test before isolation is proved in this run, no live step before every dead test has passed,
//! and whatever a void result served is void with it. One closure of rules serves every cause.

use std::collections::BTreeSet;

use super::run::{Run, Status};
use crate::pure::event::Touched;
use crate::pure::plan::{Act, Kind, Stage, Timing};

impl Run {
    /// The first step that must have passed before this one and has not.
    pub fn blocked_by(&self, step: usize) -> Option<usize> {
        let here = &self.plan.steps[step];
        let needs_null = matches!(&here.kind, Kind::Measure(m) if m.subtract_null);
        (0..step).find(|&i| {
            let there = &self.plan.steps[i];
            let needed = match here.stage {
                Stage::Live => true,
                Stage::Connect if here.kind == Kind::Gate => true,
                Stage::Isolate => there.stage == Stage::Isolate,
                Stage::Disconnect => there.stage < Stage::Test,
                Stage::Test => {
                    there.stage < Stage::Test
                        || (needs_null && matches!(&there.kind, Kind::Measure(m) if m.is_null))
                        || (there.group == here.group && there.kind == Kind::Do)
                }
                // links, joints and charge must be off the cores before they go into terminals
                Stage::Connect => there.stage < Stage::Test || there.kind == Kind::Do,
            };
            needed && self.steps[i].status != Status::Passed
        })
    }

    /// What must be done again when this step is: itself, the call it is timed from, and its whole set-up where the walk has
    /// already gone past it.
    pub(super) fn repeated_with(&self, step: usize) -> BTreeSet<usize> {
        let plan = &self.plan.steps;
        let mut set = BTreeSet::from([step]);
        if let Kind::Measure(m) = &plan[step].kind
            && let Timing::Within { since, .. } | Timing::After { since, .. } = &m.timing
            && let Some(since) = self.plan.index(since)
        {
            set.extend(since..=step);
        }
        let gone_past = (step + 1..plan.len()).any(|i| self.steps[i].status != Status::Pending);
        if gone_past {
            set.extend((0..plan.len()).filter(|&i| plan[i].group == plan[step].group));
        }
        set
    }

    /// What a repair or a break that touched these cores makes void.
    pub(super) fn touched_steps(&self, touched: &Touched) -> BTreeSet<usize> {
        let about_a_core = |i: &usize| {
            let step = &self.plan.steps[*i];
            // the leads were not touched, so their null stands
            let is_null = matches!(&step.kind, Kind::Measure(m) if m.is_null);
            !is_null
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
            if set.len() == before {
                break;
            }
        }
        for i in set {
            let state = &mut self.steps[i];
            state.status = Status::Pending;
            if let Some(attempt) = state.attempts.last_mut() {
                attempt.void = true;
            }
            if self.plan.steps[i].acts.contains(&Act::Energise) {
                self.energised = false;
            }
        }
    }

    fn close_over(&self, set: &mut BTreeSet<usize>) {
        let plan = &self.plan.steps;
        let has = |set: &BTreeSet<usize>, stages: std::ops::RangeInclusive<Stage>| {
            set.iter().any(|&i| stages.contains(&plan[i].stage))
        };
        let begun = |stage| {
            self.stage_steps(stage)
                .iter()
                .any(|&i| self.steps[i].status != Status::Pending)
        };
        // a link that stood for one test stood for its whole group, unless that test is the last thing done
        for i in set.clone() {
            let later =
                (i + 1..plan.len()).any(|j| plan[j].group == plan[i].group && self.steps[j].status != Status::Pending);
            if plan[i].stage == Stage::Test && later {
                set.extend((0..plan.len()).filter(|&j| plan[j].group == plan[i].group));
            }
        }
        // cores that went into terminals come out again before a dead test
        if has(set, Stage::Disconnect..=Stage::Test) && begun(Stage::Connect) {
            set.extend(self.stage_steps(Stage::Disconnect));
            set.extend(self.stage_steps(Stage::Connect));
        }
        // nothing is touched while it may be live
        if has(set, Stage::Disconnect..=Stage::Connect) && (self.energised || begun(Stage::Live)) {
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

    /// The steps of a set-up that a break interrupted: some done, some not.
    pub(super) fn interrupted_group(&self) -> BTreeSet<usize> {
        let plan = &self.plan.steps;
        let Some(last) = (0..plan.len()).rev().find(|&i| self.steps[i].status != Status::Pending) else {
            return BTreeSet::new();
        };
        let group: BTreeSet<_> = (0..plan.len()).filter(|&i| plan[i].group == plan[last].group).collect();
        let unfinished = group
            .iter()
            .any(|&i| matches!(self.steps[i].status, Status::Pending | Status::Open));
        if plan[last].stage == Stage::Test && unfinished {
            group
        } else {
            BTreeSet::new()
        }
    }
}
