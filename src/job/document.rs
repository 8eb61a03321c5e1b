//! What the document of a record says beside what was measured: under which reference it is filed, for whom its engineer speaks, when
//! the next test is due, and how far the local time is from UTC.
//!
//! The rule inside: everything here is a person's word and may be left out. Nothing is worked out for it, and nothing judges by it.

use jiff::tz::Offset;
use serde::{Deserialize, Serialize};

use super::check::Check;
use crate::located::{self, Located, Problem};

/// Most characters of a reference, a position or a firm.
pub(super) const NAME_CHARS_MAX: usize = 60;
/// Most characters of the reason of a date.
const REASON_CHARS_MAX: usize = 200;

/// What the job says for the document.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ForDocument {
    /// The circuit as the installation's own papers call it: `board 1, way 6`.
    pub circuit: Option<String>,
    /// What the engineer is.
    pub position: Option<String>,
    /// For whom the engineer works.
    pub firm: Option<String>,
    /// When the installation is to be tested next.
    pub next_test: Option<NextTest>,
    /// Local time less UTC while the work was done.
    pub local_offset: Option<Offset>,
}

/// The date of the next test, as a person set it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct NextTest {
    /// The day.
    pub on: jiff::civil::Date,
    /// Why that day.
    pub because: String,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default, rename = "Document")]
pub(super) struct RawDocument {
    circuit: Option<Located<String>>,
    position: Option<Located<String>>,
    firm: Option<Located<String>>,
    next_test: Option<RawNextTest>,
    local_offset: Option<Located<String>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "NextTest")]
struct RawNextTest {
    on: Located<String>,
    because: Located<String>,
}

impl RawDocument {
    pub(super) fn read(&self, check: &mut Check) -> ForDocument {
        let mut words = |text: &Option<Located<String>>, of| {
            text.as_ref().map(|text| {
                check.line(text, of, NAME_CHARS_MAX);
                text.value.clone()
            })
        };
        let (circuit, position, firm) = (
            words(&self.circuit, "the circuit reference"),
            words(&self.position, "the engineer's position"),
            words(&self.firm, "the firm"),
        );
        let next_test = self.next_test.as_ref().map(|next| {
            check.line(&next.because, "the reason of the next test", REASON_CHARS_MAX);
            NextTest {
                on: check.date(&next.on),
                because: next.because.value.clone(),
            }
        });
        let local_offset = self.local_offset.as_ref().map(|text| check.offset(text));
        ForDocument {
            circuit,
            position,
            firm,
            next_test,
            local_offset,
        }
    }
}

impl Check {
    /// A line of a person's own words, strokes and braces included.
    pub(super) fn line(&mut self, text: &Located<String>, of: &str, chars_max: usize) {
        let plain = text.trim() == text.value && !text.chars().any(located::is_never_in_a_name);
        if text.trim().is_empty() {
            self.say(Problem::new(&text.span, format!("{of} is empty")).hint("leave it out where it is not known"));
        } else if !plain || chars_max < text.chars().count() {
            let what = format!(
                "{of} `{}` is not a plain line of at most {chars_max} characters",
                text.value.escape_debug()
            );
            self.say(
                Problem::new(&text.span, what)
                    .hint("leave out line breaks, blanks at either end and characters that do not show"),
            );
        }
    }

    fn offset(&mut self, text: &Located<String>) -> Offset {
        offset(text).unwrap_or_else(|| {
            let what = format!("`{}` is not an offset from UTC", text.value);
            self.say(Problem::new(&text.span, what).hint("write local time less UTC as `+01:00`, at most 14 hours"));
            Offset::UTC
        })
    }
}

/// Reads `+01:00`; at most 14 hours, as far as any clock on land is from UTC.
fn offset(text: &str) -> Option<Offset> {
    let sign = match text.chars().next()? {
        '+' => 1,
        '-' => -1,
        _ => return None,
    };
    let (hours, minutes) = text[1..].split_once(':')?;
    let two = |digits: &str| {
        let plain = digits.len() == 2 && digits.bytes().all(|byte| byte.is_ascii_digit());
        plain.then(|| digits.parse::<i32>().ok()).flatten()
    };
    let (hours, minutes) = (two(hours)?, two(minutes)?);
    let total = hours * 60 + minutes;
    if 59 < minutes || 14 * 60 < total {
        return None;
    }
    Offset::from_seconds(sign * total * 60).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::located::Text;

    /// A job of an older version, which states none of it.
    const JOB: &str = include_str!("../../fixtures/workshop-spur.ron");

    fn with(document: &str) -> Result<ForDocument, String> {
        let plain = JOB.split("    supply: (").collect::<Vec<_>>();
        let text = format!("{}    document: ({document}),\n    supply: ({}", plain[0], plain[1]);
        match crate::job::read(&Text::new("job.ron", text)) {
            Ok(job) => Ok(job.document),
            Err(problems) => Err(problems
                .iter()
                .map(|problem| problem.what.clone())
                .collect::<Vec<_>>()
                .join("; ")),
        }
    }

    #[test]
    fn what_is_stated_is_kept_and_what_is_not_stays_open() {
        let stated = with(
            r#"circuit: "board 1/way 6", position: "electrician", firm: "Teal & Daughter", local_offset: "-03:30",
               next_test: (on: "2031-11-25", because: "five years, as the house committee asks")"#,
        )
        .unwrap();
        assert_eq!(stated.circuit.as_deref(), Some("board 1/way 6"));
        assert_eq!(stated.position.as_deref(), Some("electrician"));
        assert_eq!(stated.firm.as_deref(), Some("Teal & Daughter"));
        let next = stated.next_test.unwrap();
        assert_eq!(next.on, jiff::civil::date(2031, 11, 25));
        assert_eq!(next.because, "five years, as the house committee asks");
        assert_eq!(stated.local_offset.unwrap().seconds(), -12_600);
        assert_eq!(with("").unwrap(), ForDocument::default());
        let old = crate::job::read(&Text::new("workshop-spur.ron", JOB)).unwrap();
        assert_eq!(old.document, ForDocument::default());
    }

    #[test]
    fn what_is_no_line_date_or_offset_is_refused() {
        let long = format!("firm: \"{}\"", "n".repeat(61));
        for (document, expected) in [
            (r#"circuit: """#, "the circuit reference is empty".to_owned()),
            (
                r#"position: " electrician""#,
                "the engineer's position ` electrician` is not a plain line of at most 60 characters".to_owned(),
            ),
            (
                &long,
                format!(
                    "the firm `{}` is not a plain line of at most 60 characters",
                    "n".repeat(61)
                ),
            ),
            (
                r#"next_test: (on: "in five years", because: "so agreed")"#,
                "`in five years` is not a date".to_owned(),
            ),
            (
                r#"next_test: (on: "2031-11-25", because: " ")"#,
                "the reason of the next test is empty".to_owned(),
            ),
            (r#"local_offset: "BST""#, "`BST` is not an offset from UTC".to_owned()),
            (
                r#"local_offset: "+14:01""#,
                "`+14:01` is not an offset from UTC".to_owned(),
            ),
            (
                r#"local_offset: "+1:00""#,
                "`+1:00` is not an offset from UTC".to_owned(),
            ),
            (
                r#"local_offset: "+01:60""#,
                "`+01:60` is not an offset from UTC".to_owned(),
            ),
        ] {
            assert_eq!(with(document), Err(expected), "{document}");
        }
    }
}
