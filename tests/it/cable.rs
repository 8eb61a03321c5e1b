//! The meter's end of a real pseudo-terminal, behind a path that stays the same when the cable is plugged in again.

use std::collections::VecDeque;
use std::fs::File;
use std::io::Write;
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::Duration;

use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};

/// Time between the pieces that the meter sends, where nothing else is said.
const EVERY: Duration = Duration::from_millis(100);

struct MeterEnd {
    port: Option<File>,
    /// Time between the pieces.
    every: Duration,
    /// Sent one after the other once, before the others.
    first: VecDeque<Vec<u8>>,
    /// Sent one after the other, again and again.
    pieces: Vec<Vec<u8>>,
    next: usize,
    /// Sent so far.
    sent: usize,
}

/// A cable with a meter on it.
pub struct Cable {
    folder: tempfile::TempDir,
    end: Arc<Mutex<MeterEnd>>,
    stopped: Arc<AtomicBool>,
    sender: Option<JoinHandle<()>>,
}

impl Cable {
    /// A cable that is plugged in, with a meter that says nothing.
    pub fn new() -> Cable {
        let end = Arc::new(Mutex::new(MeterEnd {
            port: None,
            every: EVERY,
            first: VecDeque::new(),
            pieces: Vec::new(),
            next: 0,
            sent: 0,
        }));
        let stopped = Arc::new(AtomicBool::new(false));
        let sender = {
            let (end, stopped) = (end.clone(), stopped.clone());
            std::thread::spawn(move || {
                while !stopped.load(Ordering::Relaxed) {
                    let every = {
                        let mut end = end.lock().unwrap();
                        end.send();
                        end.every
                    };
                    std::thread::sleep(every);
                }
            })
        };
        let cable = Cable {
            folder: tempfile::tempdir().unwrap(),
            end,
            stopped,
            sender: Some(sender),
        };
        cable.plug();
        cable
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join("meter")
    }

    /// What `--meter` is given.
    pub fn spec(&self) -> String {
        format!("{},line-stream", self.path().display())
    }

    /// The meter sends these pieces in turn from now on, ten a second.
    pub fn sends(&self, pieces: &[&[u8]]) {
        self.sends_after(&[], pieces);
    }

    fn sends_after(&self, first: &[&[u8]], pieces: &[&[u8]]) {
        let mut end = self.end.lock().unwrap();
        end.first = first.iter().map(|piece| piece.to_vec()).collect();
        end.pieces = pieces.iter().map(|piece| piece.to_vec()).collect();
        end.next = 0;
    }

    /// The meter sends so many pieces a second from now on.
    pub fn rate(&self, per_second: u32) {
        self.end.lock().unwrap().every = Duration::from_secs(1) / per_second;
    }

    /// The meter sends this line from now on.
    pub fn shows(&self, line: &str) {
        self.sends(&[format!("{line}\r\n").as_bytes()]);
    }

    /// The meter sends these lines, each once, and is silent after them.
    pub fn sends_once(&self, lines: &[&str]) {
        let lines: Vec<String> = lines.iter().map(|line| format!("{line}\r\n")).collect();
        self.sends_after(&lines.iter().map(String::as_bytes).collect::<Vec<_>>(), &[]);
    }

    /// The meter sends a line once, and then the other from now on.
    pub fn shows_after(&self, once: &str, line: &str) {
        let [once, line] = [once, line].map(|line| format!("{line}\r\n"));
        self.sends_after(&[once.as_bytes()], &[line.as_bytes()]);
    }

    /// Waits until the meter has sent so many pieces more.
    pub fn frames(&self, count: usize) {
        let sent = || self.end.lock().unwrap().sent;
        let until = sent() + count;
        while sent() < until {
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    /// The meter falls asleep.
    pub fn sleeps(&self) {
        self.sends(&[]);
    }

    pub fn unplug(&self) {
        std::fs::remove_file(self.path()).unwrap();
        self.end.lock().unwrap().port = None;
    }

    pub fn plug(&self) {
        // a program that is started meanwhile must not inherit this end, or the cable would never be unplugged
        let end = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
        grantpt(&end).unwrap();
        unlockpt(&end).unwrap();
        let other = ptsname(&end, Vec::new()).unwrap();
        rustix::io::ioctl_fionbio(&end, true).unwrap();
        std::os::unix::fs::symlink(other.to_str().unwrap(), self.path()).unwrap();
        let port = File::from(end);
        self.end.lock().unwrap().port = Some(port);
    }
}

impl MeterEnd {
    fn send(&mut self) {
        let piece = match self.first.pop_front() {
            Some(piece) => piece,
            None if self.pieces.is_empty() => return,
            None => {
                self.next += 1;
                self.pieces[(self.next - 1) % self.pieces.len()].clone()
            }
        };
        self.sent += 1;
        if let Some(port) = &mut self.port {
            // a meter does not know whether anybody listens
            let _ = port.write_all(&piece);
        }
    }
}

impl Drop for Cable {
    fn drop(&mut self) {
        self.stopped.store(true, Ordering::Relaxed);
        if let Some(sender) = self.sender.take() {
            let _ = sender.join();
        }
    }
}
