//! The certificate: a page that shows one record, and the PDF that carries the record inside.

mod error;
mod attached;
mod carried;
mod fonts;
pub mod page;
mod plain;
mod square;
mod render;
mod document;
mod token;

pub use carried::{Carried, PDF_BYTES_MAX, RECORD_BYTES_MAX, carried};
pub use document::{of_record, record_in};
pub use error::{Damage, Error, FURTHER, FURTHER_KEYS, PROOF, PUBLIC_KEY, RECORD, SIGNATURE, STAMPS, SUPERSEDED};
pub use render::{Attachments, render};
