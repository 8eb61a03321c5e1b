//! Evidence: the journal as it is written, keys and trust, what an auditor finds, the archive, sealing, and the certificate.

pub mod journal;
pub mod keys;
pub mod log;
pub mod audit;
pub mod archive;
mod refusal;
mod first_of;
pub mod timestamp;
mod sealed;
pub mod supersession;
mod signer;
mod opening;
mod proved;
mod copy_for;
mod shelf;
pub mod seal;
mod walked;
pub mod resting;
pub mod stored;
pub mod statements;
pub mod whole;
#[cfg(feature = "certificate")]
pub mod certificate;

pub use copy_for::CopyFor;
pub use first_of::{FirstOf, KEPT_MAX};
pub use opening::{Reopened, carried_files, peek, reopen};
pub use proved::{bounded, prove, prove_known};
pub use refusal::Refusal;
pub use sealed::{Beside, Document, FURTHER_MAX, Further, STAMPS_MAX, Sealed, beside, bytes, write_new};
pub use shelf::sign_head;
pub use signer::{signer_of, trusted, trusted_when};
pub use walked::folded;
