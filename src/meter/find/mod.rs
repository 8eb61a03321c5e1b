//! A meter looked for on ports whose speed and profile nobody knows: the settings to listen at, what profiles make of the bytes, and
//! one port listened to.

pub mod setting;
pub mod fit;
pub mod listening;
