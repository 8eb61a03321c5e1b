//! Words that were asked for.
//!
//! The rule inside: whoever is asked why, or what was found, gives at least one word in one line; a record in which there is none was put
//! together by hand. What the words say is the engineer's alone.

use crate::plan::Kind;
use crate::run::event::{Answer, Ending, Event, Photograph};

use super::run::Run;

/// Most characters of one such line.
pub const WORDS_CHARS_MAX: usize = 500;

impl Run {
    /// Whether the words in an event are such as are asked for.
    pub(super) fn is_worded(&self, event: &Event) -> Result<(), String> {
        let words = match event {
            Event::Answered { answer, .. } | Event::AnsweredTogether { answer, .. } => match answer {
                Answer::NotDone(words) | Answer::Found(words) | Answer::Note { text: words, .. } => Some(words),
                _ => None,
            },
            Event::Remarked { text: words, .. }
            | Event::Isolated { supply: words, .. }
            | Event::Repaired { what: words, .. }
            | Event::Left { reason: words, .. }
            | Event::MadeSafe { what: words }
            | Event::LengthCorrected {
                because: Some(words), ..
            } => Some(words),
            // why a run cannot go on is told by the program, at any length in older records
            Event::Closed {
                ending: Ending::Abandoned(words),
            } if self.broken.is_none() => Some(words),
            _ => None,
        };
        if words.is_some_and(|words| !is_a_line(words)) {
            return Err("where one line of words is asked for there is none, or more than one".into());
        }
        self.binds_in(event)
    }

    /// A photograph is bound in only where one is asked for, by its name alone and its hash.
    fn binds_in(&self, event: &Event) -> Result<(), String> {
        let (step, there, may_be) = match event {
            Event::Answered {
                step,
                answer:
                    Answer::Note {
                        photograph: Some(there),
                        ..
                    },
            } => {
                let kind = self.plan.index(step).map(|step| &self.plan.steps[step].kind);
                (step, there, matches!(kind, Some(Kind::Note { photograph: true, .. })))
            }
            // whether something was found there by eye is asked where that is noted
            Event::RepairBegins {
                step,
                photograph: Some(there),
            } => (step, there, true),
            _ => return Ok(()),
        };
        match may_be && is_a_photograph(there) {
            true => Ok(()),
            false => Err(format!(
                "`{step}` binds in a photograph that could not be bound in there"
            )),
        }
    }
}

fn is_a_line(words: &str) -> bool {
    !words.trim().is_empty() && !words.contains(char::is_control) && words.chars().count() <= WORDS_CHARS_MAX
}

fn is_a_photograph(there: &Photograph) -> bool {
    let is_digest = there.sha256.len() == 64 && there.sha256.bytes().all(|c| matches!(c, b'0'..=b'9' | b'a'..=b'f'));
    is_digest && !there.file.is_empty() && !there.file.contains('/')
}
