//! Lines from standard input, or from the terminal where that carries a meter, read by one thread for the whole program.
//!
//! The rule inside: there is one reader of what is typed, so a line typed for one question never goes to another; a passphrase
//! comes through the same reader with the echo off.

use std::fs::File;
use std::io::{self, BufRead, BufReader, IsTerminal};
use std::sync::OnceLock;

use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};

use crate::system::terminal::{self, EchoOff};

/// The longest line that is read, in bytes; more is cut.
const LINE_BYTES_MAX: usize = 4096;

/// The terminal that answers are typed on while standard input carries something else.
static TERMINAL: OnceLock<File> = OnceLock::new();

/// Starts the reader; the channel closes at the end of the input.
pub fn lines() -> UnboundedReceiver<String> {
    read(BufReader::new(io::stdin()))
}

/// Starts the reader on the terminal of this session, where standard input carries a meter.
pub fn terminal_lines() -> io::Result<UnboundedReceiver<String>> {
    let terminal = terminal::of_session()?;
    let lines = read(BufReader::new(terminal.try_clone()?));
    // a second call finds the same terminal set
    let _ = TERMINAL.set(terminal);
    Ok(lines)
}

fn read(mut input: impl BufRead + Send + 'static) -> UnboundedReceiver<String> {
    let (sender, receiver) = unbounded_channel();
    std::thread::spawn(move || {
        loop {
            let mut bytes = Vec::new();
            match input.read_until(b'\n', &mut bytes) {
                Ok(0) | Err(_) => return,
                Ok(_) => {
                    bytes.truncate(LINE_BYTES_MAX);
                    let line = String::from_utf8_lossy(&bytes)
                        .trim_end_matches(['\n', '\r'])
                        .to_owned();
                    if sender.send(line).is_err() {
                        return;
                    }
                }
            }
        }
    });
    receiver
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
