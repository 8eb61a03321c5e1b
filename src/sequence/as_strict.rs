//! The figures of a sequence's own beside the published ones: a test that cannot fail proves nothing.
//!
//! The rule inside: such a window may be stricter than the limits of the job, never laxer, whatever source it states.

use super::live_windows;
use super::windows::{against_mains, cable_window, insulation_row, insulation_volts};
use crate::job::{End, Job};
use crate::judge::window::Window;
use crate::limits::Table;
use crate::located::{Finding, Problem};
use crate::plan::{Kind, Leads, Plan, Point, Step, WindowRule};
use crate::value::reading::{Function, Multiple};

/// The window again, unless it would pass a fault which the test is there to find; `null` where leads are measured.
///
/// # Errors
/// A lower edge below the least insulation resistance of the job, or below what counts as open (ohm); an upper edge above what
/// counts as open, or above what leads may have, which would be taken off every later reading; leads without an upper edge; a loop
/// impedance (ohm) or a trip time (s) above what the job's devices allow, or without an upper edge; at half the rated current a
/// test shorter than the limits ask for.
pub(super) fn as_strict(
    rule: WindowRule,
    function: Function,
    null: Option<Leads>,
    job: &Job,
) -> Result<WindowRule, String> {
    let WindowRule::Fixed(window) = &rule else {
        return Ok(rule);
    };
    match function {
        Function::Loop | Function::ResidualTrip(_) => of_protection(window, function, job)?,
        _ if function.is_dead_test() => of_dead_test(window, function, null, job)?,
        _ => {}
    }
    Ok(rule)
}

/// Every continuity of a core whose window passes more than its length of cable may have, or any pair where that is unknown. Reading a
/// record does not ask this: what was walked is told.
pub(super) fn problems(plan: &Plan) -> Vec<Finding> {
    let of_step = |(i, step): (usize, &Step)| {
        let why = beyond_cable(step, &plan.job)?;
        let (text, span) = plan.span(i);
        let hint = "take the window `Cable`, or figures of your own that are no greater";
        Some(text.finding(Problem::new(&span, why).hint(hint)))
    };
    plan.steps.iter().enumerate().filter_map(of_step).collect()
}

fn beyond_cable(step: &Step, job: &Job) -> Option<String> {
    let Kind::Measure(measure) = &step.kind else {
        return None;
    };
    let WindowRule::Fixed(window) = &measure.window else {
        return None;
    };
    let near = |point: &Point| match point {
        Point::Core { core, end: End::Near } => job.core(core),
        _ => None,
    };
    let (back, core) = (near(&measure.probes.first)?, near(&measure.probes.second)?);
    if measure.used.function != Function::Continuity || back.name != job.return_core().name {
        return None;
    }
    let Ok(WindowRule::Fixed(published)) = cable_window(job, core, None, true) else {
        return None;
    };
    let (most, high) = (published.high?.amount, &window.high.as_ref()?.amount);
    (most.value() < high.value()).then(|| {
        let over = job.length.as_ref().map_or(String::new(), |length| format!(" over {length}"));
        format!(
            "the upper edge `{high}` is above {most}, the most that core {} and back may have{over}: this test could not fail where it must",
            core.name
        )
    })
}

fn of_dead_test(window: &Window, function: Function, null: Option<Leads>, job: &Job) -> Result<(), String> {
    let practice = |of| job.limits.row(Table::Practice, of);
    let (most, too_much) = match null {
        Some(Leads::Own) => (practice("lead resistance")?, "the most that leads may have"),
        Some(Leads::Long) => (practice("long lead resistance")?, "the most that a long lead may have"),
        None => (practice("open core")?, "which counts as open"),
    };
    let (least, shown) = match function {
        Function::Insulation(volts) => {
            let (own, _) = insulation_volts(job)?;
            let least = match against_mains(job) {
                Ok((of_mains, window)) if volts == of_mains && own != of_mains => window.low.map(|low| low.amount),
                _ => None,
            };
            let own = || insulation_row(job, Table::InsulationMinimum).map(|(row, _)| row.value.clone());
            (least.map_or_else(own, Ok)?, "sound insulation")
        }
        _ => (practice("open circuit")?.value.clone(), "an open circuit"),
    };
    // with an upper edge as well, a lower one only narrows what conducts
    let shows_open = window.high.is_none() || matches!(function, Function::Insulation(_));
    if let Some(low) = window.low.as_ref().filter(|_| shows_open)
        && low.amount.value() < least.value()
    {
        return Err(format!(
            "the lower edge `{}` is below {least}, the least that shows {shown}: this test could not fail where it must",
            low.amount
        ));
    }
    match &window.high {
        Some(high) if high.amount.value() > most.value.value() => Err(format!(
            "the upper edge `{}` is above {}, {too_much}: this test could not fail where it must",
            high.amount, most.value
        )),
        None if null.is_some() => Err(format!(
            "the leads have no upper edge, and at most {} may be taken off every later reading",
            most.value
        )),
        None if window.low.is_none() => Err("the window has no edges".into()),
        _ => Ok(()),
    }
}

/// A loop or a trip time against what the job's own devices allow; where the job names no device there is no such figure.
fn of_protection(window: &Window, function: Function, job: &Job) -> Result<(), String> {
    let published = match function {
        Function::Loop => live_windows::loop_maximum(job),
        _ => live_windows::trip_time(job, function),
    };
    let Ok(published) = published else { return Ok(()) };
    if function == Function::ResidualTrip(Multiple::Half) {
        let (least, low) = (published.low.as_ref(), window.low.as_ref());
        return match (least, low) {
            (Some(least), Some(low)) if low.amount.value() < least.amount.value() => Err(format!(
                "the test lasts `{}`, less than {}: a device that trips later would pass",
                low.amount, least.amount
            )),
            _ => Ok(()),
        };
    }
    match (&published.high, &window.high) {
        (Some(most), Some(high)) if high.amount.value() > most.amount.value() => Err(format!(
            "the upper edge `{}` is above {}, the most that the job's devices allow: this test could not fail where it must",
            high.amount, most.amount
        )),
        (Some(most), None) => Err(format!(
            "the window has no upper edge, and the job's devices allow at most {}",
            most.amount
        )),
        _ => Ok(()),
    }
}
