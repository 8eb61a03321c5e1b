//! A profile: how one family of meters talks, as decoding needs it.
//!
//! The rule inside: one exists only as read from a file that was checked ([`crate::meter::profile`]). The text itself is kept,
//! because it goes into the journal.

use std::sync::Arc;

use super::bits::Bits;
use super::checksum::Checksum;
use super::fields::Fields;
use super::meaning::Meaning;
use super::pattern::Pattern;

/// A checked profile.
#[derive(Debug, Clone)]
pub struct Profile {
    /// Lower-case words joined by hyphens.
    pub name: String,
    /// One line for a person.
    pub about: String,
    /// How a serial line is set; other ports do not use it.
    pub line: Line,
    /// Who speaks first.
    pub talk: Talk,
    /// How its bytes are cut into frames.
    pub frame: Framing,
    /// How a frame becomes a reading.
    pub decode: Decode,
    /// How often it sends.
    pub period: Period,
    /// Milliseconds without a frame after which the meter is called silent, 250 to 60 000: three periods where one is named. A
    /// meter that sends on change is never called silent.
    pub quiet_ms_max: u32,
    /// The file as it was read.
    pub text: Arc<str>,
}

/// How often a meter sends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Period {
    /// Its profile does not say.
    Unnamed,
    /// Once in so many milliseconds.
    Ms(u32),
    /// Only when its display changes: what it sent last may stand no more.
    OnChange,
}

/// How the serial line is set.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// Bits a second, 50 to 4 000 000.
    pub baud: u32,
    /// 5 to 8.
    pub data_bits: u8,
    /// The parity bit.
    pub parity: Parity,
    /// 1 or 2.
    pub stop_bits: u8,
    /// Level of Data Terminal Ready after opening; opto-isolated cables are often fed from it.
    pub dtr: bool,
    /// Level of Request To Send after opening.
    pub rts: bool,
}

/// The parity bit of a serial line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Parity {
    /// No parity bit.
    None,
    /// It makes the number of set bits odd.
    Odd,
    /// It makes the number of set bits even.
    Even,
}

/// Who speaks first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Talk {
    /// The meter sends by itself.
    Stream,
    /// The meter answers: `setup` lines once after opening, then `ask` for each reading, each followed by `end`.
    Query {
        /// Lines sent once after opening.
        setup: Vec<String>,
        /// The question for one reading.
        ask: String,
        /// What ends each line that is sent.
        end: String,
    },
}

/// How the bytes are cut into frames, and what a frame must be before it is believed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Framing {
    /// Where a frame begins and ends.
    pub cut: Cut,
    /// What protects a frame; `None` where nothing does.
    pub check: Option<Checksum>,
    /// So many frames in a row must be the same before one is delivered, at least 1.
    pub agree: u32,
}

/// Where a frame begins and ends.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Cut {
    /// Frames end with `end`, which is not part of them, and hold at most `bytes_max` bytes.
    Line {
        /// What ends a frame; not part of it.
        end: Vec<u8>,
        /// Longest frame, in bytes.
        bytes_max: usize,
    },
    /// Frames of one length, found by what always stands at some of their bits: sync bytes or index nibbles.
    Fixed {
        /// Length of a frame.
        bytes: usize,
        /// Bits with what always stands there.
        sync: Vec<(Bits, u64)>,
    },
    /// Frames from `start` to `end` and `after` more bytes, all part of the frame, at most `bytes_max` in all.
    Delimited {
        /// The first bytes of a frame.
        start: Vec<u8>,
        /// What ends it.
        end: Vec<u8>,
        /// Bytes of the frame that follow the end.
        after: usize,
        /// Longest frame, in bytes.
        bytes_max: usize,
    },
}

impl Framing {
    /// Lines without a checksum, each believed at once.
    pub fn line(end: &[u8], bytes_max: usize) -> Framing {
        assert!(!end.is_empty(), "a line has an end");
        Framing {
            cut: Cut::Line {
                end: end.to_vec(),
                bytes_max,
            },
            check: None,
            agree: 1,
        }
    }

    /// The longest frame, in bytes.
    pub fn bytes_max(&self) -> usize {
        match &self.cut {
            Cut::Line { bytes_max, .. } | Cut::Delimited { bytes_max, .. } => *bytes_max,
            Cut::Fixed { bytes, .. } => *bytes,
        }
    }

    /// The part of a frame that carries text: what stands between delimiters, else all of it.
    pub fn body<'a>(&self, frame: &'a [u8]) -> &'a [u8] {
        match &self.cut {
            Cut::Delimited { start, end, after, .. } => frame
                .get(start.len()..frame.len().saturating_sub(end.len() + after))
                .unwrap_or_default(),
            Cut::Line { .. } | Cut::Fixed { .. } => frame,
        }
    }

    /// What is wrong with the outside of a frame: its length, its marks, its delimiters, its checksum.
    #[inline(always)]
    pub fn verify(&self, frame: &[u8]) -> Result<(), String> {
        match &self.cut {
            Cut::Line { .. } => {}
            Cut::Fixed { bytes, sync } => {
                if frame.len() != *bytes {
                    return Err(format!("{} bytes are no frame of {bytes}", frame.len()));
                }
                if let Some((bits, code)) = sync.iter().find(|(bits, code)| bits.read(frame) != *code) {
                    return Err(format!("the frame is marked {:#x}, not {code:#x}", bits.read(frame)));
                }
            }
            Cut::Delimited { start, end, after, .. } => {
                let long = start.len() + end.len() + after <= frame.len();
                if !long || !frame.starts_with(start) || !frame[..frame.len() - after].ends_with(end) {
                    return Err("the frame lacks its start or its end".into());
                }
            }
        }
        self.check.map_or(Ok(()), |check| check.verify(frame))
    }

    /// Whether a byte that fell over on the wire is noticed: by a checksum, or because a second frame must say the same.
    pub fn is_guarded(&self) -> bool {
        self.check.is_some() || 1 < self.agree
    }
}

/// How a frame becomes a reading: its words are taken out, then a meaning is given to them.
#[derive(Debug, Clone)]
pub struct Decode {
    /// How its words are taken out.
    pub take: Take,
    /// What the words mean.
    pub meaning: Meaning,
}

/// How the words are taken out of a frame.
#[derive(Debug, Clone)]
pub enum Take {
    /// Text, taken apart by a regular expression.
    Pattern(Pattern),
    /// Text or bits at fixed places.
    Fields(Fields),
}
