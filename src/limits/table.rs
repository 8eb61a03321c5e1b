//! The tables there are, what each is called and what its figures measure.
//!
//! The rule inside: a figure has a unit that its table allows; a row in another unit is refused when the set is read.

use serde::{Deserialize, Serialize};

use crate::value::quantity::Unit;

/// Which table a row belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Table {
    /// d.c. test voltage, in volts.
    InsulationVoltage,
    /// Least insulation resistance, in ohms.
    InsulationMinimum,
    /// Insulation readings that pass and still ask why, in ohms.
    InsulationAsk,
    /// What is to be known of insulation tests, in words.
    Insulation,
    /// Greatest resistance of a solid or stranded conductor at 20 °C, in ohms per metre.
    ConductorClass1And2,
    /// Greatest resistance of a flexible conductor at 20 °C, in ohms per metre.
    ConductorClass5,
    ConductorClass1And2Tinned,
    ConductorClass5Tinned,
    /// Change of copper's resistance per degree, on the 20 °C base.
    CopperCoefficient,
    /// The temperatures between which the coefficient is used.
    CopperTemperature,
    /// Factor from 20 °C to the temperature of a fully loaded cable.
    OperatingTemperature,
    /// U0, Cmin and the field factor.
    LoopFormula,
    /// Greatest instantaneous tripping current of a circuit-breaker over its rated current.
    BreakerMultiple,
    /// Current that operates a device in 0.4 s, in amperes.
    OperatingCurrent,
    /// Greatest earth fault loop impedance for 0.4 s, in ohms, as printed.
    LoopImpedance,
    /// The same for 5 s.
    LoopImpedance5s,
    /// Loop impedance outside the installation as distributors declare it.
    ExternalLoop,
    DisconnectionTime,
    /// Greatest loop impedance by residual operating current, in ohms, and the touch voltage it follows from.
    ResidualLoop,
    ResidualTrip,
    ResidualDirectCurrent,
    SupplyVoltage,
    VoltageDrop,
    ExtraLowVoltage,
    LowVoltage,
    /// Uncertainty of an instrument in service, in percent of what the clause says.
    OperatingUncertainty,
    TestInstrument,
    Leads,
    SafeIsolation,
    CoreColours,
    Ghost,
    HeatingCircuit,
    CableAcceptance,
    Reinspection,
    Practice,
}

/// Every table with its name and the units its figures may have; no unit for a table of words.
const TABLES: &[(Table, &str, &[Unit])] = &[
    (Table::InsulationVoltage, "insulation test voltage", &[Unit::Volt]),
    (Table::InsulationMinimum, "insulation minimum", &[Unit::Ohm]),
    (Table::InsulationAsk, "insulation that asks why", &[Unit::Ohm]),
    (Table::Insulation, "insulation", &[]),
    (
        Table::ConductorClass1And2,
        "conductor resistance, class 1 and 2",
        &[Unit::OhmPerMetre],
    ),
    (
        Table::ConductorClass5,
        "conductor resistance, class 5",
        &[Unit::OhmPerMetre],
    ),
    (
        Table::ConductorClass1And2Tinned,
        "conductor resistance, class 1 and 2, tinned",
        &[Unit::OhmPerMetre],
    ),
    (
        Table::ConductorClass5Tinned,
        "conductor resistance, class 5, tinned",
        &[Unit::OhmPerMetre],
    ),
    (
        Table::CopperCoefficient,
        "temperature coefficient of copper",
        &[Unit::PerCelsius],
    ),
    (
        Table::CopperTemperature,
        "temperature range of the coefficient",
        &[Unit::Celsius],
    ),
    (
        Table::OperatingTemperature,
        "operating-temperature factor",
        &[Unit::Times],
    ),
    (Table::LoopFormula, "loop impedance formula", &[Unit::Times, Unit::Volt]),
    (Table::BreakerMultiple, "circuit-breaker multiple", &[Unit::Times]),
    (Table::OperatingCurrent, "operating current", &[Unit::Ampere]),
    (Table::LoopImpedance, "loop impedance, 0.4 s", &[Unit::Ohm]),
    (Table::LoopImpedance5s, "loop impedance, 5 s", &[Unit::Ohm]),
    (Table::ExternalLoop, "external loop impedance", &[Unit::Ohm]),
    (
        Table::DisconnectionTime,
        "disconnection time",
        &[Unit::Second, Unit::Ampere],
    ),
    (
        Table::ResidualLoop,
        "loop impedance, residual current",
        &[Unit::Ohm, Unit::Volt],
    ),
    (Table::ResidualTrip, "residual-current trip time", &[Unit::Second]),
    (
        Table::ResidualDirectCurrent,
        "residual-current device and d.c.",
        &[Unit::Ampere],
    ),
    (Table::SupplyVoltage, "supply voltage", &[Unit::Volt]),
    (Table::VoltageDrop, "voltage drop", &[Unit::Percent]),
    (Table::ExtraLowVoltage, "extra-low voltage", &[Unit::Volt]),
    (Table::LowVoltage, "low voltage", &[Unit::Volt]),
    (Table::OperatingUncertainty, "operating uncertainty", &[Unit::Percent]),
    (
        Table::TestInstrument,
        "test instrument",
        &[Unit::Volt, Unit::Ampere, Unit::Celsius],
    ),
    (Table::Leads, "leads and probes", &[Unit::Metre, Unit::Ampere]),
    (Table::SafeIsolation, "safe isolation", &[]),
    (Table::CoreColours, "core colours", &[]),
    (
        Table::Ghost,
        "ghost voltage",
        &[Unit::Volt, Unit::Ohm, Unit::PicofaradPerMetre],
    ),
    (
        Table::HeatingCircuit,
        "heating circuit",
        &[Unit::Ampere, Unit::SquareMillimetre],
    ),
    (Table::CableAcceptance, "cable acceptance", &[Unit::Volt, Unit::Second]),
    (Table::Reinspection, "reinspection interval", &[Unit::Year]),
    (
        Table::Practice,
        "practice",
        &[Unit::Volt, Unit::Ohm, Unit::Second, Unit::Percent],
    ),
];

impl Table {
    /// Every table, in the order lists show them.
    pub fn all() -> impl Iterator<Item = Table> {
        TABLES.iter().map(|(table, _, _)| *table)
    }

    fn entry(self) -> &'static (Table, &'static str, &'static [Unit]) {
        TABLES
            .iter()
            .find(|(table, _, _)| *table == self)
            .expect("every table is listed")
    }

    /// The name a person reads.
    pub fn words(self) -> &'static str {
        self.entry().1
    }

    /// The units its figures may have; none for a table of words.
    pub fn units(self) -> &'static [Unit] {
        self.entry().2
    }
}
