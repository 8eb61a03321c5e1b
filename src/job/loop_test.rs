//! What the loop test of a job's instrument may switch off.
//!
//! The rule inside: a test draws its current through the protective devices; which of them it may trip is in the trade's guidance.

use super::Job;
use super::instrument::Ability;
use crate::limits::Table;
use crate::value::quantity::Amount;

impl Job {
    /// The current of the loop test of the job's instrument, in amperes, and the device that it may trip, in words; `None` where it
    /// trips none.
    ///
    /// # Errors
    /// A row of the guidance that the edition lacks.
    pub fn loop_test_may_trip(&self) -> Result<Option<(&Amount, String)>, String> {
        let supply = &self.supply;
        let figure = |of: &str| self.limits.row(Table::TestInstrument, of).map(|row| row.value.value());
        let abilities = self.instruments.iter().flat_map(|instrument| &instrument.can);
        let current = abilities.filter_map(current_of).next();
        let Some(current) = current else { return Ok(None) };
        let may_trip = |residual: &&Amount| {
            // the guidance speaks of devices of 30 mA and more: half of that, as no device may trip at half its rated current
            residual.value() < current.value() * rust_decimal::Decimal::TWO
        };
        let small = match supply.protection.as_ref().filter(|device| device.device == "type B") {
            Some(device) => {
                let is_small = device.rating.value() < figure("loop test may trip type B below")?;
                let is_usual = figure("loop test that does not trip, at most")? < current.value();
                Some(device).filter(|_| is_small && is_usual)
            }
            None => None,
        };
        let residual = supply.residual.as_ref().filter(may_trip);
        let device = match (residual, small) {
            (Some(rated), _) => format!("the residual-current device of {rated}"),
            (None, Some(device)) => format!("the circuit-breaker {}", device.row()),
            (None, None) => return Ok(None),
        };
        Ok(Some((current, device)))
    }
}

fn current_of(ability: &Ability) -> Option<&Amount> {
    match ability {
        Ability::Loop { current, .. } => Some(current),
        _ => None,
    }
}
