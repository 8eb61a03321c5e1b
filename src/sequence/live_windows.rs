//! The windows of live tests of protection: loop impedance and trip time, from the job's devices and the edition's tables.
//!
//! The rule inside: a device that the job does not name has no window, and the finding says what to add. A loop is judged as it
//! is measured, cold, by the field factor of the edition; a residual-current device is taken as one of general type.

use rust_decimal::Decimal;

use super::copper::cable_resistance;
use crate::job::{Core, End, Job};
use crate::judge::accuracy::Accuracy;
use crate::judge::earth_loop::{Come, Disconnection, LoopLimit, device_limit, residual_limit};
use crate::judge::rounding::edge;
use crate::judge::window::Window;
use crate::limits::{Basis, Confidence, Row, Table};
use crate::value::quantity::{Amount, Unit};
use crate::value::reading::{Function, Multiple};

/// The greatest rated current of devices for additional protection, in amperes (BS 7671 415.1.1, IEC 60364-4-41).
const ADDITIONAL_PROTECTION: &str = "30 mA";

/// The greatest loop impedance that passes when it is measured cold: by the overcurrent device, or by the residual-current device
/// where the supply is TT or no overcurrent device is known.
pub(super) fn loop_maximum(job: &Job) -> Result<Window, String> {
    let found = loop_limit(job)?;
    let upper = found.against(Come::MeasuredCold).clone();
    Ok(Window::new(None, Some(upper), Unit::Ohm, found.basis))
}

/// The greatest loop impedance that passes at an end: what the device allows, and no more than `ze`, the copper of the cable up to
/// there, what joints may add and the instrument's error. A bad joint shows long before the device's limit does. Where no length is
/// known, the copper is taken as the most that an earth conductor of unknown length may have, there and, as no line is
/// thinner than its earth, once more in the line.
///
/// # Errors
/// A `ze` that the job does not give, a device without a limit.
pub(super) fn loop_expected(job: &Job, line: Option<&Core>, end: End, accuracy: &Accuracy) -> Result<Window, String> {
    let mut window = loop_maximum(job)?;
    let Some(ze) = &job.supply.ze else {
        let name = &job.text.name;
        return Err(format!(
            "the job `{name}` gives no loop impedance of the supply from which a loop could be foretold: add `ze: \"0.41 ohm\"` to its supply, or use `LoopMaximum` with a reading of the earth to the main earthing terminal"
        ));
    };
    let mut ohms = ze.value();
    if let (End::Far, Some(line)) = (end, line) {
        if let Some(length) = &job.length {
            let (copper, basis) = cable_resistance(job, line, length)?;
            ohms += copper.value();
            window.basis.extend(basis);
        } else {
            let unknown = job.limits.row(Table::Practice, "earth conductor of unknown length")?;
            ohms += Decimal::TWO * unknown.value.value();
            window.basis.push(unknown.basis());
        }
    }
    let above = job.limits.row(Table::Practice, "loop above its copper")?;
    let sound = ohms + above.value.value();
    let most = edge(sound + accuracy.uncertainty(sound, HUNDREDTH));
    window.basis.push(above.basis());
    window.basis.push(Basis {
        what: format!(
            "{ze} up to the near end, the copper of the cable from there, and the instrument's {}",
            accuracy.words()
        ),
        source: format!("the job `{}`", job.text.name),
        confidence: Confidence::Computed,
    });
    match &window.high {
        Some(limit) if limit.amount.value() <= most.value() => {}
        _ => window.high = Window::new(None, Some(most), Unit::Ohm, Vec::new()).high,
    }
    Ok(window)
}

/// The last digit of a loop tester on its low range, in ohms (IEC 61557-3 asks for a resolution of 0.01 ohm; from memory).
const HUNDREDTH: Decimal = Decimal::from_parts(1, 0, 0, false, 2);

fn loop_limit(job: &Job) -> Result<LoopLimit, String> {
    let supply = &job.supply;
    match (&supply.protection, &supply.residual) {
        (Some(device), residual) if residual.is_none() || !is_tt(job) => {
            device_limit(&job.limits, &supply.nominal, device, supply.disconnection)
        }
        (_, Some(residual)) => residual_limit(&job.limits, residual),
        (_, None) => Err(format!(
            "the job `{}` names no device that a loop impedance could be judged by: add `protection: (device: \"BS 1362\", \
             rating: \"3 A\")` or `residual: \"30 mA\"` to its supply, with what is fitted",
            job.text.name
        )),
    }
}

fn is_tt(job: &Job) -> bool {
    job.supply.earthing.trim().starts_with("TT")
}

