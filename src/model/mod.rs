//! The wiring as a network: points where a probe can go, what joins them, and what a meter laid across two of them shows.
//! A job's installation is such a network with hands, contacts, time and faults.

pub mod element;
mod entry;
pub mod error;
pub mod fault;
pub mod installation;
pub mod library;
pub mod look;
pub mod meter;
mod mover;
pub mod network;
pub mod noise;
mod places;
pub mod probes;
pub mod residual;
pub mod solve;
pub mod variants;
pub mod wiring;

#[cfg(test)]
mod jobs;
#[cfg(test)]
mod laws;
#[cfg(test)]
pub(crate) mod sample;
#[cfg(test)]
mod shapes;
