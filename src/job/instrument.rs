//! Instruments of a job and what each may be used for.
//!
//! The rule inside: an instrument passes only the tests that its standard covers. A multimeter's ohms range is
//! indicative; a multimeter never proves dead. Whatever reads has an accuracy: the maker's figure, or the operating
//! uncertainty that its standard allows; without either it is refused.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::judge::accuracy::Accuracy;
use crate::limits::{Basis, Confidence, Limits, Table};
use crate::value::quantity::{Amount, Unit};
use crate::value::reading::{Function, Multiple};

/// One thing an instrument can do.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Ability {
    /// A two-pole voltage indicator to IEC 61243-3.
    ProveDead,
    /// Low-resistance continuity to IEC 61557-4; `ceiling` is the top of its highest range.
    Continuity {
        /// The top of its highest range, in ohms.
        ceiling: Amount,
        /// The maker's figure; the operating uncertainty of the standard where it is left out.
        #[serde(default)]
        accuracy: Option<Accuracy>,
    },
    /// A multimeter's ohms range: indicative.
    Resistance {
        /// The top of its highest range, in ohms.
        ceiling: Amount,
        /// The maker's figure; no standard gives one.
        #[serde(default)]
        accuracy: Option<Accuracy>,
    },
    /// Insulation to IEC 61557-2 at these d.c. test voltages, in volts.
    Insulation {
        /// The test voltages it has, in volts.
        volts: Vec<u32>,
        /// The top of its range, in ohms.
        ceiling: Amount,
        /// The maker's figure; the operating uncertainty of the standard where it is left out.
        #[serde(default)]
        accuracy: Option<Accuracy>,
    },
    /// Volts, with the input resistance the circuit sees.
    Voltage {
        /// What the circuit sees of it, in ohms: a low-impedance input takes a coupled voltage away.
        input: Amount,
        /// The least that it shows, in volts, where a range does not begin at zero.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        least: Option<Amount>,
        /// The maker's figure; no standard gives one.
        #[serde(default)]
        accuracy: Option<Accuracy>,
    },
    /// Earth fault loop impedance to IEC 61557-3, at this test current; `ceiling` is the top of its highest range.
    Loop {
        /// What flows while it tests, in amperes: above a residual-current device's rating it trips it.
        current: Amount,
        /// The top of its highest range, in ohms.
        ceiling: Amount,
        /// The maker's figure; the operating uncertainty of the standard where it is left out.
        #[serde(default)]
        accuracy: Option<Accuracy>,
    },
    /// Trip times of residual-current devices to IEC 61557-6: the multiples of the rated current that it has, each with the
    /// longest time for which it is applied, which over-range stands for.
    ResidualTrip {
        /// Each multiple with the longest time it is applied, in seconds.
        tests: Vec<(Multiple, Amount)>,
        /// The maker's figure; the operating uncertainty of the standard where it is left out.
        #[serde(default)]
        accuracy: Option<Accuracy>,
    },
}

/// An accuracy and where it comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Known {
    /// The accuracy that judges.
    pub accuracy: Accuracy,
    /// The job's figure, or the standard's row.
    pub basis: Basis,
}

impl Known {
    /// Takes the uncertainty that a standard allows as a share of the greatest permitted value, where the standard gives it so
    /// (IEC 61557-6, trip times); a maker's own figure stays as it is.
    fn of_greatest_permitted(&mut self, greatest: &Amount) {
        if self.basis.what.starts_with(Table::OperatingUncertainty.words()) {
            self.accuracy.of = Some(greatest.clone());
        }
    }
}

impl Use {
    /// Settles what depends on the window: the uncertainty of a trip time is a share of the greatest permitted one.
    pub fn judged_up_to(&mut self, greatest: &Amount) {
        if matches!(self.function, Function::ResidualTrip(_)) {
            self.known.of_greatest_permitted(greatest);
        }
    }
}

