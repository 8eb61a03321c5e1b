//! The only place that prints errors and picks exit codes.

use std::io::Write;

use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};

use crate::explain::Explain;
use crate::located::{Finding, Findings};
use crate::terminal::plain::{clean, clean_lines};

/// All passed.
pub const PASSED: u8 = 0;
/// A test failed or was left untested, a run was abandoned, an audit found something.
pub const FOUND: u8 = 1;
/// A file, an argument, a record, a signature, a signer or a passphrase was refused.
pub const REFUSED: u8 = 2;
/// Port, meter, disk, archive in use.
pub const EQUIPMENT: u8 = 3;
/// Interrupted; the run can be resumed.
pub const INTERRUPTED: u8 = 130;

/// Why a command stops.
#[derive(Debug)]
pub struct Failure {
    /// The exit code.
    pub exit: u8,
    /// The fact, in one line without a full stop.
    pub message: String,
    /// The next act, where one helps.
    pub hint: Option<String>,
    /// Problems with their places in files, shown before the message.
    pub findings: Findings,
}

impl Failure {
    /// A refusal.
    pub fn refused(message: impl Into<String>) -> Failure {
        Failure {
            exit: REFUSED,
            message: message.into(),
            hint: None,
            findings: Findings::default(),
        }
    }

    /// A failure of equipment or storage.
    pub fn equipment(message: impl Into<String>) -> Failure {
        Failure {
            exit: EQUIPMENT,
            ..Failure::refused(message)
        }
    }

    /// The same failure with the next act.
    pub fn hint(mut self, hint: impl Into<String>) -> Failure {
        self.hint = Some(hint.into());
        self
    }

    /// Refused files, with every finding.
    pub fn findings(findings: Findings) -> Failure {
        let (count, shown) = (findings.total(), findings.len());
        let errors = if count == 1 { "error" } else { "errors" };
        let message = match count - shown {
            0 => format!("{count} {errors} found; nothing was run"),
            _ => format!("{count} {errors} found, the first {shown} are shown; nothing was run"),
        };
        Failure {
            findings,
            ..Failure::refused(message)
        }
    }

    /// Prints to standard error.
    pub fn print(&self) {
        let mut err = std::io::stderr().lock();
        for finding in self.findings.iter() {
            let _ = writeln!(err, "{}\n", clean_lines(&render(finding)));
        }
        let _ = writeln!(err, "error: {}", clean(&self.message));
        if let Some(hint) = &self.hint {
            let _ = writeln!(err, " next: {}", clean(hint));
        }
    }
}

/// Bytes of a line behind what is marked in it: more than is shown.
const LINE_REST_MAX: usize = 2000;

/// A finding with file, line, column, the line itself and a caret.
pub fn render(finding: &Finding) -> String {
    let text = &finding.text.text;
    let end = finding.problem.span.end.min(text.len());
    let start = finding.problem.span.start.min(end);
    // of many lines the first is the place; the others need not even be looked at
    let begins = text[..start].rfind('\n').map_or(0, |at| at + 1);
    let ends = text[start..].find('\n').map_or(text.len(), |at| start + at);
    // nor is the end of a line that is as long as a file
    let ends = ends.min(text.floor_char_boundary(end.max(start).saturating_add(LINE_REST_MAX)));
    let span = start - begins..end.min(ends) - begins;
    let snippet = Snippet::source(&text[begins..ends])
        .line_start(finding.text.place(start).0)
        .path(finding.text.name.as_str())
        .annotation(AnnotationKind::Primary.span(span).highlight_source(true));
    let what = clean(&finding.problem.what);
    let mut group = Level::ERROR.primary_title(&what).element(snippet);
    // a path is told in lines of its own
    let lines = |hint: &str| hint.lines().map(clean).collect::<Vec<_>>().join("\n");
    let hint = finding.problem.hint.as_deref().map(lines);
    if let Some(hint) = &hint {
        group = group.element(Level::HELP.message(hint.as_str()));
    }
    Renderer::plain().render(&[group])
}

impl<E: Explain> From<E> for Failure {
    fn from(error: E) -> Failure {
        let exit = if error.is_equipment() { EQUIPMENT } else { REFUSED };
        Failure {
            exit,
            hint: error.hint(),
            findings: error.findings(),
            ..Failure::refused(error.to_string())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::located::{Problem, Text};

    #[test]
    fn a_finding_shows_file_line_column_and_caret() {
        let text = Text {
            name: "a.ron".into(),
            text: "(\n  size: \"5 V\",\n)".into(),
        };
        let problem = Problem::new(&(10..15), "`5 V` is a voltage, a length is needed here").hint("write it in `m`");
        let rendered = render(&Finding { text, problem });
        let expected = "error: `5 V` is a voltage, a length is needed here
 --> a.ron:2:9
  |
2 |   size: \"5 V\",
  |         ^^^^^
  |
  = help: write it in `m`";
        assert_eq!(rendered, expected);
    }
}
