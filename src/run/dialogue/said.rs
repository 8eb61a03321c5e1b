//! What the engineer says, by whichever face: a line that was typed, or a choice by its word, and the prompt that it answers.
//!
//! The rule inside: a line is kept as it was typed until it comes to the one door ([`super::Dialogue::handle_answer`]); one that is too
//! long is never cut.

use crate::run::event::Face;

/// The longest line that is taken, in bytes.
pub const LINE_BYTES_MAX: usize = 4096;

/// What was said.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum What {
    /// A line, or the word of a choice.
    Line(String),
    /// A line of more than [`LINE_BYTES_MAX`] bytes, which was not kept.
    TooLong,
}

/// Which prompt is answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum To {
    /// The one that is asked when the answer comes.
    Now,
    /// The one of this number, which was on the screen when the line was ended.
    OnScreen(u64),
    /// The one whose number the line begins with, as `12: dark` does; without one, that which is asked when the answer comes.
    Named,
}

/// An answer as it comes in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Said {
    /// Which prompt it answers.
    pub to: To,
    /// What was said.
    pub what: What,
    /// The face it was said to, where that is told apart.
    pub face: Option<Face>,
}

impl Said {
    /// A line as it was read.
    pub fn line(to: To, line: &str) -> Said {
        let what = if LINE_BYTES_MAX < line.len() {
            What::TooLong
        } else {
            What::Line(line.to_owned())
        };
        Said { to, what, face: None }
    }

    /// The same by this face.
    pub fn by(self, face: Face) -> Said {
        Said {
            face: Some(face),
            ..self
        }
    }

    /// The line as it was typed, where no prompt is answered, such as a passphrase; none where it was too long.
    pub fn into_line(self) -> Option<String> {
        match self.what {
            What::Line(line) => Some(line),
            What::TooLong => None,
        }
    }
}

/// The number of the prompt that a line names, and the rest of it.
///
/// ```
/// use coreproof::run::dialogue::{To, addressed};
/// assert_eq!(addressed(To::Named, "12: dark"), (Some(12), "dark"));
/// assert_eq!(addressed(To::Named, "0.42"), (None, "0.42"));
/// assert_eq!(addressed(To::OnScreen(3), "12: dark"), (Some(3), "12: dark"));
/// ```
pub fn addressed(to: To, line: &str) -> (Option<u64>, &str) {
    match to {
        To::Now => (None, line),
        To::OnScreen(number) => (Some(number), line),
        To::Named => {
            let named = line.split_once(": ").filter(|(number, _)| {
                let digits = number.bytes().all(|byte| byte.is_ascii_digit());
                !number.is_empty() && digits
            });
            match named.and_then(|(number, rest)| Some((number.parse().ok()?, rest))) {
                Some((number, rest)) => (Some(number), rest),
                None => (None, line),
            }
        }
    }
}

impl From<&str> for Said {
    /// An answer to what is asked when it comes.
    fn from(line: &str) -> Said {
        Said::line(To::Now, line)
    }
}

impl From<&String> for Said {
    fn from(line: &String) -> Said {
        Said::line(To::Now, line)
    }
}

/// A line without what keys and terminals put into it beside text.
pub(super) fn clean(line: &str) -> String {
    // the one character that some keyboards send in place of escape and bracket
    let line = line.replace('\u{9b}', "\u{1b}[");
    let stripped = anstream::adapter::strip_str(&line).to_string();
    stripped.chars().filter(|c| !c.is_control()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn escape_sequences_never_get_into_a_text() {
        for (typed, expected) in [
            ("dark", "dark"),
            ("dar\u{1b}[Dk", "dark"),
            ("\u{1b}[A0.42", "0.42"),
            ("\u{1b}[2Jnew\u{7} clamp\u{9}screw", "new clampscrew"),
            ("\u{1b}]0;title\u{7}0.42", "0.42"),
            ("\u{9b}31mred", "red"),
            ("0.42\r", "0.42"),
        ] {
            assert_eq!(clean(typed), expected, "{typed:?}");
        }
    }

    #[test]
    fn a_line_of_a_pipe_may_name_its_prompt() {
        for (line, to, expected) in [
            ("7: lit", Some(7), "lit"),
            ("lit", None, "lit"),
            ("7:lit", None, "7:lit"),
            ("+7: lit", None, "+7: lit"),
            (": lit", None, ": lit"),
            ("A=1 B=2", None, "A=1 B=2"),
            ("99999999999999999999: lit", None, "99999999999999999999: lit"),
        ] {
            assert_eq!(addressed(To::Named, line), (to, expected), "{line}");
        }
        // a passphrase is what was typed, whatever it begins with
        assert_eq!(
            Said::line(To::Named, "7: seals").into_line().as_deref(),
            Some("7: seals")
        );
    }

    #[test]
    fn a_line_too_long_is_refused_and_not_cut() {
        assert_eq!(Said::from("9".repeat(LINE_BYTES_MAX + 1).as_str()).what, What::TooLong);
        assert_eq!(
            Said::from("9".repeat(LINE_BYTES_MAX).as_str())
                .into_line()
                .map(|line| line.len()),
            Some(4096)
        );
    }
}