impl Ability {
    /// What it measures, in the words of a sentence, with the row of the standard's operating uncertainty where there is one.
    fn measures(&self) -> Option<(&'static str, Option<&'static str>, &Option<Accuracy>)> {
        match self {
            Ability::ProveDead => None,
            Ability::Continuity { accuracy, .. } => Some(("continuity", Some("continuity"), accuracy)),
            Ability::Resistance { accuracy, .. } => Some(("ohms", None, accuracy)),
            Ability::Insulation { accuracy, .. } => Some(("insulation", Some("insulation"), accuracy)),
            Ability::Voltage { accuracy, .. } => Some(("volts", None, accuracy)),
            Ability::Loop { accuracy, .. } => Some(("loop impedance", Some("loop impedance"), accuracy)),
            Ability::ResidualTrip { accuracy, .. } => {
                Some(("trip times", Some("residual-current trip time"), accuracy))
            }
        }
    }

    /// The unit of its readings; volts for the indicator, which reads nothing.
    pub fn unit(&self) -> Unit {
        match self {
            Ability::ProveDead | Ability::Voltage { .. } => Unit::Volt,
            Ability::ResidualTrip { .. } => Unit::Second,
            _ => Unit::Ohm,
        }
    }

    /// Whether it makes the test that a function is, to the test's own standard.
    pub fn covers(&self, wanted: Function) -> bool {
        match (self, wanted) {
            (Ability::Continuity { .. }, Function::Continuity)
            | (Ability::Resistance { .. }, Function::Resistance)
            | (Ability::Voltage { .. }, Function::VoltageAc | Function::VoltageDc)
            | (Ability::Loop { .. }, Function::Loop) => true,
            (Ability::Insulation { volts, .. }, Function::Insulation(wanted)) => volts.contains(&wanted),
            (Ability::ResidualTrip { tests, .. }, Function::ResidualTrip(wanted)) => {
                tests.iter().any(|(multiple, _)| *multiple == wanted)
            }
            _ => false,
        }
    }

    /// What a bare over-range mark stands for in a function that it covers; volts have none.
    pub fn ceiling(&self, function: Function) -> Option<&Amount> {
        match self {
            Ability::ProveDead | Ability::Voltage { .. } => None,
            Ability::Continuity { ceiling, .. }
            | Ability::Resistance { ceiling, .. }
            | Ability::Insulation { ceiling, .. }
            | Ability::Loop { ceiling, .. } => Some(ceiling),
            Ability::ResidualTrip { tests, .. } => {
                let test = tests
                    .iter()
                    .find(|(multiple, _)| function == Function::ResidualTrip(*multiple));
                test.map(|(_, lasts)| lasts)
            }
        }
    }

    /// The accuracy of its readings; `None` for an indicator, which reads nothing. The error says what is missing.
    pub fn known(&self, instrument: &str, limits: &Limits) -> Result<Option<Known>, String> {
        let Some((what, row, own)) = self.measures() else {
            return Ok(None);
        };
        let known = match (own, row) {
            (Some(accuracy), _) => Known {
                accuracy: accuracy.clone(),
                basis: Basis {
                    what: format!("accuracy of `{instrument}` for {what}: {}", accuracy.words()),
                    source: "the job, from the instrument's data sheet".into(),
                    confidence: Confidence::Printed,
                },
            },
            (None, Some(row)) => {
                let row = limits.row(Table::OperatingUncertainty, row)?;
                Known {
                    accuracy: Accuracy::percent(row.value.value()),
                    basis: row.basis(),
                }
            }
            (None, None) => return Err(format!("`{instrument}` has no accuracy figure for {what}")),
        };
        Ok(Some(known))
    }
}

/// An instrument as listed in the job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Instrument {
    /// By which steps and records call it.
    pub name: String,
    /// What it is, in words: `multifunction tester`.
    pub kind: String,
    /// Its serial number, for the record.
    pub serial: String,
    /// Last calibration and the day the next one is due.
    pub calibrated: jiff::civil::Date,
    /// The last day on which the calibration holds.
    pub due: jiff::civil::Date,
    /// The profile it talks, where it has a cable.
    pub profile: Option<String>,
    /// Overvoltage category as marked on it, for example `CAT III 300 V`.
    pub category: String,
    /// What it can do, each with its range and accuracy.
    pub can: Vec<Ability>,
}

