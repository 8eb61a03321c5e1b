//! One event at a time: the fold itself.
//!
//! The rule inside: an event that does not fit the run so far is refused and changes nothing, so that a journal put together
//! by hand is found out by the same code that walks the run.

use jiff::Timestamp;

use super::length::AS_FOUND;
use super::run::{Attempt, Evidence, Further, Run, Status};
use crate::judge::window::{Outcome, Verdict};
use crate::located::Findings;
use crate::plan::{
    Isolating, Kind, Leads, Stage, Step, Supply, Then, Timing, done_as_found, may_follow, proves_earth, shows_parted,
};
use crate::run::event::{Answer, AnsweredBy, Ending, Event, Face, Opened, Touched};
use crate::run::folded::{About, Folded, Refused};
use crate::run::rules;
use crate::value::reading::Function;

impl Folded for Run {
    type Event = Event;
    type Opened = Opened;
    type Unopened = Findings;

    fn opening(event: &Event) -> Option<&Opened> {
        match event {
            Event::Opened(opened) => Some(opened),
            _ => None,
        }
    }

    fn open(opened: Opened, at: Timestamp) -> Result<Run, Findings> {
        Run::open(opened, at)
    }

    fn apply(&mut self, at: Timestamp, event: &Event) -> Result<(), Refused> {
        Run::apply(self, at, event)
    }

    fn break_off(&mut self, why: &str) {
        self.pending = None;
        self.again = None;
        self.repairing.clear();
        if self.broken.is_none() {
            // what was made safe before counts no more: nothing is known from here on
            self.made_safe = None;
            self.broken = Some(why.to_owned());
        }
    }
}

impl Run {
    /// Takes in one event after the opening; the error says why it does not fit.
    pub fn apply(&mut self, at: Timestamp, event: &Event) -> Result<(), Refused> {
        if let Event::TurnedTo { face } = event {
            return self.turned_to(*face, at);
        }
        self.may_come(event)?;
        self.is_worded(event)?;
        let was_left = self.broken.is_none() && self.is_left(at);
        let was_earthed = self.hands.is_earthed();
        match event {
            Event::Judged { step, verdict } => self.judged_now(step, verdict)?,
            Event::Opened(_) | Event::TurnedTo { .. } => return Err("the run is already open".into()),
            Event::Answered { step, answer } => self.done(step, Evidence::Answer(answer.clone()), at)?,
            Event::AnsweredTogether { steps, answer } => self.answered_together(steps, answer, at)?,
            Event::Taken { step, reading } => self.done(step, Evidence::Reading(reading.clone()), at)?,
            Event::Arranged { .. } => self.arranged(event)?,
            Event::Chosen { step, by, because } => self.choose(step, *by, because)?,
            Event::Enough { step, because } => self.enough(step, because, at)?,
            Event::TakenBack { step } => self.taken_back(step, at)?,
            Event::Remarked { step, text } => self.remarked(step, text, at)?,
            Event::WasLit { step } => self.was_lit(step, at)?,
            Event::Doubted { step, line } => self.doubted(step, line, at)?,
            Event::FrameDoubted { step, reading } => self.frame_doubted(step, reading, at)?,
            Event::FrameCleared { step, reading } => self.frame_cleared(step, reading, at)?,
            Event::LiveSeen { step, reading } => self.live_seen(step, reading, at)?,
            Event::Isolated { step, supply, act } => self.isolated(step, supply, *act, at)?,
            Event::LeadsChanged => self.leads_changed()?,
            Event::LengthCorrected { length, because } => self.length_corrected(length, because.as_deref(), at)?,
            Event::Again { step } => self.again(step)?,
            Event::RepairBegins { step, photograph } => self.repair_begins(step, photograph.as_ref(), at)?,
            Event::Repaired { step, what, touched } => self.repaired(step, what, touched, at)?,
            Event::Left { step, reason } => self.left(step, reason)?,
            Event::Resumed {
                touched,
                outdated,
                answered_by,
                ..
            } => self.resumed(touched, (outdated, *answered_by), at)?,
            Event::MadeSafe { what } => self.made_safe_by(what),
            Event::Closed { ending } => self.closed(ending, at)?,
        }
        self.come(event);
        if was_left && works(event) {
            self.went_on_late.push(at);
        }
        if at < self.last_at {
            self.clock_back.push((self.last_at, at));
        }
        self.last_at = at;
        if self.broken.is_none() {
            self.take_out_for_tests();
            self.keep_clip(was_earthed);
            self.keep_parted();
        }
        Ok(())
    }

