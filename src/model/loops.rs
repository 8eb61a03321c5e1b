//! Live tests of protection in the model: the impedance of an earth fault loop, and how soon the residual-current device trips.
//!
//! The rule inside: both are looked up in the network as it stands, faults and all. A loop is what the sources' series resistances
//! and the wiring leave between two live points; a device trips by the current that its line pole carries and its neutral pole
//! does not, and never by which step is walked.

use serde::Deserialize;

use super::element::Part;
use super::installation::{INDICATOR_VOLTS, Installation};
use super::network::Network;
use super::wiring::{ISOLATOR, float};
use crate::value::reading::Multiple;

/// Input resistance with which a tester looks for the supply before it starts a test, in ohms. Our own choice.
const LOOK_OHMS: f64 = 300e3;
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
}

/// What a loop tester shows between two points, in ohms: the impedance of the live network seen from there, with every source left
/// as its series resistance. [`f64::INFINITY`] where no mains stands, as no test starts there.
pub(crate) fn loop_impedance(network: &Network, [a, b]: &[String; 2]) -> f64 {
    let volts = network
        .voltage(a, b, LOOK_OHMS)
        .expect("a bound plan names points of the job");
    if volts < INDICATOR_VOLTS {
        return f64::INFINITY;
    }
    network.resistance(a, b).expect("a bound plan names points of the job")
}

/// The current in amperes that a pole of the isolator carries; none while it is open.
fn pole_current(network: &Network, pole: &str) -> f64 {
    let found = network.elements().find(|(name, _, _)| *name == pole);
    match found {
        Some((_, _, Part::Ohms(ohms))) => network.voltage_across(pole).expect("it is there") / ohms,
        _ => 0.0,
    }
}

impl Installation {
    /// Puts the residual-current device into a state.
    pub fn set_residual_device(&mut self, state: Residual) {
        self.residual.state = state;
        self.changed();
    }

    /// How the residual-current device is.
    pub fn residual_device(&self) -> Residual {
        self.residual.state
    }

    /// The time in seconds that a trip test shows between two points, at a multiple of the rated current; infinite where the device
    /// does not trip, where the job has none, and where no mains stands.
    pub(super) fn trip_seconds(&self, points: &[String; 2], multiple: Multiple) -> f64 {
        let Some(rated) = &self.job().supply.residual else {
            return f64::INFINITY;
        };
        if loop_impedance(&self.network, points).is_infinite() {
            return f64::INFINITY;
        }
        let rated = float(rated.value());
        let nominal = float(self.job().supply.nominal.value());
        let path = nominal / (rated * float(multiple.factor()));
        let mut network = self.network.clone();
        network
            .resistor(TEST_PATH, &points[0], &points[1], path)
            .expect("the points are there and the path is not");
        let [line, neutral] = ISOLATOR.map(|pole| pole_current(&network, pole));
        self.residual.trips_after((line - neutral).abs() / rated)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::{End, Job, Purpose};
    use crate::model::sample::{self, job_with};
    use crate::model::wiring::{half, purpose_point, terminal_point};
    use crate::plan::{Act, Point, Probes};
    use crate::value::reading::Function;
    use proptest::prelude::*;

    fn job() -> Job {
        job_with("ze: \"0.41", "residual: \"30 mA\", ze: \"0.41")
    }

    fn installation() -> Installation {
        Installation::of(&job()).unwrap()
    }

    fn probes(first: &str, second: &str, end: End) -> Probes {
        let point = |terminal: &str| Point::Terminal {
            terminal: terminal.into(),
            end,
        };
        Probes {
            first: point(first),
            second: point(second),
        }
    }

    fn at_thermostat() -> Probes {
        probes("E", "L", End::Far)
    }

    fn milliseconds(installation: &Installation, multiple: Multiple) -> f64 {
        let shown = installation.shows(&at_thermostat(), Function::ResidualTrip(multiple), 1e6);
        shown * 1000.0
    }

    #[test]
    fn the_loop_is_the_outside_and_the_cable() {
        // Zs = Ze + (R1+R2) (BS 7671 612.9): the model's supply and earthing come to 0.35 ohm, the rest is copper and clamps
        let installation = installation();
        let near = installation.shows(&probes("E", "1", End::Near), Function::Loop, 1e6);
        let far = installation.shows(&at_thermostat(), Function::Loop, 1e6);
        assert!((0.35..0.38).contains(&near), "{near}");
        // 18 m of 1.0/1.0 mm2 at 15 degC: 36.2 mohm/m x 18 m x 0.98 = 0.639 ohm at most (IEC 60228), 0.97 of it in the model
        let copper = far - near;
        assert!((copper - 0.639 * 0.97).abs() < 0.01, "{copper}");
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

    proptest! {
        /// What a real loop tester does: it loads the loop with a known resistance and works the impedance out from the fall of
        /// the voltage, Z = R (U0 / U1 - 1), which must come to the same by Thevenin's theorem.
        #[test]
        fn the_loop_is_what_the_fall_of_the_voltage_gives(load in 8.0..100.0_f64, far in any::<bool>(), even in -1.0..1.0_f64) {
            let job = job();
            let installation = Installation::uneven(&job, || even).unwrap();
            let end = if far { End::Far } else { End::Near };
            let point = |purpose| purpose_point(&job, purpose, end).unwrap();
            let points = [point(Purpose::Earth), point(Purpose::PermanentLive)];
            prop_assert_eq!(&points[0], &terminal_point("E", end));
            let network = installation.network();
            let volts = |ohms| network.voltage(&points[0], &points[1], ohms).unwrap();
            let fallen = load * (volts(1e12) / volts(load) - 1.0);
            let shown = loop_impedance(network, &points);
            prop_assert!((fallen - shown).abs() < 1e-3 * shown, "{} {}", fallen, shown);
        }
    }
}
