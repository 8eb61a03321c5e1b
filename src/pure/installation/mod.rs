//! The wiring as a network: points where a probe can go, what joins them, and what a meter laid across two of them shows.

pub mod element;
pub mod error;
pub mod network;
pub mod solve;

#[cfg(test)]
mod laws;
