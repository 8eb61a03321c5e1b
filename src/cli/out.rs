//! Results to standard output. A reader that has gone away is no error; a full disk behind a redirection is one, told at the end.
//!
//! The rule inside: printing never stops the work, so a dead terminal cannot leave a closed run unsealed.

use std::fmt::Arguments;
use std::io::{ErrorKind, Write};
use std::sync::Mutex;

use super::error::Failure;

static FIRST_ERROR: Mutex<Option<std::io::Error>> = Mutex::new(None);

/// Writes one line.
pub fn line(text: Arguments<'_>) {
    keep(writeln!(std::io::stdout().lock(), "{text}"));
}

/// Writes without ending the line.
pub fn part(text: Arguments<'_>) {
    let mut out = std::io::stdout().lock();
    keep(write!(out, "{text}").and_then(|()| out.flush()));
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
