//! `length`: the length of the cable, corrected while it is walked.
//!
//! The rule inside: it is heard where hands wait at the laptop and no text of the engineer's own is asked; what cannot be corrected is said
//! before a reason is asked, and a plan that is not walked with the new length is not taken.

use super::answer;
use super::machine::{Asking, Engine};
use crate::job::LengthError;
use crate::plan::Kind;
use crate::run::dialogue::{Choice, Prompt};
use crate::run::event::Event;
use crate::run::fold::Uncorrected;
use crate::sequence;
use crate::value::quantity::Amount;

/// Corrects the length of the cable.
pub(super) const LENGTH: &str = "length";

impl Engine {
    /// Takes in a line that corrects the length; true where it is one.
    pub(super) fn length_said(&mut self, asking: &Asking, line: &str) -> bool {
        let Some(said) = said_of_length(line).filter(|_| self.hears_length(asking, line)) else {
            return false;
        };
        if said.is_empty() {
            match self.run.may_correct_length() {
                Ok(()) => self.ask(Asking::NewLength),
                Err(why) => self.talk.notice(why.to_string()),
            }
        } else {
            self.new_length(said);
        }
        true
    }

    /// The new length, with the reason behind it where there is one.
    pub(super) fn new_length(&mut self, said: &str) {
        let (metres, because) = length_and_reason(said);
        match metres {
            Ok(length) => self.correct_length(length, because.and_then(answer::text)),
            Err(why) => self.talk.notice(why),
        }
    }

    /// Corrects the length, or asks why where a reason is wanted and not given.
    pub(super) fn correct_length(&mut self, length: Amount, because: Option<String>) {
        match self.run.with_length(&length, because.as_deref()) {
            Ok(plan) => match sequence::problems(&plan).into_iter().next() {
                Some(first) => self.talk.notice(format!(
                    "the sequence is not walked with a length of {length}: {}",
                    first.problem.what
                )),
                None => self.talk.give(Event::LengthCorrected { length, because }),
            },
            Err(Uncorrected::Length(LengthError::WithoutReason(_))) => self.ask(Asking::WhyLength(length)),
            Err(why) => self.talk.notice(why.to_string()),
        }
    }

    /// The question how long the cable is.
    pub(super) fn new_length_words(&self) -> String {
        let stated = self.length_in_words();
        format!(
            "The length of the cable is {stated}. How long is it, measured along its run? Type it in metres, for example `14 m`."
        )
    }

    /// Says what length is in force, and that what was read against another is judged again.
    pub(super) fn tell_length(&mut self) {
        let length = self.length_in_words();
        let again = match self.run.due() {
            Some(_) => "; what was judged by the length before is judged again",
            None => "",
        };
        self.talk.notice(format!("the length of the cable is {length}{again}"));
    }

    fn length_in_words(&self) -> String {
        let length = self.run.plan.job.length.as_ref();
        length.map_or_else(String::new, ToString::to_string)
    }

    /// Whether the word means the length here, and no answer of the question's own.
    fn hears_length(&self, asking: &Asking, line: &str) -> bool {
        match asking {
            Asking::Step(step) => match &self.run.plan.steps[*step].kind {
                Kind::Note { .. } => false,
                Kind::Look(look) => answer::look(line, look).is_err(),
                _ => true,
            },
            Asking::Together(_)
            | Asking::Other(_)
            | Asking::Arrange(_)
            | Asking::Decision(_)
            | Asking::Doubted(..)
            | Asking::Blocked { .. } => true,
            // the reason that is asked for is no other length
            Asking::WhyLength(_) => said_of_length(line).is_some_and(|said| length_and_reason(said).0.is_ok()),
            _ => false,
        }
    }

    /// Offers the word after a reading of copper that did not pass, where the length may be corrected.
    pub(super) fn offering_length(&self, step: usize, mut prompt: Prompt) -> Prompt {
        let reads_copper = match &self.run.plan.steps[step].kind {
            Kind::Measure(measure) => measure.is_of_core(),
            _ => false,
        };
        if reads_copper && self.run.may_correct_length().is_ok() {
            let choice = Choice::new(LENGTH, "where the cable is longer or shorter than was stated");
            prompt.choices.insert(prompt.choices.len().saturating_sub(1), choice);
        }
        prompt
    }
}

/// What stands behind the word, where a line begins with it.
fn said_of_length(line: &str) -> Option<&str> {
    let line = line.trim();
    let (word, rest) = line.split_at_checked(LENGTH.len())?;
    let is_whole = rest.is_empty() || rest.starts_with(char::is_whitespace);
    (is_whole && word.eq_ignore_ascii_case(LENGTH)).then(|| rest.trim())
}

/// A length, and the reason behind it where there is one.
fn length_and_reason(said: &str) -> (Result<Amount, String>, Option<&str>) {
    let (metres, because) = said
        .split_once(" because ")
        .map_or((said, None), |(metres, why)| (metres, Some(why)));
    (Amount::parse(metres.trim()), because)
}
