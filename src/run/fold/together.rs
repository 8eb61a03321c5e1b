//! One answer for several steps.
//!
//! The rule inside: it stands for each of them only where it passes each of them; each then has its own answer and its own verdict in the
//! record, and what does not hold for all is asked step by step.

use jiff::Timestamp;

use super::run::{Evidence, Run, Status, Together};
use crate::judge::window::Outcome;
use crate::plan::Kind;
use crate::run::event::{Answer, Face};

impl Run {
    #[cfg(test)]
    pub(crate) fn by_hand(&self) -> &[(Timestamp, Vec<usize>)] {
        &self.by_hand
    }

    /// The steps from this one on that one answer may stand for now; none where it is asked by itself.
    pub fn together_from(&self, step: usize) -> Vec<usize> {
        let Some(group) = self.plan.steps[step].together else {
            return Vec::new();
        };
        let is_open =
            |i: &usize| self.steps[*i].status == Status::Pending && self.is_needed(*i) && !self.one_by_one.contains(i);
        let all: Vec<usize> = (step..self.steps.len())
            .take_while(|i| self.plan.steps[*i].together == Some(group))
            .filter(is_open)
            .collect();
        if 1 < all.len() && all[0] == step {
            all
        } else {
            Vec::new()
        }
    }

    /// What was said for several steps, where this one is among them and waits for its own answer.
    pub fn said_together(&self, step: usize) -> Option<&Answer> {
        let said = self.together.as_ref().filter(|said| said.steps.contains(&step))?;
        (self.steps[step].status == Status::Pending).then_some(&said.answer)
    }

    /// What was said for several steps is what is answered at each of them.
    pub(super) fn as_said_together(&self, id: &str, evidence: &Evidence) -> Result<(), String> {
        let said = self.plan.index(id).and_then(|step| self.said_together(step));
        match said.is_none_or(|said| *evidence == Evidence::Answer(said.clone())) {
            true => Ok(()),
            false => Err(format!(
                "`{id}` was answered otherwise than by the one answer for several steps"
            )),
        }
    }

    /// Whether this step's answer was given for several.
    pub(super) fn was_together(&self, step: usize) -> bool {
        self.together.as_ref().is_some_and(|said| said.steps.contains(&step))
    }

    pub(super) fn answered_together(&mut self, ids: &[String], answer: &Answer, at: Timestamp) -> Result<(), String> {
        let steps: Vec<usize> = ids.iter().map(|id| self.find(id)).collect::<Result<_, _>>()?;
        let first = steps.first().copied();
        let due = first.filter(|step| {
            let waits = self.undecided().is_some() || self.blocked_by(*step).is_some();
            self.cursor() == Some(*step) && !waits && self.to_arrange(*step).is_none()
        });
        if due.is_some_and(|step| self.said_together(step).is_some()) {
            return Err("one answer was given for these steps already".into());
        }
        if due.is_none_or(|step| self.together_from(step) != steps) {
            return Err("one answer was given for steps that are not answered together".into());
        }
        let fits = match (&self.plan.steps[steps[0]].kind, answer) {
            (_, Answer::NotDone(_)) | (Kind::Do, Answer::Done) | (Kind::Look(_), Answer::Found(_)) => true,
            (Kind::Look(look), Answer::Saw(said)) => said.iter().all(|word| look.words.contains(word)),
            _ => false,
        };
        if !fits {
            return Err("one answer was given for which these steps have no word".into());
        }
        let evidence = Evidence::Answer(answer.clone());
        let holds = (steps.iter()).all(|step| self.judged(*step, &evidence, at).outcome == Outcome::Pass);
        let names = ids.iter().map(|id| format!("`{id}`")).collect::<Vec<_>>().join(", ");
        let what = match holds {
            true => format!("`{}` was answered once, for {names}", answer.words()),
            false => format!(
                "`{}` was answered once, for {names}: each was asked by itself",
                answer.words()
            ),
        };
        self.told.push((at, ids[0].clone(), what));
        if holds {
            if self.face != Face::Pipe {
                self.by_hand.push((at, steps.clone()));
            }
            self.together = Some(Together {
                steps,
                answer: answer.clone(),
            });
        } else {
            self.one_by_one.extend(steps);
        }
        Ok(())
    }
}
