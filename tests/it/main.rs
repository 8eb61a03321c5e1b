//! Whole-program tests: the shipped binary in a home of its own, with typed answers and meters on pseudo-terminals.

mod broken;
mod check;
#[cfg(feature = "outside")]
mod outside;
mod rehearse;
mod typed;
mod world;
