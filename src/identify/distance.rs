//! How far away a core broke or touches another, from readings at both ends, with uncertainty.
//!
//! The rule inside: each input is within plus or minus its limit, taken as a rectangular distribution; standard uncertainties
//! (limit / sqrt 3) are combined in quadrature by the sensitivity of the distance to each input, and the result is given with coverage
//! factor 2 (JCGM 100:2008, 4.3.7, 5.1.2 and 6.2, from memory). A prediction for finding the place: it judges nothing.

use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;

use super::error::IdentifyError;
use crate::value::quantity::{Amount, Digits, Unit, split_number};

/// A value with its limit of error, both in the plain unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limited {
    /// What was read or stated.
    pub value: f64,
    /// How far off it can be, either way; not below zero.
    pub limit: f64,
}

impl Limited {
    /// A value with a limit of so many percent.
    pub fn percent(value: f64, percent: f64) -> Limited {
        Limited {
            value,
            limit: value.abs() * percent / 100.0,
        }
    }
}

/// A place along the cable, in metres from the near end.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Place {
    /// How far from the near end.
    pub metres: f64,
    /// Expanded uncertainty with coverage factor 2, in metres.
    pub within: f64,
    /// Resistance of the contact in ohms, where the readings give it.
    pub contact_ohms: Option<f64>,
}

/// Coverage factor of [`Place::within`].
const COVERAGE: f64 = 2.0;

fn spread(parts: &[(f64, Limited)]) -> f64 {
    let squares = parts
        .iter()
        .map(|(sensitivity, input)| (sensitivity * input.limit).powi(2) / 3.0);
    COVERAGE * squares.sum::<f64>().sqrt()
}

fn above_zero(name: &str, input: Limited) -> Result<(), IdentifyError> {
    if 0.0 < input.value && input.value.is_finite() {
        return Ok(());
    }
    Err(IdentifyError::NotAboveZero {
        what: format!("{name} {}", input.value),
    })
}

fn inside(place: Place, length: Option<Limited>) -> Result<Place, IdentifyError> {
    let Some(length) = length else { return Ok(place) };
    let reach = place.within + length.limit;
    if place.metres < -reach || length.value + reach < place.metres {
        return Err(IdentifyError::OutsideCable {
            metres: format!("{:.1}", place.metres),
            length: format!("{}", length.value),
        });
    }
    Ok(place)
}

/// A break, from the capacitance of the broken core to the others at both ends: d = L Ca / (Ca + Cb).
///
/// Farads and metres. The other cores are apart from it and the same ones are used at both ends, so that both pieces have the same
/// capacitance a metre, which then cancels.
///
/// ```
/// use coreproof::identify::distance::{Limited, break_by_both_ends};
/// let place = break_by_both_ends(
///     Limited::percent(1.2e-9, 2.0), Limited::percent(0.8e-9, 2.0), Limited::percent(20.0, 1.0)).unwrap();
/// assert!((place.metres - 12.0).abs() < 1e-9);
/// ```
///
/// # Errors
/// A value that is not above zero.
pub fn break_by_both_ends(near: Limited, far: Limited, length: Limited) -> Result<Place, IdentifyError> {
    for (name, input) in [("near", near), ("far", far), ("length", length)] {
        above_zero(name, input)?;
    }
    let sum = near.value + far.value;
    let by_near = length.value * far.value / (sum * sum);
    let by_far = -length.value * near.value / (sum * sum);
    let place = Place {
        metres: length.value * near.value / sum,
        within: spread(&[(by_near, near), (by_far, far), (near.value / sum, length)]),
        contact_ohms: None,
    };
    inside(place, Some(length))
}

/// A break, from the near end alone and a known capacitance a metre: d = Ca / c. Farads, farads a metre.
///
/// # Errors
/// A value that is not above zero; a place outside the cable, where its length is given.
pub fn break_by_one_end(near: Limited, per_metre: Limited, length: Option<Limited>) -> Result<Place, IdentifyError> {
    for (name, input) in [("near", near), ("per metre", per_metre)] {
        above_zero(name, input)?;
    }
    let by_near = 1.0 / per_metre.value;
    let by_per_metre = -near.value / (per_metre.value * per_metre.value);
    let place = Place {
        metres: near.value / per_metre.value,
        within: spread(&[(by_near, near), (by_per_metre, per_metre)]),
        contact_ohms: None,
    };
    inside(place, length)
}