/// How an instrument is used in one step.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Use {
    /// The instrument, by its name in the job.
    pub instrument: String,
    /// The dial position; for a stand-in it differs from what the step asked for.
    pub function: Function,
    /// The top of the range that a bare over-range mark stands for.
    pub ceiling: Option<Amount>,
    /// Input resistance of a voltage function.
    pub input: Option<Amount>,
    /// The least that a voltage function shows, where it does not begin at zero.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub least: Option<Amount>,
    /// How accurate its readings are.
    pub known: Known,
    /// Why its readings cannot pass this test, where they cannot.
    pub indicative: Option<String>,
}

fn used(instrument: &Instrument, ability: &Ability, function: Function, limits: &Limits) -> Use {
    let ceiling = ability.ceiling(function).cloned();
    let (input, least) = match ability {
        Ability::Voltage { input, least, .. } => (Some(input.clone()), least.clone()),
        _ => (None, None),
    };
    let known = ability.known(&instrument.name, limits);
    Use {
        instrument: instrument.name.clone(),
        function,
        ceiling,
        input,
        least,
        known: known.ok().flatten().expect("checked: whatever reads has an accuracy"),
        indicative: None,
    }
}

/// Whether an overvoltage category as marked, such as `CAT III 300 V`, fits a building's wiring of this voltage to earth.
///
/// CAT III is the building installation, CAT IV its origin (GS38, 4th edition, paragraph 9; IEC 61010-1).
pub fn fits_building_wiring(category: &str, volts: Decimal) -> bool {
    let words: Vec<&str> = category.split_whitespace().collect();
    match words.as_slice() {
        ["CAT", "III" | "IV", figure, "V"] => figure.parse::<Decimal>().is_ok_and(|marked| volts <= marked),
        _ => false,
    }
}

/// The instrument for a function: one that covers the test, else a multimeter's ohms range as a stand-in that is marked indicative.
pub fn choose(instruments: &[Instrument], wanted: Function, limits: &Limits) -> Option<Use> {
    choose_fit(instruments, wanted, limits, |_| false)
}

/// The same; of several that cover the test the first that is not `unfit` is taken, or else the first.
pub fn choose_fit(
    instruments: &[Instrument],
    wanted: Function,
    limits: &Limits,
    unfit: impl Fn(&Use) -> bool,
) -> Option<Use> {
    let all = || {
        instruments
            .iter()
            .flat_map(|i| i.can.iter().map(move |ability| (i, ability)))
    };
    // ohms for their own sake are not a test that a step asks for
    let proper: Vec<Use> = all()
        .filter(|(_, ability)| wanted != Function::Resistance && ability.covers(wanted))
        .map(|(instrument, ability)| used(instrument, ability, wanted, limits))
        .collect();
    let fit = proper.iter().find(|used| !unfit(used)).or(proper.first());
    if let Some(used) = fit {
        return Some(used.clone());
    }
    let test = match wanted {
        Function::Continuity => "the continuity test of IEC 61557-4",
        Function::Insulation(_) => "the insulation test of IEC 61557-2",
        _ => return None,
    };
    let (instrument, ability) = all().find(|(_, ability)| matches!(ability, Ability::Resistance { .. }))?;
    Some(Use {
        indicative: Some(format!(
            "indicative only: the ohms range of `{}` is not {test}",
            instrument.name
        )),
        ..used(instrument, ability, Function::Resistance, limits)
    })
}

