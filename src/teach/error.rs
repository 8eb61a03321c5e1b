//! Why nothing was learnt from a display, or no profile can be written.
//!
//! The rule inside: a refusal says what differs, in displays and bytes, and the hint names the next act.

use crate::explain::Explain;

/// Numbers that must have been shown before a profile is written.
pub const NUMBERS_MIN: usize = 3;
/// Displays that must have been read right before anything was learnt from them.
pub const EXAMINED_MIN: usize = 2;

/// Why nothing was learnt from a display, or no profile can be written.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TeachError {
    /// Nothing in the bytes comes again: the speed is wrong, or this is no stream of frames.
    #[error("in {bytes} bytes no frame comes again")]
    NoFrames {
        /// How many were heard.
        bytes: usize,
    },
    /// What was sent did not stand still while the display was typed.
    #[error("the bytes changed while the display was `{display}`")]
    NotSteady {
        /// The display as typed.
        display: String,
    },
    /// One display contradicts all others: it was mistyped, or no byte tells what it differs in.
    #[error("the display was `{display}`, and as the other displays were sent its bytes say {said}")]
    Odd {
        /// The display as typed.
        display: String,
        /// What its bytes say, or that they say nothing.
        said: String,
    },
    /// No explanation agrees with the displays.
    #[error("no family of meters that is known here explains the {displays} displays: {why}")]
    NothingFits {
        /// How many were typed.
        displays: usize,
        /// What stands in the way.
        why: String,
    },
    /// Too few numbers to tell digits from anything else.
    #[error("{numbers} numbers were shown, {NUMBERS_MIN} are needed")]
    TooFew {
        /// How many were shown.
        numbers: usize,
    },
    /// Several explanations are left that would read other frames differently.
    #[error("{explanations} explanations are left after {displays} displays: {differ}")]
    Ambiguous {
        /// How many.
        explanations: usize,
        /// After how many displays.
        displays: usize,
        /// In what they differ.
        differ: String,
        /// What to show next, where one display would tell them apart.
        next: Option<String>,
    },
    /// Nobody knows whether a byte tells this from what was shown.
    #[error("nothing was shown that tells whether the bytes name {what}")]
    Untold {
        /// The function, the prefix, the point or over-range of some display.
        what: String,
        /// The display that would tell.
        next: String,
    },
    /// The explanation was not examined on displays that it did not learn from.
    #[error("the explanation read {examined} displays before it learnt from them, {EXAMINED_MIN} are needed")]
    Unexamined {
        /// How many it read right.
        examined: usize,
    },
}

impl Explain for TeachError {
    fn hint(&self) -> Option<String> {
        Some(match self {
            TeachError::NoFrames { .. } => {
                "switch the meter's sending on, check that the display stands still, and listen again".into()
            }
            TeachError::NotSteady { .. } => {
                "hold the probes still, wait until the display stands, and type it again".into()
            }
            TeachError::Odd { .. } => {
                "if it was mistyped, type it as it stands; if it stands so, this meter's bytes do not tell \
                 it, and its readings are to be typed"
                    .into()
            }
            TeachError::NothingFits { .. } => {
                "check that each display was typed as it stood, every zero included, and begin again".into()
            }
            TeachError::TooFew { .. } => "make the meter show another number, and type it".into(),
            TeachError::Ambiguous { next: Some(next), .. } | TeachError::Untold { next, .. } => {
                format!("make the meter show {next}")
            }
            TeachError::Ambiguous { next: None, .. } => {
                "make the meter show other numbers in other ranges, or write the profile by hand".into()
            }
            TeachError::Unexamined { .. } => {
                "make the meter show other numbers in functions and ranges that it has shown, and type each".into()
            }
        })
    }
}