    /// Whether anything of its kind may come now.
    fn may_come(&self, event: &Event) -> Result<(), Refused> {
        if self.ending.is_some() {
            return Err("the run is already closed".into());
        }
        let ends = matches!(
            event,
            Event::MadeSafe { .. }
                | Event::Closed {
                    ending: Ending::Abandoned(_)
                }
        );
        if self.broken.is_some() && !ends {
            return Err("it comes after what does not fit".into());
        }
        if self.waits_for_verdict() && !matches!(event, Event::Judged { .. }) {
            return Err("the last reading or answer has no verdict yet".into());
        }
        if !self.comes_while_held(event, ends) {
            return Err("a frame of voltage is not cleared up".into());
        }
        // what is complete and leaves something off or apart is made safe before it is closed
        if self.made_safe.is_some()
            && !matches!(
                event,
                Event::MadeSafe { .. } | Event::Closed { .. } | Event::Resumed { .. }
            )
        {
            return Err("after it was made safe the run goes on".into());
        }
        let goes_on = matches!(
            event,
            Event::Isolated { .. }
                | Event::Resumed { .. }
                | Event::TakenBack { .. }
                | Event::WasLit { .. }
                | Event::Judged { .. }
        );
        if self.isolating.is_some() && !ends && !goes_on {
            return Err("a further supply is only half isolated".into());
        }
        Ok(())
    }

    /// Something was answered or read, and waits for its verdict.
    fn done(&mut self, id: &str, evidence: Evidence, at: Timestamp) -> Result<(), String> {
        self.as_said_together(id, &evidence)?;
        let before = Box::new(self.hands.clone());
        let step = self.admit(id, &evidence)?;
        self.switched(step, &evidence, at);
        self.pending = Some((step, evidence, at));
        self.before = Some(before);
        Ok(())
    }

    fn again(&mut self, step: &str) -> Result<(), String> {
        let step = self.decidable(step)?;
        let planned = &self.plan.steps[step];
        if planned.any_order.is_some() || (planned.stage == Stage::FaultFinding && self.hands.supply != Supply::AsFound)
        {
            return Err(format!(
                "`{}` was read as found, which is not decided again",
                planned.id
            ));
        }
        if self.waits_for_repair(step) {
            return Err(format!(
                "`{}` was found by eye, which is looked at again only once it is repaired",
                planned.id
            ));
        }
        if self.steps[step].status == Status::Open {
            self.may_follow(step, |then| *then == Then::Again)?;
        }
        let set = self.repeated_with(step);
        self.make_void(set);
        Ok(())
    }

    fn left(&mut self, step: &str, reason: &str) -> Result<(), String> {
        let step = self.find(step)?;
        let waits = done_as_found(&self.plan.steps[step]) && self.repair_due() == Some(step);
        if self.steps[step].status != Status::Open && !waits {
            return Err(format!("`{}` waits for no decision", self.plan.steps[step].id));
        }
        self.may_follow(step, |then| *then == Then::Leave)?;
        // it stays as it was found, and is not repaired
        self.repairing.remove(&step);
        self.steps[step].status = Status::Left(reason.to_owned());
        Ok(())
    }

