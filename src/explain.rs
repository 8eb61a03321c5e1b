//! What explains itself to the engineer: what is wrong, what to do next, and whose fault it is.
//!
//! The rule inside: every error of a room that a command can meet says all three, so that the command line needs one way to
//! print it and one way to pick its exit code.

use crate::located::Findings;

/// An error with the next physical act.
pub trait Explain: std::fmt::Display {
    /// What to do next, where there is something to do.
    fn hint(&self) -> Option<String> {
        None
    }

    /// Whether a port, a meter, a disk or an archive failed, and not what was asked or given.
    fn is_equipment(&self) -> bool {
        false
    }

    /// What is wrong in files that were read, each at its place.
    fn findings(&self) -> Findings {
        Findings::default()
    }
}
