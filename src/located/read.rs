//! Reading RON with the place of every value, and problems that point at the text.
//!
//! The rule inside: a problem always carries the byte range it speaks of, so that the reader sees the line itself.
//! A borrowed `RawValue` is a slice of the source, so its address gives its place; [`read`] keeps the base address
//! while it parses.

use std::cell::RefCell;
use std::ops::{Deref, Range};
use std::sync::LazyLock;

use ron::Options;
use ron::extensions::Extensions;
use ron::value::RawValue;
use serde::de::{DeserializeOwned, Error as _};
use serde::{Deserialize, Deserializer};

use super::nearest::nearest;
use super::nesting;
use super::problem::Problem;

/// A value with the byte range it was read from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Located<T> {
    /// What was read.
    pub value: T,
    /// Where it stands, in bytes from the beginning of the text.
    pub span: Range<usize>,
}

impl<T> Deref for Located<T> {
    type Target = T;
    fn deref(&self) -> &T {
        &self.value
    }
}

struct Context {
    base: usize,
    len: usize,
    inner: Option<Unread>,
}

/// Why a text was not read.
#[derive(Debug)]
pub(super) struct Unread {
    pub(super) problem: Problem,
    /// What the reader said.
    pub(super) code: ron::Error,
    /// The innermost located value that it stands in.
    pub(super) within: Option<Range<usize>>,
}

impl From<Problem> for Box<Unread> {
    fn from(problem: Problem) -> Box<Unread> {
        Box::new(Unread {
            code: ron::Error::Message(problem.what.clone()),
            problem,
            within: None,
        })
    }
}

thread_local! {
    static CONTEXT: RefCell<Option<Context>> = const { RefCell::new(None) };
}

static OPTIONS: LazyLock<Options> = LazyLock::new(|| {
    Options::default().with_default_extension(
        Extensions::IMPLICIT_SOME | Extensions::UNWRAP_NEWTYPES | Extensions::UNWRAP_VARIANT_NEWTYPES,
    )
});

/// The largest file that is read, in bytes; a sequence or job is a few kilobytes.
pub const TEXT_BYTES_MAX: usize = 1 << 20;

/// Reads a RON text; the problem is the first error of syntax or shape, at its place.
pub fn read<T: DeserializeOwned>(text: &str) -> Result<T, Problem> {
    unread(text).map_err(|unread| unread.problem)
}

/// The same, with what the reader said.
pub(super) fn unread<T: DeserializeOwned>(text: &str) -> Result<T, Box<Unread>> {
    if text.len() > TEXT_BYTES_MAX {
        return Err(Problem::new(
            &(0..0),
            format!("the file holds {} bytes, more than {TEXT_BYTES_MAX}", text.len()),
        )
        .into());
    }
    if let Some(problem) = nesting::too_deep(text) {
        return Err(problem.into());
    }
    CONTEXT.with_borrow_mut(|c| {
        *c = Some(Context {
            base: text.as_ptr() as usize,
            len: text.len(),
            inner: None,
        })
    });
    let result = OPTIONS.from_str::<T>(text);
    let context = CONTEXT.with_borrow_mut(Option::take).expect("set above");
    result.map_err(|error| Box::new(context.inner.unwrap_or_else(|| unread_of(text, 0, error, None))))
}

fn unread_of(text: &str, start: usize, error: ron::error::SpannedError, within: Option<Range<usize>>) -> Unread {
    let span = byte_range(text, &error.span);
    let problem = Problem::new(
        &(start + span.start..start + span.end),
        lower_first(&error.code.to_string()),
    );
    Unread {
        problem: Problem {
            hint: hint(&error.code),
            ..problem
        },
        code: error.code,
        within,
    }
}

/// What to write instead.
fn hint(code: &ron::Error) -> Option<String> {
    use ron::Error;
    match code {
        Error::NoSuchStructField { expected, found, .. } | Error::NoSuchEnumVariant { expected, found, .. } => {
            nearest(found, expected.iter().copied()).map(|near| format!("write `{near}`"))
        }
        Error::MissingStructField { field, .. } => Some(format!("add `{field}: …`")),
        Error::DuplicateStructField { field, .. } => Some(format!("leave out one `{field}`")),
        Error::ExpectedComma => Some("put a comma between this and what stands before it".into()),
        Error::ExpectedMapColon => Some("put a colon between the name and its value".into()),
        Error::ExpectedString => Some("put it in quotes: `\"…\"`".into()),
        Error::ExpectedArray => Some("put it in square brackets: `[…]`".into()),
        Error::ExpectedArrayEnd | Error::ExpectedStructLikeEnd | Error::ExpectedMapEnd => {
            Some("close the bracket, or put a comma before what comes next".into())
        }
        Error::Eof => Some("close every bracket and every quote that was opened".into()),
        Error::ExpectedStringEnd => Some("close the quote".into()),
        _ => None,
    }
}

