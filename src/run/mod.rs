//! A run: its events, the fold that says what they came to, and the machine that asks for the next one.

pub mod event;

pub mod fold;

pub mod engine;

pub mod dialogue;

pub mod people;
