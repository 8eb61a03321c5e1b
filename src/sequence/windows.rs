//! Windows worked out from the limits and the job's cable data, each figure with its basis.
//!
//! A computed edge is rounded by the one rule of `calc::rounding`; everything before that is exact.

use rust_decimal::Decimal;

use super::copper::cable_resistance;
use super::expression;
use super::live_windows;
use super::raw::{RawTime, RawWindow, RawWorked};
use crate::job::{Core, Job, Motor, Separation};
use crate::judge::window::Window;
use crate::limits::{Basis, Confidence, Row, Table};
use crate::located::Located;
use crate::plan::WindowRule;
use crate::value::quantity::{Amount, Unit};
use crate::value::reading::Function;

/// The row of an insulation table that the job calls for, and what was taken for granted in choosing it.
pub fn insulation_row(job: &Job, table: Table) -> Result<(&Row, Option<Basis>), String> {
    let limits = &job.limits;
    if job.stays_connected.is_some() {
        return Ok((limits.row(table, "equipment connected")?, None));
    }
    if !job.is_extra_low_voltage() {
        return Ok((limits.band(table, &job.supply.nominal)?, None));
    }
    match job.supply.separation {
        Some(Separation::Selv | Separation::Pelv) => Ok((limits.row(table, "SELV or PELV")?, None)),
        // functional extra-low voltage is tested as the mains circuit it hangs on
        Some(Separation::Felv) => Ok((limits.row(table, "up to 500 V")?, None)),
        None => {
            let taken = Basis {
                what: format!("taken as SELV or PELV, as {} does not say FELV", job.supply.nominal),
                source: format!("the job `{}` states no separation", job.text.name),
                confidence: Confidence::Practice,
            };
            Ok((limits.row(table, "SELV or PELV")?, Some(taken)))
        }
    }
}

/// The d.c. test voltage in volts, with its row.
pub(super) fn insulation_volts(job: &Job) -> Result<(u32, &Row), String> {
    let (row, _) = insulation_row(job, Table::InsulationVoltage)?;
    Ok((whole_volts(row)?, row))
}

fn whole_volts(row: &Row) -> Result<u32, String> {
    let volts = row.value.value().normalize().try_into();
    volts.map_err(|_| format!("`{}` is not a test voltage", row.value))
}

/// The d.c. test voltage in volts and the window of a core that is not for mains, against mains in the same box: those of the mains, since that is what would
/// stand on the core.
pub(super) fn against_mains(job: &Job) -> Result<(u32, Window), String> {
    let row = |table| job.limits.band(table, &job.supply.nominal);
    let (volts, least) = (row(Table::InsulationVoltage)?, row(Table::InsulationMinimum)?);
    let as_mains = Basis {
        what: "a core that is not for mains, against mains in the same box: as the mains itself".into(),
        source: "BS 7671:2008 612.4 for the voltage; its least from memory".into(),
        confidence: Confidence::Memory,
    };
    let basis = vec![least.basis(), volts.basis(), as_mains];
    let window = Window::new(Some(least.value.clone()), None, Unit::Ohm, basis);
    Ok((whole_volts(volts)?, window))
}

/// The d.c. test voltage in volts and the window with everything connected: as the edition prints it, else at a voltage that common practice has, by the
/// edition's own minimum.
pub(super) fn insulation_connected(job: &Job) -> Result<(u32, Window), String> {
    let printed = |table| job.limits.row(table, "equipment connected");
    let (volts, least) = match (printed(Table::InsulationVoltage), printed(Table::InsulationMinimum)) {
        (Ok(volts), Ok(least)) => (volts, least),
        _ => (
            job.limits
                .row(Table::Practice, "test voltage with equipment connected")?,
            insulation_row(job, Table::InsulationMinimum)?.0,
        ),
    };
    let basis = vec![least.basis(), volts.basis()];
    Ok((
        whole_volts(volts)?,
        Window::new(Some(least.value.clone()), None, Unit::Ohm, basis),
    ))
}

