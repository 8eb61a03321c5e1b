//! The last answer taken back, and a point that was answered dark and was lit.
//!
//! The rule inside: nothing gets better by being taken back. What passed is done again; what did not pass stays, with a remark beside
//! it. What hands may have done counts as done or not done, whichever is the more dangerous.

use jiff::Timestamp;

use super::last::Last;
use super::run::{Attempt, Evidence, Run, Status};
use crate::plan::{Hands, Kind, Stage, Supply, is_join, looks_as_found, shows_dark};
use crate::run::event::{Answer, Event, Face, Touched};

/// What taking the last answer back comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Back {
    /// It is done again.
    Again(usize),
    /// It stays, with a remark beside it.
    Beside(usize),
}

impl Run {
    /// What taking the last answer back would come to; `None` where nothing was answered since something else happened.
    pub fn back(&self) -> Option<Back> {
        match self.last.as_ref()? {
            Last::Done(step, _) => match self.steps[*step].status {
                Status::Passed => Some(Back::Again(*step)),
                Status::Open | Status::Left(_) => Some(Back::Beside(*step)),
                Status::Pending => None,
            },
            Last::Seen(step) => Some(Back::Beside(*step)),
            Last::Arranged(step) | Last::Left(step) | Last::Isolated(step, _) | Last::Touched(step) => {
                Some(Back::Again(*step))
            }
        }
    }

    /// The step at which a point was answered dark last, of all that show one.
    pub fn last_dark(&self) -> Option<usize> {
        let dark = (0..self.steps.len()).filter_map(|step| Some((self.dark_answer(step)?.at, step)));
        dark.max().map(|(_, step)| step)
    }

    /// The last attempt at a step that shows a point dark, where that was answered.
    pub fn dark_answer(&self, step: usize) -> Option<&Attempt> {
        let said = |attempt: &&Attempt| attempt.evidence == Evidence::Answer(Answer::Dark);
        let last = self.steps[step].attempts.last().filter(said);
        last.filter(|_| shows_dark(&self.plan.steps[step]))
    }

    /// An event came: what can be taken back next, and whether a frame still holds the run.
    pub(super) fn come(&mut self, event: &Event) {
        let is_of_answer = matches!(
            event,
            Event::Answered { .. } | Event::AnsweredTogether { .. } | Event::Judged { .. }
        );
        if !is_of_answer {
            self.together = None;
        }
        if !matches!(event, Event::FrameDoubted { .. } | Event::FrameCleared { .. }) {
            self.held = None;
        }
        let at = |id: &str| self.plan.index(id);
        self.last = match event {
            // these wait for their verdict, or leave the answer before them the last
            Event::Answered { .. }
            | Event::Taken { .. }
            | Event::Judged { .. }
            | Event::Remarked { .. }
            | Event::Chosen { .. } => return,
            Event::Arranged { step, .. } => at(step).map(Last::Arranged),
            Event::Left { step, .. } => at(step).map(Last::Left),
            Event::RepairBegins { step, .. } => {
                let noted = |step: &usize| self.repairing.contains(step) && looks_as_found(&self.plan.steps[*step]);
                at(step).filter(noted).map(Last::Left)
            }
            Event::Isolated { step, act, .. } if self.isolating.is_some() => {
                at(step).map(|step| Last::Isolated(step, *act))
            }
            Event::LiveSeen { step, .. } => at(step).map(Last::Seen),
            Event::Repaired { step, .. } => at(step).map(Last::Touched),
            Event::Resumed { .. } => self.cursor().map(Last::Touched),
            _ => None,
        };
    }

    /// A verdict was given: this answer can be taken back from now on. What the run answers by itself is not anybody's.
    pub(super) fn may_be_taken_back(
        &mut self,
        (step, at): (usize, Timestamp),
        evidence: &Evidence,
        before: Option<Box<Hands>>,
    ) {
        let by_itself = self.plan.steps[step].kind == Kind::Gate
            || (*evidence == Evidence::Answer(Answer::NotNeeded) && !self.is_needed(step));
        if !by_itself {
            if self.face != Face::Pipe && !self.was_together(step) {
                self.by_hand.push((at, vec![step]));
            }
            self.last = before.map(|before| Last::Done(step, before));
        }
    }

