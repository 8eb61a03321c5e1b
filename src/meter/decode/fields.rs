//! Frames with everything at its place: text columns, codes, segments and numbers, taken out bit by bit.
//!
//! The rule inside: every bit of the frame is accounted for; one that is set and that the profile does not describe
//! refuses the reading, because it may be a mark that changes what the digits mean.

use std::borrow::Cow;

use super::bits::{Bits, Draft};
use super::meaning::{Part, Unread, Words, not_understood, printable, unexplained, unknown_function};
use super::number::Number;
use super::segment::{DARK, Glyphs};
use crate::value::packed::{pack, places};

/// How words stand in a frame of one length.
#[derive(Debug, Clone)]
pub struct Fields {
    /// Bytes of a frame.
    pub(crate) bytes: usize,
    /// What each word is put together from, in the order of [`Part::ALL`].
    pub(crate) words: [Vec<Field>; 4],
    /// What always stands at some bits.
    pub(crate) constant: Vec<(Bits, u64)>,
    /// The bits of each byte that nothing describes, and that must be dark.
    pub(crate) undescribed: Vec<u8>,
    pub(crate) glyphs: Option<Glyphs>,
}

/// A piece of a word.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Field {
    /// Always this text, wherever the frame comes from.
    Word(String),
    /// Text in bytes, without the blanks around it.
    Text {
        /// The first byte, from 0.
        at: usize,
        /// How many bytes.
        bytes: usize,
    },
    /// A number that stands for a word.
    Code {
        /// Where the number stands.
        bits: Bits,
        /// Each number with its word; another number is not understood.
        words: Vec<(u64, String)>,
    },
    /// A word while a bit is set.
    Sign {
        /// The bit.
        bit: Bits,
        /// What it says.
        word: String,
    },
    /// A seven-segment digit; `blank` says that it may be dark before the first figure.
    Digit {
        /// Its seven bits, in the order of the profile's segments.
        bits: Bits,
        /// Whether it may be dark.
        blank: bool,
    },
    /// A number in bits, with its digits as they are displayed.
    Number(Number),
}

