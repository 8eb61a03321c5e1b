//! What a job's own figures work out to, for the plan and beside the readings of a record.
//!
//! The rule inside: nothing here judges. Each line says what it is, what it comes to, how, and from which rows.

use rust_decimal::Decimal;
use serde::Serialize;

use crate::job::instrument::Ability;
use crate::job::{Core, Job, Purpose};
use crate::judge::earth_loop::{Come, LoopLimit, device_limit, fault_current, longest, residual_limit, zs};
use crate::judge::ghost::Coupling;
use crate::judge::insulation::parallel;
use crate::judge::propagate::Inputs;
use crate::judge::resistance::{length, of_length, pair_per_metre};
use crate::judge::rounding::{edge, float, shown};
use crate::limits::{Basis, Row, Table};
use crate::value::quantity::{Amount, Unit};

/// One figure worked out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Worked {
    /// What was worked out.
    pub what: String,
    /// The figure with its unit.
    pub comes_to: String,
    /// The calculation in figures.
    pub how: String,
    /// The rows that went into it.
    pub basis: Vec<Basis>,
}

/// Everything that can be worked out before anything is measured; the error is a figure that the tables lack.
pub fn from_job(job: &Job) -> Result<Vec<Worked>, String> {
    let mut worked = cores(job)?;
    if let (Some(core), Purpose::Earth) = (line(job), job.return_core().carries) {
        worked.extend(loops(job, core)?);
    }
    worked.extend(residual(job)?);
    worked.extend(ghosts(job)?);
    worked.extend(joined(job));
    Ok(worked)
}

/// The core whose fault to earth the device has to clear.
fn line(job: &Job) -> Option<&Core> {
    job.core_for(Purpose::PermanentLive)
        .or_else(|| job.core_for(Purpose::SwitchedLive))
}

/// One core with the return core: ohms a metre at 20 °C, the factor to the cable's temperature, and the rows.
struct Pair {
    per_metre: Decimal,
    factor: Decimal,
    basis: Vec<Basis>,
}

fn pair(job: &Job, core: &Core) -> Result<Pair, String> {
    let sizes = [&core.size, &job.return_core().size];
    let (per_metre, rows) = pair_per_metre(&job.limits, job.conductors.table(), sizes)?;
    let (factor, coefficient) = job.temperature_factor()?;
    let mut basis: Vec<_> = rows.iter().map(|row| row.basis()).collect();
    basis.dedup();
    basis.push(coefficient.basis());
    Ok(Pair {
        per_metre,
        factor,
        basis,
    })
}

fn cores(job: &Job) -> Result<Vec<Worked>, String> {
    let mut worked: Vec<Worked> = Vec::new();
    let mut done: Vec<&Amount> = Vec::new();
    for core in job.test_cores() {
        if done.contains(&&core.size) {
            continue;
        }
        done.push(&core.size);
        let pair = pair(job, core)?;
        let (per_metre, factor) = (pair.per_metre, pair.factor.normalize());
        let a_metre = shown(per_metre * factor, Unit::OhmPerMetre, 6);
        let each = format!(
            "each {} core with {}, linked at the far end",
            core.size,
            job.return_words()
        );
        match &job.length {
            Some(metres) => worked.push(Worked {
                what: each.clone(),
                comes_to: format!(
                    "at most {}",
                    edge(of_length(per_metre, metres.in_force().value(), factor))
                ),
                how: format!(
                    "{} x {metres} x {factor} at {}",
                    shown(per_metre, Unit::OhmPerMetre, 6),
                    job.temperature
                ),
                basis: pair.basis.clone(),
            }),
            None => worked.push(Worked {
                what: each.clone(),
                comes_to: format!("at most {a_metre}"),
                how: format!("the length is not known; at {}", job.temperature),
                basis: pair.basis.clone(),
            }),
        }
        worked.push(Worked {
            what: format!("length of {each}"),
            comes_to: format!(
                "{} for each ohm read",
                shown(length(Decimal::ONE, per_metre, factor), Unit::Metre, 1)
            ),
            how: format!(
                "reading less leads, over {a_metre}; at least this long, since table figures are greatest values"
            ),
            basis: pair.basis,
        });
    }
    Ok(worked)
}

/// The factor to the temperature of a fully loaded cable in the usual thermoplastic insulation.
fn hot(job: &Job) -> Result<&Row, String> {
    job.limits.row(Table::OperatingTemperature, "70 degC, in a cable")
}

