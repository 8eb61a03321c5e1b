//! Bytes from a meter to readings: what a profile says, frames, decoding, settling, and the ports underneath.

pub mod profile;

mod check;
mod check_examples;
mod check_fields;
mod check_frame;
mod check_meaning;
mod check_number;
mod check_owners;
mod check_pattern;
mod raw;

pub mod bits;

pub mod checksum;

pub mod segment;

pub mod number;

pub mod fields;

pub mod pattern;

pub mod lexicon;

pub mod meaning;

pub mod frame;

pub mod decode;

pub mod encode;

mod approach;

pub mod settle;

pub mod port;

mod pipe;

pub mod serial;

pub mod tcp;

#[cfg(feature = "hid")]
pub mod hid;

pub mod recording;

pub mod replay;

pub mod stdin;

pub mod tap;

pub mod spec;

pub mod event;

mod link;

pub mod source;

pub mod teach;