    pub(super) fn taken_back(&mut self, id: &str, at: Timestamp) -> Result<(), String> {
        let step = self.find(id)?;
        if self.back() != Some(Back::Again(step)) {
            return Err(format!(
                "`{id}` was taken back where it was not the last answer, or had not passed"
            ));
        }
        self.any_order.forget_choice();
        let last = self.last.take().expect("there is one to take back");
        let what = match last {
            Last::Done(step, before) => {
                let said = self.standing(step).map_or_else(String::new, said);
                self.hands = perhaps(&before, &self.hands);
                self.clip_read &= !is_join(&self.plan.steps[step]);
                let mut set = self.repeated_with(step);
                // what one answer stood for goes back with it
                let others = self.together.take().filter(|said| said.steps.contains(&step));
                set.extend(others.into_iter().flat_map(|said| said.steps));
                set.extend((step + 1..self.steps.len()).filter(|&i| self.plan.steps[i].kind == Kind::Gate));
                self.make_void(set);
                format!("`{said}` was taken back and is done again")
            }
            Last::Arranged(_) => {
                self.hands.set_up = None;
                "that links and joints were so was taken back".to_owned()
            }
            Last::Left(step) => {
                self.steps[step].status = Status::Open;
                match self.noted_no_more(step) {
                    true => "that it is noted to be repaired was taken back".to_owned(),
                    false => "that it is left was taken back".to_owned(),
                }
            }
            Last::Isolated(_, act) => {
                if let Some(further) = &mut self.isolating {
                    further.next = act;
                }
                "an act of isolating the further supply was taken back".to_owned()
            }
            Last::Seen(_) => unreachable!("it gets a remark"),
            Last::Touched(_) => {
                let set = self.touched_steps(&Touched::Everything);
                self.make_void(set);
                "what was touched was taken back: anything may have been touched".to_owned()
            }
        };
        self.told.push((at, id.to_owned(), what));
        Ok(())
    }

    /// A remark beside an answer that stays as it is.
    pub(super) fn remarked(&mut self, id: &str, text: &str, at: Timestamp) -> Result<(), String> {
        let step = self.find(id)?;
        if self.back() != Some(Back::Beside(step)) {
            return Err(format!(
                "a remark beside `{id}`, which was not the last answer, or had passed"
            ));
        }
        let stays = match (&self.last, self.standing(step)) {
            (Some(Last::Done(..)), Some(attempt)) => format!("`{}`", said(attempt)),
            _ => "the voltage that was seen".to_owned(),
        };
        let what = format!("said beside {stays}, which stays: {text}");
        self.told.push((at, id.to_owned(), what));
        Ok(())
    }

    /// A line that was likely a slip: it is told as it was typed.
    pub(super) fn doubted(&mut self, id: &str, line: &str, at: Timestamp) -> Result<(), String> {
        let step = self.find(id)?;
        if self.cursor() != Some(step) || !matches!(self.plan.steps[step].kind, Kind::Measure(_)) {
            return Err(format!("a reading was doubted at `{id}`, where none is taken"));
        }
        self.told
            .push((at, id.to_owned(), format!("`{line}` was typed, and asked about")));
        Ok(())
    }

    /// A point that was answered dark was lit: isolation is void, and the point is judged as lit.
    pub(super) fn was_lit(&mut self, id: &str, at: Timestamp) -> Result<(), String> {
        let step = self.find(id)?;
        if self.dark_answer(step).is_none() {
            return Err(format!("`{id}` was said to have been lit, and was not answered dark"));
        }
        let what = "answered dark, and said later to have been lit; isolation was to be proved again".to_owned();
        self.told.push((at, id.to_owned(), what));
        let mut set = self.repeated_with(step);
        set.extend(self.stage_steps(Stage::Isolate));
        self.make_void(set);
        self.before = Some(Box::new(self.hands.clone()));
        self.pending = Some((step, Evidence::Answer(Answer::Lit), at));
        Ok(())
    }
}

/// What was answered or read, in a word.
fn said(attempt: &Attempt) -> String {
    match &attempt.evidence {
        Evidence::Reading(reading) => reading.display(),
        Evidence::Answer(answer) => answer.words(),
    }
}

/// The place where a step was done or was not, nobody knows.
fn perhaps(before: &Hands, after: &Hands) -> Hands {
    let both = |one: &Hands| one.in_terminals.iter().cloned().collect::<Vec<_>>();
    Hands {
        // what was perhaps not switched off is on, and what was perhaps switched is no more as it was found
        supply: if before.supply == after.supply {
            after.supply
        } else {
            Supply::SwitchedOn
        },
        set_up: after.set_up.clone().filter(|_| before.set_up == after.set_up),
        in_terminals: both(before).into_iter().chain(both(after)).collect(),
        leads_off: before.leads_off.union(&after.leads_off).cloned().collect(),
        charged: before.charged || after.charged,
        seen_live: before.seen_live || after.seen_live,
    }
}
