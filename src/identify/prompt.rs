//! The questions of an identification as prompts.
//!
//! The rule inside: every question is one and the same shape: where it stands, what to do first, what is asked, what may be chosen
//! and what may be typed.

use crate::run::dialogue::{Ask, Choice, Prompt};

/// One question.
pub(super) fn question(
    heading: impl Into<String>,
    todo: Vec<String>,
    say: impl Into<String>,
    choices: Vec<Choice>,
    free: Option<String>,
) -> Prompt {
    Prompt {
        heading: heading.into(),
        todo,
        say: say.into(),
        ask: Ask::Told,
        choices,
        free,
        ..Prompt::default()
    }
}

/// The last answer is taken back.
pub(super) fn back() -> Choice {
    Choice::new("back", "to take the last answer back")
}

/// The cable was proved dead.
pub(super) fn proved_dead() -> Choice {
    Choice::new("dead", "when it is")
}
