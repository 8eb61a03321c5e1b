//! The lid sheet as data: which core is in which terminal and what follows which control, as far as records prove it.

mod proved;
mod follows;
mod cable;
mod handed_over;
mod label;
mod sheet;

pub use cable::{CableSheet, Held, RecordLine};
pub use follows::ControlRow;
pub use handed_over::opened_nothing;
pub use label::Label;
pub use sheet::{LidBox, Sheet, TerminalRow};
