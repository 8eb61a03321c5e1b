//! Bytes from a meter to readings: frames and decoding, profiles, settling, the ports underneath, and a meter looked for on them.

pub mod decode;
pub mod profile;
pub mod settle;
pub mod port;
pub mod find;
