//! A fact under its name.
//!
//! The rule inside: what is printed beside a name is one text, as it was stated or measured.

use serde::Serialize;

/// A named fact.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Fact {
    /// What it is: `frequency`.
    pub name: String,
    /// As it is printed, with its unit.
    pub value: String,
}

/// A fact by its name.
pub(super) fn fact(name: &str, value: impl Into<String>) -> Fact {
    Fact {
        name: name.into(),
        value: value.into(),
    }
}
