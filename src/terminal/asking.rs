//! The questions of an identification on a writer.
//!
//! The rule inside: what every walk shows looks the same here; only the questions are its own.

use std::io::Write;

use super::plain::Plain;
use crate::identify::identifying::Show;
use crate::run::people::Engineer;

/// Questions on a writer.
#[derive(Debug)]
pub struct Asking<W: Write> {
    plain: Plain<W>,
}

impl<W: Write> Asking<W> {
    /// Questions where everything else of a walk is shown.
    pub fn new(plain: Plain<W>) -> Asking<W> {
        Asking { plain }
    }
}

impl<W: Write> Engineer<Show> for Asking<W> {
    fn show(&mut self, show: &Show) {
        match show {
            Show::Question(prompt) => {
                self.plain.line("");
                self.plain.line(&prompt.heading);
                for act in &prompt.acts {
                    self.plain.field("do", act);
                }
                self.plain.field("ask", &prompt.ask);
                self.plain.field("answer", &prompt.answers);
                self.plain.marker();
            }
            Show::Refused { what, next } => {
                self.plain.field("note", what);
                if let Some(next) = next {
                    self.plain.field("next", next);
                }
                self.plain.marker();
            }
            Show::Fault(text) => {
                self.plain.field("FAULT", text);
                self.plain.tone(3);
            }
            Show::Common(show) => self.plain.show(show),
        }
    }
}
