//! What can keep a rehearsal from beginning.

use thiserror::Error;

use crate::explain::Explain;
use crate::model::error::InstallationError;

/// Why a rehearsal cannot be made.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum RehearsalError {
    /// The job makes no installation, or the fault does not fit it.
    #[error(transparent)]
    Installation(#[from] InstallationError),
    /// The meter's profile has no words for something the instrument can do.
    #[error("profile `{profile}` cannot show what `{instrument}` shows: {why}")]
    ProfileDoesNotFit {
        /// The profile, by its name.
        profile: String,
        /// The instrument, by its name in the job.
        instrument: String,
        /// What it has no words for.
        why: String,
    },
    /// The system gives no pseudo-terminal.
    #[error("no pseudo-terminal for the simulated meter: {why}")]
    NoPseudoTerminal {
        /// What the system says.
        why: String,
    },
}

impl Explain for RehearsalError {
    fn hint(&self) -> Option<String> {
        Some(match self {
            RehearsalError::Installation(error) => return error.hint(),
            RehearsalError::ProfileDoesNotFit { .. } => {
                "name in the job the profile that belongs to this instrument, or rehearse without its cable".into()
            }
            RehearsalError::NoPseudoTerminal { .. } => {
                "close programs that hold many terminals, or rehearse on a system with pseudo-terminals".into()
            }
        })
    }

    fn is_equipment(&self) -> bool {
        matches!(self, RehearsalError::NoPseudoTerminal { .. })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(error: RehearsalError, text: &str, hint: &str) {
        assert_eq!(error.to_string(), text);
        assert_eq!(error.hint().as_deref(), Some(hint));
    }

    #[test]
    fn every_kind_has_its_text_and_hint() {
        check(
            InstallationError::Wiring { why: "no row".into() }.into(),
            "the wiring of the job cannot be simulated: no row",
            "check the figures of the cable and the equipment in the job",
        );
        check(
            RehearsalError::ProfileDoesNotFit {
                profile: "query-488".into(),
                instrument: "tester".into(),
                why: "it has no insulation".into(),
            },
            "profile `query-488` cannot show what `tester` shows: it has no insulation",
            "name in the job the profile that belongs to this instrument, or rehearse without its cable",
        );
        check(
            RehearsalError::NoPseudoTerminal {
                why: "out of them".into(),
            },
            "no pseudo-terminal for the simulated meter: out of them",
            "close programs that hold many terminals, or rehearse on a system with pseudo-terminals",
        );
    }
}
