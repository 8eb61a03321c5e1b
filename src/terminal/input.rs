//! Lines from standard input, read by one thread for the whole program.
//!
//! The rule inside: there is one reader of standard input, so a line typed for one question never goes to another; a passphrase
//! comes through the same reader with the echo off.

use std::io::{self, BufRead, IsTerminal};

use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};

/// The longest line that is read, in bytes; more is cut.
const LINE_BYTES_MAX: usize = 4096;

/// Starts the reader; the channel closes at the end of the input.
pub fn lines() -> UnboundedReceiver<String> {
    let (sender, receiver) = unbounded_channel();
    std::thread::spawn(move || {
        let mut input = io::stdin().lock();
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
    rustix::termios::tcgetwinsize(io::stdout())
        .ok()
        .map(|size| usize::from(size.ws_col))
        .filter(|w| 0 < *w)
        .unwrap_or(100)
}

/// Keeps typed characters from the screen until it is dropped; does nothing where standard input is no terminal.
#[derive(Debug)]
pub struct EchoOff {
    before: Option<rustix::termios::Termios>,
}

impl EchoOff {
    /// Turns the echo off.
    pub fn new() -> EchoOff {
        let stdin = io::stdin();
        let before = stdin
            .is_terminal()
            .then(|| rustix::termios::tcgetattr(&stdin).ok())
            .flatten();
        if let Some(before) = &before {
            let mut quiet = before.clone();
            quiet.local_modes.remove(rustix::termios::LocalModes::ECHO);
            quiet.local_modes.insert(rustix::termios::LocalModes::ECHONL);
            // where it cannot be turned off the passphrase shows, which is no reason to lose the record
            let _ = rustix::termios::tcsetattr(&stdin, rustix::termios::OptionalActions::Now, &quiet);
        }
        EchoOff { before }
    }
}

impl Default for EchoOff {
    fn default() -> EchoOff {
        EchoOff::new()
    }
}

impl Drop for EchoOff {
    fn drop(&mut self) {
        if let Some(before) = &self.before {
            let _ = rustix::termios::tcsetattr(io::stdin(), rustix::termios::OptionalActions::Now, before);
        }
    }
}
