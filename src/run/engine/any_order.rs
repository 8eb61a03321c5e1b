//! Readings that are taken in any order and number, asked for one by one.
//!
//! The rule inside: what comes next is chosen and written down before it is asked for; another may be named, or none.

use super::answer;
use super::choosing::{Choosing, Chosen};
use super::machine::{Asking, Engine};
use crate::run::dialogue::{Ask, Choice, Prompt};
use crate::run::event::{ChosenBy, Event};
use crate::run::fold::IN_PLACE;

/// Typed to choose another reading of the set.
const OTHER: &str = "other";
/// Typed where no more is to be read.
const ENOUGH: &str = "enough";

impl Engine {
    /// The same engine, with this choice of what is read next.
    pub fn choosing(mut self, choosing: Box<dyn Choosing>) -> Engine {
        self.choosing = choosing;
        self
    }

    /// The choice of the next reading of a set, written down before it is asked for.
    pub(super) fn choose_next(&mut self, set: usize) {
        let unread = self.run.unread(set);
        let Chosen { step, because, left } = self.choosing.choose(&self.run, &unread);
        self.left = left;
        let step = self.step_id(step);
        self.talk.give(Event::Chosen {
            step,
            by: ChosenBy::Program,
            because,
        });
    }

    /// What a prompt for one of such readings says beside it.
    pub(super) fn any_order_prompt(&self, step: usize, mut prompt: Prompt) -> Prompt {
        if let Some(why) = self.run.why_chosen(step) {
            prompt.say = format!("{} ({why}.)", prompt.say);
            prompt
                .choices
                .push(Choice::new(OTHER, "to read another of these first"));
            prompt
                .choices
                .push(Choice::new(ENOUGH, format!("to read no more of these; {}", self.left)));
        }
        prompt
    }

    /// Which of the set is read next.
    pub(super) fn other_prompt(&self, step: usize) -> Prompt {
        let choices = self.others(step).into_iter().enumerate().map(|(i, other)| {
            let planned = &self.run.plan.steps[other];
            let read = self
                .run
                .standing(other)
                .map_or("", |_| ", read already: it is read again");
            Choice::new((i + 1).to_string(), format!("`{}`{read}", planned.id))
        });
        let prompt = Prompt {
            say: "Which is read next?".into(),
            ..self.step_prompt(step)
        };
        Prompt {
            choices: choices.collect(),
            free: Some("its number, or its name".into()),
            ..prompt.asking(Ask::Told)
        }
    }

    /// Every reading of the set of this one, in the order of the sequence.
    fn others(&self, step: usize) -> Vec<usize> {
        let set = self.run.plan.steps[step].any_order;
        set.map_or_else(Vec::new, |set| self.run.in_any_order(set))
    }

    /// The other reading that was named.
    pub(super) fn other_line(&mut self, step: usize, line: &str) {
        let others = self.others(step);
        let said = line.trim();
        let by_number = said
            .parse::<usize>()
            .ok()
            .and_then(|number| others.get(number.checked_sub(1)?));
        let by_name = others.iter().find(|other| self.run.plan.steps[**other].id == said);
        match by_number.or(by_name).copied() {
            Some(same) if same == step => self.ask(Asking::Step(step)),
            Some(other) => self.talk.give(Event::Chosen {
                step: self.step_id(other),
                by: ChosenBy::Engineer,
                because: IN_PLACE.into(),
            }),
            None => self
                .talk
                .notice(format!("`{said}` is none of these; type its number or its name")),
        }
    }

    /// A word that is said of the set in place of a reading; whether it was one.
    pub(super) fn said_of_set(&mut self, step: usize, line: &str) -> bool {
        let is_chosen = self.run.why_chosen(step).is_some();
        let word = answer::text(line).map(|word| word.to_lowercase());
        match word.as_deref().filter(|_| is_chosen) {
            Some(OTHER) => self.ask(Asking::Other(step)),
            Some(ENOUGH) => {
                let set = self.run.plan.steps[step].any_order;
                let unread = set.map_or_else(Vec::new, |set| self.run.unread(set));
                // what was read may have been put aside to be read again since the last choice
                let because = self.choosing.choose(&self.run, &unread).left;
                let step = self.step_id(step);
                self.talk.give(Event::Enough { step, because });
            }
            _ => return false,
        }
        true
    }
}