/// A contact between two cores, from their loop resistance at both ends, the far ends open:
/// d = L (1 + (Ra - Rb) / R) / 2, where R is the loop of the whole sound pair.
///
/// Ohms and metres. Whatever resistance the contact itself has cancels; it is (Ra + Rb - R) / 2. R is measured on a sound pair of the
/// same size linked at the far end, or worked out from the conductor table.
///
/// # Errors
/// A value that is not above zero; readings that together are below R by more than their limits; a place outside the cable.
pub fn contact(near: Limited, far: Limited, whole: Limited, length: Limited) -> Result<Place, IdentifyError> {
    for (name, input) in [("near", near), ("far", far), ("loop", whole), ("length", length)] {
        above_zero(name, input)?;
    }
    let contact_ohms = (near.value + far.value - whole.value) / 2.0;
    // a millionth for the rounding of floats
    if contact_ohms < -(near.limit + far.limit + whole.limit) / 2.0 - whole.value * 1e-6 {
        return Err(IdentifyError::ContactBelowZero {
            ohms: format!("{contact_ohms:.3}"),
        });
    }
    let share = (near.value - far.value) / whole.value;
    let by_reading = length.value / (2.0 * whole.value);
    let by_whole = -length.value * share / (2.0 * whole.value);
    let parts = [
        (by_reading, near),
        (-by_reading, far),
        (by_whole, whole),
        ((1.0 + share) / 2.0, length),
    ];
    let place = Place {
        metres: length.value * (1.0 + share) / 2.0,
        within: spread(&parts),
        contact_ohms: Some(contact_ohms.max(0.0)),
    };
    inside(place, Some(length))
}

/// Reads `0.42 ohm` or `18 m` as a float in the plain unit.
///
/// # Errors
/// Text that is no amount of this unit.
pub fn amount(text: &str, unit: Unit) -> Result<f64, IdentifyError> {
    let read = Amount::parse(text).ok().filter(|a| a.unit == unit);
    let value = read.and_then(|a| a.value().to_f64());
    value.ok_or_else(|| IdentifyError::NotAnAmount {
        text: text.into(),
        quantity: unit.quantity(),
    })
}

