//! Whole-program tests: the shipped binary in a home of its own, with typed answers and meters on pseudo-terminals.

mod broken;
mod cable;
mod check;
mod faults;
mod identified;
mod identify;
mod limits;
mod meter;
#[cfg(feature = "outside")]
mod outside;
#[cfg(feature = "outside")]
mod peers;
mod reference;
mod rehearse;
#[cfg(feature = "outside")]
mod spice;
mod typed;
mod world;