    fn resumed(
        &mut self,
        touched: &Touched,
        (outdated, answered_by): (&[String], Option<AnsweredBy>),
        at: Timestamp,
    ) -> Result<(), String> {
        self.check_touched(touched)?;
        let outdated: Vec<usize> = outdated.iter().map(|id| self.find(id)).collect::<Result<_, _>>()?;
        self.come_by(Face::from(answered_by), at);
        self.resumptions.push(at);
        self.made_safe = None;
        // nobody knows whether it is still off: the point is tried again, and lights if it is not
        self.isolating = None;
        let mut set = self.touched_steps(touched);
        set.extend(self.stage_steps(Stage::Isolate));
        // nobody knows what was changed meanwhile; once something is switched, nothing is as found any more
        if self.hands.supply == Supply::AsFound {
            set.extend(self.stage_steps(Stage::Survey));
            set.extend(self.stage_steps(Stage::FaultFinding));
            self.read_any_order_anew();
        }
        // other leads may be in use after a break
        set.extend(
            [Leads::Own, Leads::Long]
                .into_iter()
                .filter_map(|leads| self.null_step(leads)),
        );
        set.extend(outdated.into_iter().flat_map(|step| self.repeated_with(step)));
        self.hands.set_up = None;
        self.hands.all_may_be_connected(&self.plan.job);
        self.make_void(set);
        Ok(())
    }

    fn made_safe_by(&mut self, what: &str) {
        self.made_safe = Some(what.to_owned());
        if self.hands.supply == Supply::SwitchedOn {
            self.hands.supply = Supply::SwitchedOff;
        }
    }

    fn closed(&mut self, ending: &Ending, at: Timestamp) -> Result<(), String> {
        let must_be_safe = || self.broken.is_some() || !self.hands.to_make_safe(&self.plan.job).is_empty();
        let complete = self.cursor().is_none() && self.undecided().is_none() && self.repair_due().is_none();
        match ending {
            Ending::Completed if self.left_live().is_some() => {
                return Err("the run is closed as completed with a live test left and the supply on".into());
            }
            Ending::Completed if !complete => {
                return Err("the run is closed as completed while steps are left to do".into());
            }
            Ending::Abandoned(_) if self.made_safe.is_none() && must_be_safe() => {
                return Err("the run is abandoned and nothing was made safe".into());
            }
            _ => {}
        }
        self.ending = Some((ending.clone(), at));
        Ok(())
    }

    /// A recorded verdict is the one that the evidence gives. Under older rules it may be another: then the worse of the two is the
    /// record's word, and the difference is told.
    fn judged_now(&mut self, id: &str, recorded: &Verdict) -> Result<(), Refused> {
        let step = self.find(id)?;
        let Some((_, today)) = self.due().filter(|(waiting, _)| *waiting == step) else {
            return Err("a verdict without a reading or answer before it".into());
        };
        let difference = difference(recorded, &today).map(|what| format!("`{id}`: {what}"));
        let worse = match &difference {
            Some(what) if self.rules == rules::today() => {
                return Err(Refused {
                    about: About::Verdict,
                    what: what.clone(),
                });
            }
            // the word and its reason are the record's; the value is what the evidence gives, since later windows rest on it
            Some(_) if today.outcome.is_better_than(recorded.outcome) => Verdict {
                value: today.value,
                ..Verdict::plain(recorded.outcome, recorded.because.clone())
            },
            _ => today,
        };
        let recorded_otherwise = difference.is_some().then(|| recorded.clone());
        let waited = self.pending.take();
        let of_attempt = self.standing(step).map(|attempt| attempt.at);
        let came = waited.as_ref().map(|(.., at)| *at).or(of_attempt);
        self.differences
            .extend(difference.zip(came).map(|(what, at)| (at, id.to_owned(), what)));
        let Some((_, evidence, at)) = waited else {
            self.judged_again(step, (worse, recorded_otherwise));
            return Ok(());
        };
        let (before, given) = (self.before.take(), self.given(step));
        self.steps[step].attempts.push(Attempt {
            recorded: recorded_otherwise,
            given,
            ..Attempt::new(at, evidence.clone(), worse)
        });
        self.settle(step, recorded.outcome);
        if recorded.outcome == Outcome::Pass {
            self.looked_again(step, at);
        }
        self.may_be_taken_back((step, at), &evidence, before);
        Ok(())
    }

