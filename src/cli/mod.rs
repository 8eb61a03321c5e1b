//! The command line: one file per command.

mod args;
mod audit;
mod certificate;
mod check;
mod coverage;
mod distance;
pub mod error;
mod files;
mod home;
mod identified;
mod identify;
mod identify_told;
mod identify_walk;
mod key;
mod limits;
mod locate;
mod meter;
mod meter_list;
mod meter_view;
mod meter_watch;
pub mod out;
mod passphrase;
mod plan;
mod practice;
mod records;
mod rehearse;
mod resume;
mod run;
mod seal;
mod start;
mod tables;
mod teach;
mod teach_ask;
mod teach_port;
mod verify;

pub use start::start;
