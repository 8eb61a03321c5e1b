//! How far away a core broke or touches another, from readings at both ends, with uncertainty.
//!
//! The rule inside: each input is within plus or minus its limit, which counts half the last digit of the display as it was typed, taken as
//! a rectangular distribution. What the distance changes by at each input's limit, on the side where it changes more, stands for sensitivity
//! times limit (JCGM 100:2008, 5.1.3, note 2); standard uncertainties (limit / sqrt 3) are combined in quadrature, and the result is given
//! with coverage factor 2 (4.3.7, 5.1.2 and 6.2, all from memory). A prediction for finding the place: it judges nothing.

use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;

use super::error::IdentifyError;
use crate::value::quantity::{Digits, Unit, parse_unit, split_number};

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

    /// A display as it was typed, of a meter with a limit of so many percent and digits: a display rounds, so half its last digit is
    /// added.
    pub fn display(shown: Shown, percent: f64, digits: u32) -> Limited {
        let of_digits = (f64::from(digits) + 0.5) * shown.last_digit;
        Limited {
            limit: shown.value.abs() * percent / 100.0 + of_digits,
            value: shown.value,
        }
    }
}

/// A figure as it was typed, in the plain unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shown {
    /// Its value.
    pub value: f64,
    /// The value of one in its last place.
    pub last_digit: f64,
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

/// The share of a value that stays when its limit would take it to nothing or below.
const LEFT_MIN: f64 = 1e-3;

/// Where a formula puts the place, and how far off the limits of its inputs can take it.
fn placed(inputs: &[Limited], formula: impl Fn(&[f64]) -> f64) -> Place {
    let values: Vec<f64> = inputs.iter().map(|input| input.value).collect();
    let metres = formula(&values);
    let moved = |at: usize, by: f64| {
        let mut values = values.clone();
        values[at] = (values[at] + by).max(values[at] * LEFT_MIN);
        (formula(&values) - metres).abs()
    };
    let inputs = inputs.iter().enumerate();
    let squares = inputs.map(|(at, input)| moved(at, input.limit).max(moved(at, -input.limit)).powi(2) / 3.0);
    Place {
        metres,
        within: COVERAGE * squares.sum::<f64>().sqrt(),
        contact_ohms: None,
    }
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
    let place = placed(&[near, far, length], |x| x[2] * x[0] / (x[0] + x[1]));
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
    let place = placed(&[near, per_metre], |x| x[0] / x[1]);
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
    let place = Place {
        contact_ohms: Some(contact_ohms.max(0.0)),
        ..placed(&[near, far, whole, length], |x| {
            x[3] * (1.0 + (x[0] - x[1]) / x[2]) / 2.0
        })
    };
    inside(place, Some(length))
}

/// Reads `0.42 ohm` or `18 m` in the plain unit.
///
/// # Errors
/// Text that is no amount of this unit.
pub fn amount(text: &str, unit: Unit) -> Result<Shown, IdentifyError> {
    let refused = || IdentifyError::NotAnAmount {
        text: text.into(),
        quantity: unit.quantity(),
    };
    let (number, rest) = split_number(text.trim());
    let (prefix, _) = parse_unit(rest.trim())
        .filter(|(_, of)| *of == unit)
        .ok_or_else(refused)?;
    let factor = prefix.factor().to_f64().ok_or_else(refused)?;
    shown(number, factor).ok_or_else(refused)
}

/// Reads `2.1 nF`, `95 pF`, `0.4 uF` in farads; a trailing `/m` is allowed where `per_metre` says so.
///
/// # Errors
/// Text that is no capacitance.
pub fn capacitance(text: &str, per_metre: bool) -> Result<Shown, IdentifyError> {
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
    shown(number, factor).ok_or_else(refused)
}

