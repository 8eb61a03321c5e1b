//! Why a piece of evidence is not taken, stored or written.
//!
//! The rule inside: whatever failed underneath keeps its own words and its own next act.

use std::path::Path;

use crate::explain::Explain;
use crate::located::Findings;

/// Why something about a record is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{what}")]
pub struct Refusal {
    what: String,
    next: Option<String>,
    equipment: bool,
    findings: Findings,
}

impl Refusal {
    /// What was given is refused.
    pub fn new(what: impl Into<String>) -> Refusal {
        Refusal {
            what: what.into(),
            next: None,
            equipment: false,
            findings: Findings::default(),
        }
    }

    /// A disk or an archive failed.
    pub fn equipment(what: impl Into<String>) -> Refusal {
        Refusal {
            equipment: true,
            ..Refusal::new(what)
        }
    }

    /// Whatever explains itself.
    pub fn of(error: &impl Explain) -> Refusal {
        Refusal {
            what: error.to_string(),
            next: error.hint(),
            equipment: error.is_equipment(),
            findings: error.findings(),
        }
    }

    /// The same with the next act; what was there to do before comes first.
    pub fn then(mut self, next: impl Into<String>) -> Refusal {
        let next = next.into();
        self.next = Some(self.next.map_or(next.clone(), |before| format!("{before}; {next}")));
        self
    }

    /// The same of a file.
    pub fn of_file(mut self, path: &Path) -> Refusal {
        self.what = format!("`{}`: {}", path.display(), self.what);
        self
    }

    /// The same with findings in the files that it carries.
    pub fn with_findings(mut self, findings: Findings) -> Refusal {
        self.findings = findings;
        self
    }
}

impl Explain for Refusal {
    fn hint(&self) -> Option<String> {
        self.next.clone()
    }

    fn is_equipment(&self) -> bool {
        self.equipment
    }

    fn findings(&self) -> Findings {
        self.findings.clone()
    }
}

macro_rules! refusal_from {
    ($($error:ty),*) => {$(
        impl From<$error> for Refusal {
            fn from(error: $error) -> Refusal {
                Refusal::of(&error)
            }
        }
    )*};
}

refusal_from!(
    crate::evidence::journal::Error,
    crate::evidence::keys::Error,
    crate::evidence::archive::Error
);