fn lower_first(text: &str) -> String {
    let mut chars = text.chars();
    chars
        .next()
        .map_or(String::new(), |first| first.to_lowercase().chain(chars).collect())
}

fn byte_range(text: &str, span: &ron::error::Span) -> Range<usize> {
    let start = byte_of(text, span.start);
    start..byte_of(text, span.end).max(start)
}

fn byte_of(text: &str, position: ron::error::Position) -> usize {
    let line = match position.line {
        0 | 1 => 0,
        n => text.match_indices('\n').nth(n - 2).map_or(text.len(), |(i, _)| i + 1),
    };
    text[line..]
        .char_indices()
        .nth(position.col.saturating_sub(1))
        .map_or(text.len(), |(i, _)| line + i)
}

/// Leaves out blanks and comments that stand directly before a value.
fn trim_start(raw: &str) -> usize {
    let mut at = 0;
    loop {
        let rest = &raw[at..];
        let blank = rest.len() - rest.trim_start().len();
        at += blank;
        let rest = &raw[at..];
        if rest.starts_with("//") {
            at += rest.find('\n').map_or(rest.len(), |i| i + 1);
        } else if let Some(inside) = rest.strip_prefix("/*") {
            at += inside.find("*/").map_or(rest.len(), |i| i + 4);
        } else {
            return at;
        }
    }
}

impl<'de, T: DeserializeOwned> Deserialize<'de> for Located<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let raw = <&'de RawValue>::deserialize(deserializer)?.get_ron();
        let start = CONTEXT
            .with_borrow(|context| {
                let context = context.as_ref()?;
                let offset = (raw.as_ptr() as usize).checked_sub(context.base)?;
                (offset + raw.len() <= context.len).then_some(offset)
            })
            .ok_or_else(|| D::Error::custom("a located value outside `located::read`"))?;
        match OPTIONS.from_str::<T>(raw) {
            Ok(value) => {
                let skip = trim_start(raw);
                Ok(Located {
                    value,
                    span: start + skip..start + raw.trim_end().len().max(skip),
                })
            }
            Err(error) => {
                CONTEXT.with_borrow_mut(|context| {
                    let context = context.as_mut().expect("checked above");
                    // the first, innermost error is the one that explains the rest
                    if context.inner.is_none() {
                        let trimmed = trim_start(raw);
                        let within = start + trimmed..start + raw.trim_end().len().max(trimmed);
                        context.inner = Some(unread_of(raw, start, error.clone(), Some(within)));
                    }
                });
                Err(D::Error::custom(error.code))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::located::{Lines, Text};

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Pair {
        name: Located<String>,
        inner: Located<Inner>,
    }

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Inner {
        size: Located<u32>,
    }

    #[test]
    fn values_know_their_place_without_the_comment_before_them() {
        let text = "(\n  // who\n  name: /* short */ \"a\", inner: (size: 7),\n)";
        let pair: Pair = read(text).unwrap();
        assert_eq!(&text[pair.name.span.clone()], "\"a\"");
        assert_eq!(&text[pair.inner.size.span.clone()], "7");
        assert_eq!(pair.inner.size.value, 7);
        assert_eq!(pair.name.value, "a");
    }

    #[test]
    fn an_unknown_field_is_found_at_its_place() {
        let text = "(name: \"a\", inner: (sise: 7))";
        let problem = read::<Pair>(text).unwrap_err();
        assert_eq!(&text[problem.span.clone()], "sise");
        assert_eq!(
            problem.what,
            "unexpected field named `sise` in `Inner`, expected `size` instead"
        );
    }

    #[test]
    fn lines_and_columns_count_from_one() {
        let text = Text {
            name: "x".into(),
            text: "ab\nc\u{3a9}d".into(),
        };
        assert_eq!(text.place(0), (1, 1));
        assert_eq!(text.place(6), (2, 3));
        let lines = Lines::new(&text);
        assert_eq!([0, 2, 3, 6].map(|byte| lines.of(byte)), [1, 1, 2, 2]);
    }

    #[test]
    fn deep_nesting_and_large_files_are_refused() {
        let problem = read::<Pair>(&"(".repeat(100_000)).unwrap_err();
        assert_eq!(problem.what, "more than 40 brackets are open here");
        let next = "close those before it; no file needs as many inside each other";
        assert_eq!((problem.span, problem.hint.as_deref()), (40..41, Some(next)));
        let problem = read::<Pair>(&" ".repeat(TEXT_BYTES_MAX + 1)).unwrap_err();
        assert_eq!(problem.what, "the file holds 1048577 bytes, more than 1048576");
    }
}
