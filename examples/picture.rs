//! A picture of what a program shows on a terminal, as SVG: the program runs on a pseudo-terminal, lines are typed when a text is shown, and
//! the screen at its end, or when the last text is shown, is drawn.
//!
//! The rule inside: what is drawn is what the terminal would show, and nothing is put in or left out.
//!
//!     picture FILE.svg COLUMNS ROWS [--when TEXT [--type LINE]]… -- PROGRAM [ARGUMENT]…

use std::error::Error;
use std::fmt::Write as _;
use std::fs::{File, OpenOptions};
use std::io::{Read, Write};
use std::num::NonZeroU16;
use std::process::{Command, Stdio};

use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{Winsize, tcsetwinsize};

/// Size of a character on the picture, in points.
const CHARACTER: (f64, f64) = (8.0, 17.0);

/// What is drawn, and what is typed meanwhile.
struct Asked {
    file: String,
    size: (NonZeroU16, NonZeroU16),
    /// When a text is shown, a line is typed.
    acts: Vec<(String, Option<String>)>,
    command: Vec<String>,
}

fn asked() -> Result<Asked, Box<dyn Error>> {
    let mut args = std::env::args().skip(1);
    let mut next = || {
        args.next()
            .ok_or("picture FILE.svg COLUMNS ROWS [--when TEXT [--type LINE]]… -- PROGRAM…")
    };
    let file = next()?;
    let size = (next()?.parse()?, next()?.parse()?);
    let mut acts: Vec<(String, Option<String>)> = Vec::new();
    loop {
        match next()?.as_str() {
            "--" => break,
            "--when" => acts.push((next()?, None)),
            "--type" => acts.last_mut().ok_or("--type stands after --when")?.1 = Some(next()?),
            other => return Err(format!("`{other}` is not known").into()),
        }
    }
    let command = args.collect();
    Ok(Asked {
        file,
        size,
        acts,
        command,
    })
}

fn main() -> Result<(), Box<dyn Error>> {
    let asked = asked()?;
    let (columns, rows) = asked.size;
    let screen = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC)?;
    grantpt(&screen)?;
    unlockpt(&screen)?;
    tcsetwinsize(
        &screen,
        Winsize {
            ws_row: rows.get(),
            ws_col: columns.get(),
            ws_xpixel: 0,
            ws_ypixel: 0,
        },
    )?;
    let path = ptsname(&screen, Vec::new())?;
    let terminal = OpenOptions::new().read(true).write(true).open(path.to_str()?)?;
    let (program, arguments) = asked.command.split_first().ok_or("no program is named")?;
    let mut child = Command::new(program)
        .args(arguments)
        .stdin(terminal.try_clone()?)
        .stdout(terminal.try_clone()?)
        .stderr(Stdio::from(terminal))
        .spawn()?;
    let shown = watch(File::from(screen), &asked);
    let _ = child.kill();
    let _ = child.wait();
    std::fs::write(&asked.file, svg(shown?.screen(), (columns.get(), rows.get()))?)?;
    Ok(())
}

/// What stands on the screen in the end.
fn watch(mut screen: File, asked: &Asked) -> Result<vt100::Parser, Box<dyn Error>> {
    let (columns, rows) = asked.size;
    let mut parser = vt100::Parser::new(rows, columns, 0);
    let (mut acts, mut bytes, mut text, mut from) = (asked.acts.iter(), [0; 4096], String::new(), 0);
    let mut act = acts.next();
    loop {
        while let Some((wanted, line)) = act
            && let Some(at) = text[from..].find(wanted.as_str())
        {
            from += at + wanted.len();
            if let Some(line) = line {
                screen.write_all(format!("{line}\n").as_bytes())?;
            }
            act = acts.next();
            if act.is_none() && line.is_none() {
                return Ok(parser);
            }
        }
        match screen.read(&mut bytes) {
            // the end of the program is an error of its terminal
            Ok(0) | Err(_) if act.is_none() => return Ok(parser),
            Ok(0) | Err(_) => return Err(format!("`{}` was never shown: {text}", act.map_or("", |act| &act.0)).into()),
            Ok(count) => {
                parser.process(&bytes[..count]);
                text.push_str(&String::from_utf8_lossy(&bytes[..count]));
            }
        }
    }
}

/// The screen without the empty rows at its end.
fn svg(screen: &vt100::Screen, (columns, rows): (u16, u16)) -> Result<String, std::fmt::Error> {
    let lines: Vec<String> = screen.rows(0, columns).collect();
    let used = lines
        .iter()
        .rposition(|line| !line.trim().is_empty())
        .map_or(1, |last| last + 1);
    let (width, height) = (
        f64::from(columns) * CHARACTER.0 + 20.0,
        used as f64 * CHARACTER.1 + 20.0,
    );
    let mut svg = String::new();
    writeln!(
        svg,
        r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}" role="img">"#
    )?;
    writeln!(svg, r##"<rect width="100%" height="100%" rx="6" fill="#14181c"/>"##)?;
    writeln!(
        svg,
        r##"<g font-family="monospace" font-size="13" fill="#e4e7ea" xml:space="preserve">"##
    )?;
    for (row, line) in (0..rows).zip(&lines).take(used) {
        let y = 10.0 + (f64::from(row) + 0.78) * CHARACTER.1;
        let length = line.chars().count() as f64 * CHARACTER.0;
        let bold = (0..columns).any(|column| screen.cell(row, column).is_some_and(vt100::Cell::bold));
        let weight = if bold { r#" font-weight="bold""# } else { "" };
        let text = line.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;");
        if !line.is_empty() {
            writeln!(
                svg,
                r#"<text x="10" y="{y:.1}" textLength="{length}"{weight}>{text}</text>"#
            )?;
        }
    }
    writeln!(svg, "</g>\n</svg>")?;
    Ok(svg)
}
