//! What a motor moves: a valve that a spring brings back, the pin of a wax actuator, the contacts of a relay.
//!
//! The rule inside: it knows whether voltage stands on its motor, and time; what hangs on it changes only at the ends of its travel.

use super::wiring::float;
use crate::job::Motor;

/// The word for a motor that is held where its valve is open.
pub(super) const OPEN: &str = "open";
/// Less than this share of the travel is a rounding: a sum of steps that should reach an end may fall short of it.
const ROUNDING: f64 = 1e-9;

/// A motor's valve, from shut (0) to open (1).
#[derive(Debug, Clone)]
pub(super) struct Mover {
    position: f64,
    opens_seconds: f64,
    closes_seconds: f64,
    rests_open: bool,
    /// It has arrived where voltage takes it, and not yet back where it rests.
    moved: bool,
    stuck: bool,
}

impl Mover {
    /// One that rests.
    pub(super) fn new(motor: &Motor) -> Mover {
        Mover {
            position: f64::from(u8::from(motor.rests_open)),
            opens_seconds: float(motor.opens.value()),
            closes_seconds: float(motor.closes.value()),
            rests_open: motor.rests_open,
            moved: false,
            stuck: false,
        }
    }

    /// Keeps it where it is put: open or shut.
    pub(super) fn stick(&mut self, open: bool) {
        self.stuck = true;
        self.position = f64::from(u8::from(open));
        self.moved = open != self.rests_open;
    }

    /// Whether it has arrived at open, and not yet at shut since.
    pub(super) fn is_open(&self) -> bool {
        self.moved != self.rests_open
    }

    /// Whether the contacts on it are moved.
    pub(super) fn is_moved(&self) -> bool {
        self.moved
    }

    /// Seconds until it arrives; `None` where it stands still.
    pub(super) fn arrives_in(&self, driven: bool) -> Option<f64> {
        let opening = driven != self.rests_open;
        let left = if opening { 1.0 - self.position } else { self.position };
        let whole = if opening {
            self.opens_seconds
        } else {
            self.closes_seconds
        };
        (!self.stuck && 0.0 < left).then_some(left * whole)
    }

    /// Travels for so many seconds; whether the contacts on it have changed.
    pub(super) fn travel(&mut self, driven: bool, seconds: f64) -> bool {
        if self.stuck {
            return false;
        }
        let travel = if driven != self.rests_open {
            seconds / self.opens_seconds
        } else {
            -seconds / self.closes_seconds
        };
        self.position = match self.position + travel {
            past if 1.0 - ROUNDING < past => 1.0,
            past if past < ROUNDING => 0.0,
            between => between,
        };
        let before = self.moved;
        if self.position == 0.0 || self.position == 1.0 {
            self.moved = (self.position == 1.0) != self.rests_open;
        }
        self.moved != before
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::sample::job;

    fn motor() -> Motor {
        let job = job();
        job.motors().next().unwrap().1.clone()
    }

    #[test]
    fn contacts_change_at_the_ends() {
        // the job: opens in 15 s, closes in 6 s
        let mut valve = Mover::new(&motor());
        let cases = [
            (true, 14.9, false),
            (true, 0.1, true),
            (true, 5.0, true),
            (false, 5.9, true),
            (false, 0.1, false),
            (false, 5.0, false),
            (true, 10.0, false),
            (false, 60.0, false),
        ];
        let mut moved = false;
        for (n, (driven, seconds, expected)) in cases.into_iter().enumerate() {
            assert_eq!(valve.travel(driven, seconds), moved != expected, "{n}");
            assert_eq!(valve.is_moved(), expected, "{n}");
            moved = expected;
        }
        valve.stick(false);
        assert!(!valve.travel(true, 60.0) && !valve.is_moved());
        assert_eq!(valve.arrives_in(true), None);
    }

    #[test]
    fn one_that_rests_open_is_shut_by_voltage() {
        let mut valve = Mover::new(&Motor {
            rests_open: true,
            ..motor()
        });
        assert!(valve.is_open() && !valve.is_moved());
        assert_eq!((valve.arrives_in(false), valve.arrives_in(true)), (None, Some(6.0)));
        assert!(valve.travel(true, 6.0) && valve.is_moved() && !valve.is_open());
        assert_eq!(valve.arrives_in(false), Some(15.0));
        valve.stick(true);
        assert!(!valve.is_moved(), "it is held where it rests");
    }
}