/// The window of a step; `core` is the core it is about and `first` the first continuity step of the plan, if there was one.
pub(super) fn window(
    raw: &RawWindow,
    function: Function,
    job: &Job,
    core: Option<&Core>,
    first: Option<&str>,
    figure: &impl Fn(&str) -> Option<Amount>,
) -> Result<WindowRule, String> {
    if !judges(raw, function) {
        return Err(format!("this window does not judge {}", function.dial()));
    }
    let unit = function.unit();
    let row = |table, of| job.limits.row(table, of);
    let practice = |of| row(Table::Practice, of);
    let upper = |row: &Row| Window::new(None, Some(row.value.clone()), unit, vec![row.basis()]);
    let lower = |row: &Row| Window::new(Some(row.value.clone()), None, unit, vec![row.basis()]);
    Ok(WindowRule::Fixed(match raw {
        RawWindow::Cable | RawWindow::CableOrPair => {
            let core = core.ok_or("no core to work the window out for")?;
            return cable_window(job, core, first, matches!(raw, RawWindow::CableOrPair));
        }
        RawWindow::OpenCircuit => {
            let mut window = lower(practice("open circuit")?);
            // a range that ends there shows that it is more, never that it is as much
            if let Some(low) = &mut window.low {
                low.included = false;
            }
            window
        }
        RawWindow::OpenCore => lower(practice("open core")?),
        RawWindow::LeadResistance => upper(practice("lead resistance")?),
        RawWindow::InsulationMinimum => {
            let (_, volts) = insulation_volts(job)?;
            let (minimum, taken) = insulation_row(job, Table::InsulationMinimum)?;
            let mut window = lower(minimum);
            window.basis.push(volts.basis());
            window.basis.extend(taken);
            window
        }
        RawWindow::SupplyVoltage => supply_window(job)?,
        RawWindow::LoadVoltage => load_window(job)?,
        RawWindow::VoltageAbsent => upper(practice("voltage absent")?),
        // the expected loop is of an end and an instrument, which the step knows
        RawWindow::LoopMaximum | RawWindow::LoopExpected => live_windows::loop_maximum(job)?,
        RawWindow::TripTime => live_windows::trip_time(job, function)?,
        RawWindow::Worked(worked) => worked_window(worked, unit, figure)?,
        RawWindow::Stated(stated) => {
            let basis = Basis {
                what: "figures of the sequence".into(),
                source: stated.source.value.clone(),
                confidence: Confidence::Printed,
            };
            let amount = |edge: &Option<crate::located::Located<Amount>>| edge.as_ref().map(|e| e.value.clone());
            live_windows::stated(amount(&stated.low), amount(&stated.high), function, vec![basis])?
        }
    }))
}

/// What the supply may be at its own terminals.
fn supply_window(job: &Job) -> Result<Window, String> {
    let nominal = Amount::new(job.supply.nominal.value().normalize(), Unit::Volt);
    let edge = |which| job.limits.row(Table::SupplyVoltage, &format!("{nominal}, {which}"));
    let (low, high) = (edge("lower")?, edge("upper")?);
    Ok(Window::new(
        Some(low.value.clone()),
        Some(high.value.clone()),
        Unit::Volt,
        vec![low.basis(), high.basis()],
    ))
}

/// What may arrive at a load: the supply at its lower limit, less the drop that the installation may have, a share of the nominal
/// voltage.
fn load_window(job: &Job) -> Result<Window, String> {
    let mut window = supply_window(job)?;
    let drop = job.limits.row(Table::VoltageDrop, "other uses")?;
    let lost = job.supply.nominal.value() * drop.value.value() * Decimal::new(1, 2);
    if let Some(low) = &mut window.low {
        low.amount = Amount::new((low.amount.value() - lost).normalize(), Unit::Volt);
    }
    window.basis.push(drop.basis());
    Ok(window)
}

/// Edges worked out of the job.
fn worked_window(worked: &RawWorked, unit: Unit, figure: &impl Fn(&str) -> Option<Amount>) -> Result<Window, String> {
    let edge = |edge: &Option<Located<String>>| edge.as_ref().map(|text| worked_out(text, unit, figure)).transpose();
    let (low, high) = (edge(&worked.low)?, edge(&worked.high)?);
    if let (Some(low), Some(high)) = (&low, &high)
        && high.value() < low.value()
    {
        return Err(format!("the lower edge comes to {low}, above the upper edge of {high}"));
    }
    let texts: Vec<_> = [&worked.low, &worked.high]
        .into_iter()
        .flatten()
        .map(|text| format!("`{}`", text.value))
        .collect();
    let basis = Basis {
        what: format!("worked out of the job as {}", texts.join(" to ")),
        source: worked.source.value.clone(),
        confidence: Confidence::Printed,
    };
    Ok(Window::new(low, high, unit, vec![basis]))
}

