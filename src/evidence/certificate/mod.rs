//! The certificate: a page that shows one record, and the PDF that carries the record inside; and the lid sheet of a place.

mod error;
mod attached;
mod carried;
mod fonts;
pub mod page;
pub mod lid;
mod plain;
mod thumbnail;
mod photographs;
mod square;
mod render;
mod lid_sheet;
mod document;
mod token;
#[cfg(all(test, feature = "outside"))]
mod extremes;

pub use carried::{Carried, PDF_BYTES_MAX, RECORD_BYTES_MAX, carried};
pub use document::{of_record, record_in};
pub use error::{Damage, Error, FURTHER, FURTHER_KEYS, PROOF, PUBLIC_KEY, RECORD, SIGNATURE, STAMPS, SUPERSEDED};
pub use lid_sheet::of_sheet;
pub use photographs::{PHOTOGRAPH_BYTES_MAX, PHOTOGRAPHS_MAX, chosen, held};
pub use render::{Attachments, render};
