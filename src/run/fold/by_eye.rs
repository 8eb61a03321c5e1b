//! A fault that eyes found before anything was switched.
//!
//! The rule inside: what was seen and its picture are told of the run whatever becomes of it, until that it is to be repaired is taken back.

use jiff::Timestamp;

use crate::run::event::Photograph;

/// A fault that eyes found before anything was switched, noted to be repaired.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ByEye {
    /// When it was noted.
    pub at: Timestamp,
    /// The step that looked, by its name in the plan.
    pub step: String,
    /// What was seen, in words.
    pub what: String,
    /// Its picture, where one was taken.
    pub photograph: Option<Photograph>,
}

impl ByEye {
    /// What was seen, with the picture.
    pub fn words(&self) -> String {
        match &self.photograph {
            Some(there) => format!("{} (photograph {}, SHA-256 {})", self.what, there.file, there.sha256),
            None => self.what.clone(),
        }
    }
}
