//! Bytes from a meter to readings: what a profile says, frames, decoding, settling, and the ports underneath.

pub mod profile;

mod raw;

pub mod pattern;

pub mod frame;

pub mod decode;

pub mod encode;

pub mod settle;

pub mod port;

pub mod serial;

pub mod source;
