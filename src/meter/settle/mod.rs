//! Whether a display is where it will stay.

mod approach;
mod settling;

#[cfg(test)]
mod simulation;
#[cfg(test)]
mod table;

pub use approach::Motion;
pub use settling::Settling;
