//! A pseudo-terminal as a person sees it.

use std::fs::{File, OpenOptions};
use std::io::{ErrorKind, Read, Write};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};

use crate::world::World;

/// Longest wait for a text: longer than a valve takes.
const SHOWN_WITHIN: Duration = Duration::from_secs(60);

/// A pseudo-terminal: the side of whoever types and reads, and the program's.
pub fn pseudo_terminal() -> (File, File) {
    let screen = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
    grantpt(&screen).unwrap();
    unlockpt(&screen).unwrap();
    let path = ptsname(&screen, Vec::new()).unwrap();
    let terminal = OpenOptions::new()
        .read(true)
        .write(true)
        .open(path.to_str().unwrap())
        .unwrap();
    (File::from(screen), terminal)
}

/// What the program shows, as far as it was looked at.
pub struct Shown {
    pub screen: File,
    pub text: String,
    /// What stands before this was waited for already.
    from: usize,
}

impl Shown {
    pub fn on(screen: File) -> Shown {
        rustix::io::ioctl_fionbio(&screen, true).unwrap();
        Shown {
            screen,
            text: String::new(),
            from: 0,
        }
    }

    /// Types a line.
    pub fn type_line(&mut self, line: &str) {
        let _ = self.screen.write_all(format!("{line}\n").as_bytes());
    }

    /// Waits until a text is shown after what was waited for before; one read may bring several.
    pub fn until(&mut self, wanted: &str) {
        self.until_any(&[wanted]);
    }

    /// Waits until one of these is shown; which of them came first.
    pub fn until_any(&mut self, wanted: &[&str]) -> usize {
        let (began, mut bytes) = (Instant::now(), [0; 4096]);
        loop {
            let rest = &self.text[self.from..];
            let found = wanted.iter().enumerate();
            let found = found.filter_map(|(n, wanted)| rest.find(wanted).map(|at| (at, n, wanted.len())));
            if let Some((at, n, length)) = found.min() {
                self.from += at + length;
                return n;
            }
            assert!(
                began.elapsed() < SHOWN_WITHIN,
                "none of {wanted:?} was shown: {}",
                self.text
            );
            match self.screen.read(&mut bytes) {
                Ok(read) => self.text.push_str(&String::from_utf8_lossy(&bytes[..read])),
                Err(error) if error.kind() == ErrorKind::WouldBlock => std::thread::sleep(Duration::from_millis(10)),
                Err(error) => panic!("{error}: {}", self.text),
            }
        }
    }
}

/// A command at a terminal of its own.
pub fn at_a_terminal(world: &World, args: &[&str]) -> (Child, Shown) {
    let (screen, terminal) = pseudo_terminal();
    let command: &mut Command = &mut world.command(args);
    let child = command
        .stdin(terminal.try_clone().unwrap())
        .stdout(terminal.try_clone().unwrap())
        .stderr(Stdio::from(terminal))
        .spawn()
        .unwrap();
    (child, Shown::on(screen))
}
