//! The motor of the zone valve: it opens while voltage stands on it, and a spring closes it when that is gone.
//!
//! The rule inside: the valve knows its motor's voltage and time; its end switch changes only at the ends of its travel.

use crate::pure::job::Circuit;

use super::wiring::float;

/// The word for a valve that is open.
pub(super) const OPEN: &str = "open";

/// The valve, from shut (0) to open (1).
#[derive(Debug, Clone)]
pub(super) struct Valve {
    position: f64,
    opens_seconds: f64,
    closes_seconds: f64,
    stuck: bool,
}

impl Valve {
    /// A shut valve with the times of the job.
    pub(super) fn new(circuit: &Circuit) -> Valve {
        Valve {
            position: 0.0,
            opens_seconds: float(circuit.valve_opens.value()),
            closes_seconds: float(circuit.valve_closes.value()),
            stuck: false,
        }
    }

    /// Keeps the valve where it is put: open or shut.
    pub(super) fn stick(&mut self, open: bool) {
        self.stuck = true;
        self.position = f64::from(u8::from(open));
    }

    /// Travels for so many seconds; the end switch's new position where it arrived at an end: closed at open.
    pub(super) fn travel(&mut self, driven: bool, seconds: f64) -> Option<bool> {
        if self.stuck {
            return None;
        }
        let travel = if driven {
            seconds / self.opens_seconds
        } else {
            -seconds / self.closes_seconds
        };
        let before = self.position;
        self.position = match before + travel {
            // a sum of small steps that should reach an end may fall short of it by a rounding
            past if 1.0 - 1e-9 < past => 1.0,
            past if past < 1e-9 => 0.0,
            between => between,
        };
        let at_an_end = self.position == 0.0 || self.position == 1.0;
        (self.position != before && at_an_end).then_some(self.position == 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pure::installation::sample::job;

    #[test]
    fn the_end_switch_changes_at_the_ends() {
        // the job: opens in 15 s, closes in 6 s
        let mut valve = Valve::new(&job().circuit);
        let cases = [
            (true, 14.9, None),
            (true, 0.1, Some(true)),
            (true, 5.0, None),
            (false, 5.9, None),
            (false, 0.1, Some(false)),
            (false, 5.0, None),
            (true, 10.0, None),
            (false, 60.0, Some(false)),
        ];
        for (n, (driven, seconds, expected)) in cases.into_iter().enumerate() {
            assert_eq!(valve.travel(driven, seconds), expected, "{n}");
        }
        valve.stick(false);
        assert_eq!(valve.travel(true, 60.0), None);
    }
}
