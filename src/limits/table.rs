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
    /// As class 1 and 2, of tinned copper, in ohms per metre.
    ConductorClass1And2Tinned,
    /// As class 5, of tinned copper, in ohms per metre.
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
    /// Greatest time in which a protective device disconnects, in seconds, and the circuits it holds for.
    DisconnectionTime,
    /// Greatest loop impedance by residual operating current, in ohms, and the touch voltage it follows from.
    ResidualLoop,
    /// Trip times of residual-current devices, in seconds, and which tests are made.
    ResidualTrip,
    /// Smooth direct current that a type of residual-current device bears, in amperes.
    ResidualDirectCurrent,
    /// Least and greatest voltage of a supply, by its nominal voltage, in volts.
    SupplyVoltage,
    /// Greatest voltage drop in an installation, in percent.
    VoltageDrop,
    /// Upper bounds of extra-low voltage, in volts.
    ExtraLowVoltage,
    /// Upper bounds of low voltage, in volts.
    LowVoltage,
    /// Uncertainty of an instrument in service, in percent of what the clause says.
    OperatingUncertainty,
    /// What a test instrument must give and resolve: currents, voltages, ranges.
    TestInstrument,
    /// What test leads and probes must be: fuses, bare tips, marks.
    Leads,
    /// How a circuit is isolated and proved dead, in words.
    SafeIsolation,
    /// Which colour is for what, in words; a colour proves nothing.
    CoreColours,
    /// What makes a voltage couple into a floating core, and what a reading of one means.
    Ghost,
    /// Fuse and flex of a circuit for heating controls, in amperes and square millimetres.
    HeatingCircuit,
    /// Insulation test of a new cable before it is used: volts and seconds.
    CableAcceptance,
    /// Longest time to the next inspection, in years.
    Reinspection,
    /// Figures of common practice that no standard gives: times of valves, open cores, ghost bounds.
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
