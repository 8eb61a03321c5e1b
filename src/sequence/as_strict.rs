//! The figures of a sequence's own where cores are tested dead: a test that cannot fail proves nothing.
//!
//! The rule inside: such a window may be stricter than the limits of the job, never laxer, whatever source it states.

use super::windows::insulation_row;
use crate::job::Job;
use crate::limits::Table;
use crate::plan::WindowRule;
use crate::value::reading::Function;

/// The window again, unless it would pass a fault which the dead test is there to find; `is_null` for the leads themselves.
///
/// # Errors
/// A lower edge below the least insulation resistance of the job, or below what counts as open (ohm); an upper edge above what
/// counts as open, or above what leads may have, which would be taken off every later reading.
pub(super) fn as_strict(rule: WindowRule, function: Function, is_null: bool, job: &Job) -> Result<WindowRule, String> {
    let WindowRule::Fixed(window) = &rule else {
        return Ok(rule);
    };
    if !function.is_dead_test() {
        return Ok(rule);
    }
    let practice = |of| job.limits.row(Table::Practice, of);
    let (most, too_much) = if is_null {
        (practice("lead resistance")?, "the most that leads may have")
    } else {
        (practice("open core")?, "which counts as open")
    };
    let (least, shown) = match function {
        Function::Insulation(_) => (insulation_row(job, Table::InsulationMinimum)?.0, "sound insulation"),
        _ => (practice("open core")?, "an open core"),
    };
    match (&window.low, &window.high) {
        (Some(low), None) if low.amount.value() < least.value.value() => Err(format!(
            "the lower edge `{}` is below {}, the least that shows {shown}: this test could not fail where it must",
            low.amount, least.value
        )),
        (_, Some(high)) if high.amount.value() > most.value.value() => Err(format!(
            "the upper edge `{}` is above {}, {too_much}: this test could not fail where it must",
            high.amount, most.value
        )),
        _ => Ok(rule),
    }
}
