//! What can keep a sequence from being tried on faults.

use thiserror::Error;

use crate::explain::Explain;
use crate::model::error::InstallationError;

/// Why there is no coverage to show.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum CoverageError {
    /// The job makes no installation.
    #[error(transparent)]
    Installation(#[from] InstallationError),
    /// A step fails where nothing is wrong, so it would find anything.
    #[error("`{step}` does not pass on a sound installation: {because}")]
    SoundFails {
        /// The step.
        step: String,
        /// Its verdict.
        because: String,
    },
}

impl Explain for CoverageError {
    fn hint(&self) -> Option<String> {
        match self {
            CoverageError::Installation(error) => error.hint(),
            CoverageError::SoundFails { .. } => {
                Some("check the window of the step against the job: the instruments, the supply, the cable".into())
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_has_its_text_and_hint() {
        let error = CoverageError::SoundFails {
            step: "feed".into(),
            because: "24.0 V is below 216.2 V".into(),
        };
        assert_eq!(
            error.to_string(),
            "`feed` does not pass on a sound installation: 24.0 V is below 216.2 V"
        );
        assert_eq!(
            error.hint().as_deref(),
            Some("check the window of the step against the job: the instruments, the supply, the cable")
        );
        let error = CoverageError::from(InstallationError::Wiring { why: "no row".into() });
        assert_eq!(error.to_string(), "the wiring of the job cannot be simulated: no row");
        assert_eq!(
            error.hint().as_deref(),
            Some("check the figures of the cable and the equipment in the job")
        );
    }
}
