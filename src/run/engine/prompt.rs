//! What the engineer is shown and asked.
//!
//! The rule inside: a prompt carries the hands' work as data (acts, probes, dial) beside its words, and never the window's
//! verdict in advance.

use crate::judge::window::{Outcome, Verdict};
use crate::plan::{Act, Look, Probes, Stage, Subject, Then};
use crate::value::reading::Function;

/// The kind of answer that is wanted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ask {
    /// `done`, or the word given here where more than a nod is wanted.
    Done { word: &'static str },
    /// `lit` or `dark`.
    Indicator,
    /// What a terminal is for.
    Purpose { terminal: String },
    /// One of some words, or for what moved as many as did.
    Look { look: Look },
    /// A line of text, and a photograph's file.
    Note { photograph: bool },
    /// A typed reading; from the meter as well where one is on a port.
    Reading { function: Function, from_meter: bool },
    /// After a step that did not pass: what the sequence lets follow.
    Decision { offers: Vec<Then> },
    /// A step cannot be reached because of another.
    Blocked { by: String },
    /// Free text.
    Text,
    /// Core names, `all` or `none`.
    Touched,
}

/// One question with everything needed to answer it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Prompt {
    /// The step it is about; empty for questions about the run.
    pub step: String,
    /// Its place in the plan, counted from 1, and the number of steps.
    pub place: (usize, usize),
    pub stage: Stage,
    pub say: String,
    pub cautions: Vec<String>,
    /// The instrument to use with its dial position, and the window with its sources, for measurements.
    pub instrument: Option<String>,
    pub window: Option<String>,
    pub sources: Vec<String>,
    pub acts: Vec<Act>,
    pub probes: Option<Probes>,
    pub ask: Ask,
}

impl Prompt {
    /// The answers that are understood, in words.
    pub fn answers(&self) -> String {
        match &self.ask {
            Ask::Done { word: "done" } => "`done` or `d` when it is done, `no` when it cannot be".into(),
            Ask::Done { word } => format!("`{word}` when it is done, `no` when it cannot be"),
            Ask::Indicator => "`lit` or `dark` (`l`, `d`), `no` when it cannot be tested".into(),
            Ask::Purpose { .. } => format!("{}; `no` when the core is not connected", numbered_purposes()),
            Ask::Look { look } if look.subject == Subject::Moved => format!(
                "what has moved, with commas, out of: {}; `none` when nothing has; `found` and a text for anything else",
                look.words.join(", ")
            ),
            Ask::Look { look } => {
                let words: Vec<_> = look.words.iter().map(|word| format!("`{word}`")).collect();
                format!(
                    "{}; `found` and a text for anything else; `no` when it cannot be seen",
                    words.join(" or ")
                )
            }
            Ask::Note { photograph: true } => {
                "one line of text; `photograph FILE` binds a picture in by its hash; `no` when there is nothing to note"
                    .into()
            }
            Ask::Note { photograph: false } => "one line of text; `no` when there is nothing to note".into(),
            Ask::Reading { function, from_meter } => {
                let meter = if *from_meter {
                    "the meter is read; `on` says both probes are on the points; or "
                } else {
                    ""
                };
                let leads = if *function == Function::Continuity {
                    "; `leads` when the leads were changed"
                } else {
                    ""
                };
                format!("{meter}type the reading in {}{leads}", unit(*function))
            }
            Ask::Decision { offers } => {
                let word = |then: &Then| match then {
                    Then::Again => "`again`".to_owned(),
                    Then::Repair(None) => "`repair` (record it, then test again)".to_owned(),
                    Then::Repair(Some(step)) => format!("`repair` (record it, then go back to `{step}`)"),
                    Then::Leave => "`leave` (with a reason)".to_owned(),
                    Then::Locate => "`locate` (where the fault must be)".to_owned(),
                };
                let words: Vec<_> = offers.iter().map(word).collect();
                match words.is_empty() {
                    true => "`abandon`".into(),
                    false => format!("{} or `abandon`", words.join(", ")),
                }
            }
            Ask::Blocked { .. } => "`again` (go back to it) or `abandon`".into(),
            Ask::Text => "one line; `back` takes the last answer back".into(),
            Ask::Touched => "`all`, `none`, or the names of cores with commas".into(),
        }
    }
}

fn unit(function: Function) -> String {
    format!("{}{}", function.prefix().letter(), function.unit())
}

fn numbered_purposes() -> String {
    let words: Vec<_> = crate::job::Purpose::ALL
        .iter()
        .enumerate()
        .map(|(i, p)| format!("{} {}", i + 1, p.words()))
        .collect();
    words.join(", ")
}

/// What is shown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Show {
    Stage(Stage),
    Prompt(Box<Prompt>),
    /// A remark: an answer that was not understood, a meter in the wrong mode.
    Notice(String),
    /// Stop at once: what was proved dead is not.
    Danger(String),
    /// Digits that are still moving or not yet wanted; never a result.
    Live {
        digits: String,
        state: String,
    },
    /// The reading that was taken and is on disk.
    Taken {
        step: String,
        display: String,
        typed: bool,
    },
    Verdict {
        step: String,
        verdict: Verdict,
    },
    Finished {
        outcome: Outcome,
        ending: String,
    },
}
