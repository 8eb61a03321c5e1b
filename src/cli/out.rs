//! Results to standard output. A reader that has gone away is no error; a full disk behind a redirection is one, told at the end.
//!
//! The rule inside: printing never stops the work, so a dead terminal cannot leave a closed run unsealed; and this is the door at which every
//! character that would change a line unseen is left out, whoever wrote it.

use std::fmt::Arguments;
use std::io::{ErrorKind, Write};
use std::sync::Mutex;

use serde::Serialize;

use super::error::Failure;
use crate::located::is_unseen;
use crate::terminal::plain::clean_lines;

static FIRST_ERROR: Mutex<Option<std::io::Error>> = Mutex::new(None);

/// Writes one line, or several.
pub fn line(text: Arguments<'_>) {
    keep(writeln!(std::io::stdout().lock(), "{}", clean_lines(&text.to_string())));
}

/// Writes a line to standard error.
pub fn complaint(text: Arguments<'_>) {
    let _ = writeln!(std::io::stderr().lock(), "{}", clean_lines(&text.to_string()));
}

/// Writes JSON. What a terminal must not get is written as `\u` and four digits, so that nothing of it is lost.
pub fn json(value: &impl Serialize) {
    line(format_args!("{}", json_text(value)));
}

/// A JSON array whose members go out as they come, in the same form as an array that is written at once.
#[derive(Debug, Default)]
pub struct JsonRows {
    is_open: bool,
}

impl JsonRows {
    /// One more member.
    pub fn add(&mut self, value: &impl Serialize) {
        let before = if self.is_open { ",\n" } else { "[\n" };
        let indented = json_text(value).replace('\n', "\n  ");
        part(format_args!("{before}  {indented}"));
        self.is_open = true;
    }

    /// The end of the array.
    pub fn end(&self) {
        line(format_args!("{}", if self.is_open { "\n]" } else { "[]" }));
    }
}

fn json_text(value: &impl Serialize) -> String {
    let text = serde_json::to_string_pretty(value).expect("what is printed is plain data");
    let mut escaped = String::with_capacity(text.len());
    for c in text.chars() {
        if c != '\n' && is_unseen(c) {
            let mut units = [0; 2];
            for unit in c.encode_utf16(&mut units) {
                escaped.push_str(&format!("\\u{unit:04x}"));
            }
        } else {
            escaped.push(c);
        }
    }
    escaped
}

/// Writes without ending the line.
pub fn part(text: Arguments<'_>) {
    let mut out = std::io::stdout().lock();
    keep(write!(out, "{}", clean_lines(&text.to_string())).and_then(|()| out.flush()));
}

/// A square code of a text, where it fits the terminal: the one thing here that goes past the door, since it is made of blocks alone.
#[cfg(feature = "page")]
pub fn square(text: &str) -> bool {
    let columns = crate::terminal::input::width();
    let drawn = crate::terminal::square::write(std::io::stdout().lock(), text, columns);
    let is_drawn = *drawn.as_ref().unwrap_or(&false);
    keep(drawn.map(|_| ()));
    is_drawn
}

fn keep(result: std::io::Result<()>) {
    if let Err(error) = result
        && let Ok(mut first) = FIRST_ERROR.lock()
    {
        first.get_or_insert(error);
    }
}

/// What went wrong with the output, if it matters.
pub fn failure() -> Option<Failure> {
    let error = FIRST_ERROR.lock().ok()?.take()?;
    (error.kind() != ErrorKind::BrokenPipe).then(|| {
        Failure::equipment(format!("the output cannot be written: {error}"))
            .hint("make room, or send the output elsewhere")
    })
}

macro_rules! say {
    ($($text:tt)*) => { $crate::cli::out::line(format_args!($($text)*)) };
}
pub(crate) use say;

macro_rules! complain {
    ($($text:tt)*) => { $crate::cli::out::complaint(format_args!($($text)*)) };
}
pub(crate) use complain;
