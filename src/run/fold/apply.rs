//! One event at a time: the fold itself.
//!
//! The rule inside: an event that does not fit the run so far is refused and changes nothing, so that a journal put together
//! by hand is found out by the same code that walks the run.

use jiff::Timestamp;

use super::run::{Attempt, Evidence, Repair, Run, Status};
use crate::judge::window::{Outcome, Verdict};
use crate::plan::{ISOLATE_FIRST, may_follow};
use crate::plan::{Kind, Stage, Then};
use crate::plan::{SetUp, Supply};
use crate::run::event::{Answer, Ending, Event, Touched};
use crate::value::reading::{Function, Reading};

impl Run {
    /// Takes in one event after the opening; the error says why it does not fit.
    pub fn apply(&mut self, at: Timestamp, event: &Event) -> Result<(), String> {
        if self.ending.is_some() {
            return Err("the run is already closed".into());
        }
        if self.pending.is_some() && !matches!(event, Event::Judged { .. }) {
            return Err("the last reading or answer has no verdict yet".into());
        }
        let follows = matches!(
            event,
            Event::Closed {
                ending: Ending::Abandoned(_)
            } | Event::Resumed { .. }
        );
        if self.made_safe.is_some() && !follows {
            return Err("after it was made safe the run goes on".into());
        }
        let was_left = self.is_left(at);
        self.take_in(at, event)?;
        let works = matches!(
            event,
            Event::Answered { .. } | Event::Taken { .. } | Event::Arranged { .. }
        );
        if was_left && works {
            self.went_on_late.push(at);
        }
        if at < self.last_at {
            self.clock_back.push((self.last_at, at));
        }
        self.last_at = at;
        self.take_out_for_tests();
        Ok(())
    }

    fn take_in(&mut self, at: Timestamp, event: &Event) -> Result<(), String> {
        match event {
            Event::Opened(_) => Err("the run is already open".into()),
            Event::Answered { step, answer } => self.evidence(step, Evidence::Answer(answer.clone()), at),
            Event::Taken { step, reading } => self.evidence(step, Evidence::Reading(reading.clone()), at),
            Event::Judged { step, verdict } => self.judged_now(step, verdict),
            Event::Arranged { step, links, joined } => self.arranged(step, links, *joined),
            Event::LiveSeen { step, reading } => self.live_seen(step, reading, at),
            Event::LeadsChanged => self.leads_changed(),
            Event::Again { step } => {
                let step = self.decidable(step)?;
                if self.steps[step].status == Status::Open {
                    self.may_follow(step, |then| *then == Then::Again)?;
                }
                let set = self.repeated_with(step);
                self.make_void(set);
                Ok(())
            }
            Event::RepairBegins { step } => self.repair_begins(step),
            Event::Repaired { step, what, touched } => self.repaired(step, what, touched, at),
            Event::Left { step, reason } => {
                let step = self.find(step)?;
                if self.steps[step].status != Status::Open {
                    return Err(format!("`{}` waits for no decision", self.plan.steps[step].id));
                }
                self.may_follow(step, |then| *then == Then::Leave)?;
                self.steps[step].status = Status::Left(reason.clone());
                Ok(())
            }
            Event::Resumed { touched, .. } => {
                self.check_touched(touched)?;
                self.resumptions.push(at);
                self.made_safe = None;
                let mut set = self.touched_steps(touched);
                set.extend(self.stage_steps(Stage::Isolate));
                // nobody knows what was changed meanwhile; once something is switched, nothing is as found any more
                if self.hands.supply == Supply::AsFound {
                    set.extend(self.stage_steps(Stage::Survey));
                }
                // other leads may be in use after a break
                set.extend(self.null_step());
                self.hands.set_up = None;
                self.hands.all_may_be_connected(&self.plan.job);
                self.make_void(set);
                Ok(())
            }
            Event::MadeSafe { what } => {
                if self.to_make_safe().is_empty() {
                    return Err("made safe where there was nothing to make safe".into());
                }
                self.made_safe = Some(what.clone());
                if self.hands.supply == Supply::SwitchedOn {
                    self.hands.supply = Supply::SwitchedOff;
                }
                Ok(())
            }
            Event::Closed { ending } => self.closed(ending, at),
        }
    }

    fn closed(&mut self, ending: &Ending, at: Timestamp) -> Result<(), String> {
        let complete = self.cursor().is_none() && self.undecided().is_none();
        match ending {
            Ending::Completed if self.left_live().is_some() => {
                return Err("the run is closed as completed with a live test left and the supply on".into());
            }
            Ending::Completed if !complete => {
                return Err("the run is closed as completed while steps are left to do".into());
            }
            Ending::Abandoned(_) if self.made_safe.is_none() && !self.hands.to_make_safe(&self.plan.job).is_empty() => {
                return Err("the run is abandoned and nothing was made safe".into());
            }
            _ => {}
        }
        self.ending = Some((ending.clone(), at));
        Ok(())
    }

