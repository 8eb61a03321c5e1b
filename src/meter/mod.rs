//! Bytes from a meter to readings: what a profile says, frames, decoding, settling, and the ports underneath.

pub mod profile;

mod check;
mod check_pattern;
mod raw;

pub mod pattern;

pub mod frame;

pub mod decode;

pub mod encode;

mod approach;

pub mod settle;

pub mod port;

pub mod serial;

pub mod event;

mod link;

pub mod source;