fn shown(number: &str, factor: f64) -> Option<Shown> {
    let digits = Digits::parse(number)?;
    Some(Shown {
        value: digits.value().to_f64()? * factor,
        last_digit: digits.last_digit().to_f64()? * factor,
    })
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
    fn the_uncertainty_is_that_of_the_sensitivities() {
        // worked out by hand: d = L a / (a + b), so dd/da = L b / (a + b)^2, dd/db = -L a / (a + b)^2, dd/dL = a / (a + b)
        let (a, b, l) = (1.2, 0.7, 31.0);
        let parts = [l * b / (1.9 * 1.9) * a, l * a / (1.9 * 1.9) * b, a / 1.9 * l].map(|part| part * 0.001);
        let expected = 2.0 * (parts.iter().map(|part| part * part / 3.0).sum::<f64>()).sqrt();
        let [a, b, l] = [a, b, l].map(|value| Limited::percent(value, 0.1));
        let got = break_by_both_ends(a, b, l).unwrap().within;
        assert!((got / expected - 1.0).abs() < 2e-3, "{got} {expected}");
        // d = L (1 + (ra - rb) / r) / 2
        let (ra, rb, r, l) = (0.9, 0.6, 1.1, 31.0);
        let parts = [
            l / (2.0 * r) * ra,
            l / (2.0 * r) * rb,
            l * (ra - rb) / (2.0 * r),
            (1.0 + (ra - rb) / r) / 2.0 * l,
        ];
        let expected = 2.0 * (parts.iter().map(|part| (part * 0.001_f64).powi(2) / 3.0).sum::<f64>()).sqrt();
        let [ra, rb, r, l] = [ra, rb, r, l].map(|value| Limited::percent(value, 0.1));
        let got = contact(ra, rb, r, l).unwrap().within;
        assert!((got / expected - 1.0).abs() < 2e-3, "{got} {expected}");
    }

    /// A small generator (the constants of Numerical Recipes).
    struct Dice(u64);

    impl Dice {
        fn between(&mut self, low: f64, high: f64) -> f64 {
            self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223) & 0xffff_ffff;
            low + (high - low) * (self.0 >> 8) as f64 / f64::from(1 << 24)
        }

        /// What a meter shows that is off by up to so many percent and rounds to so many decimals.
        fn display(&mut self, value: f64, percent: f64, decimals: usize) -> String {
            let off = self.between(-percent, percent) / 100.0;
            format!("{:.decimals$}", value * (1.0 + off))
        }
    }

    #[test]
    fn the_true_place_lies_within_what_is_said_whatever_was_rounded() {
        let mut dice = Dice(1);
        let (mut tried, mut outside) = ([0_u32; 3], [0_u32; 3]);
        for _ in 0..6000 {
            let (length, share) = (dice.between(4.0, 90.0), dice.between(0.03, 0.97));
            let (percent, of_length) = (dice.between(0.2, 3.0), dice.between(0.2, 3.0));
            let kind = dice.between(0.0, 3.0) as usize;
            let decimals = dice.between(1.0, 4.0) as usize;
            let stated = length * (1.0 + dice.between(-of_length, of_length) / 100.0);
            let stated = Limited::percent(stated, of_length);
            let place = length * share;
            // 18.1 to 36 mohm and 60 to 120 pF a metre
            let (ohms, nanofarads) = (2.0 * dice.between(0.0181, 0.036), dice.between(0.06, 0.12));
            let mut farads = |metres: f64| {
                let text = format!("{} nF", dice.display(nanofarads * metres, percent, decimals));
                Limited::display(capacitance(&text, false).unwrap(), percent, 0)
            };
            let found = match kind {
                0 => break_by_both_ends(farads(place), farads(length - place), stated),
                1 => break_by_one_end(farads(place), Limited::percent(nanofarads * 1e-9, 0.0), Some(stated)),
                _ => {
                    let touch = dice.between(0.0, 2.0);
                    let mut read = |metres: f64, touch: f64| {
                        let text = format!("{} ohm", dice.display(ohms * metres + touch, percent, decimals));
                        Limited::display(amount(&text, Unit::Ohm).unwrap(), percent, 0)
                    };
                    let (near, far) = (read(place, touch), read(length - place, touch));
                    contact(near, far, read(length, 0.0), stated)
                }
            };
            // a display of zeros is refused
            let Ok(found) = found else { continue };
            tried[kind] += 1;
            outside[kind] += u32::from(found.within < (found.metres - place).abs());
        }
        // coverage factor 2: at most one in twenty
        for (tried, outside) in tried.into_iter().zip(outside) {
            assert!(1000 < tried && 20 * outside < tried, "{outside} of {tried}");
        }
    }

    #[test]
    fn a_display_counts_half_its_last_digit() {
        let read = |text: &str, digits| Limited::display(amount(text, Unit::Ohm).unwrap(), 1.0, digits).limit;
        assert!(near(read("0.4 ohm", 0), 0.004 + 0.05));
        assert!(near(read("0.40 ohm", 0), 0.004 + 0.005));
        assert!(near(read("0.40 ohm", 3), 0.004 + 0.035));
        assert!(near(read("1.2 kohm", 0), 12.0 + 50.0));
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
        assert!(near(capacitance("2.1 nF", false).unwrap().value * 1e9, 2.1));
        assert!(near(capacitance("85pF/m", true).unwrap().value * 1e12, 85.0));
        assert_eq!(amount("0.42 ohm", Unit::Ohm).unwrap().value, 0.42);
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