    fn judged_now(&mut self, step: &str, verdict: &Verdict) -> Result<(), String> {
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

    fn arranged(&mut self, id: &str, links: &[String], joined: bool) -> Result<(), String> {
        let step = self.find(id)?;
        let set_up = SetUp {
            links: links.iter().cloned().collect(),
            joined,
        };
        let due = self.cursor() == Some(step) && self.blocked_by(step).is_none();
        if !due || self.to_arrange(step).as_ref() != Some(&set_up) {
            return Err(format!(
                "links and joints were arranged for `{id}` where that was not to be done"
            ));
        }
        self.hands.set_up = Some(set_up);
        self.hands.charged = false;
        Ok(())
    }

    fn null_step(&self) -> Option<usize> {
        let (null, _) = self.plan.lead_null()?;
        (self.steps[null].status == Status::Passed).then_some(null)
    }

    fn leads_changed(&mut self) -> Result<(), String> {
        let null = self.null_step().ok_or("no leads have been measured")?;
        // only the leads: what was measured through the old ones was judged with their own value
        self.void_one(null);
        Ok(())
    }

    fn repair_begins(&mut self, id: &str) -> Result<(), String> {
        let step = self.decidable(id)?;
        if !ISOLATE_FIRST.contains(&self.plan.steps[step].stage) {
            return Err("only what failed live is isolated before it is repaired".into());
        }
        self.may_follow(step, |then| matches!(then, Then::Repair(_)))?;
        self.repairing = Some(step);
        let mut set = self.repaired_with(step);
        set.extend(self.stage_steps(Stage::Isolate));
        self.make_void(set);
        Ok(())
    }

    fn repaired(&mut self, id: &str, what: &str, touched: &Touched, at: Timestamp) -> Result<(), String> {
        let step = self.find(id)?;
        self.check_touched(touched)?;
        if self.repairing == Some(step) {
            if !self.stage_passed(Stage::Isolate) {
                return Err("a repair before isolation was proved again".into());
            }
            self.repairing = None;
        } else {
            self.decidable(id)?;
            self.may_follow(step, |then| matches!(then, Then::Repair(_)))?;
            if ISOLATE_FIRST.contains(&self.plan.steps[step].stage) {
                return Err("a repair of what failed live, without isolating it first".into());
            }
        }
        let repair = Repair {
            at,
            step: id.to_owned(),
            what: what.to_owned(),
            touched: touched.clone(),
        };
        self.repairs.push(repair);
        let mut set = self.touched_steps(touched);
        set.extend(self.repaired_with(step));
        self.make_void(set);
        Ok(())
    }

    fn may_follow(&self, step: usize, wanted: impl Fn(&Then) -> bool) -> Result<(), String> {
        let here = &self.plan.steps[step];
        match here
            .after_failure
            .iter()
            .any(|then| wanted(then) && may_follow(here, then))
        {
            true => Ok(()),
            false => Err(format!(
                "the sequence lets nothing of the kind follow a failure of `{}`",
                here.id
            )),
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
        self.hands.seen_live = true;
        let set = self.stage_steps(Stage::Isolate);
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
        if self.undecided().is_some() && self.repairing.is_none() {
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
        let kind = &self.plan.steps[step].kind;
        let skips = evidence == Evidence::Answer(Answer::NotNeeded);
        let may_skip = !self.is_needed(step) || matches!(kind, Kind::Note { .. });
        if (skips && !may_skip) || (!skips && !self.is_needed(step)) {
            return Err(format!("`{id}` was done or left out against its condition"));
        }
        let fits = skips || matches!(evidence, Evidence::Reading(_)) == matches!(kind, Kind::Measure(_));
        if !fits {
            return Err(format!("what was recorded at `{id}` is not what the step asks for"));
        }
        if self.to_arrange(step).is_some() {
            return Err(format!("`{id}` was done with links or joints that were not its own"));
        }
        if !matches!(evidence, Evidence::Answer(Answer::NotDone(_) | Answer::NotNeeded)) {
            for act in &self.plan.steps[step].acts {
                self.hands.act(act);
            }
        }
        if let (Kind::Measure(m), Evidence::Reading(_)) = (&self.plan.steps[step].kind, &evidence)
            && matches!(m.used.function, Function::Insulation(_))
        {
            self.hands.charged = true;
        }
        self.pending = Some((step, evidence, at));
        Ok(())
    }

    fn settle(&mut self, step: usize, outcome: Outcome) {
        let is_indicator = |kind: &Kind| matches!(kind, Kind::Indicator { .. });
        if outcome == Outcome::Pass {
            self.steps[step].status = Status::Passed;
            if self.stage_passed(Stage::Isolate) {
                self.hands.seen_live = false;
            }
            return;
        }
        self.steps[step].status = Status::Open;
        if outcome == Outcome::Fail && is_indicator(&self.plan.steps[step].kind) {
            let lit = matches!(self.plan.steps[step].kind, Kind::Indicator { lit: true, .. });
            if lit {
                // an indicator that does not light afterwards proves nothing that it showed before
                for i in (0..step)
                    .filter(|&i| is_indicator(&self.plan.steps[i].kind))
                    .collect::<Vec<_>>()
                {
                    self.void_one(i);
                }
            } else {
                self.hands.seen_live = true;
            }
        }
    }
}
