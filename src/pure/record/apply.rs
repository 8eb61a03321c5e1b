//! One event at a time: the fold itself.
//!
//! The rule inside: an event that does not fit the run so far is refused and changes nothing, so that a journal put together
//! by hand is found out by the same code that walks the run.

use jiff::Timestamp;

use super::run::{Attempt, Evidence, Repair, Run, Status};
use crate::pure::event::{Event, Touched};
use crate::pure::plan::{Act, Kind, Stage};
use crate::pure::reading::Reading;
use crate::pure::window::Outcome;

impl Run {
    /// Takes in one event after the opening; the error says why it does not fit.
    pub fn apply(&mut self, at: Timestamp, event: &Event) -> Result<(), String> {
        if self.ending.is_some() {
            return Err("the run is already closed".into());
        }
        if self.pending.is_some() && !matches!(event, Event::Judged { .. }) {
            return Err("the last reading or answer has no verdict yet".into());
        }
        match event {
            Event::Opened(_) => Err("the run is already open".into()),
            Event::Answered { step, answer } => self.evidence(step, Evidence::Answer(answer.clone()), at),
            Event::Taken { step, reading } => self.evidence(step, Evidence::Reading(reading.clone()), at),
            Event::Judged { step, verdict } => {
                let step = self.find(step)?;
                match self.pending.take() {
                    Some((waiting, evidence, taken_at)) if waiting == step => {
                        let attempt = Attempt {
                            at: taken_at,
                            evidence,
                            verdict: verdict.clone(),
                            void: false,
                        };
                        self.steps[step].attempts.push(attempt);
                        self.settle(step, verdict.outcome);
                        Ok(())
                    }
                    other => {
                        self.pending = other;
                        Err("a verdict without a reading or answer before it".into())
                    }
                }
            }
            Event::LiveSeen { step, reading } => self.live_seen(step, reading, at),
            Event::LeadsChanged => {
                let null = self
                    .plan
                    .steps
                    .iter()
                    .position(|s| matches!(&s.kind, Kind::Measure(m) if m.is_null));
                let null = null
                    .filter(|&i| self.steps[i].status == Status::Passed)
                    .ok_or("no leads have been measured")?;
                // only the leads: what was measured through the old ones was judged with their own value
                self.steps[null].status = Status::Pending;
                if let Some(attempt) = self.steps[null].attempts.last_mut() {
                    attempt.void = true;
                }
                Ok(())
            }
            Event::Again { step } => {
                let step = self.decidable(step)?;
                self.again(step);
                Ok(())
            }
            Event::Repaired { step, what, touched } => {
                let step = self.decidable(step)?;
                self.check_touched(touched)?;
                let repair = Repair {
                    at,
                    step: self.plan.steps[step].id.clone(),
                    what: what.clone(),
                    touched: touched.clone(),
                };
                self.repairs.push(repair);
                let mut set = self.touched_steps(touched);
                set.extend(self.repeated_with(step));
                // hands were in the installation: nothing live is worked on, so isolation comes first again
                if self.plan.steps[step].stage == Stage::Live || self.energised {
                    set.extend(self.stage_steps(Stage::Isolate));
                }
                self.retain_begun(&mut set, step);
                self.again(step);
                self.make_void(set);
                Ok(())
            }
            Event::Left { step, reason } => {
                let step = self.find(step)?;
                if self.steps[step].status != Status::Open {
                    return Err(format!("`{}` waits for no decision", self.plan.steps[step].id));
                }
                self.steps[step].status = Status::Left(reason.clone());
                Ok(())
            }
            Event::Resumed { touched, .. } => {
                self.check_touched(touched)?;
                self.resumptions.push(at);
                let mut set = self.touched_steps(touched);
                set.extend(self.interrupted_group());
                set.extend(self.stage_steps(Stage::Isolate));
                self.make_void(set);
                Ok(())
            }
            Event::MadeSafe { what } => {
                self.made_safe = Some(what.clone());
                self.energised = false;
                Ok(())
            }
            Event::Closed { ending } => {
                let complete = self.cursor().is_none() && self.undecided().is_none();
                if matches!(ending, crate::pure::event::Ending::Completed) && !complete {
                    return Err("the run is closed as completed while steps are left to do".into());
                }
                self.ending = Some((ending.clone(), at));
                Ok(())
            }
        }
    }

