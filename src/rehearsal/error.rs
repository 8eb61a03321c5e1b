//! What can keep a rehearsal from beginning.

use thiserror::Error;

use super::fault::Fault;

/// Why a rehearsal cannot be made.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum RehearsalError {
    /// A fault name that is not known.
    #[error("no fault is called `{name}`")]
    UnknownFault { name: String },
    /// The job has nothing that the fault could befall.
    #[error("the fault `{fault}` needs {needs}, which the job does not have")]
    FaultDoesNotFit { fault: &'static str, needs: &'static str },
    /// The figures of the job make no wiring that can be solved.
    #[error("the wiring of the job cannot be simulated: {why}")]
    Wiring { why: String },
    /// The meter's profile has no words for something the instrument can do.
    #[error("profile `{profile}` cannot show what `{instrument}` shows: {why}")]
    ProfileDoesNotFit {
        profile: String,
        instrument: String,
        why: String,
    },
    /// The system gives no pseudo-terminal.
    #[error("no pseudo-terminal for the simulated meter: {why}")]
    NoPseudoTerminal { why: String },
}

impl RehearsalError {
    /// The next thing to do.
    pub fn hint(&self) -> Option<String> {
        Some(match self {
            RehearsalError::UnknownFault { .. } => {
                let names: Vec<String> = Fault::ALL.iter().map(|fault| format!("`{}`", fault.name())).collect();
                format!("name one of {}", names.join(", "))
            }
            RehearsalError::FaultDoesNotFit { .. } => "rehearse with another fault, or with another job".into(),
            RehearsalError::Wiring { .. } => "check the cable and circuit figures of the job".into(),
            RehearsalError::ProfileDoesNotFit { .. } => {
                "name in the job the profile that belongs to this instrument, or rehearse without its cable".into()
            }
            RehearsalError::NoPseudoTerminal { .. } => {
                "close programs that hold many terminals, or rehearse on a system with pseudo-terminals".into()
            }
        })
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
            RehearsalError::UnknownFault { name: "gremlin".into() },
            "no fault is called `gremlin`",
            "name one of `core-open`, `cores-swapped`, `insulation-low`, `end-switch-open`, `end-switch-closed`, \
             `neutral-missing`, `earth-core-open`, `core-shorted-to-earth`, `high-resistance-joint`, \
             `insulation-low-between-cores`, `supply-still-live`, `indicator-dead`, `thermostat-contact-open`, \
             `thermostat-contact-closed`, `valve-stuck`",
        );
        check(
            RehearsalError::FaultDoesNotFit {
                fault: "core-open",
                needs: "a core for the switched live",
            },
            "the fault `core-open` needs a core for the switched live, which the job does not have",
            "rehearse with another fault, or with another job",
        );
        check(
            RehearsalError::Wiring { why: "no row".into() },
            "the wiring of the job cannot be simulated: no row",
            "check the cable and circuit figures of the job",
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
