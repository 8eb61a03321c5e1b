//! Instruments past their calibration.
//!
//! The rule inside: dates compare as dates, by the day in UTC; an instrument past its date is used only with a reason, which goes into
//! the record.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::Offset;

use super::instrument::Instrument;
use crate::explain::Explain;

/// Why the instruments of a job cannot be used as they are.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CalibrationError {
    /// A calibration later than today.
    #[error("the calibration of `{name}` on {on} has not come yet")]
    NotYet {
        /// The instrument.
        name: String,
        /// The date in the job.
        on: Date,
    },
    /// A calibration that was due, and no reason to use the instrument all the same.
    #[error("{what}")]
    Overdue {
        /// Which, and since when.
        what: String,
    },
}

impl Explain for CalibrationError {
    fn hint(&self) -> Option<String> {
        Some(match self {
            CalibrationError::NotYet { .. } => "correct the date in the job, or the clock of this computer".into(),
            CalibrationError::Overdue { .. } => {
                "have it calibrated, or record the reason for using it all the same: --overdue \"…\"".into()
            }
        })
    }
}

/// The day of a time, in UTC.
fn day(at: Timestamp) -> Date {
    Offset::UTC.to_datetime(at).date()
}

impl Instrument {
    /// Whether its calibration was due before the day of this time.
    pub fn is_overdue(&self, on: Timestamp) -> bool {
        self.due < day(on)
    }

    /// Whether the calibration that the job names had not yet been made.
    pub fn is_before_calibration(&self, on: Timestamp) -> bool {
        day(on) < self.calibrated
    }
}

/// What a record says of the instruments that are used past their date, each with the reason; nothing where none is.
///
/// # Errors
/// A calibration that has not come yet; one that was due, without a reason.
pub fn departures(
    instruments: &[Instrument],
    on: Timestamp,
    reason: Option<&str>,
) -> Result<Vec<String>, CalibrationError> {
    let today = day(on);
    if let Some(early) = instruments.iter().find(|i| today < i.calibrated) {
        return Err(CalibrationError::NotYet {
            name: early.name.clone(),
            on: early.calibrated,
        });
    }
    let overdue = instruments.iter().filter(|i| i.is_overdue(on));
    let said = overdue.map(|i| {
        let what = format!(
            "the calibration of `{}` (serial {}) was due on {}",
            i.name, i.serial, i.due
        );
        match reason {
            Some(reason) => Ok(format!("{what}; used all the same: {reason}")),
            None => Err(CalibrationError::Overdue { what }),
        }
    });
    said.collect()
}
