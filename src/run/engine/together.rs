//! Several steps that one answer may stand for.
//!
//! The rule inside: the prompt lists each of them and never says which answer is wanted; the same word is said for all, or each is asked
//! by itself.

use super::answer;
use super::machine::{Asking, Engine};
use crate::plan::Kind;
use crate::run::dialogue::{Prompt, Shared, is_word};
use crate::run::event::{Answer, Event};

/// What is said where one answer does not hold for all.
const NO: &str = "no";

impl Engine {
    pub(super) fn together_prompt(&self, steps: &[usize]) -> Prompt {
        let each: Vec<Prompt> = steps.iter().map(|step| self.step_prompt(*step)).collect();
        let mut prompt = each[0].clone();
        prompt.say = format!("One answer for these {}, where it is so for each:", steps.len());
        prompt.acts = each.iter().flat_map(|one| one.acts.clone()).collect();
        prompt.at_laptop = each.iter().any(|one| one.at_laptop);
        prompt.hands = each.iter().flat_map(|one| one.hands.clone()).collect();
        for caution in each.iter().flat_map(|one| &one.cautions) {
            if !prompt.cautions.contains(caution) {
                prompt.cautions.push(caution.clone());
            }
        }
        let stands = |other: &Prompt| other.stand == each[0].stand;
        prompt.stand = prompt.stand.filter(|_| each.iter().all(stands));
        for choice in prompt.choices.iter_mut().filter(|choice| choice.word == NO) {
            choice.means = "when it is not the same for each, or to be asked one by one".into();
        }
        prompt.free = prompt.free.map(|_| "one of these words, for all of them".into());
        prompt.together = each
            .into_iter()
            .map(|one| Shared {
                step: one.step,
                say: one.say,
                ask: one.ask,
            })
            .collect();
        prompt
    }

    pub(super) fn together_line(&mut self, steps: Vec<usize>, line: &str) {
        let line = line.trim();
        let said = match &self.run.plan.steps[steps[0]].kind {
            _ if line.eq_ignore_ascii_case(NO) => Some(Answer::NotDone("not the same for each".into())),
            Kind::Look(look) => answer::look(line, look).ok(),
            _ => is_word(line, "done").then_some(Answer::Done),
        };
        let Some(answer) = said else {
            let words: Vec<String> = self
                .prompt(&Asking::Together(steps))
                .choices
                .into_iter()
                .map(|choice| choice.word)
                .collect();
            return self
                .talk
                .notice(format!("`{line}` is none of `{}`", words.join("`, `")));
        };
        let steps = steps.into_iter().map(|step| self.step_id(step)).collect();
        self.talk.give(Event::AnsweredTogether { steps, answer });
    }
}
