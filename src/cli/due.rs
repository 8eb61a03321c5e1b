//! Calibrations that are due, told before they are in the way.
//!
//! The rule inside: it is a note, to standard error; what an instrument past its date stops is decided elsewhere.

use jiff::Timestamp;

use super::out::complain;
use crate::job::Job;
use crate::terminal::plain::clean;

/// Says which calibrations are due, or soon will be.
pub(super) fn due_notes(job: &Job, at: Timestamp) {
    for what in job.instruments.iter().filter_map(|instrument| instrument.due_words(at)) {
        complain!("note: {}", clean(&what));
    }
}
