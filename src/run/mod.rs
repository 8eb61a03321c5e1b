//! A run: its events, the rules and the fold that say what they came to, and the machine that asks for the next one.

pub mod rules;
pub mod event;
pub mod folded;
pub mod fold;
pub mod dialogue;
pub mod engine;
