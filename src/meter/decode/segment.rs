//! Seven-segment characters: which segments are lit, and what a person reads.
//!
//! The rule inside: a shape that is no known character is an error, never the nearest one; a dark digit is the
//! character `_`, so that it can never be taken for a missing figure.

use serde::Deserialize;

/// A segment by where it is; profiles name them this way because makers' letters differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Segment {
    /// The upper bar.
    Top,
    /// The upper upright on the left.
    UpperLeft,
    /// The upper upright on the right.
    UpperRight,
    /// The middle bar.
    Middle,
    /// The lower upright on the left.
    LowerLeft,
    /// The lower upright on the right.
    LowerRight,
    /// The lower bar.
    Bottom,
}

use Segment::{Bottom, LowerLeft, LowerRight, Middle, Top, UpperLeft, UpperRight};

/// What a dark digit is called.
pub const DARK: char = '_';

/// The characters that displays share.
const SHAPES: [(char, &[Segment]); 13] = [
    ('0', &[Top, UpperLeft, UpperRight, LowerLeft, LowerRight, Bottom]),
    ('1', &[UpperRight, LowerRight]),
    ('2', &[Top, UpperRight, Middle, LowerLeft, Bottom]),
    ('3', &[Top, UpperRight, Middle, LowerRight, Bottom]),
    ('4', &[UpperLeft, UpperRight, Middle, LowerRight]),
    ('5', &[Top, UpperLeft, Middle, LowerRight, Bottom]),
    ('6', &[Top, UpperLeft, Middle, LowerLeft, LowerRight, Bottom]),
    ('7', &[Top, UpperRight, LowerRight]),
    (
        '8',
        &[Top, UpperLeft, UpperRight, Middle, LowerLeft, LowerRight, Bottom],
    ),
    ('9', &[Top, UpperLeft, UpperRight, Middle, LowerRight, Bottom]),
    ('L', &[UpperLeft, LowerLeft, Bottom]),
    ('-', &[Middle]),
    (DARK, &[]),
];

/// The codes of characters in one order of segments.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Glyphs(Vec<(u64, char)>);

impl Glyphs {
    /// The codes for digits whose bits are listed in this order, with more shapes of the meter's own: a shape that is
    /// known already is replaced.
    pub(crate) fn new(order: &[Segment; 7], more: &[(char, Vec<Segment>)]) -> Glyphs {
        let code = |shape: &[Segment]| {
            order
                .iter()
                .fold(0, |code, segment| code << 1 | u64::from(shape.contains(segment)))
        };
        let own = more.iter().map(|(character, shape)| (code(shape), *character));
        let mut glyphs: Vec<(u64, char)> = own.collect();
        for (character, shape) in SHAPES {
            if glyphs.iter().all(|(known, _)| *known != code(shape)) {
                glyphs.push((code(shape), character));
            }
        }
        Glyphs(glyphs)
    }

    /// The character of a code; `None` where it is none.
    pub fn character(&self, code: u64) -> Option<char> {
        self.0
            .iter()
            .find(|(known, _)| *known == code)
            .map(|(_, character)| *character)
    }

    /// The code of a character, in the meter's own shape where it has one.
    pub fn code(&self, character: char) -> Option<u64> {
        self.0
            .iter()
            .find(|(_, known)| *known == character)
            .map(|(code, _)| *code)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The codes were put together by hand from the shapes, the first segment of the order in the highest bit.
    #[test]
    fn codes_follow_from_the_order_of_segments() {
        let order = [LowerLeft, UpperLeft, Top, Bottom, LowerRight, Middle, UpperRight];
        let glyphs = Glyphs::new(&order, &[]);
        let by_hand = "0 7D, 1 05, 2 5B, 3 1F, 4 27, 5 3E, 6 7E, 7 15, 8 7F, 9 3F, L 68, _ 00";
        for pair in by_hand.split(", ") {
            let (character, code) = pair.split_once(' ').unwrap();
            let character = character.chars().next().unwrap();
            let code = u64::from_str_radix(code, 16).unwrap();
            assert_eq!(glyphs.character(code), Some(character));
            assert_eq!(glyphs.code(character), Some(code));
        }
        assert_eq!(glyphs.character(0x7c), None);
        let own = Glyphs::new(&order, &[('7', vec![UpperLeft, Top, UpperRight, LowerRight])]);
        assert_eq!((own.code('7'), own.character(0x15)), (Some(0x35), Some('7')));
    }
}
