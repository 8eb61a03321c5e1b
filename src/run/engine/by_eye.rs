//! A fault that eyes found before anything was switched: noted with its picture, repaired once dead is proved, looked at again.
//!
//! The rule inside: the question of what was repaired comes only where dead is proved, and says where that is.

use super::machine::{Asking, Engine};
use crate::job::End;
use crate::plan::{Stage, Stand, Supply, Then, done_as_found, may_follow};
use crate::run::dialogue::{Choice, Prompt};
use crate::run::fold::Circuit;

/// Said where something is found wrong and everything is as somebody else left it.
const TOUCH_NOTHING: &str = "Nothing is touched and no cover opened before everything is proved dead. Bare copper, heat marks or a cover that is \
                             off: keep everybody away; where even a probe is too near, `abandon` and have it isolated first.";

/// What noting it means.
const NOTES: &str = "to note it: it is repaired once it is proved dead, then looked at again";

impl Engine {
    /// Whether what was found by eye at a step can be noted now.
    pub(super) fn can_be_noted(&self, step: usize) -> bool {
        self.run.can_be_noted(step)
    }

    /// Whether what was found by eye may be left as it was found.
    pub(super) fn may_stay_as_found(&self, step: usize) -> bool {
        let here = &self.run.plan.steps[step];
        done_as_found(here) && may_follow(here, &Then::Leave)
    }

    /// The stage that a step is done in now, and its caution: what is looked at again stands where everything was proved dead.
    pub(super) fn stage_now(&self, step: usize) -> (Stage, &'static str) {
        let stage = self.run.plan.steps[step].stage;
        match self.run.looks_again(step) {
            true => (Stage::Isolate, Stage::Disconnect.caution_short()),
            false => (stage, stage.caution_short()),
        }
    }

    /// What was repaired, asked with what was found and where dead is proved.
    pub(super) fn repair_words(&self, step: usize) -> String {
        let id = self.step_id(step);
        match self
            .run
            .found_by_eye(&id)
            .filter(|_| done_as_found(&self.run.plan.steps[step]))
        {
            Some(found) => {
                let place = self.dead_at(step);
                format!("`{id}`, as found: {}. {place} What was repaired?", found.what)
            }
            None => "What was repaired?".to_owned(),
        }
    }

    /// What a question about something found by eye adds: the way on, the picture, the cautions.
    pub(super) fn by_eye_prompt(&self, asking: &Asking, mut prompt: Prompt) -> Prompt {
        match asking {
            Asking::Decision(step) | Asking::Blocked { by: step } if self.can_be_noted(*step) => {
                prompt.choices.retain(|choice| choice.word != "repair");
                if let Asking::Blocked { .. } = asking {
                    prompt.choices.retain(|choice| choice.word != "again");
                }
                prompt.choices.insert(0, Choice::new("repair", NOTES));
                prompt.free = Some("`photograph FILE` first binds a picture of it in by its hash".into());
                prompt.photograph = true;
                if self.run.hands.supply == Supply::AsFound {
                    prompt.cautions.push(TOUCH_NOTHING.into());
                }
            }
            Asking::RepairWhat(step) if done_as_found(&self.run.plan.steps[*step]) => {
                let here = &self.run.plan.steps[*step];
                prompt.stand = self.stand(here);
                prompt.stage = Some(Stage::Isolate);
                prompt.cautions.push(Stage::Disconnect.caution().into());
                prompt
                    .cautions
                    .push("No neutral comes off here: parted neutrals are proved dead later.".into());
                if self.run.hands.charged {
                    prompt
                        .cautions
                        .push("A test has charged the cores: let the tester discharge every core first.".into());
                }
                if self.may_stay_as_found(*step) {
                    let leave = Choice::new(
                        "leave",
                        "when it is not repaired: it stays as it was found, with a reason",
                    );
                    prompt.choices.insert(0, leave);
                }
            }
            _ => {}
        }
        prompt
    }

    /// Where everything is proved dead, as far as hands at what a step found may go; after a repair it was, as every prompt then says.
    fn dead_at(&self, step: usize) -> String {
        let job = &self.run.plan.job;
        let (ends, places, limit) = match self.run.plan.steps[step].at {
            Some(end) => (vec![end], format!("at the {}", job.end(end).name), ""),
            None => (
                End::BOTH.to_vec(),
                format!("at the {} and at the {}", job.near.name, job.far.name),
                ", and nowhere else: in any other place nothing is opened, and what needs that is left",
            ),
        };
        let positions: Vec<_> = ends.into_iter().map(Stand::at).collect();
        match self.run.circuit(&positions, None) {
            Circuit::ProvedDead { .. } => format!("Dead is proved {places}{limit}."),
            _ => format!(
                "Dead was proved {places}{limit}; something was repaired since: show it dark once more before hands go in."
            ),
        }
    }
}
