//! The matrix as a picture: a row a fault, a column a step.
//!
//! The rule inside: shapes tell what colours would, so it reads in grey and by people who do not see colours: a full square
//! is the step that catches the fault first, a ring one that would catch it too, a cross in the margin an escape.

use std::fmt::Write;

use super::matrix::{Coverage, Row};

/// Side of a cell, in pixels.
const CELL: usize = 14;
/// Width of a character of the labels, in pixels, on the safe side.
const CHARACTER: usize = 7;

/// An SVG picture of a coverage.
pub fn svg(coverage: &Coverage) -> String {
    let columns = &coverage.looking;
    let longest = |names: &mut dyn Iterator<Item = usize>| names.max().unwrap_or(0) * CHARACTER + 24;
    let left = longest(&mut coverage.rows.iter().map(|row| row.fault.chars().count()));
    let top = longest(&mut columns.iter().map(|step| coverage.steps[*step].chars().count())) + 40;
    let (width, height) = (left + columns.len() * CELL + 24, top + coverage.rows.len() * CELL + 60);
    let mut canvas = Canvas {
        left,
        top,
        out: String::new(),
    };
    canvas.put(format_args!(
        r##"<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" viewBox="0 0 {width} {height}" font-family="sans-serif" font-size="11" fill="#000">"##
    ));
    canvas.put(format_args!(
        "<title>Faults and the steps that catch them: {}, {}</title>",
        escaped(&coverage.title),
        escaped(&coverage.place)
    ));
    canvas.put(format_args!(
        r##"<rect width="{width}" height="{height}" fill="#fff"/>"##
    ));
    canvas.put(format_args!(
        r##"<text x="12" y="22" font-size="14" font-weight="bold">{}: {} of {} of the library's faults at their usual size caught</text>"##,
        escaped(&coverage.title),
        coverage.rows.len() - coverage.escapes().count(),
        coverage.rows.len()
    ));
    canvas.heads(coverage);
    for (line, row) in coverage.rows.iter().enumerate() {
        canvas.row(line, row, columns);
    }
    canvas.key(height - 24);
    canvas.out.push_str("</svg>\n");
    canvas.out
}

/// The picture as far as it is drawn, and where the matrix begins.
struct Canvas {
    left: usize,
    top: usize,
    out: String,
}

impl Canvas {
    fn put(&mut self, line: std::fmt::Arguments<'_>) {
        self.out.write_fmt(line).expect("a string takes everything");
        self.out.push('\n');
    }

    /// The steps' names, upright, and a line every five columns.
    fn heads(&mut self, coverage: &Coverage) {
        for (column, step) in coverage.looking.iter().enumerate() {
            let (x, y) = (self.left + column * CELL, self.top);
            self.put(format_args!(
                r##"<text transform="translate({} {}) rotate(-90)">{}</text>"##,
                x + CELL - 3,
                y - 6,
                escaped(&coverage.steps[*step])
            ));
            if column % 5 == 0 {
                let to = y + coverage.rows.len() * CELL;
                self.put(format_args!(r##"<path d="M{x} {y}V{to}" stroke="#ccc" fill="none"/>"##));
            }
        }
    }

    fn row(&mut self, line: usize, row: &Row, columns: &[usize]) {
        let (left, y) = (self.left, self.top + line * CELL);
        if line % 2 == 1 {
            self.put(format_args!(
                r##"<rect x="{left}" y="{y}" width="{}" height="{CELL}" fill="#eee" fill-opacity="0.6"/>"##,
                columns.len() * CELL
            ));
        }
        self.put(format_args!(
            r##"<text x="{}" y="{}" text-anchor="end">{}</text>"##,
            left - 18,
            y + CELL - 3,
            escaped(&row.fault)
        ));
        if row.caught.is_empty() {
            self.cross(left - 14, y + 3);
        }
        for (nth, step) in row.caught.iter().enumerate() {
            let Some(column) = columns.iter().position(|there| there == step) else {
                continue;
            };
            let x = left + column * CELL;
            if nth == 0 {
                self.square(x + 2, y + 2);
            } else {
                self.ring(x + CELL / 2, y + CELL / 2);
            }
        }
    }

    fn square(&mut self, x: usize, y: usize) {
        self.put(format_args!(r##"<rect x="{x}" y="{y}" width="10" height="10"/>"##));
    }

    fn ring(&mut self, x: usize, y: usize) {
        self.put(format_args!(
            r##"<circle cx="{x}" cy="{y}" r="4" fill="none" stroke="#000"/>"##
        ));
    }

    fn cross(&mut self, x: usize, y: usize) {
        self.put(format_args!(
            r##"<path d="M{x} {y}l8 8m0 -8l-8 8" stroke="#000" stroke-width="2" fill="none"/>"##
        ));
    }

    /// What the shapes mean.
    fn key(&mut self, y: usize) {
        self.square(12, y - 9);
        self.ring(147, y - 4);
        self.cross(282, y - 9);
        for (x, words) in [
            (28, "catches it first"),
            (158, "would catch it too"),
            (298, "nothing catches it"),
        ] {
            self.put(format_args!(r##"<text x="{x}" y="{y}">{words}</text>"##));
        }
    }
}

fn escaped(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn coverage() -> Coverage {
        let row = |fault: &str, caught: Vec<usize>| Row {
            fault: fault.into(),
            kinds: vec!["kind".into()],
            words: String::new(),
            caught,
            because: String::new(),
            excepted: None,
        };
        Coverage {
            title: "Loft <&> \"stairs\"".into(),
            place: "club".into(),
            steps: vec!["do".into(), "look".into(), "read".into()],
            looking: vec![1, 2],
            rows: vec![row("first", vec![1, 2]), row("second", vec![2]), row("third", vec![])],
            promises: Vec::new(),
            effort: crate::plan::Effort::of(&crate::model::sample::plan()),
        }
    }

    #[test]
    fn shapes_stand_for_what_was_caught() {
        let svg = svg(&coverage());
        let count = |piece: &str| svg.matches(piece).count();
        // two first catches, one more, one escape, and one of each in the key
        assert_eq!(count("width=\"10\" height=\"10\""), 3);
        assert_eq!(count("<circle"), 2);
        assert_eq!(count("l8 8m0 -8l-8 8"), 2);
        assert!(svg.contains(
            "Loft &lt;&amp;&gt; &quot;stairs&quot;: 2 of 3 of the library's faults at their usual size caught"
        ));
        assert!(!svg.contains("rotate(-90)\">do<"), "hands have no column");
    }

    #[test]
    fn only_greys_are_used() {
        for (at, _) in svg(&coverage()).match_indices("=\"#") {
            let svg = svg(&coverage());
            let colour: String = svg[at + 3..].chars().take_while(|c| *c != '"').collect();
            assert!(["000", "fff", "ccc", "eee"].contains(&colour.as_str()), "{colour}");
        }
    }
}
