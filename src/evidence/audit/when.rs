//! Times that a record gives, held against each other and against the dates of its instruments.
//!
//! The rule inside: a time is the signer's word; what is found here is where that word contradicts itself. Simulated time is held to nothing.

use jiff::Timestamp;

use super::remark::{Concern, Remarks};
use crate::run::fold::{Evidence, Run};

/// How long before its own id a run may say that it was opened: the id is made while its files are read and its meter is called.
const BEFORE_ID_MS_MAX: i64 = 60_000;

/// Adds what the times of a run speak of.
pub(super) fn times(run: &Run, remarks: &mut Remarks) {
    if run.opened.rehearsal.is_some() {
        return;
    }
    before_its_id(run, remarks);
    calibration(run, remarks);
    if let Some(fast) = run.fast() {
        remarks.add(Concern::Clock, 0, format!("faster than hands: {}", fast.words()));
    }
}

/// A run's id holds the time at which it was made (RFC 9562, 5.7).
fn before_its_id(run: &Run, remarks: &mut Remarks) {
    let id = run.opened.run;
    let Some(made) = (id.get_version_num() == 7).then(|| id.get_timestamp()).flatten() else {
        return;
    };
    let (seconds, nanoseconds) = made.to_unix();
    let made_ms = i64::try_from(seconds).unwrap_or(i64::MAX / 2000) * 1000 + i64::from(nanoseconds / 1_000_000);
    if run.opened_at.as_millisecond() < made_ms - BEFORE_ID_MS_MAX {
        let made = Timestamp::from_millisecond(made_ms).map_or_else(|_| "another age".into(), |at| at.to_string());
        let what = format!(
            "it says that it was opened at {}, and its own id was made at {made}",
            run.opened_at
        );
        remarks.add(Concern::When, 1, what);
    }
}

/// Instruments in use past the date on which their calibration was due, or before it was made, and no word of that in the record.
fn calibration(run: &Run, remarks: &mut Remarks) {
    let readings = run.steps.iter().flat_map(|step| &step.attempts);
    let readings = readings.filter(|attempt| matches!(attempt.evidence, Evidence::Reading(_)));
    let last = readings.map(|attempt| attempt.at).max().unwrap_or(run.opened_at);
    for instrument in &run.plan.job.instruments {
        let named = format!("`{}` (serial {})", instrument.name, instrument.serial);
        let is_told = run.opened.departures.iter().any(|told| told.contains(&named));
        for (at, when) in [
            (run.opened_at, "when the run was opened"),
            (last, "when the last reading was taken"),
        ] {
            let what = if instrument.is_before_calibration(at) {
                format!(
                    "the calibration of {named} on {} had not come {when}, {at}",
                    instrument.calibrated
                )
            } else if instrument.is_overdue(at) && !is_told {
                format!(
                    "the calibration of {named} was due on {}, before {at}, {when}, and the record gives no reason",
                    instrument.due
                )
            } else {
                continue;
            };
            remarks.add(Concern::When, 0, what);
            break;
        }
    }
}
