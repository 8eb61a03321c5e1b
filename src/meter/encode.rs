//! A simulated meter's voice: readings to frames, and what it hears when it is asked.
//!
//! The rule inside: what is written has been read back by the decoder's own pattern first, so a simulated meter can
//! only say what a real one could.

use crate::pure::quantity::{Prefix, Shown, Unit};
use crate::pure::reading::{Flag, Function};

use super::frame::{Framer, Piece};
use super::pattern::{Part, Parts};
use super::profile::{Decode, Framing, Profile, Talk};

/// Why a profile cannot say this.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum EncodeError {
    #[error("profile `{profile}` has no {function}")]
    NoFunction { profile: String, function: String },
    #[error("profile `{profile}` has no unit `{unit}` for this function")]
    NoUnit { profile: String, unit: String },
    #[error("profile `{profile}` has no mark for one of the flags")]
    NoFlag { profile: String },
    #[error("profile `{profile}` cannot show over-range this way")]
    NoOverRange { profile: String },
    #[error("profile `{profile}` would read `{text}` back as something else")]
    NotReadBack { profile: String, text: String },
}

impl EncodeError {
    /// What to do next.
    pub fn hint(&self) -> Option<String> {
        let profile = match self {
            EncodeError::NoFunction { profile, .. }
            | EncodeError::NoUnit { profile, .. }
            | EncodeError::NoFlag { profile }
            | EncodeError::NoOverRange { profile }
            | EncodeError::NotReadBack { profile, .. } => profile,
        };
        Some(format!(
            "rehearse with another profile, or add what is missing to `{profile}`"
        ))
    }
}

/// The bytes of one frame with its terminator.
pub fn encode(
    profile: &Profile,
    function: Function,
    shown: &Shown,
    (prefix, unit): (Prefix, Unit),
    flags: &[Flag],
) -> Result<Vec<u8>, EncodeError> {
    let Decode::Pattern(pattern) = &profile.decode;
    let mut flags = flags.to_vec();
    flags.sort_unstable();
    flags.dedup();
    let parts = Parts {
        shown: shown.clone(),
        prefix,
        unit,
        function: Some(function),
        flags,
    };
    let name = || profile.name.clone();
    let text = pattern.write(&parts).map_err(|part| match part {
        Part::Function => EncodeError::NoFunction {
            profile: name(),
            function: function.dial(),
        },
        Part::Unit => EncodeError::NoUnit {
            profile: name(),
            unit: format!("{}{unit}", prefix.letter()),
        },
        Part::Flags => EncodeError::NoFlag { profile: name() },
        Part::Value => EncodeError::NoOverRange { profile: name() },
    })?;
    let Framing::Line { end, bytes_max } = &profile.frame;
    let holds_end = text.as_bytes().windows(end.len()).any(|window| window == end);
    if pattern.read(&text).as_ref() != Ok(&parts) || holds_end || *bytes_max < text.len() {
        return Err(EncodeError::NotReadBack { profile: name(), text });
    }
    Ok([text.as_bytes(), end].concat())
}

/// The units in which a profile can show a function, in the order of the profile.
pub fn units(profile: &Profile, function: Function) -> Vec<(Prefix, Unit)> {
    let Decode::Pattern(pattern) = &profile.decode;
    let dial = pattern
        .functions
        .iter()
        .map(|(_, dial)| *dial)
        .find(|dial| dial.function == function);
    let fixed = dial.and_then(|dial| dial.unit);
    let fitting = pattern
        .units
        .iter()
        .map(|(_, unit)| *unit)
        .filter(|(_, unit)| *unit == function.unit());
    dial.iter()
        .flat_map(|_| fixed.into_iter().chain(fitting.clone()))
        .collect()
}

/// What a simulated meter was sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Heard {
    Setup(String),
    /// It is asked for a reading: answer with [`encode`].
    Ask,
    Unknown(String),
}

/// The ear of a simulated meter; a meter that only streams hears nothing.
#[derive(Debug, Clone)]
pub struct Ear {
    lines: Option<Framer>,
    setup: Vec<String>,
    ask: String,
}

impl Ear {
    /// An ear for the lines that this profile sends.
    pub fn new(profile: &Profile) -> Ear {
        match &profile.talk {
            Talk::Stream => Ear {
                lines: None,
                setup: Vec::new(),
                ask: String::new(),
            },
            Talk::Query { setup, ask, end } => {
                let framing = Framing::Line {
                    end: end.clone().into_bytes(),
                    bytes_max: 4096,
                };
                Ear {
                    lines: Some(Framer::new(&framing, false)),
                    setup: setup.clone(),
                    ask: ask.clone(),
                }
            }
        }
    }

    /// Takes bytes as they come.
    pub fn push(&mut self, bytes: &[u8]) {
        if let Some(lines) = &mut self.lines {
            lines.push(bytes);
        }
    }

    /// The next whole line that was heard.
    pub fn poll(&mut self) -> Option<Heard> {
        match self.lines.as_mut()?.poll()? {
            Piece::Frame { bytes, .. } => {
                let line = String::from_utf8_lossy(&bytes).into_owned();
                Some(if line == self.ask {
                    Heard::Ask
                } else if self.setup.contains(&line) {
                    Heard::Setup(line)
                } else {
                    Heard::Unknown(line)
                })
            }
            Piece::Dropped(count) => Some(Heard::Unknown(format!("{count} bytes without a line end"))),
        }
    }
}
