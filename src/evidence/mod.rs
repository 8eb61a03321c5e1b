//! Evidence: the journal as it is written, keys and trust, the archive, what an auditor finds, and the certificate.

pub mod journal;

pub mod keys;

pub mod archive;

pub mod audit;

#[cfg(feature = "certificate")]
pub mod certificate;
