//! Frames of text: a regular expression takes the words out of a frame, a template puts them into one.
//!
//! The rule inside: the expression holds for the whole text, never for a part of it.

use std::borrow::Cow;

use regex::{CaptureLocations, Regex};

use super::meaning::{Part, Unread, Words, not_understood, printable};

/// How text is taken apart and put together.
#[derive(Debug, Clone)]
pub struct Pattern {
    /// Anchored at both ends, with the groups `value`, `function`, `unit` and `flags`.
    pub(crate) regex: Regex,
    /// The numbers of the groups, looked up once.
    groups: Groups,
    pub(crate) write: Vec<Piece>,
}

#[derive(Debug, Clone, Copy)]
struct Groups {
    value: Option<usize>,
    function: Option<usize>,
    unit: Option<usize>,
    flags: Option<usize>,
}

/// A piece of the template that frames are written from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Piece {
    Text(String),
    Blank(Part),
}

impl Pattern {
    pub(crate) fn new(regex: Regex, write: Vec<Piece>) -> Pattern {
        let group = |part: Part| regex.capture_names().position(|name| name == Some(part.name()));
        Pattern {
            groups: Groups {
                value: group(Part::Value),
                function: group(Part::Function),
                unit: group(Part::Unit),
                flags: group(Part::Flags),
            },
            regex,
            write,
        }
    }

    /// Takes the words out of a text; `slots` is scratch space that may be used again.
    pub(crate) fn read<'a>(&self, text: &'a str, slots: &mut CaptureLocations) -> Result<Words<'a>, Unread> {
        if self.regex.captures_read(slots, text).is_none() {
            return Err(not_understood(format!(
                "`{}` does not fit the profile's pattern",
                printable(text)
            )));
        }
        let word = |group: Option<usize>| {
            let span = group.and_then(|group| slots.get(group));
            Cow::Borrowed(span.map_or("", |(start, end)| &text[start..end]))
        };
        Ok(Words {
            value: word(self.groups.value),
            function: word(self.groups.function),
            unit: word(self.groups.unit),
            flags: word(self.groups.flags),
        })
    }

    /// Puts words into a text.
    pub(crate) fn write(&self, words: &Words<'_>) -> String {
        let pieces = self.write.iter().map(|piece| match piece {
            Piece::Text(text) => text.as_str(),
            Piece::Blank(part) => words.of(*part),
        });
        pieces.collect()
    }
}