/// Whether a window is about what a function measures; ohms of a dead cable and ohms of a live loop are not the same.
fn judges(raw: &RawWindow, function: Function) -> bool {
    match raw {
        RawWindow::OpenCircuit => function == Function::Continuity,
        RawWindow::Cable
        | RawWindow::CableOrPair
        | RawWindow::OpenCore
        | RawWindow::LeadResistance
        | RawWindow::InsulationMinimum => function.is_dead_test(),
        RawWindow::SupplyVoltage | RawWindow::LoadVoltage | RawWindow::VoltageAbsent => function.unit() == Unit::Volt,
        RawWindow::LoopMaximum | RawWindow::LoopExpected => function == Function::Loop,
        RawWindow::TripTime => matches!(function, Function::ResidualTrip(_)),
        RawWindow::Stated(_) | RawWindow::Worked(_) => true,
    }
}

fn worked_out(text: &str, unit: Unit, figure: &impl Fn(&str) -> Option<Amount>) -> Result<Amount, String> {
    expression::parse(text)?.work_out(unit, figure)
}

/// The most that two cores linked at the far end may have where their length is not known, in ohms, with its sources.
pub(super) fn pair_of_cores(job: &Job) -> Result<(Amount, Vec<Basis>), String> {
    let rows = ["pair of cores", "link and clamps"].map(|of| job.limits.row(Table::Practice, of));
    let [pair, contacts] = rows;
    let (pair, contacts) = (pair?, contacts?);
    let most = pair.value.value() + contacts.value.value();
    Ok((
        Amount::new(most.normalize(), Unit::Ohm),
        vec![pair.basis(), contacts.basis()],
    ))
}

/// What a core and the return core may have, linked at the far end. Of a cable of unknown length the first core has at most what any
/// pair may have, or (`any_pair` not asked for) only conducts.
pub(super) fn cable_window(job: &Job, core: &Core, first: Option<&str>, any_pair: bool) -> Result<WindowRule, String> {
    match (&job.length, first) {
        (Some(length), _) => {
            let (upper, basis) = cable_resistance(job, core, length)?;
            let share = job.limits.row(Table::Practice, "cable asks below")?;
            let asks = upper.value() * share.value.value() * Decimal::new(1, 2);
            // contacts add to what the table gives for the copper; without this a sound short cable could not pass
            let contacts = job.limits.row(Table::Practice, "link and clamps")?;
            let edge = Amount::new((upper.value() + contacts.value.value()).normalize(), Unit::Ohm);
            let mut window = Window::new(None, Some(edge), Unit::Ohm, basis);
            window.basis.push(contacts.basis());
            window.ask_below = Some(Amount::new(asks.normalize(), Unit::Ohm));
            window.basis.push(share.basis());
            Ok(WindowRule::Fixed(window))
        }
        (None, Some(first)) => {
            let row = job.limits.row(Table::Practice, "cores of one cable alike")?;
            Ok(WindowRule::Like {
                first: first.into(),
                within: row.value.clone(),
                basis: row.basis(),
            })
        }
        (None, None) if any_pair => {
            let (most, mut basis) = pair_of_cores(job)?;
            basis[0].what = format!(
                "the length is not known: the others are compared with this core; {}",
                basis[0].what
            );
            Ok(WindowRule::Fixed(Window::new(None, Some(most), Unit::Ohm, basis)))
        }
        // the first core of a cable of unknown length sets the value the others are compared with
        (None, None) => {
            let row = job.limits.row(Table::Practice, "open core")?;
            let mut basis = row.basis();
            basis.what = format!(
                "the length is not known: this core only has to conduct, the others are compared with it; {}",
                basis.what
            );
            Ok(WindowRule::Fixed(Window::new(
                None,
                Some(row.value.clone()),
                Unit::Ohm,
                vec![basis],
            )))
        }
    }
}

