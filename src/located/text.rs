//! A text with the name that it is shown under, and what was found in it.
//!
//! The rule inside: a text is shared by everything that speaks of it, and is never printed whole by accident.

use icu_properties::props::{DefaultIgnorableCodePoint, GeneralCategory};
use icu_properties::{CodePointMapData, CodePointSetData};

use std::fmt;
use std::hash::{Hash, Hasher};
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::found::Found;
use super::problem::{Problem, Problems};

/// What is wrong in several texts.
pub type Findings = Found<Finding>;

/// A text with the name it is shown under, usually its path.
#[derive(Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Text {
    /// The name that a problem is shown with.
    pub name: String,
    /// The whole text, shared by everything that speaks of it.
    pub text: Arc<str>,
}

/// By the name alone: a text may be a megabyte, and those that are checked together have names of their own.
impl Hash for Text {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.name.hash(state);
    }
}

impl fmt::Debug for Text {
    /// The name and the size: a finding that is printed whole shall not print the file with it.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Text({}, {} bytes)", self.name, self.text.len())
    }
}

/// A problem in the text it was found in.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Finding {
    /// The text that the problem points into.
    pub text: Text,
    /// What is wrong there, and the next act.
    pub problem: Problem,
}

impl Text {
    /// A text under its name.
    pub fn new(name: impl Into<String>, text: impl Into<Arc<str>>) -> Text {
        Text {
            name: name.into(),
            text: text.into(),
        }
    }

    /// Ties problems to this text.
    pub fn findings(&self, problems: Problems) -> Findings {
        problems.map(|problem| self.finding(problem))
    }

    /// Ties a problem to this text.
    pub fn finding(&self, problem: Problem) -> Finding {
        Finding {
            text: self.clone(),
            problem,
        }
    }

    /// Line and column of a byte, both counted from 1, the column in characters.
    pub fn place(&self, byte: usize) -> (usize, usize) {
        let before = &self.text[..byte.min(self.text.len())];
        let line_start = before.rfind('\n').map_or(0, |i| i + 1);
        (
            before.matches('\n').count() + 1,
            before[line_start..].chars().count() + 1,
        )
    }
}

/// Where the lines of a text begin, for one that asks often.
#[derive(Debug)]
pub struct Lines(Vec<usize>);

impl Lines {
    /// Of this text.
    pub fn new(text: &Text) -> Lines {
        let after = text.text.match_indices('\n').map(|(at, _)| at + 1);
        Lines(std::iter::once(0).chain(after).collect())
    }

    /// The line of a byte, counted from 1.
    pub fn of(&self, byte: usize) -> usize {
        self.0.partition_point(|begins| *begins <= byte)
    }
}

/// Characters that change a line without being seen in it: controls, whatever Unicode calls a format character or lets a display ignore
/// (marks of direction and joining, fillers, selectors), and separators of lines and paragraphs. None of them reaches a terminal.
///
/// ```
/// assert!(coreproof::located::is_unseen('\u{202e}'), "turns the direction of writing");
/// assert!(coreproof::located::is_unseen('\u{ad}'), "a hyphen that is not seen");
/// assert!(!coreproof::located::is_unseen('Ω'));
/// ```
pub fn is_unseen(c: char) -> bool {
    if c.is_ascii() {
        return c.is_ascii_control();
    }
    let kind = CodePointMapData::<GeneralCategory>::new().get(c);
    let named = [
        GeneralCategory::Control,
        GeneralCategory::Format,
        GeneralCategory::LineSeparator,
        GeneralCategory::ParagraphSeparator,
    ];
    named.contains(&kind) || CodePointSetData::new::<DefaultIgnorableCodePoint>().contains(c)
}

/// The part of these that a name in a carried file or in a list of keys may never have held. It does not grow: what was written is read.
pub fn is_never_in_a_name(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}')
}