/// Reads `2.1 nF`, `95 pF`, `0.4 uF` in farads; a trailing `/m` is allowed where `per_metre` says so.
///
/// # Errors
/// Text that is no capacitance.
pub fn capacitance(text: &str, per_metre: bool) -> Result<f64, IdentifyError> {
    let refused = || IdentifyError::NotAnAmount {
        text: text.into(),
        quantity: "a capacitance",
    };
    let (number, rest) = split_number(text.trim());
    let unit = rest.trim();
    let unit = if per_metre {
        unit.strip_suffix("/m").ok_or_else(refused)?
    } else {
        unit
    };
    let factor = match unit {
        "pF" => 1e-12,
        "nF" => 1e-9,
        "uF" | "\u{b5}F" | "\u{3bc}F" => 1e-6,
        _ => return Err(refused()),
    };
    let digits = Digits::parse(number).ok_or_else(refused)?;
    Ok(digits.value().to_f64().ok_or_else(refused)? * factor)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::explain::Explain;

    fn near(a: f64, b: f64) -> bool {
        (a - b).abs() < 1e-6 * b.abs().max(1.0)
    }

    #[test]
    fn places_follow_from_a_cable_that_was_cut_or_pierced() {
        for d in [0.5, 6.0, 12.0, 19.5] {
            let (length, per_metre) = (20.0, 85e-12);
            let (a, b) = (
                Limited::percent(per_metre * d, 0.0),
                Limited::percent(per_metre * (length - d), 0.0),
            );
            let exact = Limited::percent(length, 0.0);
            assert!(near(break_by_both_ends(a, b, exact).unwrap().metres, d));
            let c = Limited::percent(per_metre, 0.0);
            assert!(near(break_by_one_end(a, c, Some(exact)).unwrap().metres, d));
            // 1.0 mm2, class 1: 18.1 mohm/m (IEC 60228)
            for touch in [0.0, 3.0] {
                let loop_of = |metres: f64| Limited::percent(2.0 * 0.0181 * metres + touch, 0.0);
                let whole = Limited::percent(2.0 * 0.0181 * length, 0.0);
                let place = contact(loop_of(d), loop_of(length - d), whole, exact).unwrap();
                assert!(
                    near(place.metres, d) && near(place.contact_ohms.unwrap(), touch),
                    "{place:?}"
                );
            }
        }
    }

    #[test]
    fn the_uncertainty_is_that_of_a_numerical_derivative() {
        let (a, b, l) = (
            Limited::percent(1.2e-9, 3.0),
            Limited::percent(0.7e-9, 2.0),
            Limited::percent(31.0, 1.0),
        );
        let (ra, rb, rw) = (
            Limited::percent(0.9, 2.0),
            Limited::percent(0.6, 2.0),
            Limited::percent(1.1, 1.0),
        );
        let by_capacitance = |x: &[Limited]| break_by_both_ends(x[0], x[1], x[2]).unwrap();
        let by_one_end = |x: &[Limited]| break_by_one_end(x[0], x[1], None).unwrap();
        let by_resistance = |x: &[Limited]| contact(x[0], x[1], x[2], x[3]).unwrap();
        let check = |of: &dyn Fn(&[Limited]) -> Place, inputs: &[Limited]| {
            let squares = inputs.iter().enumerate().map(|(i, input)| {
                let moved = |by: f64| {
                    let mut all = inputs.to_vec();
                    all[i].value += by;
                    of(&all).metres
                };
                let step = input.value * 1e-6;
                ((moved(step) - moved(-step)) / (2.0 * step) * input.limit).powi(2) / 3.0
            });
            let expected = 2.0 * squares.sum::<f64>().sqrt();
            let got = of(inputs).within;
            assert!((got - expected).abs() < 1e-6 * expected, "{got} {expected}");
        };
        check(&by_capacitance, &[a, b, l]);
        check(&by_one_end, &[a, Limited::percent(80e-12, 10.0)]);
        check(&by_resistance, &[ra, rb, rw, l]);
    }

    #[test]
    fn impossible_readings_are_refused() {
        let exact = |v: f64| Limited::percent(v, 0.1);
        let text = |r: Result<Place, IdentifyError>| r.unwrap_err().to_string();
        assert_eq!(
            text(break_by_both_ends(exact(0.0), exact(1.0), exact(1.0))),
            "`near 0` is not above zero"
        );
        let outside = break_by_one_end(exact(5e-9), exact(100e-12), Some(exact(20.0)));
        assert_eq!(
            outside.clone().unwrap_err().hint().unwrap(),
            "check the length, that the other cores are apart at both ends, and that both readings are of the same core"
        );
        assert_eq!(
            text(outside),
            "these readings place the fault at 50.0 m, outside the cable of 20 m"
        );
        let below = contact(exact(0.2), exact(0.3), exact(0.7), exact(20.0));
        assert_eq!(
            below.clone().unwrap_err().hint().unwrap(),
            "null the leads, measure both ends again, and check the loop of a sound pair"
        );
        assert_eq!(
            text(below),
            "together the two readings are below the loop of the whole cable: the contact would have -0.100 ohm"
        );
    }

    #[test]
    fn amounts_are_read() {
        assert!(near(capacitance("2.1 nF", false).unwrap() * 1e9, 2.1));
        assert!(near(capacitance("85pF/m", true).unwrap() * 1e12, 85.0));
        assert_eq!(amount("0.42 ohm", Unit::Ohm), Ok(0.42));
        let refused = capacitance("2.1 nH", false).unwrap_err();
        assert_eq!(refused.to_string(), "`2.1 nH` is not a capacitance");
        assert_eq!(refused.hint().unwrap(), "write it as `2.1 nF`");
        assert!(capacitance("85 pF", true).is_err());
        assert_eq!(
            amount("20 ohm", Unit::Metre).unwrap_err().to_string(),
            "`20 ohm` is not a length"
        );
    }
}
