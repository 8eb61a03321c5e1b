//! The job: place, supply, cable core by core, ends, instruments and engineer, read from RON and checked.

mod ability;
mod cable;
mod check;
mod equipment;
pub mod instrument;
mod model;
mod raw_equipment;
mod supply;

pub use check::{FORMAT, check_format, read, read_by};
pub use equipment::{At, Contact, ControlPair, Equipment, Is, Load, Motor, MovedBy, Nature, OwnSupply, Zone};
pub use model::{Conductors, Core, End, EndOfCable, Job, Place, Purpose, Separation, Supply, Terminal};
