//! The lid sheet as data: which core is in which terminal and what follows which control, as far as records prove it.

mod proved;
mod follows;
mod cable;
mod label;
mod sheet;

pub use cable::{CableSheet, Held, RecordLine};
pub use follows::ControlRow;
pub use label::Label;
pub use sheet::{LidBox, Sheet, TerminalRow};
