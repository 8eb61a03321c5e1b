//! A typed reading that is likely a slip.
//!
//! The rule inside: it is written down as it was typed, then asked about; the question names what was typed and never what is expected.

use jiff::Timestamp;
use rust_decimal::Decimal;

use super::machine::{Asking, Engine};
use crate::plan::{Kind, Measure, Timing};
use crate::run::dialogue::{Ask, Choice, Prompt};
use crate::run::event::Event;
use crate::run::fold::Evidence;
use crate::value::quantity::Shown;
use crate::value::reading::Reading;
use crate::value::slip::{other_quantity, power_of_ten_away, prefix_slipped};

impl Engine {
    /// Whether a reading has a prefix that no display shows there, or is a power of ten away from every reading of its window.
    pub(super) fn is_doubtful(&self, step: usize, reading: &Reading) -> bool {
        let Kind::Measure(measure) = &self.run.plan.steps[step].kind else {
            return false;
        };
        let known = || self.known_of(step, measure);
        prefix_slipped(reading, measure.used.function)
            // what must come within a time is not held up by a question
            || (measure.timing == Timing::Any && value_of(reading).is_some_and(|value| power_of_ten_away(value, &known(), reading.unit)))
    }

    /// The readings that stand at other steps of the same window.
    fn known_of(&self, step: usize, measure: &Measure) -> Vec<Decimal> {
        let alike = |there: &usize| match &self.run.plan.steps[*there].kind {
            Kind::Measure(other) => {
                *there != step && other.used.function == measure.used.function && other.window == measure.window
            }
            _ => false,
        };
        let value = |there: usize| match &self.run.standing(there)?.evidence {
            Evidence::Reading(reading) => value_of(reading),
            Evidence::Answer(_) => None,
        };
        (0..self.run.steps.len()).filter(alike).filter_map(value).collect()
    }

    /// Writes a likely slip down, and asks about it then.
    pub(super) fn doubt(&mut self, step: usize, line: &str, reading: Option<Reading>) {
        let line = line.trim().to_owned();
        self.doubt = Some(Asking::Doubted(step, line.clone(), reading));
        let step = self.step_id(step);
        self.talk.give(Event::Doubted { step, line });
    }

    /// What was asked about a likely slip is answered: it is so, or something else stands there.
    pub(super) fn doubt_answered(
        &mut self,
        step: usize,
        (typed, reading): (String, Option<Reading>),
        line: &str,
        now: Timestamp,
    ) {
        let said = line.trim();
        match reading {
            Some(reading) if said.eq_ignore_ascii_case("yes") || said == typed => {
                let reading = self.sent_on_change(reading);
                if !self.is_not_yet(step, &Evidence::Reading(reading.clone()), now) {
                    let step = self.step_id(step);
                    self.talk.give(Event::Taken { step, reading });
                }
            }
            _ if said.eq_ignore_ascii_case("yes") || said == typed => {
                self.talk.notice("that cannot be read here: look at the dial and at the letters of the unit, and type what stands there");
            }
            _ => self.measure_line(step, line, now),
        }
    }

    /// The question about a likely slip.
    pub(super) fn doubt_prompt(&self, step: usize, line: &str, reading: Option<&Reading>) -> Prompt {
        let prompt = self.step_prompt(step);
        let Ask::Reading { function, .. } = prompt.ask else {
            return prompt;
        };
        let what = match other_quantity(line, function) {
            Some(unit) => format!("`{line}` is {}.", unit.quantity()),
            None => format!("`{line}` was typed."),
        };
        let mut asked = Prompt {
            step: prompt.step,
            place: prompt.place,
            stage: prompt.stage,
            say: format!(
                "{what} Look again at the digits, at the point and at each letter of the unit: what stands on the display?"
            ),
            ..Prompt::default()
        };
        asked.ask = Ask::Reading {
            function,
            from_meter: false,
        };
        asked.choices = reading
            .map(|_| Choice::new("yes", "when it stands there exactly so"))
            .into_iter()
            .collect();
        asked.free = Some("type what stands there".to_owned());
        asked
    }
}

/// The exact value in the plain unit; `None` for over-range.
fn value_of(reading: &Reading) -> Option<Decimal> {
    match &reading.shown {
        Shown::Digits(digits) => Some(digits.value() * reading.prefix.factor()),
        Shown::Above(_) | Shown::Over => None,
    }
}
