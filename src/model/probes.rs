//! What a meter, a tester or the indicator sees with its probes on two points of the wiring.
//!
//! The rule inside: everything is looked up in the network as it stands, faults and all. A loop is what the sources' series
//! resistances and the wiring leave between two live points.

use super::element::Current;
use super::network::Network;
use super::wiring::{self, JOINT, KNOWN};
use crate::job::{End, Job};
use crate::plan::{Point, Probes};
use crate::value::reading::Function;

/// Input resistance of the two-pole indicator in ohms, of a kind with a low one: IEC 61243-3 tells low from high at 100 kohm (from memory), and half of
/// that is our own choice. One of some hundreds of kilohms lights on what only lies beside live conductors of a cable of some 100 m, which is a
/// caution of the steps that want it lit.
pub(crate) const INDICATOR_OHMS: f64 = 50e3;
/// Volts from which the indicator lights: the limit of extra-low voltage (IEC 61243-3; from memory).
pub(crate) const INDICATOR_VOLTS: f64 = 50.0;
/// The share of the mains' own voltage from which the indicator's lamp for it lights: such lamps light from three quarters to four fifths of what they
/// are marked with (from memory), and the lower is taken, since what lights it by mistake is what matters.
/// It lies above what lights the lamp before it on a scale of 12, 24, 50, 120, 230 V, and below the least that a supply may be.
pub(crate) const LAMP_SHARE: f64 = 0.75;
/// Volts above which an ohms or insulation range shows over-range and measures nothing. Our own choice.
pub(crate) const LIVE_VOLTS: f64 = 2.0;
/// Input resistance that an ohms range presents to a live circuit, in ohms. Our own choice.
pub(crate) const OHMS_RANGE_INPUT_OHMS: f64 = 1e6;
/// Input resistance with which a tester looks for the supply before it starts a test, in ohms. Our own choice.
const LOOK_OHMS: f64 = 300e3;

/// The names of the points of the wiring under two probes; `None` where a tip is in the air or on the other tip.
pub fn points(probes: &Probes) -> Option<[String; 2]> {
    let point = |probe: &Point, known: &str| match probe {
        Point::Core { core, end } => Some(wiring::core_point(core, *end)),
        Point::Terminal { terminal, end } => Some(wiring::terminal_point(terminal, *end)),
        Point::EarthComingIn => Some(wiring::EARTH_COMING_IN.to_owned()),
        Point::JoinedCores => Some(JOINT.to_owned()),
        Point::JoinedTerminals => Some(wiring::TERMINALS.to_owned()),
        Point::KnownSource => Some(known.to_owned()),
        Point::Tip | Point::LongTip => None,
        Point::KnownEarth | Point::LongLead { clipped: None } => Some(wiring::EARTH.to_owned()),
        Point::LongLead { clipped: Some(earth) } => Some(wiring::terminal_point(earth, End::Near)),
    };
    // a lead that is brought to the known source is tried against its line
    let second = if probes.first == Point::KnownSource {
        KNOWN[1]
    } else {
        KNOWN[0]
    };
    Some([point(&probes.first, KNOWN[0])?, point(&probes.second, second)?])
}

/// What stands at a meter's terminals between two points of a wiring: see [`shows`](super::installation::Installation::shows).
pub(crate) fn meter_value(network: &Network, pair: &[String; 2], function: Function, input_ohms: f64) -> f64 {
    let [a, b] = pair;
    let value = match function {
        Function::VoltageAc => network.voltage_of(Current::Alternating, a, b, input_ohms),
        Function::VoltageDc => network.voltage_of(Current::Direct, a, b, input_ohms),
        Function::Loop => return loop_impedance(network, pair),
        _ => match network.effective_voltage(a, b, OHMS_RANGE_INPUT_OHMS) {
            Ok(volts) if LIVE_VOLTS < volts => Ok(f64::INFINITY),
            Ok(_) => network.resistance(a, b),
            Err(error) => Err(error),
        },
    };
    value.expect("a bound plan names points of the job")
}

/// What stands at the two-pole indicator between two points, in volts, alternating and direct together.
pub(crate) fn indicator_volts(network: &Network, [a, b]: &[String; 2]) -> f64 {
    let volts = network.effective_voltage(a, b, INDICATOR_OHMS);
    volts.expect("a bound plan names points of the job")
}

/// Volts from which the indicator is answered to be lit at a step: any lamp where it is wanted dark; where it is wanted lit, the lamp for the mains' own
/// voltage, since what only lies beside live conductors lights a weaker one.
pub(crate) fn lights_from(job: &Job, wanted_lit: bool) -> f64 {
    match wanted_lit {
        true => INDICATOR_VOLTS.max(LAMP_SHARE * wiring::mains(job)),
        false => INDICATOR_VOLTS,
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Purpose;
    use crate::model::installation::Installation;
    use crate::model::sample::{at_thermostat, probes, with_residual_device as job};
    use crate::model::wiring::{purpose_point, terminal_point};
    use proptest::prelude::*;

    #[test]
    fn the_loop_is_the_outside_and_the_cable() {
        // Zs = Ze + (R1+R2) (BS 7671 612.9): the model's supply and earthing come to 0.35 ohm, 9 m of 1.5 mm2 upstream at 15 degC to
        // 12.1 mohm/m x 9 m x 0.98 = 0.107 ohm at most (IEC 60228), 0.97 of it in the model; the rest is clamps
        let installation = Installation::of(&job()).unwrap();
        let near = installation.shows(&probes("E", "1", End::Near), Function::Loop, 1e6);
        let far = installation.shows(&at_thermostat(), Function::Loop, 1e6);
        assert!((0.45..0.48).contains(&near), "{near}");
        // 18 m of 1.0/1.0 mm2 at 15 degC: 36.2 mohm/m x 18 m x 0.98 = 0.639 ohm at most (IEC 60228), 0.97 of it in the model
        let copper = far - near;
        assert!((copper - 0.639 * 0.97).abs() < 0.01, "{copper}");
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