fn loops(job: &Job, core: &Core) -> Result<Vec<Worked>, String> {
    let pair = pair(job, core)?;
    let hot = hot(job)?;
    let nominal = &job.supply.nominal;
    let limit = match &job.supply.protection {
        Some(device) => Some((
            device,
            device_limit(&job.limits, nominal, device, job.supply.disconnection)?,
        )),
        None => None,
    };
    let mut worked = Vec::new();
    if let Some((device, limit)) = &limit {
        worked.push(of_limit(format!("loop impedance that {} allows", device.row()), limit));
    }
    let Some(ze) = &job.supply.ze else { return Ok(worked) };
    let cold = |metres: &Amount| of_length(pair.per_metre, metres.value(), pair.factor);
    let loaded = |metres: &Amount| of_length(pair.per_metre, metres.value(), hot.value.value());
    let mut places = vec![(job.near.name.clone(), ze.value(), ze.value())];
    if let Some(length) = &job.length {
        let metres = length.in_force();
        let far = (zs(ze.value(), cold(metres)), zs(ze.value(), loaded(metres)));
        places.push((job.far.name.clone(), far.0, far.1));
        worked.push(Worked {
            what: format!("loop impedance at the {}", job.far.name),
            comes_to: format!("{} cold, {} at operating temperature", edge(far.0), edge(far.1)),
            how: format!(
                "Ze {ze} + R1+R2 {} cold, {} loaded{}",
                edge(cold(metres)),
                edge(loaded(metres)),
                limit
                    .as_ref()
                    .map_or(String::new(), |(_, limit)| compared(limit, far.0, far.1))
            ),
            basis: pair.basis.iter().cloned().chain([hot.basis()]).collect(),
        });
    }
    for (place, cold, _) in &places {
        if let Some(current) = fault_current(nominal.value(), *cold) {
            worked.push(Worked {
                what: format!("prospective earth fault current at the {place}"),
                comes_to: current.to_string(),
                how: format!(
                    "{nominal} / {}; the fault to neutral may be greater and is not known here",
                    edge(*cold)
                ),
                basis: Vec::new(),
            });
        }
    }
    if let Some((device, limit)) = &limit {
        let metres = longest(limit.limit.value(), ze.value(), pair.per_metre, hot.value.value());
        worked.push(Worked {
            what: format!("longest cable that {} allows", device.row()),
            comes_to: metres.map_or_else(
                || "none: the loop outside is already too high".into(),
                |m| m.to_string(),
            ),
            how: format!(
                "({} - {ze}) / ({} x {}), rounded down; by the loop alone, volt drop is another matter",
                limit.limit,
                shown(pair.per_metre, Unit::OhmPerMetre, 6),
                hot.value.digits.text()
            ),
            basis: pair.basis.iter().cloned().chain([hot.basis()]).collect(),
        });
    }
    Ok(worked)
}

fn of_limit(what: String, limit: &LoopLimit) -> Worked {
    let field = limit.field.as_ref().map_or(String::new(), |field| {
        format!("; {field} measured cold with an instrument")
    });
    Worked {
        what,
        comes_to: format!("at most {}{field}", limit.limit),
        how: limit.note.clone().unwrap_or_default(),
        basis: limit.basis.clone(),
    }
}

/// A calculated loop beside the limit; measured and calculated values have limits of their own, never both factors.
fn compared(limit: &LoopLimit, cold: Decimal, loaded: Decimal) -> String {
    let calculated = limit.against(Come::CalculatedHot);
    let measured = limit.against(Come::MeasuredCold);
    let word = |value: Decimal, limit: &Amount| if value <= limit.value() { "within" } else { "ABOVE" };
    format!(
        "; loaded {} {calculated}, cold {} {measured}",
        word(loaded, calculated),
        word(cold, measured)
    )
}

fn residual(job: &Job) -> Result<Vec<Worked>, String> {
    let Some(operating) = &job.supply.residual else {
        return Ok(Vec::new());
    };
    let limit = residual_limit(&job.limits, operating)?;
    let trip = job.limits.row(Table::ResidualTrip, "general, 1 times, at most")?;
    Ok(vec![
        of_limit(
            format!("loop impedance that a {operating} residual-current device allows"),
            &limit,
        ),
        Worked {
            what: "trip time of a residual-current device without delay, at its operating current".into(),
            comes_to: format!("at most {}", trip.value),
            how: "the longer of 0 and 180 degrees".into(),
            basis: vec![trip.basis()],
        },
    ])
}