    /// One act at a further supply; after the last one everything is proved again.
    fn isolated(&mut self, id: &str, supply: &str, act: Isolating, at: Timestamp) -> Result<(), String> {
        let step = self.decidable(id)?;
        if !self.is_lit(step) {
            return Err(format!(
                "a further supply is isolated at `{id}`, where no point was lit"
            ));
        }
        let due = match &self.isolating {
            None => Isolating::SwitchOff,
            Some(further) if further.step == step && further.supply == supply => further.next,
            Some(further) => return Err(format!("`{}` is only half isolated", further.supply)),
        };
        if act != due {
            return Err(format!("a further supply is isolated out of order at `{id}`"));
        }
        let next = Isolating::ALL.iter().find(|next| act < **next);
        self.isolating = next.map(|next| Further {
            step,
            supply: supply.to_owned(),
            next: *next,
        });
        if next.is_none() {
            self.further.push((at, id.to_owned(), supply.to_owned()));
            let mut set = self.repeated_with(step);
            set.extend(self.stage_steps(Stage::Isolate));
            self.make_void(set);
        }
        Ok(())
    }

    fn null_step(&self, leads: Leads) -> Option<usize> {
        let (null, _) = self.plan.lead_null(leads)?;
        (self.steps[null].status == Status::Passed).then_some(null)
    }

    fn leads_changed(&mut self) -> Result<(), String> {
        // every set: one of the tester's own is used with the long lead too
        let nulls: Vec<usize> = [Leads::Own, Leads::Long]
            .into_iter()
            .filter_map(|leads| self.null_step(leads))
            .collect();
        if nulls.is_empty() {
            return Err("no leads have been measured".into());
        }
        // only the leads: what was measured through the old ones was judged with their own value
        nulls.into_iter().for_each(|null| self.void_one(null));
        Ok(())
    }

