//! The terminal itself: the one of this session, how wide it is, and its echo.
//!
//! The rule inside: what was switched off is switched on again when its owner is dropped.

use std::fs::File;
use std::io;

/// Opens the terminal of this session, whatever standard input and output lead to.
///
/// # Errors
/// What the system says where the session has none; [`io::ErrorKind::Unsupported`] on a system that has no name for it.
pub fn of_session() -> io::Result<File> {
    if cfg!(unix) {
        File::open("/dev/tty")
    } else {
        Err(io::Error::new(
            io::ErrorKind::Unsupported,
            "a terminal beside standard input is not supported on this system",
        ))
    }
}

/// Characters in a line of the terminal that standard output leads to; none where there is none to ask.
pub fn columns() -> Option<usize> {
    #[cfg(unix)]
    let columns = rustix::termios::tcgetwinsize(io::stdout())
        .ok()
        .map(|size| usize::from(size.ws_col))
        .filter(|columns| 0 < *columns);
    #[cfg(not(unix))]
    let columns = None;
    columns
}

/// Keeps typed characters from the screen until it is dropped; does nothing where there is no terminal, nor on a system whose
/// terminals are not supported: the passphrase then shows, which is no reason to lose the record.
#[derive(Debug)]
pub struct EchoOff {
    terminal: Option<&'static File>,
    before: Option<modes::Modes>,
}

impl EchoOff {
    /// Turns the echo off at a terminal, or at standard input where none is named.
    pub fn at(terminal: Option<&'static File>) -> EchoOff {
        let before = modes::of(terminal);
        if let Some(before) = &before {
            modes::set(terminal, &modes::quiet(before));
        }
        EchoOff { terminal, before }
    }
}

impl Drop for EchoOff {
    fn drop(&mut self) {
        if let Some(before) = &self.before {
            modes::set(self.terminal, before);
        }
    }
}

#[cfg(unix)]
mod modes {
    use std::fs::File;
    use std::io;

    pub(super) use rustix::termios::Termios as Modes;
    use rustix::termios::{LocalModes, OptionalActions, tcgetattr, tcsetattr};

    pub(super) fn of(terminal: Option<&File>) -> Option<Modes> {
        match terminal {
            Some(file) => tcgetattr(file).ok(),
            None => tcgetattr(io::stdin()).ok(),
        }
    }

    pub(super) fn quiet(before: &Modes) -> Modes {
        let mut quiet = before.clone();
        quiet.local_modes.remove(LocalModes::ECHO);
        quiet.local_modes.insert(LocalModes::ECHONL);
        quiet
    }

    /// Where the echo cannot be changed the passphrase shows, which is no reason to lose the record.
    pub(super) fn set(terminal: Option<&File>, modes: &Modes) {
        let _ = match terminal {
            Some(file) => tcsetattr(file, OptionalActions::Now, modes),
            None => tcsetattr(io::stdin(), OptionalActions::Now, modes),
        };
    }
}

#[cfg(not(unix))]
mod modes {
    use std::fs::File;

    /// Not known on this system.
    #[derive(Debug)]
    pub(super) struct Modes;

    pub(super) fn of(_: Option<&File>) -> Option<Modes> {
        None
    }

    pub(super) fn quiet(_: &Modes) -> Modes {
        Modes
    }

    pub(super) fn set(_: Option<&File>, _: &Modes) {}
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    use rustix::termios::{LocalModes, tcgetattr};

    #[test]
    fn the_echo_comes_back_when_its_owner_is_dropped() {
        let screen = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
        grantpt(&screen).unwrap();
        unlockpt(&screen).unwrap();
        let path = ptsname(&screen, Vec::new()).unwrap();
        let terminal: &'static File = Box::leak(Box::new(File::open(path.to_str().unwrap()).unwrap()));
        let modes = || tcgetattr(terminal).unwrap().local_modes;
        let before = modes();
        assert!(before.contains(LocalModes::ECHO));
        let off = EchoOff::at(Some(terminal));
        assert!(!modes().contains(LocalModes::ECHO), "what is typed does not show");
        assert!(modes().contains(LocalModes::ECHONL), "the end of the line does");
        drop(off);
        assert_eq!(modes(), before);
    }

    #[test]
    fn a_plain_file_has_no_echo_to_turn_off() {
        let file: &'static File = Box::leak(Box::new(tempfile::tempfile().unwrap()));
        assert!(EchoOff::at(Some(file)).before.is_none());
    }
}
