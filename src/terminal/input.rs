//! Lines from standard input, or from the terminal where that carries a meter, read by one thread for the whole program.
//!
//! The rule inside: there is one reader of what is typed, so a line typed for one question never goes to another; a passphrase
//! comes through the same reader with the echo off.

use std::fs::File;
use std::io::{self, BufRead, BufReader, IsTerminal};
use std::os::fd::{AsFd, BorrowedFd};
use std::sync::OnceLock;

use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};

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
    let terminal = File::open("/dev/tty")?;
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

/// Does something with the terminal that lines are typed on, where there is one.
fn on_terminal<R>(act: impl FnOnce(BorrowedFd<'_>) -> R) -> Option<R> {
    if let Some(terminal) = TERMINAL.get() {
        return Some(act(terminal.as_fd()));
    }
    let stdin = io::stdin();
    stdin.is_terminal().then(|| act(stdin.as_fd()))
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
        let before = on_terminal(|terminal| rustix::termios::tcgetattr(terminal).ok()).flatten();
        if let Some(before) = &before {
            let mut quiet = before.clone();
            quiet.local_modes.remove(rustix::termios::LocalModes::ECHO);
            quiet.local_modes.insert(rustix::termios::LocalModes::ECHONL);
            set(&quiet);
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
            set(before);
        }
    }
}

/// Where the echo cannot be changed the passphrase shows, which is no reason to lose the record.
fn set(modes: &rustix::termios::Termios) {
    on_terminal(|terminal| rustix::termios::tcsetattr(terminal, rustix::termios::OptionalActions::Now, modes).ok());
}
