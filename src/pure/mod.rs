//! Data and decisions only: no files, clocks, threads, sockets, printing, randomness or hash-map order.

pub mod limits;
pub mod located;
pub mod quantity;
pub mod reading;
pub mod window;