/// A time with its basis.
pub(super) fn time(
    raw: &RawTime,
    job: &Job,
    figure: &impl Fn(&str) -> Option<Amount>,
) -> Result<(Amount, Basis), String> {
    // a motor that its maker calls slower than usual gets the time its maker gives; wax takes minutes
    let usual_or_longer = |wax: bool, moves: &str, time: fn(&Motor) -> &Amount| {
        let motors = job.motors().filter(|(_, motor)| motor.wax == wax);
        let slowest = motors.max_by_key(|(_, motor)| time(motor).value());
        let kind = if wax { "wax actuator" } else { "valve" };
        let of = format!("{kind} {moves} within");
        let row = job.limits.row(Table::Practice, &of)?;
        if let Some((name, motor)) = slowest
            && row.value.value() < time(motor).value()
        {
            let maker = time(motor);
            let basis = Basis {
                what: format!("{of}: {maker}, as the job gives for `{name}`"),
                source: format!("the job `{}`", job.text.name),
                confidence: Confidence::Printed,
            };
            return Ok((maker.clone(), basis));
        }
        Ok((row.value.clone(), row.basis()))
    };
    match raw {
        RawTime::ValveOpens => usual_or_longer(false, "opens", |motor| &motor.opens),
        RawTime::ValveCloses => usual_or_longer(false, "closes", |motor| &motor.closes),
        RawTime::ActuatorOpens => usual_or_longer(true, "opens", |motor| &motor.opens),
        RawTime::ActuatorCloses => usual_or_longer(true, "closes", |motor| &motor.closes),
        RawTime::Worked { time, source } => {
            let basis = Basis {
                what: format!("time worked out of the job as `{}`", time.value),
                source: source.value.clone(),
                confidence: Confidence::Printed,
            };
            Ok((worked_out(time, Unit::Second, figure)?, basis))
        }
        RawTime::Stated { time, source } => Ok((
            time.value.clone(),
            Basis {
                what: format!("time of the sequence: {}", time.value),
                source: source.value.clone(),
                confidence: Confidence::Printed,
            },
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job;
    use crate::located::Text;

    /// The demonstration job with other cores and length, at 20 degC.
    fn edge(live: &str, earth: &str, metres: &str) -> String {
        let text = include_str!("../../fixtures/saltmarsh.ron")
            .replace(
                "size: \"1.0 mm2\", carries: Earth",
                &format!("size: \"{earth}\", carries: Earth"),
            )
            .replace("\"1.0 mm2\"", &format!("\"{live}\""))
            .replace(
                &format!("size: \"{live}\", carries: Earth"),
                &format!("size: \"{earth}\", carries: Earth"),
            )
            .replace("\"18 m\"", &format!("\"{metres}\""))
            .replace("\"15 degC\"", "\"20 degC\"");
        let job = job::read(&Text::new("job", text)).unwrap();
        let core = job.core("brown").unwrap().clone();
        cable_resistance(&job, &core, &job.length.clone().unwrap())
            .unwrap()
            .0
            .to_string()
    }

    #[test]
    fn worked_examples_of_handbooks_are_met() {
        // 22 m of 2.5/1.5 mm2: 0.429 ohm, a worked example of inspection and testing courses (19.51 mohm/m x 22 m)
        assert_eq!(edge("2.5 mm2", "1.5 mm2", "22 m"), "0.429 ohm");
        // 50 m of 1.5/1.0 and of 2.5/1.5 mm2: 1.51 and 0.98 ohm in a printed guide to the wiring rules
        assert_eq!(edge("1.5 mm2", "1.0 mm2", "50 m"), "1.51 ohm");
        assert_eq!(edge("2.5 mm2", "1.5 mm2", "50 m"), "0.976 ohm");
        // 10 m of 1.0/1.0 mm2: computed from IEC 60228
        assert_eq!(edge("1.0 mm2", "1.0 mm2", "10 m"), "0.362 ohm");
    }

    /// The voltage windows of the demonstration job by another edition and supply.
    fn volts(edition: &str, nominal: &str) -> [String; 2] {
        let mut job = crate::model::sample::job();
        job.limits = crate::limits::edition(crate::limits::shipped(), edition).unwrap();
        job.supply.nominal = Amount::parse(nominal).unwrap();
        [supply_window(&job), load_window(&job)].map(|window| window.unwrap().words())
    }

    #[test]
    fn a_load_may_have_less_than_the_supply_by_what_the_wiring_may_lose() {
        // 230 V +10 % -6 % (SI 1994/3021), less 5 % of 230 V (BS 7671 Appendix 4): 216.2 - 11.5
        let british = volts("2018+A2:2022", "230 V");
        assert_eq!(british, ["216.2 V to 253.0 V", "204.7 V to 253.0 V"]);
        // 230 V +-10 % (IEC 60038), less 5 % (IEC 60364-5-52 Annex G)
        let elsewhere = volts("IEC 60364-6:2016", "230 V");
        assert_eq!(elsewhere, ["207 V to 253 V", "195.5 V to 253 V"]);
        assert_eq!(volts("2018+A2:2022", "24 V"), ["21.6 V to 26.4 V", "20.4 V to 26.4 V"]);
    }
}
