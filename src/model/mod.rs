//! The wiring as a network: points where a probe can go, what joins them, and what a meter laid across two of them shows.
//! A job's installation is such a network with hands, contacts, time and faults.

pub mod error;
pub mod element;
pub mod network;
pub mod noise;
pub mod solve;
pub mod bearing;
pub mod variants;
pub mod wiring;
pub mod meter;
mod mover;
pub mod probes;
pub mod residual;
pub mod installation;
pub mod fault;
mod entry;
pub mod look;
mod places;
pub mod library;
pub mod opposite;
pub mod walked;

#[cfg(test)]
mod laws;
#[cfg(test)]
pub(crate) mod sample;
#[cfg(test)]
mod jobs;
#[cfg(test)]
mod earthing;
#[cfg(test)]
mod shapes;
#[cfg(test)]
mod neutral;