    fn live_seen(&mut self, id: &str, reading: &Reading, at: Timestamp) -> Result<(), String> {
        let step = self.find(id)?;
        if self.cursor() != Some(step) || self.plan.steps[step].stage != Stage::Test {
            return Err(format!("voltage was seen at `{id}` out of its order"));
        }
        if !self.is_live(reading) {
            return Err(format!("{} at `{id}` is no voltage to stop for", reading.display()));
        }
        self.live_seen.push((at, id.to_owned(), reading.display()));
        let mut set = self.stage_steps(Stage::Isolate);
        set.extend(self.interrupted_group());
        self.make_void(set);
        Ok(())
    }

    fn find(&self, id: &str) -> Result<usize, String> {
        self.plan
            .index(id)
            .ok_or_else(|| format!("the plan has no step `{id}`"))
    }

    fn decidable(&self, id: &str) -> Result<usize, String> {
        let step = self.find(id)?;
        match self.steps[step].status {
            Status::Open | Status::Left(_) => Ok(step),
            Status::Pending | Status::Passed => Err(format!("`{id}` waits for no decision")),
        }
    }

    fn check_touched(&self, touched: &Touched) -> Result<(), String> {
        match touched {
            Touched::Cores(cores) => match cores.iter().find(|c| self.plan.job.core(c).is_none()) {
                Some(unknown) => Err(format!("the cable has no core `{unknown}`")),
                None => Ok(()),
            },
            Touched::Nothing | Touched::Everything => Ok(()),
        }
    }

    fn evidence(&mut self, id: &str, evidence: Evidence, at: Timestamp) -> Result<(), String> {
        let step = self.find(id)?;
        if self.undecided().is_some() {
            return Err(format!("`{id}` was done while a failed step waited for a decision"));
        }
        if self.cursor() != Some(step) {
            return Err(format!("`{id}` was done out of its order"));
        }
        if let Some(blocker) = self.blocked_by(step) {
            return Err(format!(
                "`{id}` was done before `{}` had passed",
                self.plan.steps[blocker].id
            ));
        }
        let fits = matches!(evidence, Evidence::Reading(_)) == matches!(self.plan.steps[step].kind, Kind::Measure(_));
        if !fits {
            return Err(format!("what was recorded at `{id}` is not what the step asks for"));
        }
        self.pending = Some((step, evidence, at));
        Ok(())
    }

    fn settle(&mut self, step: usize, outcome: Outcome) {
        if outcome == Outcome::Pass {
            self.steps[step].status = Status::Passed;
            if self.plan.steps[step].acts.contains(&Act::Energise) {
                self.energised = true;
            }
            return;
        }
        self.steps[step].status = Status::Open;
        // an indicator that does not light afterwards proves nothing that it showed before
        if outcome == Outcome::Fail && matches!(self.plan.steps[step].kind, Kind::Indicator { lit: true, .. }) {
            for i in 0..step {
                if matches!(self.plan.steps[i].kind, Kind::Indicator { .. }) {
                    self.steps[i].status = Status::Pending;
                    if let Some(attempt) = self.steps[i].attempts.last_mut() {
                        attempt.void = true;
                    }
                }
            }
        }
    }

    fn again(&mut self, step: usize) {
        let lone = self.repeated_with(step);
        if lone.len() == 1 && self.plan.steps[step].stage != Stage::Isolate {
            // the set-up still stands: only this reading is repeated
            self.steps[step].status = Status::Pending;
            if let Some(attempt) = self.steps[step].attempts.last_mut() {
                attempt.void = true;
            }
        } else {
            self.make_void(lone);
        }
    }

    /// Keeps what has been begun: a step not yet reached has nothing to make void.
    fn retain_begun(&self, set: &mut std::collections::BTreeSet<usize>, step: usize) {
        set.retain(|&i| self.steps[i].status != Status::Pending && i != step);
    }
}
