//! What is typed: lines from standard input, or from the terminal where that carries a meter, read by one thread for the whole
//! program.
//!
//! The rule inside: there is one reader of what is typed. At a terminal it stamps each line with the prompt that was on the screen when
//! the line was ended, so that a line typed for one question never goes to another; on a pipe lines answer in their order, or say
//! which prompt they answer. A passphrase comes through the same reader with the echo off. Half a line before the end of the input
//! is nothing, and a line that is too long is not kept.

use std::fs::File;
use std::io::{self, BufRead, BufReader, IsTerminal};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicU64, Ordering};

use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};

use crate::run::dialogue::{LINE_BYTES_MAX, Said, To, What};
use crate::run::event::Face;
use crate::system::terminal::{self, EchoOff};

/// The terminal that answers are typed on while standard input carries something else.
static TERMINAL: OnceLock<File> = OnceLock::new();

/// The number of the prompt on the screen; 0 before the first.
static ON_SCREEN: AtomicU64 = AtomicU64::new(0);

/// The prompt of this number is on the screen now.
pub fn on_screen(number: u64) {
    ON_SCREEN.store(number, Ordering::Release);
}

/// Starts the reader; the channel closes at the end of the input.
pub fn lines() -> UnboundedReceiver<Said> {
    let to = if io::stdin().is_terminal() { stamp } else { || To::Named };
    read(BufReader::new(io::stdin()), to)
}

/// Starts the reader on the terminal of this session, where standard input carries a meter.
pub fn terminal_lines() -> io::Result<UnboundedReceiver<Said>> {
    let terminal = terminal::of_session()?;
    let lines = read(BufReader::new(terminal.try_clone()?), stamp);
    // a second call finds the same terminal set
    let _ = TERMINAL.set(terminal);
    Ok(lines)
}

/// A person at a terminal answers what is on the screen.
fn stamp() -> To {
    To::OnScreen(ON_SCREEN.load(Ordering::Acquire))
}

fn read(mut input: impl BufRead + Send + 'static, to: fn() -> To) -> UnboundedReceiver<Said> {
    let (sender, receiver) = unbounded_channel();
    std::thread::spawn(move || {
        while let Ok(Some(line)) = whole_line(&mut input) {
            let what = match line {
                Line::Whole(bytes) => What::Line(String::from_utf8_lossy(&bytes).into_owned()),
                Line::TooLong => What::TooLong,
            };
            let to = to();
            let face = Some(match to {
                To::Named => Face::Pipe,
                To::Now | To::OnScreen(_) => Face::Terminal,
            });
            if sender.send(Said { to, what, face }).is_err() {
                return;
            }
        }
    });
    receiver
}

/// A line without its end.
#[derive(Debug, PartialEq, Eq)]
enum Line {
    Whole(Vec<u8>),
    TooLong,
}

/// The next line that was ended; none at the end of the input, whatever stands before it.
fn whole_line(input: &mut impl BufRead) -> io::Result<Option<Line>> {
    let mut line = Vec::new();
    let mut too_long = false;
    loop {
        let bytes = input.fill_buf()?;
        if bytes.is_empty() {
            return Ok(None);
        }
        let end = bytes.iter().position(|byte| *byte == b'\n');
        let part = &bytes[..end.unwrap_or(bytes.len())];
        too_long |= LINE_BYTES_MAX + 1 < line.len() + part.len();
        if too_long {
            line.clear();
        } else {
            line.extend_from_slice(part);
        }
        let taken = end.map_or(bytes.len(), |end| end + 1);
        input.consume(taken);
        if end.is_some() {
            if line.last() == Some(&b'\r') {
                line.pop();
            }
            return Ok(Some(if too_long || LINE_BYTES_MAX < line.len() {
                Line::TooLong
            } else {
                Line::Whole(line)
            }));
        }
    }
}

/// Whether standard input is a terminal.
pub fn is_typed() -> bool {
    io::stdin().is_terminal()
}

/// Whether a person sits at the terminal on both sides.
pub fn is_interactive() -> bool {
    io::stdin().is_terminal() && io::stdout().is_terminal()
}

/// Characters in a line of the output: the terminal's, or 100 where there is none to ask.
pub fn width() -> usize {
    terminal::columns().unwrap_or(100)
}

/// Keeps typed characters from the screen until it is dropped; does nothing where nobody types at a terminal.
pub fn echo_off() -> EchoOff {
    EchoOff::at(TERMINAL.get())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(input: &[u8], buffer: usize) -> Vec<Line> {
        let mut input = BufReader::with_capacity(buffer, input);
        std::iter::from_fn(|| whole_line(&mut input).unwrap()).collect()
    }

    #[test]
    fn half_a_line_before_the_end_is_nothing() {
        let whole = |text: &str| Line::Whole(text.as_bytes().to_vec());
        for buffer in [1, 3, 64] {
            assert_eq!(
                all(b"lit\r\ndark\n0.4", buffer),
                [whole("lit"), whole("dark")],
                "{buffer}"
            );
            assert_eq!(all(b"0.42", buffer), []);
            assert_eq!(all(b"\n\n", buffer), [whole(""), whole("")]);
        }
    }

    #[test]
    fn a_line_too_long_is_not_kept_and_the_next_one_is() {
        let long = "9".repeat(LINE_BYTES_MAX + 1);
        let most = "9".repeat(LINE_BYTES_MAX);
        let text = format!("{long}\n{most}\r\nlit\n{}\n", "9".repeat(100_000));
        for buffer in [7, 4096, 1 << 20] {
            let lines = all(text.as_bytes(), buffer);
            assert_eq!(lines.len(), 4);
            assert_eq!((&lines[0], &lines[3]), (&Line::TooLong, &Line::TooLong));
            assert_eq!(
                (&lines[1], &lines[2]),
                (&Line::Whole(most.clone().into_bytes()), &Line::Whole(b"lit".to_vec()))
            );
        }
    }
}