/// The lowest input resistance among voltage instruments is chosen for tests of absence.
pub fn choose_low_input(instruments: &[Instrument], function: Function, limits: &Limits) -> Option<Use> {
    let input = |ability: &Ability| match ability {
        Ability::Voltage { input, .. } => Some(input.value()),
        _ => None,
    };
    instruments
        .iter()
        .flat_map(|i| i.can.iter().map(move |ability| (i, ability)))
        .filter_map(|(i, ability)| Some((input(ability)?, i, ability)))
        .min_by_key(|(input, _, _)| *input)
        .map(|(_, i, ability)| used(i, ability, function, limits))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::{edition, shipped};

    fn amount(text: &str) -> Amount {
        Amount::parse(text).unwrap()
    }

    fn instrument(can: Vec<Ability>) -> Instrument {
        Instrument {
            name: "tester".into(),
            kind: "installation tester".into(),
            serial: "SM-1".into(),
            calibrated: jiff::civil::date(2026, 6, 2),
            due: jiff::civil::date(2027, 6, 2),
            profile: None,
            category: "CAT III 300 V".into(),
            can,
        }
    }

    fn chosen(can: Vec<Ability>, wanted: Function) -> Option<Use> {
        let limits = edition(shipped(), "2018+A2:2022").unwrap();
        choose(&[instrument(can)], wanted, &limits)
    }

    fn a_loop() -> Ability {
        Ability::Loop {
            current: amount("25 A"),
            ceiling: amount("1999 ohm"),
            accuracy: None,
        }
    }

    fn trips(accuracy: Option<Accuracy>) -> Ability {
        Ability::ResidualTrip {
            tests: vec![(Multiple::Half, amount("1999 ms")), (Multiple::Once, amount("300 ms"))],
            accuracy,
        }
    }

    #[test]
    fn a_loop_test_has_the_uncertainty_of_its_standard() {
        // IEC 61557-3: operating uncertainty of 30 % of the measured value (from memory)
        let used = chosen(vec![a_loop()], Function::Loop).unwrap();
        assert_eq!(used.ceiling, Some(amount("1999 ohm")));
        assert_eq!(used.known.accuracy.words(), "\u{b1}30 %");
        assert!(
            used.known.basis.source.starts_with("IEC 61557-3"),
            "{:?}",
            used.known.basis
        );
        assert_eq!(used.indicative, None);
    }

    #[test]
    fn each_trip_test_ends_after_its_own_time() {
        for (multiple, lasts) in [(Multiple::Half, "1999 ms"), (Multiple::Once, "300 ms")] {
            let used = chosen(vec![trips(None)], Function::ResidualTrip(multiple)).unwrap();
            assert_eq!(used.ceiling, Some(amount(lasts)));
        }
        assert_eq!(
            chosen(vec![trips(None)], Function::ResidualTrip(Multiple::FiveTimes)),
            None
        );
    }

    #[test]
    fn the_uncertainty_of_trip_times_is_a_share_of_the_greatest_permitted() {
        // IEC 61557-6: 10 % of the greatest permitted time; a handbook prints an in-service accuracy of 10 %
        let once = Function::ResidualTrip(Multiple::Once);
        let mut used = chosen(vec![trips(None)], once).unwrap();
        used.judged_up_to(&amount("300 ms"));
        assert_eq!(used.known.accuracy.words(), "\u{b1}10 % of 300 ms");
        let uncertainty = |used: &Use| used.known.accuracy.uncertainty(Decimal::new(24, 3), Decimal::new(1, 4));
        assert_eq!(uncertainty(&used), Decimal::new(30, 3));
        // the maker's own figure is of what is shown
        let own = Accuracy::percent(Decimal::from(5));
        let mut used = chosen(vec![trips(Some(own))], once).unwrap();
        used.judged_up_to(&amount("300 ms"));
        assert_eq!(uncertainty(&used), Decimal::new(12, 4));
        // and a loop is of what is shown, whatever the window
        let mut used = chosen(vec![a_loop()], Function::Loop).unwrap();
        used.judged_up_to(&amount("1.37 ohm"));
        assert_eq!(used.known.accuracy.words(), "\u{b1}30 %");
    }

    #[test]
    fn nothing_stands_in_for_tests_of_protection() {
        let ohms = Ability::Resistance {
            ceiling: amount("40 Mohm"),
            accuracy: Some(Accuracy::percent(Decimal::ONE)),
        };
        assert_eq!(chosen(vec![ohms.clone(), trips(None)], Function::Loop), None);
        assert_eq!(
            chosen(vec![ohms, a_loop()], Function::ResidualTrip(Multiple::Once)),
            None
        );
    }
}
