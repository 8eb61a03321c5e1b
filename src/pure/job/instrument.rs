//! Instruments of a job and what each may be used for.
//!
//! The rule inside: an instrument passes only the tests that its standard covers. A multimeter's ohms range is
//! indicative; a multimeter never proves dead. Whatever reads has an accuracy: the maker's figure, or the operating
//! uncertainty that its standard allows; without either it is refused.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::pure::calc::accuracy::Accuracy;
use crate::pure::limits::{Basis, Confidence, Limits, Table};
use crate::pure::quantity::Amount;
use crate::pure::reading::Function;

/// One thing an instrument can do.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Ability {
    /// A two-pole voltage indicator to IEC 61243-3.
    ProveDead,
    /// Low-resistance continuity to IEC 61557-4; `ceiling` is the top of its highest range.
    Continuity {
        ceiling: Amount,
        /// The maker's figure; the operating uncertainty of the standard where it is left out.
        #[serde(default)]
        accuracy: Option<Accuracy>,
    },
    /// A multimeter's ohms range: indicative.
    Resistance {
        ceiling: Amount,
        /// The maker's figure; no standard gives one.
        #[serde(default)]
        accuracy: Option<Accuracy>,
    },
    /// Insulation to IEC 61557-2 at these d.c. test voltages, in volts.
    Insulation {
        volts: Vec<u32>,
        ceiling: Amount,
        /// The maker's figure; the operating uncertainty of the standard where it is left out.
        #[serde(default)]
        accuracy: Option<Accuracy>,
    },
    /// Volts, with the input resistance the circuit sees.
    Voltage {
        input: Amount,
        /// The maker's figure; no standard gives one.
        #[serde(default)]
        accuracy: Option<Accuracy>,
    },
}

/// An accuracy and where it comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Known {
    pub accuracy: Accuracy,
    pub basis: Basis,
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
    pub name: String,
    pub kind: String,
    pub serial: String,
    /// Last calibration and the day the next one is due.
    pub calibrated: jiff::civil::Date,
    pub due: jiff::civil::Date,
    /// The profile it talks, where it has a cable.
    pub profile: Option<String>,
    /// Overvoltage category as marked on it, for example `CAT III 300 V`.
    pub category: String,
    pub can: Vec<Ability>,
}

/// How an instrument is used in one step.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Use {
    pub instrument: String,
    /// The dial position; for a stand-in it differs from what the step asked for.
    pub function: Function,
    /// The top of the range that a bare over-range mark stands for.
    pub ceiling: Option<Amount>,
    /// Input resistance of a voltage function.
    pub input: Option<Amount>,
    /// How accurate its readings are.
    pub known: Known,
    /// Why its readings cannot pass this test, where they cannot.
    pub indicative: Option<String>,
}

fn used(instrument: &Instrument, ability: &Ability, function: Function, limits: &Limits) -> Use {
    let (ceiling, input) = match ability {
        Ability::ProveDead => (None, None),
        Ability::Continuity { ceiling, .. }
        | Ability::Resistance { ceiling, .. }
        | Ability::Insulation { ceiling, .. } => (Some(ceiling.clone()), None),
        Ability::Voltage { input, .. } => (None, Some(input.clone())),
    };
    let known = ability.known(&instrument.name, limits);
    Use {
        instrument: instrument.name.clone(),
        function,
        ceiling,
        input,
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
    let all = || {
        instruments
            .iter()
            .flat_map(|i| i.can.iter().map(move |ability| (i, ability)))
    };
    let covers = |ability: &Ability| match (ability, wanted) {
        (Ability::Continuity { .. }, Function::Continuity)
        | (Ability::Voltage { .. }, Function::VoltageAc | Function::VoltageDc) => true,
        (Ability::Insulation { volts, .. }, Function::Insulation(v)) => volts.contains(&v),
        _ => false,
    };
    let proper = all().find(|(_, ability)| covers(ability));
    if let Some((instrument, ability)) = proper {
        return Some(used(instrument, ability, wanted, limits));
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
