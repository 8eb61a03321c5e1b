//! How far long work has come, as a bar on a terminal.
//!
//! The rule inside: it goes to standard error, and only where that is a terminal, so that nothing that is printed or piped changes with it.

use std::io::{IsTerminal as _, Write as _};
use std::time::{Duration, Instant};

/// Nothing is drawn before work has taken so long, nor oftener.
const DRAWN_EVERY: Duration = Duration::from_millis(200);
/// Characters of the bar.
const BAR: u64 = 30;

/// A bar that grows.
pub(super) struct Progress {
    what: &'static str,
    total: u64,
    done: u64,
    drawn_at: Instant,
    is_drawn: bool,
    is_terminal: bool,
}

impl Progress {
    /// Nothing done yet of so much.
    pub(super) fn of(what: &'static str, total: u64) -> Progress {
        Progress {
            what,
            total,
            done: 0,
            drawn_at: Instant::now(),
            is_drawn: false,
            is_terminal: std::io::stderr().is_terminal(),
        }
    }

    /// One more.
    pub(super) fn one(&mut self) {
        self.to(self.done + 1);
    }

    /// So much done of so much.
    pub(super) fn so_far(&mut self, done: u64, total: u64) {
        self.total = total;
        self.to(done);
    }

    /// So much done.
    fn to(&mut self, done: u64) {
        self.done = done;
        if self.is_terminal && DRAWN_EVERY <= self.drawn_at.elapsed() {
            self.drawn_at = Instant::now();
            self.is_drawn = true;
            let _ = write!(std::io::stderr().lock(), "\r{}", self.line());
        }
    }

    fn line(&self) -> String {
        let done = self.done.min(self.total);
        let full = (done * BAR).checked_div(self.total).unwrap_or(BAR);
        let (full, empty) = ("#".repeat(full as usize), ".".repeat((BAR - full) as usize));
        format!("{} [{full}{empty}] {done} of {}", self.what, self.total)
    }
}

impl Drop for Progress {
    /// What comes next is written where it stood.
    fn drop(&mut self) {
        if self.is_drawn {
            let blank = " ".repeat(self.line().chars().count());
            let _ = write!(std::io::stderr().lock(), "\r{blank}\r");
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bar_says_how_far_it_is() {
        let line = |done, total| {
            let mut progress = Progress::of("auditing", total);
            progress.done = done;
            progress.line()
        };
        assert_eq!(line(0, 60), format!("auditing [{}] 0 of 60", ".".repeat(30)));
        assert_eq!(
            line(21, 60),
            format!("auditing [{}{}] 21 of 60", "#".repeat(10), ".".repeat(20))
        );
        assert_eq!(line(61, 60), format!("auditing [{}] 60 of 60", "#".repeat(30)));
        assert_eq!(line(0, 0), format!("auditing [{}] 0 of 0", "#".repeat(30)));
    }
}
