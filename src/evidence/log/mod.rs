//! The log over everything that an archive was given: a Merkle tree of leaves, its signed heads, and the proof that one leaf is in it.

mod leaf;
mod checkpoint;
mod proof;
mod tree;
mod heads;

pub use checkpoint::{BadCheckpoint, Head, NOTE_BYTES_MAX, head_of, sign, signed_by};
pub use heads::{Heads, Kept};
pub use leaf::{Kind, Leaf};
pub use proof::{BadProof, PROOF_BYTES_MAX, Proof};
pub use tree::Tree;
