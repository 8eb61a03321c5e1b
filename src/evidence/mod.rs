//! Evidence: the journal as it is written, keys and trust, what an auditor finds, the archive, sealing, and the certificate.

pub mod journal;
pub mod keys;
pub mod log;
pub mod audit;
pub mod archive;
mod refusal;
mod sealed;
mod signer;
mod opening;
mod proved;
mod shelf;
pub mod seal;
pub mod stored;
pub mod statements;
pub mod whole;
#[cfg(feature = "certificate")]
pub mod certificate;

pub use opening::{Reopened, carried_files, reopen};
pub use proved::prove;
pub use refusal::Refusal;
pub use sealed::{Beside, Document, Sealed, beside, bytes, proof_beside, write_new};
pub use shelf::sign_head;
pub use signer::{signer_of, trusted, trusted_when};
