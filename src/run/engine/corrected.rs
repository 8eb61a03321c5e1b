//! `back` and `was lit`: what was said and is not so.
//!
//! The rule inside: both are heard at any question but where a voltage is asked about, and neither makes anything better: what passed
//! is done again, what did not pass gets a remark, and a point that was lit voids isolation.

use super::answer;
use super::machine::{Asking, Engine};
use crate::plan::Kind;
use crate::run::event::Event;
use crate::run::fold::Back;

/// Takes the last answer back.
const BACK: &str = "back";
/// A point that was answered dark was lit.
const WAS_LIT: &str = "was lit";

impl Engine {
    /// Takes in a line that corrects what was said before; true where it is one.
    pub(super) fn corrected(&mut self, asking: &Asking, line: &str) -> bool {
        let said = line.trim().to_lowercase();
        if let Asking::SeenNow { .. } | Asking::VoltsOrMegohm { .. } = asking {
            return false;
        }
        if said == WAS_LIT || said.strip_prefix(WAS_LIT).is_some_and(|rest| rest.starts_with(' ')) {
            self.was_lit(said[WAS_LIT.len()..].trim());
            return true;
        }
        let is_own = match asking {
            Asking::Step(step) => match &self.run.plan.steps[*step].kind {
                Kind::Look(look) => answer::look(line, look).is_ok(),
                _ => false,
            },
            _ => false,
        };
        if said != BACK || is_own {
            return false;
        }
        if asking.can_go_back() {
            self.go_on();
        } else {
            self.take_back();
        }
        true
    }

    fn take_back(&mut self) {
        // nothing but the end follows
        let ends = self.run.broken.is_some() || self.run.made_safe.is_some();
        match self.run.back().filter(|_| !ends) {
            Some(Back::Again(step)) => {
                let step = self.step_id(step);
                self.talk.give(Event::TakenBack { step });
            }
            Some(Back::Beside(step)) => self.ask(Asking::Beside(step)),
            None => self.talk.notice(
                "there is no answer to take back since the last thing that happened; a point that was lit is told with `was lit`",
            ),
        }
    }

    /// A point that was answered dark was lit: the last, or the one that is named.
    fn was_lit(&mut self, named: &str) {
        if self.run.broken.is_some() || self.run.made_safe.is_some() {
            return self
                .talk
                .notice("keep your hands away; nothing is taken as proved dead any more");
        }
        let of_name = self
            .run
            .plan
            .steps
            .iter()
            .position(|step| step.id.to_lowercase() == named);
        let known = of_name.filter(|&step| self.run.dark_answer(step).is_some());
        let Some(step) = known.or_else(|| self.run.last_dark()) else {
            return self.talk.notice(
                "no point was answered dark; keep your hands away, and where a voltage is there now, type it or `live`",
            );
        };
        let id = self.step_id(step);
        if known.is_none() && !named.is_empty() {
            self.talk.notice(format!(
                "no point was answered dark at `{named}`: recorded at the last one, `{id}`"
            ));
        }
        self.talk.give(Event::WasLit { step: id });
    }
}
