//! Simulated time, and the world that lives in it.
//!
//! The rule inside: time goes on only when a frame of the meter was read or the engineer did something, so a rehearsal takes
//! as long as its computing and comes out the same every time.

use std::sync::{Arc, Mutex, MutexGuard};

use jiff::{SignedDuration, Timestamp};
use tokio::sync::watch;

use super::world::World;
use crate::run::dialogue::Clock;

/// Milliseconds between two frames of the simulated meter: four a second.
pub(super) const FRAME_MS: u32 = 250;

struct State {
    now: Timestamp,
    world: World,
}

/// A clock that is shared with the world: clones are the same clock.
#[derive(Clone)]
pub struct SimClock {
    state: Arc<Mutex<State>>,
    frames_read: watch::Sender<u64>,
}

impl SimClock {
    /// A clock that stands at `start`.
    pub fn new(start: Timestamp, world: World) -> SimClock {
        SimClock {
            state: Arc::new(Mutex::new(State { now: start, world })),
            frames_read: watch::Sender::new(0),
        }
    }

    /// Lets so many milliseconds go by, for the world as well.
    pub fn advance(&self, milliseconds: u32) {
        let mut state = self.state();
        state.now += SignedDuration::from_millis(i64::from(milliseconds));
        state.world.advance(f64::from(milliseconds) / 1000.0);
    }

    /// Looks at the world or changes it, at this moment of simulated time.
    pub fn with_world<T>(&self, look: impl FnOnce(&mut World, Timestamp) -> T) -> T {
        let mut state = self.state();
        let now = state.now;
        look(&mut state.world, now)
    }

    /// How many frames were read, to wait for the next.
    pub(super) fn frames_read(&self) -> watch::Receiver<u64> {
        self.frames_read.subscribe()
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().expect("nothing panics while it holds the clock")
    }
}

impl Clock for SimClock {
    fn now(&self) -> Timestamp {
        self.state().now
    }

    fn frame_read(&self) {
        self.advance(FRAME_MS);
        self.frames_read.send_modify(|count| *count += 1);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::trial::job;

    #[test]
    fn time_goes_on_only_by_frames_and_hands() {
        let start: Timestamp = "2026-11-25T09:00:00Z".parse().unwrap();
        let clock = SimClock::new(start, World::new(&job(), 1).unwrap());
        let same = clock.clone();
        assert_eq!(clock.now(), start);
        (0..4).for_each(|_| clock.frame_read());
        same.advance(1500);
        assert_eq!(clock.now() - start, "PT2.5S".parse().unwrap());
        assert_eq!(*clock.frames_read().borrow(), 4);
        assert_eq!(clock.with_world(|_, now| now), same.now());
    }
}
