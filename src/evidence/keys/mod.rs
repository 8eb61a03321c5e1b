//! Signing keys and whom to trust: Ed25519 only, in the file formats of stock OpenSSH, so that every key, signature
//! and list written here can be used with `ssh-keygen` and no coreproof at hand.

mod name;
mod alike;
mod error;
mod files;
mod public;
mod armor;
mod sign;
mod store;
mod agent;
mod signer;
mod trust;

pub use agent::{AgentKey, Own, adopt, own};
pub use alike::alike;
pub use error::{ArmorFault, Error, LineFault};
pub use name::{NameFault, check_name};
pub use public::PublicKey;
pub use sign::{NAMESPACE, SIGNATURE_BYTES, SigningKey, Signs, verify};
pub use signer::{Signer, Span};
pub use store::{LockedKey, change_passphrase, load, make};
pub use trust::{Added, Trust};
