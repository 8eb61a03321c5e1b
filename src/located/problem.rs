//! What is wrong at a place of a text, with the next act.
//!
//! The rule inside: what is said of a file is bounded, whatever the file holds.

use std::ops::Range;

use super::found::Found;

/// What is wrong in one text.
pub type Problems = Found<Problem>;

/// One thing wrong in one text.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Problem {
    /// Bytes of the text it speaks of.
    pub span: Range<usize>,
    /// The fact, lower case, values in backticks.
    pub what: String,
    /// The next act, where there is one.
    pub hint: Option<String>,
}

impl Problem {
    /// A problem with no hint.
    pub fn new(span: &Range<usize>, what: impl Into<String>) -> Problem {
        Problem {
            span: span.clone(),
            what: clipped(what.into()),
            hint: None,
        }
    }

    /// The same problem with the next act beside it.
    pub fn hint(mut self, hint: impl Into<String>) -> Problem {
        self.hint = Some(clipped(hint.into()));
        self
    }
}

/// Most bytes of what is said of one thing; a name in a file may be as long as the file.
const WORDS_BYTES_MAX: usize = 64 << 10;

fn clipped(mut words: String) -> String {
    if WORDS_BYTES_MAX < words.len() {
        words.truncate(words.floor_char_boundary(WORDS_BYTES_MAX));
        words.push('\u{2026}');
        words.shrink_to_fit();
    }
    words
}

/// Most names that one list in a text says.
const LISTED_MAX: usize = 40;

/// Names in backticks with commas between them, as many as are read.
pub fn listed<T>(all: &[T], words: impl Fn(&T) -> String) -> String {
    let named: Vec<_> = all.iter().take(LISTED_MAX).map(words).collect();
    let named = named.join(", ");
    match all.len().saturating_sub(LISTED_MAX) {
        0 => named,
        more => format!("{named} and {more} more"),
    }
}
