//! What the engineer says, by whichever face: a line that was typed, or a choice by its word, and the prompt that it answers.
//!
//! The rule inside: a line is kept as it was typed until it comes to the one door ([`super::Dialogue::handle_answer`]); one that is too
//! long is never cut.

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

/// An answer as it comes in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Said {
    /// The number of the prompt that it answers; without one it answers what is asked when it comes.
    pub to: Option<u64>,
    /// What was said.
    pub what: What,
}

impl Said {
    /// A line as it was read.
    pub fn line(to: Option<u64>, line: &str) -> Said {
        let what = if LINE_BYTES_MAX < line.len() {
            What::TooLong
        } else {
            What::Line(line.to_owned())
        };
        Said { to, what }
    }

    /// A line of a pipe: `12: dark` names the prompt that it answers, any other line answers in its turn.
    ///
    /// ```
    /// use coreproof::run::dialogue::{Said, What};
    /// assert_eq!(Said::of_pipe("12: dark"), Said { to: Some(12), what: What::Line("dark".into()) });
    /// assert_eq!(Said::of_pipe("0.42"), Said { to: None, what: What::Line("0.42".into()) });
    /// ```
    pub fn of_pipe(line: &str) -> Said {
        let named = line.split_once(": ").and_then(|(number, rest)| {
            let digits = !number.is_empty() && number.bytes().all(|byte| byte.is_ascii_digit());
            Some((number.parse().ok().filter(|_| digits)?, rest))
        });
        match named {
            Some((to, rest)) => Said::line(Some(to), rest),
            None => Said::line(None, line),
        }
    }

    /// The line where nothing is asked by number, such as a passphrase; none where it was too long.
    pub fn into_line(self) -> Option<String> {
        match self.what {
            What::Line(line) => Some(line),
            What::TooLong => None,
        }
    }
}

impl From<&str> for Said {
    /// An answer to what is asked when it comes.
    fn from(line: &str) -> Said {
        Said::line(None, line)
    }
}

impl From<&String> for Said {
    fn from(line: &String) -> Said {
        Said::line(None, line)
    }
}

/// A line without what keys and terminals put into it beside text.
pub fn clean(line: &str) -> String {
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
            ("A=1 B=2", None, "A=1 B=2"),
            ("99999999999999999999: lit", None, "99999999999999999999: lit"),
        ] {
            assert_eq!(Said::of_pipe(line), Said::line(to, expected), "{line}");
        }
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