/// What a voltage instrument may show on a core that is joined to nothing.
fn ghosts(job: &Job) -> Result<Vec<Worked>, String> {
    let Some(metres) = &job.length else {
        return Ok(Vec::new());
    };
    let row = job
        .limits
        .row(Table::Ghost, "capacitance of flat cable, core to core")?;
    let supply = &job.supply;
    let coupling = Coupling::of_length(
        float(supply.nominal.value()),
        float(supply.frequency.value()),
        float(metres.in_force().value()),
        float(row.value.value()),
    );
    let inputs = job.instruments.iter().flat_map(|instrument| {
        instrument.can.iter().filter_map(move |ability| match ability {
            Ability::Voltage { input, .. } => Some((instrument, input)),
            _ => None,
        })
    });
    Ok(inputs
        .map(|(instrument, input)| Worked {
            what: format!("ghost on a core joined to nothing, read with `{}`", instrument.name),
            comes_to: format!("up to {:.1} V", coupling.shown(float(input.value()))),
            how: format!(
                "{metres} beside a live core at {}, {} on an input of {input}; about half with neutral beside it",
                row.value, supply.nominal
            ),
            basis: vec![row.basis()],
        })
        .collect())
}

/// What joining the cores for one insulation test can and cannot prove.
fn joined(job: &Job) -> Option<Worked> {
    let count = job.test_cores().count();
    let (row, _) = super::insulation_row(job, Table::InsulationMinimum).ok()?;
    let together = parallel(&vec![row.value.value(); count])?;
    let back = match job.return_core() {
        core if core.carries == Purpose::Earth => "earth".to_owned(),
        core => format!("core {}", core.name),
    };
    Some(Worked {
        what: format!("{count} live cores joined, to {back}"),
        comes_to: format!(
            "at least {} shows each of them good; less shows one bad for sure only below {}",
            row.value,
            Amount::readable(together, Unit::Ohm, 3)
        ),
        how: format!(
            "cores that just pass read {} / {count} together: test each alone",
            row.value
        ),
        basis: vec![row.basis()],
    })
}

/// One core as it was read, its leads subtracted.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// The core, by its name.
    pub core: String,
    /// What it read, in ohms.
    pub ohms: Decimal,
    /// Expanded uncertainty of the reading.
    pub uncertainty: Decimal,
}

/// What measured cores come to: the length each means, and the loop at the far end where the job gives Ze.
pub fn from_readings(job: &Job, measured: &[Measured]) -> Result<Vec<Worked>, String> {
    let mut worked = Vec::new();
    for reading in measured {
        let Some(core) = job.core(&reading.core) else { continue };
        let pair = pair(job, core)?;
        let metres = shown(length(reading.ohms, pair.per_metre, pair.factor), Unit::Metre, 1);
        worked.push(Worked {
            what: format!("length by core {}", core.name),
            comes_to: format!("{metres} or more"),
            how: format!(
                "{} over {}",
                edge(reading.ohms),
                shown(pair.per_metre * pair.factor, Unit::OhmPerMetre, 6)
            ),
            basis: pair.basis,
        });
        let loops = job.return_core().carries == Purpose::Earth && line(job).is_some_and(|line| line.name == core.name);
        if let (Some(ze), true) = (&job.supply.ze, loops) {
            worked.push(far_loop(job, ze, reading)?);
        }
    }
    Ok(worked)
}

fn far_loop(job: &Job, ze: &Amount, reading: &Measured) -> Result<Worked, String> {
    let row = job.limits.row(Table::OperatingUncertainty, "loop impedance")?;
    let expanded_ze = ze.value() * row.value.value() * Decimal::new(1, 2);
    let standard = [float(expanded_ze) / 2.0, float(reading.uncertainty) / 2.0];
    let loop_far = zs(ze.value(), reading.ohms);
    let expanded = 2.0 * Inputs::independent(&standard).combined(&[1.0, 1.0]);
    let limit = match &job.supply.protection {
        Some(device) => {
            let limit = device_limit(&job.limits, &job.supply.nominal, device, job.supply.disconnection)?;
            let cold = limit.against(Come::MeasuredCold);
            let word = if loop_far <= cold.value() { "within" } else { "ABOVE" };
            format!("; {word} {cold}, the limit for measured values")
        }
        None => String::new(),
    };
    let current = fault_current(job.supply.nominal.value(), loop_far).map_or(String::new(), |a| format!(", {a}"));
    Ok(Worked {
        what: format!("loop impedance at the {}", job.far.name),
        comes_to: format!("{} \u{b1}{expanded:.3} ohm (k = 2){current}", edge(loop_far)),
        how: format!("Ze {ze} + {} read{limit}", edge(reading.ohms)),
        basis: vec![row.basis()],
    })
}
