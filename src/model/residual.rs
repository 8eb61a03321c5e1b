//! The residual-current device in the model: how it is, and how soon it trips.
//!
//! The rule inside: it trips by the current that its line pole carries and its neutral pole does not, in the network as it stands,
//! faults and all, and never by which step is walked.

use serde::Deserialize;

use super::element::Part;
use super::network::Network;
use super::probes::loop_impedance;
use super::wiring::{ISOLATOR, float};
use crate::job::Job;
use crate::value::reading::Multiple;

/// The name of the test current's path while it flows.
const TEST_PATH: &str = "test current";
/// The middle of the times in which sound devices trip at their rated current, and how far one lies from it, in seconds. Our own
/// choice: 20 ms to 28 ms, as new devices do; the standards allow 300 ms.
const TRIP_SECONDS: (f64, f64) = (0.024, 0.004);
/// How the time falls with the residual current: at five times the rated current half of it is left. Our own choice.
const TRIP_EXPONENT: f64 = 0.43;
/// The share of its rated current from which a sound device trips: the middle of what IEC 61008-1 lets it (0.5 to 1).
const TRIPS_FROM: f64 = 0.75;
/// The same for a device that trips too easily. Our own choice.
const HASTY_FROM: f64 = 0.4;
/// How many times longer a slow device takes: past the limits of every edition at every current. Our own choice.
const SLOW_TIMES: f64 = 16.0;

/// How the residual-current device is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default, Deserialize)]
pub enum Residual {
    /// It trips as its standard asks.
    #[default]
    Sound,
    /// It trips, and too late.
    Slow,
    /// It never trips.
    Dead,
    /// It trips at half its rated current.
    Hasty,
}

/// The device of an installation: how it is, and where it lies among sound ones, from -1 to 1.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Device {
    pub(super) state: Residual,
    pub(super) even: f64,
}

impl Device {
    /// The time in seconds after which it trips at so many times its rated current; infinite where it does not.
    fn trips_after(self, times: f64) -> f64 {
        let from = match self.state {
            Residual::Sound | Residual::Slow => TRIPS_FROM,
            Residual::Hasty => HASTY_FROM,
            Residual::Dead => return f64::INFINITY,
        };
        if times < from {
            return f64::INFINITY;
        }
        let slow = if self.state == Residual::Slow { SLOW_TIMES } else { 1.0 };
        (TRIP_SECONDS.0 + TRIP_SECONDS.1 * self.even) * slow * times.powf(-TRIP_EXPONENT)
    }

    /// The time in seconds that a trip test shows between two points of a job's wiring, at a multiple of the rated current; infinite
    /// where the device does not trip, where the job has none, and where no mains stands.
    pub(super) fn trip_seconds(self, job: &Job, network: &Network, points: &[String; 2], multiple: Multiple) -> f64 {
        let Some(rated) = &job.supply.residual else {
            return f64::INFINITY;
        };
        if loop_impedance(network, points).is_infinite() {
            return f64::INFINITY;
        }
        let rated = float(rated.value());
        let nominal = float(job.supply.nominal.value());
        let path = nominal / (rated * float(multiple.factor()));
        let mut network = network.clone();
        network
            .resistor(TEST_PATH, &points[0], &points[1], path)
            .expect("the points are there and the path is not");
        let [line, neutral] = ISOLATOR.map(|pole| pole_current(&network, pole));
        self.trips_after((line - neutral).abs() / rated)
    }
}

/// The current in amperes that a pole of the isolator carries; none while it is open.
fn pole_current(network: &Network, pole: &str) -> f64 {
    let found = network.elements().find(|(name, _, _)| *name == pole);
    match found {
        Some((_, _, Part::Ohms(ohms))) => network.voltage_across(pole).expect("it is there") / ohms,
        _ => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::End;
    use crate::model::installation::Installation;
    use crate::model::sample::{self, at_thermostat, probes, with_residual_device as job};
    use crate::model::wiring::half;
    use crate::plan::Act;
    use crate::value::reading::Function;

    fn installation() -> Installation {
        Installation::of(&job()).unwrap()
    }

    fn milliseconds(installation: &Installation, multiple: Multiple) -> f64 {
        let shown = installation.shows(&at_thermostat(), Function::ResidualTrip(multiple), 1e6);
        shown * 1000.0
    }

    #[test]
    fn a_dead_circuit_and_bare_earth_have_no_loop() {
        let mut installation = installation();
        let earth = probes("E", "E", End::Near);
        assert_eq!(installation.shows(&earth, Function::Loop, 1e6), f64::INFINITY);
        installation.apply(&Act::SwitchOff);
        assert_eq!(installation.shows(&at_thermostat(), Function::Loop, 1e6), f64::INFINITY);
        assert_eq!(milliseconds(&installation, Multiple::FiveTimes), f64::INFINITY);
    }

    #[test]
    fn a_sound_device_trips_in_its_times_and_not_at_half() {
        for even in [-1.0, 0.0, 1.0] {
            let installation = Installation::uneven(&job(), || even).unwrap();
            let once = milliseconds(&installation, Multiple::Once);
            let five = milliseconds(&installation, Multiple::FiveTimes);
            assert!((19.0..=29.0).contains(&once), "{even}: {once}");
            assert!((9.5..=15.0).contains(&five), "{even}: {five}");
            assert_eq!(milliseconds(&installation, Multiple::Half), f64::INFINITY);
        }
    }

    #[test]
    fn faulty_devices_show_it() {
        let of = |state| {
            let mut installation = installation();
            installation.set_residual_device(state);
            assert_eq!(installation.residual_device(), state);
            Multiple::ALL.map(|multiple| milliseconds(&installation, multiple))
        };
        let [half, once, five] = of(Residual::Slow);
        // IEC 61008-1 Table 1: 300 ms at the rated current, 40 ms at five times it
        assert!(half.is_infinite() && 300.0 < once && 40.0 < five, "{once} {five}");
        assert_eq!(of(Residual::Dead), [f64::INFINITY; 3]);
        let [half, once, five] = of(Residual::Hasty);
        assert!(half.is_finite() && once < 300.0 && five < 40.0, "{half} {once} {five}");
    }

    #[test]
    fn current_that_comes_back_on_neutral_trips_nothing() {
        let installation = installation();
        let shown = |probes| installation.shows(&probes, Function::ResidualTrip(Multiple::FiveTimes), 1e6);
        assert_eq!(shown(probes("N", "L", End::Far)), f64::INFINITY);
        // the same with the boiler called, whose current comes back on neutral as well
        let mut called = installation.clone();
        called.apply(&Act::Call("thermostat".into()));
        assert!(milliseconds(&called, Multiple::Once).is_finite());
        assert_eq!(milliseconds(&called, Multiple::Half), f64::INFINITY);
    }

    #[test]
    fn a_job_without_a_device_never_trips() {
        let installation = Installation::of(&sample::job()).unwrap();
        assert_eq!(milliseconds(&installation, Multiple::FiveTimes), f64::INFINITY);
    }

    #[test]
    fn a_broken_earth_core_has_no_loop_and_lets_nothing_trip() {
        let mut installation = installation();
        let earth = job().return_core().name.clone();
        for end in End::BOTH {
            installation.network.remove(&half(&earth, end)).unwrap();
        }
        installation.changed();
        let far = installation.shows(&at_thermostat(), Function::Loop, 1e6);
        assert!(1e6 < far, "{far}");
        assert_eq!(milliseconds(&installation, Multiple::Once), f64::INFINITY);
    }
}
