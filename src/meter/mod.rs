//! Bytes from a meter to readings: frames and decoding, profiles, settling, and the ports underneath.

pub mod decode;
pub mod profile;
pub mod settle;
pub mod port;