/// How soon the residual-current device has to trip at the multiple of its rated current that the function tests with.
///
/// # Panics
/// For a function that tests no residual-current device.
pub(super) fn trip_time(job: &Job, function: Function) -> Result<Window, String> {
    let Function::ResidualTrip(multiple) = function else {
        panic!("checked: this window judges trip times");
    };
    let Some(rated) = &job.supply.residual else {
        return Err(format!(
            "the job `{}` names no residual-current device to test: add `residual: \"30 mA\"` to its supply, with the rated \
             residual operating current on the device's plate",
            job.text.name
        ));
    };
    let row = |of: &str| job.limits.row(Table::ResidualTrip, of);
    let mut longest = match multiple {
        Multiple::Half => {
            let lasts = row("half current, tested for at least")?;
            return Ok(Window::no_trip(lasts.value.clone(), vec![lasts.basis(), practice()]));
        }
        Multiple::Once => {
            row("deemed verified, general, 1 times, at most").or_else(|_| row("general, 1 times, at most"))?
        }
        Multiple::FiveTimes if is_additional(rated) => {
            row("additional protection, 5 times, at most").or_else(|_| row("general, 5 times, at most"))?
        }
        Multiple::FiveTimes => row("general, 5 times, at most")?,
    };
    let mut basis = vec![longest.basis(), general(job)];
    // a device may be as good as its standard asks and still too slow for the circuit
    if let Some(circuit) = tt_time(job)?
        && circuit.value.value() < longest.value.value()
    {
        longest = circuit;
        basis.insert(0, circuit.basis());
    }
    Ok(Window::new(None, Some(longest.value.clone()), Unit::Second, basis))
}

fn is_additional(rated: &Amount) -> bool {
    let greatest = Amount::parse(ADDITIONAL_PROTECTION).expect("a current");
    rated.value() <= greatest.value()
}

/// The disconnection time of a TT supply, where the residual-current device is what disconnects.
fn tt_time(job: &Job) -> Result<Option<&Row>, String> {
    let of = match job.supply.disconnection {
        Disconnection::Final => "TT final",
        Disconnection::Distribution => "TT distribution",
    };
    is_tt(job)
        .then(|| job.limits.row(Table::DisconnectionTime, of))
        .transpose()
}

fn general(job: &Job) -> Basis {
    Basis {
        what: "taken as a device of general type, without delay".into(),
        source: format!("the job `{}` states no delay", job.text.name),
        confidence: Confidence::Practice,
    }
}

fn practice() -> Basis {
    Basis {
        what: "no residual-current device may trip at half its rated current".into(),
        source: "IEC 61008-1, IEC 61009-1; the test is named in trade guidance".into(),
        confidence: Confidence::Printed,
    }
}

