//! Data and decisions only: no files, clocks, threads, sockets, printing, randomness or hash-map order.

pub mod calc;
pub mod coverage;
pub mod diagnosis;
pub mod dialogue;
pub mod digits;
pub mod engine;
pub mod event;
pub mod identify;
pub mod in_place;
pub mod installation;
pub mod job;
pub mod limits;
pub mod located;
pub mod packed;
pub mod people;
pub mod plan;
pub mod proof;
pub mod quantity;
pub mod raw;
pub mod reading;
pub mod record;
pub mod sequence;
pub mod shipped;
pub mod window;
