//! Who else rests on the lock of a run's supply.
//!
//! The rule inside: a run knows of no other; whoever walks it tells, each time it is asked.

use std::fmt;

/// Tells which other unfinished runs rest on the lock of the run's supply, each in words: `run 01a2… on the hall thermostat cable`.
pub struct Others(Box<dyn Fn() -> Vec<String>>);

impl Others {
    /// Told by this.
    pub fn told_by(tell: impl Fn() -> Vec<String> + 'static) -> Others {
        Others(Box::new(tell))
    }

    /// Those who rest on it now.
    pub(super) fn tell(&self) -> Vec<String> {
        self.0()
    }
}

impl fmt::Debug for Others {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Others")
    }
}
