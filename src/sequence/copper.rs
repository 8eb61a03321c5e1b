//! The copper of the cable: the greatest resistance that its cores may have.

use crate::job::{CableLength, Core, Job};
use crate::judge::resistance::{of_length, pair_per_metre};
use crate::judge::rounding::edge;
use crate::limits::{Basis, Confidence};
use crate::value::quantity::Amount;

/// The greatest resistance of one core and the earth core in series, linked at the far end, at the cable's temperature.
pub(super) fn cable_resistance(job: &Job, core: &Core, length: &CableLength) -> Result<(Amount, Vec<Basis>), String> {
    let sizes = [&core.size, &job.return_core().size];
    let (per_metre, rows) = pair_per_metre(&job.limits, job.conductors.table(), sizes)?;
    let (factor, coefficient) = job.temperature_factor()?;
    let ohms = of_length(per_metre, length.in_force().value(), factor);
    let mut basis: Vec<_> = rows.iter().map(|row| row.basis()).collect();
    basis.dedup();
    basis.push(coefficient.basis());
    basis.push(Basis {
        what: format!("length {length}, cable at {}", job.temperature),
        source: format!("the job `{}`", job.text.name),
        confidence: Confidence::Printed,
    });
    Ok((edge(ohms), basis))
}
