//! The job: place, supply, cable core by core, ends, instruments and engineer, read from RON and checked.

mod check;
pub mod instrument;
mod ability;
pub mod overdue;
pub mod words;
mod purpose;
mod end;
mod equipment;
mod cable_length;
mod lengths;
mod model;
mod cable;
mod cables;
mod document;
mod raw_equipment;
mod supply;
mod raw_job;
mod told;
mod loop_test;

pub use cable_length::{CableLength, LengthError, TooFar};
pub use cables::{cables, meant, read_cable};
pub use check::check_format;
pub use document::{ForDocument, NextTest};
pub use end::{End, EndOfCable, Terminal};
pub use equipment::{At, Contact, ControlPair, Equipment, Is, Load, Motor, MovedBy, Nature, OwnSupply, Zone};
pub use instrument::Instrument;
pub use model::{Breaks, Conductors, Core, FurtherSupply, Job, Place, Separation, Supply};
pub use purpose::Purpose;
pub use raw_job::{FORMAT, read, read_by};
pub use told::{TOLD_FORMAT, Told, asks_for_told, read_told, read_with};
