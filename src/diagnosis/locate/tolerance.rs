//! How far a reading may stand from what the model predicts before it speaks against it.
//!
//! The rule inside: every share is a row of the limit tables with its source, and limits are added, not squared: a diagnosis
//! that is true must never be thrown out. What is added, for a reading of
//! - copper (a loop of cores below 100 ohm): IEC 60228 gives the greatest resistance, conductors as made lie between `cable as
//!   made, least` and that; the length is as somebody stated it; the temperature was guessed; beside it every link and clamp;
//! - a load or a leak (from 100 ohm on): what its sheet says and its own warmth;
//! - sound insulation: it has no value of its own, only a bound that it is above;
//! - voltage: the supply window of the edition about its nominal, and what counts as absent beside it;
//! - and the accuracy of the instrument, by its data sheet or its standard, at the predicted value.

use rust_decimal::Decimal;

use crate::job::Job;
use crate::judge::accuracy::Accuracy;
use crate::limits::Table;
use crate::model::wiring::{SHARE_OF_MAXIMUM, float};
use crate::value::quantity::{Amount, Unit};
use crate::value::reading::Function;

/// Below this a reading is of copper, in ohms; no core of this trade has as much, and no load as little. Our own choice.
const COPPER_OHMS_MAX: f64 = 100.0;
/// How far a cable of unknown length may be from the length that the model takes, as a factor. Our own choice.
const UNKNOWN_LENGTH: f64 = 8.0;
/// Insulation that is predicted above the first reads anything above the second, in ohms: sound insulation has no value of
/// its own. Our own choice, above the least values of BS 7671 and IEC 60364-6 (1 Mohm).
const SOUND_OHMS: [f64; 2] = [5e6, 2e6];
/// Above this input a voltage may be a ghost, in ohms: the highest of low-impedance modes is far below. Our own choice.
const LOW_INPUT_OHMS: f64 = 100e3;
/// How far a ghost may be from its prediction: flat cable couples by 50 to 100 pF a metre (the table of ghosts), the model takes
/// the upper end.
const GHOST_SHARE: f64 = 0.6;
/// The last digit of an ohms or volts display at small values, as most have it.
const LAST_DIGIT_MIN: f64 = 0.01;

/// Digits by which a display at rest may flicker. Common practice.
const FLICKER_DIGITS: f64 = 1.0;

/// What a range of predictions is: the least and the greatest value that a meter may show.
pub(super) type Range = (f64, f64);

/// The accuracy of an instrument as floats: a prediction is spread by it, nothing is judged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Reads {
    share: f64,
    digits: f64,
    /// What one of the last digits is worth at least.
    last_digit_min: f64,
}

impl From<&Accuracy> for Reads {
    fn from(accuracy: &Accuracy) -> Reads {
        Reads {
            share: float(accuracy.percent.value()) / 100.0,
            digits: f64::from(accuracy.digits),
            last_digit_min: LAST_DIGIT_MIN,
        }
    }
}

impl Reads {
    /// The same on a display whose last digit is worth this much, in ohms or volts, and flickers by one of them, whatever share the
    /// standard allows: a hundredth of a megohm is much beside a joint.
    pub(super) fn on(self, last_digit: f64) -> Reads {
        Reads {
            digits: self.digits.max(FLICKER_DIGITS),
            last_digit_min: self.last_digit_min.max(last_digit),
            ..self
        }
    }

    /// The uncertainty at a predicted value, on a display of three and a half digits.
    pub(super) fn uncertainty(self, value: f64) -> f64 {
        if !value.is_finite() || value <= 0.0 {
            return 0.0;
        }
        let last_digit = 10_f64.powf(value.log10().ceil() - 3.0).max(self.last_digit_min);
        value * self.share + last_digit * self.digits
    }
}

/// The tolerances of one job.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Tolerance {
    /// Factors from the predicted copper to the least and the greatest.
    copper: [f64; 2],
    load: f64,
    contacts: f64,
    /// Factors from the predicted voltage to the least and the greatest.
    supply: [f64; 2],
    absent: f64,
}