    pub(super) fn may_follow(&self, step: usize, wanted: impl Fn(&Then) -> bool) -> Result<(), String> {
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

    pub(super) fn find(&self, id: &str) -> Result<usize, String> {
        self.plan
            .index(id)
            .ok_or_else(|| format!("the plan has no step `{id}`"))
    }

    pub(super) fn decidable(&self, id: &str) -> Result<usize, String> {
        let step = self.find(id)?;
        match self.steps[step].status {
            Status::Open | Status::Left(_) => Ok(step),
            Status::Pending | Status::Passed => Err(format!("`{id}` waits for no decision")),
        }
    }

    pub(super) fn check_touched(&self, touched: &Touched) -> Result<(), String> {
        match touched {
            Touched::Cores(cores) => match cores.iter().find(|c| self.plan.job.core(c).is_none()) {
                Some(unknown) => Err(format!("the cable has no core `{unknown}`")),
                None => Ok(()),
            },
            Touched::Nothing | Touched::Everything => Ok(()),
        }
    }

    /// Whether what was done may be done here; then the hands have done it.
    fn admit(&mut self, id: &str, evidence: &Evidence) -> Result<usize, String> {
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
        let kind = &self.plan.steps[step].kind;
        let skips = *evidence == Evidence::Answer(Answer::NotNeeded);
        let may_skip = !self.is_needed(step) || matches!(kind, Kind::Note { reason: None, .. });
        if (skips && !may_skip) || (!skips && !self.is_needed(step)) {
            return Err(format!("`{id}` was done or left out against its condition"));
        }
        self.comes_in_any_order(step, skips)?;
        // a measurement whose time ran out with no reading in force is not tested
        let timed_out = matches!(evidence, Evidence::Answer(Answer::NotDone(_)))
            && matches!(kind, Kind::Measure(measure) if matches!(measure.timing, Timing::Within { .. }));
        let fits = skips || timed_out || matches!(evidence, Evidence::Reading(_)) == matches!(kind, Kind::Measure(_));
        if !fits {
            return Err(format!("what was recorded at `{id}` is not what the step asks for"));
        }
        // what is left out asks nothing of the place
        if !skips && self.to_arrange(step).is_some() {
            return Err(format!("`{id}` was done with links or joints that were not its own"));
        }
        if !matches!(evidence, Evidence::Answer(Answer::NotDone(_) | Answer::NotNeeded)) {
            for act in &self.plan.steps[step].acts {
                self.hands.act(act);
            }
        }
        if let (Kind::Measure(m), Evidence::Reading(_)) = (&self.plan.steps[step].kind, evidence)
            && matches!(m.used.function, Function::Insulation(_))
        {
            self.hands.charged = true;
        }
        Ok(step)
    }

    fn settle(&mut self, step: usize, outcome: Outcome) {
        self.any_order.forget_choice();
        self.clip_settled(step, outcome);
        // an earth that was seen lit was seen lit, whatever becomes of the indicator
        let is_indicator = |step: &Step| matches!(step.kind, Kind::Indicator { .. }) && !proves_earth(step);
        if outcome == Outcome::Pass {
            self.steps[step].status = Status::Passed;
            if self.stage_passed(Stage::Isolate) {
                self.hands.seen_live = false;
            }
            return;
        }
        // that nothing is there is what is looked for: nothing is decided about it
        self.steps[step].status = match self.plan.steps[step].any_order {
            Some(_) => Status::Left(AS_FOUND.into()),
            None => Status::Open,
        };
        if outcome == Outcome::Fail && is_indicator(&self.plan.steps[step]) {
            let lit = matches!(self.plan.steps[step].kind, Kind::Indicator { lit: true, .. });
            if lit {
                // an indicator that does not light afterwards proves nothing that it showed before, of parted neutrals wherever they stand
                let steps = &self.plan.steps;
                let showed = |i: &usize| is_indicator(&steps[*i]) && (*i < step || shows_parted(&steps[*i]));
                let void: Vec<usize> = (0..steps.len()).filter(|i| *i != step).filter(showed).collect();
                void.into_iter().for_each(|i| self.void_one(i));
            } else {
                self.hands.seen_live = true;
            }
        }
    }
}

/// Whether hands went on with the work.
fn works(event: &Event) -> bool {
    matches!(
        event,
        Event::Answered { .. } | Event::Taken { .. } | Event::Arranged { .. } | Event::LengthCorrected { .. }
    )
}

/// How a recorded verdict differs from the one that the evidence gives, in words; nothing where it does not.
fn difference(recorded: &Verdict, today: &Verdict) -> Option<String> {
    if recorded == today {
        return None;
    }
    let said = |verdict: &Verdict| format!("{} ({})", verdict.outcome.word(), verdict.because);
    if (recorded.outcome, &recorded.because) != (today.outcome, &today.because) {
        return Some(format!(
            "recorded as {}, judged again as {}",
            said(recorded),
            said(today)
        ));
    }
    let value = |verdict: &Verdict| verdict.value.as_ref().map(ToString::to_string);
    let members = [
        ("value", value(recorded), value(today)),
        ("mark", recorded.mark.clone(), today.mark.clone()),
        ("edge", recorded.edge.clone(), today.edge.clone()),
        ("risk", recorded.risk.clone(), today.risk.clone()),
    ];
    let or_none = |text: &Option<String>| {
        text.as_ref()
            .map_or_else(|| "none".to_owned(), |text| format!("`{text}`"))
    };
    let found = members.iter().find(|(_, theirs, ours)| theirs != ours);
    Some(match found {
        Some((name, theirs, ours)) => {
            format!(
                "its {name} is recorded as {}, judged again as {}",
                or_none(theirs),
                or_none(ours)
            )
        }
        None => "its value is recorded with other digits".into(),
    })
}
