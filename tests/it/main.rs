//! Whole-program tests: the shipped binary in a home of its own, with typed answers and meters on pseudo-terminals.

mod broken;
mod check;
mod typed;
mod world;
