//! A tree that grows leaf by leaf, of which only the edge is kept.
//!
//! The rule inside: nothing that was stored of a tree is asked, so that an auditor finds its root from the leaves alone, in memory that does
//! not grow with it.

use tlog_tiles::{EMPTY_HASH, Hash, node_hash};

/// The roots of the whole subtrees that the leaves so far come to, the largest first.
#[derive(Debug, Clone, Default)]
pub struct Tree {
    size: u64,
    edge: Vec<Hash>,
}

impl Tree {
    /// One more leaf, by its hash.
    pub fn push(&mut self, leaf: Hash) {
        let mut whole = leaf;
        for _ in 0..self.size.trailing_ones() {
            let left = self.edge.pop().expect("each bit set in the size has its subtree");
            whole = node_hash(left, whole);
        }
        self.edge.push(whole);
        self.size += 1;
    }

    /// Number of leaves.
    pub fn size(&self) -> u64 {
        self.size
    }

    /// The root over them (RFC 6962, 2.1).
    pub fn root(&self) -> Hash {
        let mut from_right = self.edge.iter().rev().copied();
        let last = from_right.next().unwrap_or(EMPTY_HASH);
        from_right.fold(last, |right, left| node_hash(left, right))
    }
}
