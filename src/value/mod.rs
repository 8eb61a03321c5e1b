//! Values as a display shows them: digits, amounts with a unit, readings with where they came from.

pub mod packed;
pub mod in_place;
mod unit;
mod written;
pub mod digits;
mod spelt;
pub mod quantity;
pub mod raw;
pub mod reading;
pub mod sighting;
pub mod slip;