impl Tolerance {
    /// Those of a job.
    ///
    /// # Errors
    /// A row that its edition lacks.
    pub(super) fn of(job: &Job) -> Result<Tolerance, String> {
        let practice = |of: &str| job.limits.row(Table::Practice, of).map(|row| float(row.value.value()));
        let share = |of: &str| practice(of).map(|percent| percent / 100.0);
        let (length, warmth) = (share("cable length as stated")?, share("cable temperature as guessed")?);
        let factor = if job.length.is_some() { 1.0 } else { UNKNOWN_LENGTH };
        let least = share("cable as made, least")? / SHARE_OF_MAXIMUM;
        Ok(Tolerance {
            copper: [
                least * (1.0 - length) * (1.0 - warmth) / factor,
                (1.0 + length) * (1.0 + warmth) * factor / SHARE_OF_MAXIMUM,
            ],
            load: share("load as stated")?,
            contacts: practice("link and clamps")?,
            supply: supply(job, share("supply about its voltage")?),
            absent: practice("voltage absent")?,
        })
    }

    /// What a meter may show where between these two values is predicted, in ohms or volts.
    pub(super) fn spread(&self, (low, high): Range, unit: Unit, input: f64, reads: Reads) -> Range {
        let (low, high) = if unit == Unit::Volt {
            let [least, greatest] = if input <= LOW_INPUT_OHMS {
                self.supply
            } else {
                [1.0 - GHOST_SHARE, 1.0 + GHOST_SHARE]
            };
            (low * least - self.absent, high * greatest + self.absent)
        } else {
            (self.least_ohms(low), self.greatest_ohms(high))
        };
        (low - reads.uncertainty(low), high + reads.uncertainty(high))
    }

    fn least_ohms(&self, value: f64) -> f64 {
        let [sound, bound] = SOUND_OHMS;
        if sound <= value {
            bound
        } else if value < COPPER_OHMS_MAX {
            value * self.copper[0] - self.contacts
        } else {
            value * (1.0 - self.load)
        }
    }

    fn greatest_ohms(&self, value: f64) -> f64 {
        if SOUND_OHMS[0] <= value {
            f64::INFINITY
        } else if value < COPPER_OHMS_MAX {
            value * self.copper[1] + self.contacts
        } else {
            value * (1.0 + self.load)
        }
    }
}

/// The supply window of the edition as factors of the nominal voltage, or this share about it where the tables have no window.
fn supply(job: &Job, share: f64) -> [f64; 2] {
    let nominal = Amount::new(job.supply.nominal.value().normalize(), Unit::Volt);
    let factor = |which: &str| {
        let row = job
            .limits
            .row(Table::SupplyVoltage, &format!("{nominal}, {which}"))
            .ok()?;
        (nominal.value() > Decimal::ZERO).then(|| float(row.value.value() / nominal.value()))
    };
    [
        factor("lower").unwrap_or(1.0 - share),
        factor("upper").unwrap_or(1.0 + share),
    ]
}

