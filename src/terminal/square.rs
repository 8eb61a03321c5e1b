//! A square code in a terminal, for a camera (ISO/IEC 18004).
//!
//! The rule inside: dark is dark and light is light, whatever colours the terminal has, since not every camera reads the opposite; nothing
//! but modules is written, so that no text reaches the terminal by this way.

use std::io::{self, Write};

use qrcodegen::{QrCode, QrCodeEcc};

/// Light modules around the code: its standard asks for 4, and with 2 an address fits a terminal of 24 lines.
const QUIET: i32 = 2;

/// Black on white, of the 256 colours that a theme does not change.
const INK: &str = "\u{1b}[38;5;16;48;5;231m";
const END: &str = "\u{1b}[0m";

/// Writes the code of a text, two rows of modules a line, where it fits so many columns; false where it does not.
///
/// # Errors
/// What the output says.
pub fn write(mut out: impl Write, text: &str, columns: usize) -> io::Result<bool> {
    let Ok(code) = QrCode::encode_text(text, QrCodeEcc::Low) else {
        return Ok(false);
    };
    let span = -QUIET..code.size() + QUIET;
    if columns < span.len() {
        return Ok(false);
    }
    for y in span.clone().step_by(2) {
        let line: String = span
            .clone()
            .map(|x| match (code.get_module(x, y), code.get_module(x, y + 1)) {
                (false, false) => ' ',
                (true, false) => '\u{2580}',
                (false, true) => '\u{2584}',
                (true, true) => '\u{2588}',
            })
            .collect();
        writeln!(out, "{INK}{line}{END}")?;
    }
    out.flush()?;
    Ok(true)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The modules as a terminal paints them, `true` for dark.
    fn painted(text: &str) -> Vec<Vec<bool>> {
        let mut out = Vec::new();
        assert!(write(&mut out, text, 80).unwrap());
        let lines = String::from_utf8(out).unwrap().replace('\n', "\r\n");
        let mut terminal = vt100::Parser::new(60.try_into().unwrap(), 80.try_into().unwrap(), 0);
        terminal.process(lines.as_bytes());
        let screen = terminal.screen();
        let (ink, paper) = (vt100::Color::Idx(16), vt100::Color::Idx(231));
        let mut rows = Vec::new();
        for row in 0.. {
            let cells: Vec<_> = (0..80).map_while(|at| screen.cell(row, at)).collect();
            let cells: Vec<_> = cells.into_iter().take_while(|cell| cell.bgcolor() == paper).collect();
            if cells.is_empty() {
                return rows;
            }
            assert!(cells.iter().all(|cell| cell.fgcolor() == ink));
            rows.push(
                cells
                    .iter()
                    .map(|cell| "\u{2580}\u{2588}".contains(cell.contents()) && cell.has_contents())
                    .collect(),
            );
            rows.push(
                cells
                    .iter()
                    .map(|cell| "\u{2584}\u{2588}".contains(cell.contents()) && cell.has_contents())
                    .collect(),
            );
        }
        rows
    }

    #[test]
    fn a_terminal_paints_the_finder_patterns_of_the_standard_with_light_around() {
        let rows = painted("https://192.168.143.117:40123/#0123456789abcdef0123456789abcdef");
        let side = rows[0].len();
        // it fits a terminal of 80 columns and 24 lines
        assert!(side <= 45 && rows.len() <= 46, "{side}");
        let quiet = usize::try_from(QUIET).unwrap();
        let light = |at: usize| rows[at].iter().all(|dark| !dark) && rows.iter().all(|row| !row[at]);
        assert!((0..quiet).all(light));
        // ISO/IEC 18004, 6.3.3: 7 x 7 dark, within it 5 x 5 light, within that 3 x 3 dark, in three corners and not in the fourth
        let finder = |top: usize, left: usize| {
            (0..7).all(|y| {
                (0..7usize).all(|x| {
                    let ring = y.min(x).min(6 - y).min(6 - x);
                    rows[top + y][left + x] == (ring != 1)
                })
            })
        };
        let far = side - quiet - 7;
        let found = [(quiet, quiet), (quiet, far), (far, quiet), (far, far)].map(|(top, left)| finder(top, left));
        assert_eq!(found, [true, true, true, false]);
    }

    #[test]
    fn what_does_not_fit_is_not_drawn() {
        for (text, columns) in [("https://192.168.43.5/", 20), (&*"x".repeat(4000), 500)] {
            let mut out = Vec::new();
            assert!(!write(&mut out, text, columns).unwrap());
            assert_eq!(out, b"");
        }
    }
}
