//! A text with pieces exchanged, and where each of its bytes stood before.
//!
//! The rule inside: what is wrong with an exchanged text is always shown in the text that the person wrote.

use std::ops::Range;

/// A text that was changed piece by piece.
#[derive(Debug, Clone)]
pub struct Edited {
    /// As it is now.
    pub text: String,
    /// The range of each exchange in the text before it, and the length of what came there; in the order in which they were made.
    made: Vec<(Range<usize>, usize)>,
}

impl Edited {
    /// A text in which nothing is exchanged yet.
    pub fn new(text: &str) -> Edited {
        Edited {
            text: text.to_owned(),
            made: Vec::new(),
        }
    }

    /// Puts `by` where `range` of the text as it is now stands.
    pub fn exchange(&mut self, range: Range<usize>, by: &str) {
        self.text.replace_range(range.clone(), by);
        self.made.push((range, by.len()));
    }

    /// Whether nothing was exchanged.
    pub fn is_unchanged(&self) -> bool {
        self.made.is_empty()
    }

    /// Where a range stood in the text before all exchanges; in an exchanged piece it is the whole of what stood there.
    pub fn before(&self, span: &Range<usize>) -> Range<usize> {
        self.made.iter().rev().fold(span.clone(), |span, (range, length)| {
            let came = range.start + length;
            let back = |byte: usize| byte - came + range.end;
            let start = match span.start {
                start if came <= start && !(span.is_empty() && start == came && 0 < *length) => back(start),
                start => start.min(range.start),
            };
            let end = match span.end {
                end if came <= end => back(end),
                end if end <= range.start => end,
                _ => range.end,
            };
            start..end.max(start)
        })
    }

    /// Whether a range of the text as it is now touches an exchanged piece.
    pub fn is_exchanged(&self, span: &Range<usize>) -> bool {
        let mut span = span.clone();
        for (range, length) in self.made.iter().rev() {
            let came = range.start..range.start + length;
            if span.start < came.end && came.start < span.end {
                return true;
            }
            let one = Edited {
                text: String::new(),
                made: vec![(range.clone(), *length)],
            };
            span = one.before(&span);
        }
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_is_told_in_the_text_as_it_was_written() {
        let mut edited = Edited::new("a, bcd, e, f");
        edited.exchange(3..6, "X");
        assert_eq!(edited.text, "a, X, e, f");
        edited.exchange(6..7, "LONG");
        assert_eq!(edited.text, "a, X, LONG, f");
        let check = |now: &str, before: Range<usize>, exchanged: bool| {
            let at = edited.text.find(now).unwrap();
            let span = at..at + now.len();
            assert_eq!(
                (edited.before(&span), edited.is_exchanged(&span)),
                (before, exchanged),
                "{now}"
            );
        };
        check("a", 0..1, false);
        check("X", 3..6, true);
        check("ON", 8..9, true);
        check("LONG", 8..9, true);
        check("f", 11..12, false);
        check(", f", 9..12, false);
    }
}
