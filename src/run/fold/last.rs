//! What was said last, and can be taken back.
//!
//! The rule inside: only the last, and only until something else happens.

use crate::plan::{Hands, Isolating};

/// What was said last, while nothing else has happened since.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Last {
    /// A step was done, and how the place was before it.
    Done(usize, Box<Hands>),
    /// Links and joints were made as a step needs them.
    Arranged(usize),
    /// A step that did not pass was left.
    Left(usize),
    /// One act of isolating a further supply.
    Isolated(usize, Isolating),
    /// What a repair, or somebody in a break, has touched.
    Touched(usize),
    /// A voltage was seen at a step.
    Seen(usize),
}