impl Fields {
    /// Takes the words out of a frame.
    #[inline(always)]
    pub(crate) fn read<'a>(&self, frame: &'a [u8]) -> Result<Words<'a>, Unread> {
        if frame.len() != self.bytes {
            return Err(not_understood(format!(
                "{} bytes are no frame of {}",
                frame.len(),
                self.bytes
            )));
        }
        if let Some((bits, code)) = self.constant.iter().find(|(bits, code)| bits.read(frame) != *code) {
            return Err(not_understood(format!(
                "{:#x} stands where the profile says {code:#x}",
                bits.read(frame)
            )));
        }
        let frame = Frame {
            bytes: frame,
            text: std::str::from_utf8(frame).ok(),
        };
        let words = Words {
            function: self.word(Part::Function, &frame)?,
            unit: self.word(Part::Unit, &frame)?,
            flags: self.word(Part::Flags, &frame)?,
            value: self.word(Part::Value, &frame)?,
        };
        self.all_described(frame.bytes).map(|()| words)
    }

    fn all_described(&self, frame: &[u8]) -> Result<(), Unread> {
        if self.undescribed.is_empty() {
            return Ok(());
        }
        let set = || frame.iter().zip(&self.undescribed).map(|(byte, dark)| byte & dark);
        // nearly always nothing: all bytes at once, without a branch for each
        if set().fold(0, |all, byte| all | byte) == 0 {
            return Ok(());
        }
        let (at, byte) = set().enumerate().find(|(_, byte)| *byte != 0).expect("not nothing");
        Err(unexplained(&format!("byte {at}, bit {}", byte.ilog2())))
    }

    #[inline(always)]
    fn word<'a>(&self, part: Part, frame: &Frame<'a>) -> Result<Cow<'a, str>, Unread> {
        let fields = match self.words[part as usize].as_slice() {
            [] => return Ok(Cow::Borrowed("")),
            // a word that stands in the frame as it is needs no copy
            [Field::Text { at, bytes }] => return frame.column(*at, *bytes).map(Cow::Borrowed),
            fields => fields,
        };
        let mut word = String::new();
        for field in fields {
            self.read_field(field, part, frame, &mut word)?;
        }
        Ok(Cow::Owned(word))
    }

    fn read_field(&self, field: &Field, part: Part, frame: &Frame<'_>, out: &mut String) -> Result<(), Unread> {
        match field {
            Field::Word(word) => out.push_str(word),
            Field::Text { at, bytes } => out.push_str(frame.column(*at, *bytes)?),
            Field::Number(number) => number.read(frame.bytes, out)?,
            Field::Sign { bit, word } => {
                if bit.read(frame.bytes) == 1 {
                    out.push_str(word);
                }
            }
            Field::Code { bits, words } => {
                let code = bits.read(frame.bytes);
                let known = words.iter().find(|(known, _)| *known == code);
                let (_, word) = known.ok_or_else(|| match part {
                    Part::Function => unknown_function(&format!("code {code:#x}")),
                    Part::Flags => unexplained(&format!("code {code:#x}")),
                    Part::Value | Part::Unit => {
                        not_understood(format!("code {code:#x} is no {} of this profile", part.name()))
                    }
                })?;
                out.push_str(word);
            }
            Field::Digit { bits, blank } => {
                let code = bits.read(frame.bytes);
                let glyphs = self.glyphs.as_ref().expect("checked with the digits");
                let character = glyphs
                    .character(code)
                    .ok_or_else(|| not_understood(format!("segments {code:#04x} show no character")))?;
                let leading = !out.contains(|c: char| c.is_ascii_digit());
                if character != DARK || !(*blank && leading) {
                    out.push(character);
                }
            }
        }
        Ok(())
    }

    /// A frame that carries the words, its constant bits set and all others dark; `None` where there is no such frame.
    pub(crate) fn write(&self, words: &Words<'_>) -> Option<Vec<u8>> {
        let mut draft = Draft::new(self.bytes);
        for (bits, code) in &self.constant {
            draft = draft.with(bits, *code)?;
        }
        self.place(&Part::ALL, 0, words.of(Part::ALL[0]), &draft, words)
            .map(|draft| draft.bytes)
    }

    /// Fills the fields of the first part from `index` on with `rest`, then the other parts; every way is tried, because
    /// words may share bits.
    fn place(&self, parts: &[Part], index: usize, rest: &str, draft: &Draft, words: &Words<'_>) -> Option<Draft> {
        let Some((part, others)) = parts.split_first() else {
            return Some(draft.clone());
        };
        let Some(field) = self.words[*part as usize].get(index) else {
            let next = others.first().map_or("", |next| words.of(*next));
            return rest
                .is_empty()
                .then(|| self.place(others, 0, next, draft, words))
                .flatten();
        };
        let go_on = |draft: Option<Draft>, rest: &str| self.place(parts, index + 1, rest, &draft?, words);
        match field {
            Field::Word(word) => go_on(Some(draft.clone()), rest.strip_prefix(word.as_str())?),
            Field::Text { at, bytes } => (0..=rest.len().min(*bytes))
                .rev()
                .filter(|length| rest.is_char_boundary(*length))
                .find_map(|length| {
                    let (text, rest) = rest.split_at(length);
                    let column = match part {
                        Part::Value => format!("{text:>width$}", width = bytes - length + text.chars().count()),
                        _ => format!("{text:<width$}", width = bytes - length + text.chars().count()),
                    };
                    go_on(draft.with_bytes(*at, column.as_bytes()), rest)
                }),
            Field::Code { bits, words } => words
                .iter()
                .filter_map(|(code, word)| Some((code, rest.strip_prefix(word.as_str())?)))
                .find_map(|(code, rest)| go_on(draft.with(bits, *code), rest)),
            Field::Sign { bit, word } => rest
                .strip_prefix(word.as_str())
                .and_then(|rest| go_on(draft.with(bit, 1), rest))
                .or_else(|| go_on(draft.with(bit, 0), rest)),
            Field::Digit { bits, blank } => {
                let glyphs = self.glyphs.as_ref().expect("checked with the digits");
                let lit = rest.chars().next().and_then(|character| {
                    let rest = &rest[character.len_utf8()..];
                    go_on(draft.with(bits, glyphs.code(character)?), rest)
                });
                lit.or_else(|| go_on(draft.with(bits, glyphs.code(DARK).filter(|_| *blank)?), rest))
            }
            Field::Number(number) => number.codes(rest).into_iter().find_map(|(code, range)| {
                let draft = draft.with(&number.bits, code)?;
                let draft = match range {
                    Some((bits, range)) => draft.with(bits, range)?,
                    None => draft,
                };
                go_on(Some(draft), "")
            }),
        }
    }
}

/// Where a column begins and ends without the blanks around it.
#[inline]
fn filled(column: &[u8]) -> (usize, usize) {
    if let Some(packed) = pack(column)
        && !column.is_empty()
    {
        let blank = places(packed, b' ') >> 7;
        // a one for each byte that is there and no blank
        let filled = !blank & 0x0101_0101_0101_0101 & (u64::MAX >> (64 - 8 * column.len()));
        let end = 8 - filled.leading_zeros() as usize / 8;
        return (end.min(filled.trailing_zeros() as usize / 8), end);
    }
    let is_filled = |byte: &u8| *byte != b' ';
    let start = column.iter().position(is_filled).unwrap_or(column.len());
    let end = column.iter().rposition(is_filled).map_or(start, |last| last + 1);
    (start, end)
}

/// A frame, and its text where all of it is text, so that this is proved once and not for each column.
struct Frame<'a> {
    bytes: &'a [u8],
    text: Option<&'a str>,
}

impl<'a> Frame<'a> {
    /// The text in some bytes, without the blanks around it.
    #[inline(always)]
    fn column(&self, at: usize, bytes: usize) -> Result<&'a str, Unread> {
        let column = &self.bytes[at..at + bytes];
        let (start, end) = filled(column);
        if let Some(text) = self.text.and_then(|text| text.get(at + start..at + end)) {
            return Ok(text);
        }
        std::str::from_utf8(&column[start..end])
            .map_err(|_| not_understood(format!("`{}` is no text", printable(&String::from_utf8_lossy(column)))))
    }
}
