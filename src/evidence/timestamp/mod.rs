//! Time stamps (RFC 3161): an authority's signed word that a record was there at a time.

mod error;
mod token;
mod request;
mod authority;

pub use authority::{Authorities, Proved};
pub use error::{BadAuthority, BadStamp};
pub use request::request;
pub use token::{STAMP_BYTES_MAX, Stamp};