/// A window of the sequence's own figures; where a device must not trip only a lower edge makes sense.
pub(super) fn stated(
    low: Option<Amount>,
    high: Option<Amount>,
    function: Function,
    basis: Vec<Basis>,
) -> Result<Window, String> {
    match (function, low, high) {
        (Function::ResidualTrip(Multiple::Half), Some(low), None) => Ok(Window::no_trip(low, basis)),
        (Function::ResidualTrip(Multiple::Half), ..) => Err(
            "at half its rated current a device must not trip, so the window has `low` alone: how long the test lasts"
                .into(),
        ),
        (_, low, high) => Ok(Window::new(low, high, function.unit(), basis)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::sample::job_with;

    const PROTECTION: &str = "protection: (device: \"BS 1362\", rating: \"3 A\"),";

    /// The window's words for a job whose device, edition or supply is replaced, with the source of what it is about first.
    fn words(window: Result<Window, String>) -> Result<String, String> {
        window.map(|window| format!("{}; {}", window.words(), window.basis[0].what))
    }

    fn of_loop(protection: &str) -> Result<String, String> {
        words(loop_maximum(&job_with(PROTECTION, protection)))
    }

    fn trip(from: &str, to: &str, multiple: Multiple) -> Result<String, String> {
        words(trip_time(&job_with(from, to), Function::ResidualTrip(multiple)))
    }

    fn trip_of_edition(edition: &str, multiple: Multiple) -> String {
        let to = format!("ze: \"0.41 ohm\", residual: \"30 mA\",\n        // {edition}");
        let mut job = job_with("ze: \"0.41 ohm\",", &to);
        job.limits = crate::limits::edition(crate::limits::shipped(), edition).unwrap();
        words(trip_time(&job, Function::ResidualTrip(multiple))).unwrap()
    }

    #[test]
    fn measured_loops_keep_the_field_factor() {
        // 230 V x 0.95 / 160 A = 1.3656, printed 1.37; 0.8 of it is 1.096 (BS 7671 Table 41.3 and Appendix 3)
        let b32 = of_loop("protection: (device: \"type B\", rating: \"32 A\"),").unwrap();
        assert_eq!(b32, "at most 1.096 ohm; loop impedance, 0.4 s, type B 32 A: 1.37 ohm");
        // 3 A BS 1362: 15.6 ohm (Table 41.2, from memory; 218.5 V / 14 A = 15.61), 0.8 of it
        let fused = of_loop(PROTECTION).unwrap();
        assert_eq!(fused, "at most 12.48 ohm; loop impedance, 0.4 s, BS 1362 3 A: 15.6 ohm");
        // 32 A BS 88-3 system C: trade guidance prints 0.72, which is 0.8 of 0.91 cut to two decimals
        let fuse = of_loop("protection: (device: \"BS 88-3 C\", rating: \"32 A\"),").unwrap();
        assert!(fuse.starts_with("at most 0.728 ohm; "), "{fuse}");
    }

    #[test]
    fn the_overcurrent_device_judges_unless_the_supply_is_tt() {
        // Table 41.5: 50 V / 30 mA, printed 1667 ohm, with no field factor
        let residual = of_loop("residual: \"30 mA\",").unwrap();
        assert_eq!(
            residual,
            "at most 1667 ohm; loop impedance, residual current, 30 mA: 1667 ohm"
        );
        let both = of_loop(&format!("{PROTECTION} residual: \"30 mA\",")).unwrap();
        assert!(both.starts_with("at most 12.48 ohm; "), "{both}");
        let tt = "earthing: \"TT\",\n        device: \"6 A circuit-breaker\", protection: (device: \"type B\", rating: \"6 A\"), \
                  residual: \"30 mA\", ze: \"21 ohm\",\n        known_source: \"socket outlet in the galley, on another circuit\",\n    ),";
        let text = crate::model::sample::JOB;
        let start = text.find("earthing: ").unwrap();
        let end = start + text[start..].find("    ),\n").unwrap() + "    ),".len();
        let job = job_with(&text[start..end], tt);
        assert_eq!(
            words(loop_maximum(&job)).unwrap(),
            "at most 1667 ohm; loop impedance, residual current, 30 mA: 1667 ohm"
        );
        // a TT final circuit has 0.2 s (Table 41.1): less than the 300 ms of the product standard
        assert_eq!(
            words(trip_time(&job, Function::ResidualTrip(Multiple::Once))).unwrap(),
            "at most 0.2 s; disconnection time, TT final: 0.2 s"
        );
        assert!(
            words(trip_time(&job, Function::ResidualTrip(Multiple::FiveTimes)))
                .unwrap()
                .starts_with("at most 40 ms; ")
        );
    }

    #[test]
    fn each_edition_asks_for_its_own_trip_times() {
        let named = |what: &str, time: &str| format!("at most {time}; residual-current trip time, {what}: {time}");
        let once = "general, 1 times, at most";
        for (edition, of) in [
            ("2018+A2:2022", "deemed verified, general, 1 times, at most"),
            ("2018", once),
            ("2008", once),
            ("IEC 60364-6:2016", once),
        ] {
            assert_eq!(
                trip_of_edition(edition, Multiple::Once),
                named(of, "300 ms"),
                "{edition}"
            );
        }
        let five = "general, 5 times, at most";
        let additional = "additional protection, 5 times, at most";
        for (edition, of) in [("2018+A2:2022", five), ("2018", additional), ("2008", additional)] {
            assert_eq!(
                trip_of_edition(edition, Multiple::FiveTimes),
                named(of, "40 ms"),
                "{edition}"
            );
        }
    }

    #[test]
    fn a_device_of_more_than_30_ma_is_no_additional_protection() {
        let mut job = job_with("ze: \"0.41", "residual: \"100 mA\", ze: \"0.41");
        job.limits = crate::limits::edition(crate::limits::shipped(), "2018").unwrap();
        let window = words(trip_time(&job, Function::ResidualTrip(Multiple::FiveTimes))).unwrap();
        assert!(window.contains("general, 5 times"), "{window}");
    }

    #[test]
    fn at_half_its_current_no_time_passes() {
        assert_eq!(
            trip("ze: \"0.41", "residual: \"30 mA\", ze: \"0.41", Multiple::Half).unwrap(),
            "no trip in at least 200 ms; residual-current trip time, half current, tested for at least: 200 ms"
        );
    }

    #[test]
    fn what_the_job_lacks_is_said() {
        assert_eq!(
            of_loop("").unwrap_err(),
            "the job `saltmarsh.ron` names no device that a loop impedance could be judged by: add `protection: (device: \
             \"BS 1362\", rating: \"3 A\")` or `residual: \"30 mA\"` to its supply, with what is fitted"
        );
        assert_eq!(
            trip("ze: \"0.41", "ze: \"0.41", Multiple::Once).unwrap_err(),
            "the job `saltmarsh.ron` names no residual-current device to test: add `residual: \"30 mA\"` to its supply, with the \
             rated residual operating current on the device's plate"
        );
    }

    #[test]
    fn a_stated_window_at_half_current_is_a_time_without_a_trip() {
        let half = Function::ResidualTrip(Multiple::Half);
        let time = |text| Some(Amount::parse(text).unwrap());
        let window = stated(time("2 s"), None, half, Vec::new()).unwrap();
        assert_eq!(window.words(), "no trip in at least 2 s");
        for (low, high) in [(None, time("40 ms")), (time("1 s"), time("2 s")), (None, None)] {
            assert_eq!(
                stated(low, high, half, Vec::new()).unwrap_err(),
                "at half its rated current a device must not trip, so the window has `low` alone: how long the test lasts"
            );
        }
        let once = stated(None, time("200 ms"), Function::ResidualTrip(Multiple::Once), Vec::new()).unwrap();
        assert_eq!(once.words(), "at most 200 ms");
    }
}
