//! Instruments past their calibration.
//!
//! The rule inside: dates compare as dates, by the day in UTC; an instrument past its date is used only with a reason, which goes into
//! the record.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::Offset;

use super::instrument::Instrument;
use crate::explain::Explain;

/// How long before its date a calibration is told to be due, in days. Our own choice: time to send an instrument in.
pub const SOON_DAYS: i32 = 30;

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

    /// That its calibration was due before the day of this time, or will be within [`SOON_DAYS`], in words.
    pub fn due_words(&self, on: Timestamp) -> Option<String> {
        let of = format!("the calibration of `{}` (serial {})", self.name, self.serial);
        let days = day(on).until(self.due).map_or(i32::MAX, |span| span.get_days());
        match days {
            i32::MIN..0 => Some(format!("{of} was due on {}", self.due)),
            0 => Some(format!("{of} is due today")),
            1 => Some(format!("{of} is due tomorrow, on {}", self.due)),
            2..=SOON_DAYS => Some(format!("{of} is due on {}, in {days} days", self.due)),
            _ => None,
        }
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

#[cfg(test)]
mod tests {
    #[test]
    fn a_calibration_is_told_thirty_days_before_it_is_due() {
        let text = crate::located::Text::new("job", include_str!("../../fixtures/saltmarsh.ron"));
        let job = &crate::job::read(&text).unwrap().instruments[0];
        let check = |on: &str, expected: Option<&str>| {
            let at = format!("{on}T12:00:00Z").parse().unwrap();
            assert_eq!(job.due_words(at).as_deref(), expected, "{on}");
        };
        check("2027-08-14", None);
        let of = "the calibration of `indicator` (serial SM-0417)";
        check("2027-08-15", Some(&format!("{of} is due on 2027-09-14, in 30 days")));
        check("2027-09-13", Some(&format!("{of} is due tomorrow, on 2027-09-14")));
        check("2027-09-14", Some(&format!("{of} is due today")));
        check("2027-09-15", Some(&format!("{of} was due on 2027-09-14")));
        check("2029-01-01", Some(&format!("{of} was due on 2027-09-14")));
    }
}