/// A range in words.
pub(super) fn said((low, high): Range, function: Function) -> String {
    let amount = |value: f64| {
        let decimals = if (100.0..1000.0).contains(&value) { 0 } else { 2 };
        let exact = rust_decimal::Decimal::try_from(value.clamp(0.0, 1e12)).unwrap_or_default();
        Amount::readable(exact, function.unit(), decimals).to_string()
    };
    // beyond the ranges of an ohmmeter it is open, whatever it is
    let open = match function {
        Function::Insulation(_) => 1e12,
        _ => 1e6,
    };
    match function.unit() {
        Unit::Volt if low <= 0.0 => format!("less than {}", amount(high)),
        Unit::Volt => format!("{} to {}", amount(low), amount(high)),
        _ if open <= low => "open".into(),
        _ if high.is_infinite() => format!("more than {}", amount(low)),
        _ if low <= 0.0 => format!("less than {}", amount(high)),
        _ => format!("{} to {}", amount(low), amount(high)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::sample::{job, job_with};

    fn reads(percent: i64, digits: u32) -> Reads {
        Reads::from(&Accuracy {
            digits,
            ..Accuracy::percent(Decimal::from(percent))
        })
    }

    fn spread(value: f64, unit: Unit, input: f64, accuracy: Reads) -> String {
        let tolerance = Tolerance::of(&job()).unwrap();
        let (low, high) = tolerance.spread((value, value), unit, input, accuracy);
        format!("{low:.3} to {high:.3}")
    }

    #[test]
    fn each_part_is_what_its_rows_give() {
        // a loop of 36.2 mohm/m x 18 m at 15 degC, 97 % of the table: 0.619 ohm.
        // least 0.619 x 0.90/0.97 x 0.90 x 0.98 - 0.05 = 0.457, less 2 % and two digits: 0.428;
        // greatest 0.619 x 1.10 x 1.02 / 0.97 + 0.05 = 0.766, and 2 % and two digits: 0.801
        assert_eq!(spread(0.619, Unit::Ohm, 1e7, reads(2, 2)), "0.427 to 0.801");
        // a load of 47 kohm: 20 % either way, and 0.8 % of that and two digits of 100 ohm
        assert_eq!(spread(47e3, Unit::Ohm, 1e7, reads(1, 2)), "37024.000 to 57164.000");
        // sound insulation is above 2 Mohm and has no upper end
        assert_eq!(spread(1e9, Unit::Ohm, 1e7, reads(0, 0)), "2000000.000 to inf");
        // 230 V +10 % -6 % (SI 1994/3021), 5 V beside it, 1 % and three digits
        assert_eq!(spread(230.0, Unit::Volt, 10e3, reads(0, 0)), "211.200 to 258.000");
        // a ghost of 90 V on 10 Mohm
        assert_eq!(spread(90.0, Unit::Volt, 1e7, reads(0, 0)), "31.000 to 149.000");
        // nothing where nothing is predicted
        assert_eq!(spread(0.0, Unit::Volt, 10e3, reads(1, 3)), "-5.000 to 5.080");
    }

    #[test]
    fn the_last_digit_of_a_display_is_worth_what_it_stands_for() {
        // a contact of 0.2 ohm on an insulation range in hundredths of a megohm: two digits of that, which is 20 kohm
        let tolerance = Tolerance::of(&job()).unwrap();
        let greatest = |reads| tolerance.spread((0.2, 0.2), Unit::Ohm, 1e6, reads).1;
        assert!((greatest(reads(3, 2).on(10e3)) - 20e3).abs() < 1.0);
        assert!(greatest(reads(3, 2)) < 0.4);
    }

    #[test]
    fn a_better_instrument_tells_more_and_an_unknown_length_less() {
        let width = |tolerance: &Tolerance, accuracy: Reads| {
            let (low, high) = tolerance.spread((0.6, 0.6), Unit::Ohm, 1e7, accuracy);
            high - low
        };
        let known = Tolerance::of(&job()).unwrap();
        assert!(width(&known, reads(1, 0)) < width(&known, reads(30, 0)));
        let unknown = Tolerance::of(&job_with("        length: \"18 m\",\n", "")).unwrap();
        assert!(5.0 * width(&known, reads(1, 0)) < width(&unknown, reads(1, 0)));
    }

    #[test]
    fn a_cable_that_its_window_passes_is_not_spoken_against_by_a_little() {
        // the whole band that makers draw to, at the stated length, stays inside
        let tolerance = Tolerance::of(&job()).unwrap();
        for share in [0.90, 0.95, 1.0] {
            let (low, high) = tolerance.spread((0.97, 0.97), Unit::Ohm, 1e7, reads(0, 0));
            assert!(low <= share && share <= high, "{share}");
        }
    }
}
