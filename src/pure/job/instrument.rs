//! Instruments of a job and what each may be used for.
//!
//! The rule inside: an instrument passes only the tests that its standard covers. A multimeter's ohms range is
//! indicative; a multimeter never proves dead.

use serde::{Deserialize, Serialize};

use crate::pure::quantity::Amount;
use crate::pure::reading::Function;

/// One thing an instrument can do.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Ability {
    /// A two-pole voltage indicator to IEC 61243-3.
    ProveDead,
    /// Low-resistance continuity to IEC 61557-4; `ceiling` is the top of its highest range.
    Continuity { ceiling: Amount },
    /// A multimeter's ohms range: indicative.
    Resistance { ceiling: Amount },
    /// Insulation to IEC 61557-2 at these d.c. test voltages, in volts.
    Insulation { volts: Vec<u32>, ceiling: Amount },
    /// Volts, with the input resistance the circuit sees.
    Voltage { input: Amount },
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
    /// Why its readings cannot pass this test, where they cannot.
    pub indicative: Option<String>,
}

/// The instrument for a function: one that covers the test, else a multimeter's ohms range as a stand-in that is marked indicative.
pub fn choose(instruments: &[Instrument], wanted: Function) -> Option<Use> {
    let used = |instrument: &Instrument, function, ceiling, input, indicative| Use {
        instrument: instrument.name.clone(),
        function,
        ceiling,
        input,
        indicative,
    };
    let proper = instruments.iter().find_map(|i| {
        i.can.iter().find_map(|ability| match (ability, wanted) {
            (Ability::Continuity { ceiling }, Function::Continuity) => {
                Some(used(i, wanted, Some(ceiling.clone()), None, None))
            }
            (Ability::Insulation { volts, ceiling }, Function::Insulation(v)) if volts.contains(&v) => {
                Some(used(i, wanted, Some(ceiling.clone()), None, None))
            }
            (Ability::Voltage { input }, Function::VoltageAc | Function::VoltageDc) => {
                Some(used(i, wanted, None, Some(input.clone()), None))
            }
            _ => None,
        })
    });
    let stand_in = || {
        let test = match wanted {
            Function::Continuity => "the continuity test of IEC 61557-4",
            Function::Insulation(_) => "the insulation test of IEC 61557-2",
            _ => return None,
        };
        instruments.iter().find_map(|i| {
            i.can.iter().find_map(|ability| match ability {
                Ability::Resistance { ceiling } => Some(used(
                    i,
                    Function::Resistance,
                    Some(ceiling.clone()),
                    None,
                    Some(format!("indicative only: the ohms range of `{}` is not {test}", i.name)),
                )),
                _ => None,
            })
        })
    };
    proper.or_else(stand_in)
}

/// The lowest input resistance among voltage instruments is chosen for tests of absence.
pub fn choose_low_input(instruments: &[Instrument]) -> Option<Use> {
    instruments
        .iter()
        .flat_map(|i| i.can.iter().map(move |ability| (i, ability)))
        .filter_map(|(i, ability)| match ability {
            Ability::Voltage { input } => Some((i, input)),
            _ => None,
        })
        .min_by_key(|(_, input)| input.value())
        .map(|(i, input)| Use {
            instrument: i.name.clone(),
            function: Function::VoltageAc,
            ceiling: None,
            input: Some(input.clone()),
            indicative: None,
        })
}
