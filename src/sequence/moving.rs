//! What is watched about a motor or a load, and the words to answer with.
//!
//! The rule inside: each has two words, one for moved and one for at rest.

/// What is watched about a motor or a load.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Moving {
    Lever,
    Pin,
    Load,
    Warmth,
}

impl Moving {
    pub(super) fn words(self) -> [&'static str; 2] {
        match self {
            Moving::Lever => ["slack", "firm"],
            Moving::Pin => ["up", "down"],
            Moving::Load => ["runs", "still"],
            Moving::Warmth => ["warm", "cold"],
        }
    }
}
