//! Small pieces, of an answer and of a job's text.

use std::ops::Range;

use crate::located::{is_unseen, top_field, value_at};

/// Longest name, in characters: as long as a job's names may be.
const NAME_MAX: usize = 60;

/// An answer that cannot be put into the base job.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{what}")]
pub struct Unfit {
    /// Why not.
    pub what: String,
}

pub(super) fn unfit(what: &str) -> Unfit {
    Unfit {
        what: format!("the base job has no `{what}` where an answer goes"),
    }
}

/// A name as a job may hold it.
///
/// # Errors
/// What must be left out of it.
pub(super) fn plain(name: &str) -> Result<String, String> {
    if name.is_empty() || NAME_MAX < name.chars().count() {
        return Err(format!("a name has 1 to {NAME_MAX} characters"));
    }
    match name.chars().find(|c| is_unseen(*c) || "/{}\"\\".contains(*c)) {
        Some(c) => Err(format!("leave out `{}`", c.escape_debug())),
        None => Ok(name.to_owned()),
    }
}

/// The colour of a core, and that of its sleeve.
pub(super) fn core(line: &str) -> (&str, Option<&str>) {
    match line.split_once(" sleeved ") {
        Some((colour, sleeve)) => (colour.trim(), Some(sleeve.trim())),
        None => (line.trim(), None),
    }
}

pub(super) fn literal(text: &str) -> String {
    format!("{text:?}")
}

/// The value of a field of what stands in this range.
pub(super) fn value_in(text: &str, within: &Range<usize>, field: &str) -> Option<Range<usize>> {
    let at = value_at(&text[within.clone()], &[field])?;
    Some(within.start + at.start..within.start + at.end)
}

/// A whole field of what stands in this range, to be taken out: from its name to behind its comma and the blanks after it.
pub(super) fn field_in(text: &str, within: &Range<usize>, field: &str) -> Option<Range<usize>> {
    let (begins, _) = top_field(&text[within.clone()], field)?;
    let value = value_in(text, within, field)?;
    Some(within.start + begins..behind_comma(text, value.end))
}

/// To behind the comma and the blanks before the next field, where a piece is taken out.
pub(super) fn behind_comma(text: &str, from: usize) -> usize {
    let rest = &text[from..];
    let comma = rest.strip_prefix(',').unwrap_or(rest);
    text.len() - comma.trim_start().len()
}
