//! The engineer's store of records: one embedded SQLite file to which rows are only ever added. The rows stop
//! accidents; what proves a record is its signature, which is stored beside it as it was made.

mod error;
mod entry;
mod objects;
mod leaves;
mod schema;
mod store;
mod log;
mod read;
mod stamps;

#[cfg(test)]
mod samples;

pub use entry::{Append, Entry, Summary, sha256_hex};
pub use error::Error;
pub use leaves::{Row, Statement};
pub use schema::Made;
pub use store::Archive;
