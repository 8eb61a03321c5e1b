//! Frames and their meaning: from bytes to a reading by what a profile says, and back for a simulated meter.

pub mod bits;
pub mod checksum;
pub mod segment;
pub mod lexicon;
pub mod meaning;
pub mod number;
pub mod fields;
pub mod pattern;
mod profile;
pub mod frame;
pub(crate) mod decoder;
pub mod encode;

pub use decoder::{Decoded, Decoder, NoReading, decode, decode_raw, text_of};
pub use profile::{Cut, Decode, Framing, Line, Parity, Period, Profile, Take, Talk};
