//! A voltage that is typed where dead is claimed, whatever is asked.
//!
//! The rule inside: what may be a voltage above extra-low voltage is recorded before anything else is; only where a line may mean
//! something else as well is the engineer asked, and never what the better answer is.

use jiff::Timestamp;

use super::answer;
use super::machine::{Asking, Engine};
use crate::plan::{Kind, Stage, Supply};
use crate::run::dialogue::{Ask, Choice, Prompt};
use crate::run::event::{Answer, Event};
use crate::value::quantity::Unit;
use crate::value::reading::{Function, Reading};
use crate::value::sighting::{bare, may_be_mains, mention, sighting};

impl Engine {
    /// The step at which dead is claimed now: isolation was proved in this run, and nothing was energised since.
    pub(super) fn dead_claimed(&self) -> Option<usize> {
        // after that nothing is recorded but the end
        if self.run.made_safe.is_some() || self.run.broken.is_some() {
            return None;
        }
        let step = self.run.cursor()?;
        let proved = self.run.stage_passed(Stage::Isolate) && self.run.hands.supply == Supply::SwitchedOff;
        (self.run.plan.steps[step].stage == Stage::Test || proved).then_some(step)
    }

    /// Takes in a line that says a voltage where dead is claimed; true where it is dealt with.
    pub(super) fn voltage_said(&mut self, asking: &Asking, line: &str) -> bool {
        if let Asking::SeenNow { .. } | Asking::VoltsOrMegohm { .. } = asking {
            return false;
        }
        let Some(step) = self.dead_claimed() else { return false };
        if self.is_free_text(asking, line) {
            return self.mentioned(asking, line);
        }
        let own = self.is_own_answer(asking, line);
        match sighting(line).filter(|_| !own) {
            Some(reading) if self.run.is_live(&reading) => {
                let step = self.step_id(step);
                self.talk.give(Event::LiveSeen { step, reading });
                true
            }
            Some(reading) if self.reads_ohms(asking) => {
                self.talk.notice(format!(
                    "`{}` is a voltage, though no more than extra-low: take your hands away, and read it again with a \
                     low-impedance meter before it is called coupled; then go on",
                    reading.display()
                ));
                true
            }
            _ => match asking {
                Asking::Step(step) | Asking::Doubted(step, ..) if self.is_insulation(*step) && may_be_mains(line) => {
                    self.ask(Asking::VoltsOrMegohm {
                        step: *step,
                        line: line.to_owned(),
                    });
                    true
                }
                _ => !own && self.mentioned(asking, line),
            },
        }
    }

    /// Asks whether a voltage that a text names is there now; false where it names none.
    fn mentioned(&mut self, asking: &Asking, line: &str) -> bool {
        let Some(reading) = mention(line).filter(|reading| self.run.is_live(reading)) else {
            return false;
        };
        let then = Box::new(asking.clone());
        self.ask(Asking::SeenNow {
            then,
            line: line.to_owned(),
            reading,
        });
        true
    }

    /// What was asked about a voltage is answered; true where this was such a question.
    pub(super) fn voltage_told(&mut self, asking: &Asking, said: &str, now: Timestamp) -> bool {
        let said = said.trim().to_lowercase();
        match asking {
            Asking::SeenNow { then, line, reading } => match said.as_str() {
                "yes" => self.live_seen(reading.clone()),
                "no" => {
                    self.asking = Some((**then).clone());
                    self.answered_to((**then).clone(), line, now);
                }
                _ => self.talk.notice("type `yes` where it is there now, or `no`"),
            },
            Asking::VoltsOrMegohm { step, line } => match said.as_str() {
                "volts" => self.live_seen(bare(line)),
                "megohm" => {
                    self.ask(Asking::Step(*step));
                    self.measure_line(*step, line, now);
                }
                _ => self.talk.notice("type `volts` or `megohm`, as the display says"),
            },
            _ => return false,
        }
        true
    }

    /// The question about a line that may say a voltage.
    pub(super) fn voltage_prompt(&self, asking: &Asking) -> Prompt {
        let everything = "a voltage stands there: everything is isolated again";
        let (step, say, choices) = match asking {
            Asking::VoltsOrMegohm { step, line } => (
                Some(*step),
                format!(
                    "HANDS AWAY. `{}` without its unit: does the display say volts, or megohm?",
                    line.trim()
                ),
                [
                    Choice::new("volts", everything),
                    Choice::new("megohm", "it is the reading of the insulation"),
                ],
            ),
            Asking::SeenNow { line, .. } => (
                None,
                format!("HANDS AWAY. `{}` names a voltage. Is that there now?", line.trim()),
                [
                    Choice::new("yes", everything),
                    Choice::new("no", "it is told of what was, or of another place"),
                ],
            ),
            _ => unreachable!("asked about a voltage"),
        };
        let prompt = Prompt {
            step: step.map_or_else(String::new, |step| self.step_id(step)),
            place: (step.map_or(0, |step| step + 1), self.run.plan.steps.len()),
            stage: self.dead_claimed().map(|step| self.run.plan.steps[step].stage),
            say,
            ..Prompt::default()
        };
        Prompt {
            choices: choices.to_vec(),
            ..prompt.asking(Ask::Told)
        }
    }

    fn live_seen(&mut self, reading: Reading) {
        match self.dead_claimed() {
            Some(step) => {
                let step = self.step_id(step);
                self.talk.give(Event::LiveSeen { step, reading });
            }
            None => self.go_on(),
        }
    }

    /// Whether the line answers in words of its own.
    fn is_free_text(&self, asking: &Asking, line: &str) -> bool {
        match asking {
            Asking::Beside(_)
            | Asking::WhyNotDone(_)
            | Asking::RepairWhat(_)
            | Asking::WhyLeft(_)
            | Asking::WhyLength(_)
            | Asking::WhyAbandon => true,
            Asking::Step(step) => match &self.run.plan.steps[*step].kind {
                Kind::Note { .. } => true,
                Kind::Look(look) => matches!(answer::look(line, look), Ok(Answer::Found(_))),
                _ => false,
            },
            _ => false,
        }
    }

    /// Whether the line is one of the answers that the question itself names.
    fn is_own_answer(&self, asking: &Asking, line: &str) -> bool {
        let Asking::Step(step) = asking else { return false };
        match &self.run.plan.steps[*step].kind {
            Kind::Indicator { .. } => answer::indicator(line).is_some(),
            Kind::Look(look) => answer::look(line, look).is_ok(),
            Kind::Connect { .. } => answer::purpose(line).is_some(),
            _ => false,
        }
    }

    fn reads_ohms(&self, asking: &Asking) -> bool {
        let (Asking::Step(step) | Asking::Doubted(step, ..)) = asking else {
            return false;
        };
        matches!(&self.run.plan.steps[*step].kind, Kind::Measure(measure) if measure.used.function.unit() == Unit::Ohm)
    }

    fn is_insulation(&self, step: usize) -> bool {
        matches!(&self.run.plan.steps[step].kind, Kind::Measure(measure)
            if matches!(measure.used.function, Function::Insulation(_)))
    }
}
