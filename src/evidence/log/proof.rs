//! The proof that one leaf is in a log, as one text that needs nothing else to be checked (C2SP tlog-proof).
//!
//! The rule inside: nothing of the text is believed but what leads from the leaf to the signed root.

use base64ct::{Base64, Encoding as _};
use tlog_tiles::{Hash, check_record};

use super::checkpoint::{BadCheckpoint, Head, NOTE_BYTES_MAX, head_of};
use super::leaf::Leaf;

/// What a proof begins with.
const FIRST: &str = "c2sp.org/tlog-proof@v1";
/// The most hashes of a proof: one for each doubling of the largest log there could be.
const HASHES_MAX: usize = 63;
/// The largest proof, in bytes: its hashes of 45 bytes a line, its first lines, and a checkpoint.
pub const PROOF_BYTES_MAX: usize = HASHES_MAX * 45 + 128 + NOTE_BYTES_MAX;

/// A proof of inclusion with the checkpoint that it leads to.
#[derive(Debug, Clone, PartialEq)]
pub struct Proof {
    /// The leaf's place, from 0.
    pub index: u64,
    /// From the leaf's sibling up to the root's child.
    pub hashes: Vec<Hash>,
    /// The checkpoint as it was signed.
    pub note: String,
}

/// Why a text proves nothing.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BadProof {
    /// It is not written as a proof.
    #[error("the proof of inclusion does not read")]
    Unreadable,
    /// What it ends with is no checkpoint.
    #[error(transparent)]
    Checkpoint(#[from] BadCheckpoint),
    /// It leads to another root than the checkpoint's.
    #[error("the proof of inclusion does not lead from this record and its signature to the checkpoint")]
    Elsewhere,
}

impl Proof {
    /// The text, the same each time.
    pub fn text(&self) -> String {
        let mut text = format!("{FIRST}\nindex {}\n", self.index);
        for hash in &self.hashes {
            text.push_str(&hash.to_string());
            text.push('\n');
        }
        text.push('\n');
        text.push_str(&self.note);
        text
    }

    /// Reads a text; only the one form in which it would be written again is one. Extra data, which no signature covers, is refused.
    ///
    /// # Errors
    /// [`BadProof::Unreadable`], [`BadProof::Checkpoint`].
    pub fn read(text: &str) -> Result<Proof, BadProof> {
        let read = || {
            let (head, note) = (text.len() <= PROOF_BYTES_MAX).then(|| text.split_once("\n\n"))??;
            let mut lines = head.split('\n');
            (lines.next()? == FIRST).then_some(())?;
            let index = lines.next()?.strip_prefix("index ")?.parse().ok()?;
            let hashes = lines.map(hash).collect::<Option<Vec<_>>>()?;
            (hashes.len() <= HASHES_MAX).then_some(Proof {
                index,
                hashes,
                note: note.to_owned(),
            })
        };
        let proof = read()
            .filter(|proof: &Proof| proof.text() == text)
            .ok_or(BadProof::Unreadable)?;
        head_of(&proof.note)?;
        Ok(proof)
    }

    /// The head that this leaf is proved to be under; whose signature that has is for the reader's keys to say.
    ///
    /// # Errors
    /// [`BadProof::Checkpoint`], [`BadProof::Elsewhere`].
    pub fn head_over(&self, leaf: &Leaf) -> Result<Head, BadProof> {
        let head = head_of(&self.note)?;
        check_record(&self.hashes, head.size, head.root, self.index, leaf.hash()).map_err(|_| BadProof::Elsewhere)?;
        Ok(head)
    }
}

/// One hash, as 44 characters of base64.
fn hash(line: &str) -> Option<Hash> {
    let mut bytes = [0; 32];
    let decoded = Base64::decode(line, &mut bytes).ok()?;
    (decoded.len() == bytes.len()).then_some(Hash(bytes))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::keys::SigningKey;
    use crate::evidence::log::{Kind, Tree, sign};
    use tlog_tiles::{Error, HashReader, prove_record, stored_hashes, tree_hash};

    /// The hashes of a tree, in the order in which they are stored.
    #[derive(Default)]
    struct Stored(Vec<Hash>);

    impl HashReader for Stored {
        fn read_hashes(&self, indexes: &[u64]) -> Result<Vec<Hash>, Error> {
            Ok(indexes.iter().map(|at| self.0[usize::try_from(*at).unwrap()]).collect())
        }
    }

    fn tree(leaves: &[&[u8]]) -> Stored {
        let mut stored = Stored::default();
        for (n, leaf) in (0..).zip(leaves) {
            let more = stored_hashes(n, leaf, &stored).unwrap();
            stored.0.extend(more);
        }
        stored
    }

    fn hex(hash: &Hash) -> String {
        hash.0.iter().map(|byte| format!("{byte:02x}")).collect()
    }

    /// The leaves and roots of transparency-dev/merkle, commit 417fb0c3, testonly/constants.go.
    #[test]
    fn published_trees_have_their_published_roots() {
        let leaves: [&[u8]; 8] = [
            b"",
            b"\x00",
            b"\x10",
            b"\x20\x21",
            b"\x30\x31",
            b"\x40\x41\x42\x43",
            b"\x50\x51\x52\x53\x54\x55\x56\x57",
            b"\x60\x61\x62\x63\x64\x65\x66\x67\x68\x69\x6a\x6b\x6c\x6d\x6e\x6f",
        ];
        let roots = [
            "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
            "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
            "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
            "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
            "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
            "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
            "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
            "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
            "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
        ];
        for (size, root) in roots.iter().enumerate() {
            let stored = tree(&leaves[..size]);
            assert_eq!(hex(&tree_hash(size as u64, &stored).unwrap()), *root, "{size}");
            let mut growing = Tree::default();
            leaves[..size]
                .iter()
                .for_each(|leaf| growing.push(tlog_tiles::record_hash(leaf)));
            assert_eq!(
                (hex(&growing.root()), growing.size()),
                ((*root).to_owned(), size as u64)
            );
        }
    }

    fn leaf(n: u64) -> Leaf {
        Leaf::of(Kind::Record, &format!("run {n}"), [&n.to_be_bytes()])
    }

    fn proved(size: u64, index: u64) -> Proof {
        let leaves: Vec<String> = (0..size).map(|n| leaf(n).text).collect();
        let stored = tree(&leaves.iter().map(String::as_bytes).collect::<Vec<_>>());
        let head = Head {
            origin: "coreproof/archive/4d2c".into(),
            size,
            root: tree_hash(size, &stored).unwrap(),
        };
        Proof {
            index,
            hashes: prove_record(size, index, &stored).unwrap(),
            note: sign(&head, &SigningKey::throw_away()).unwrap(),
        }
    }

    #[test]
    fn every_leaf_of_every_small_log_is_proved_and_no_other_is() {
        for size in 1..=9 {
            for index in 0..size {
                let proof = proved(size, index);
                let again = Proof::read(&proof.text()).unwrap();
                assert_eq!(again, proof);
                assert_eq!(proof.head_over(&leaf(index)).unwrap().size, size);
                for other in (0..=size).filter(|other| *other != index) {
                    assert_eq!(proof.head_over(&leaf(other)), Err(BadProof::Elsewhere));
                    let moved = Proof {
                        index: other,
                        ..proof.clone()
                    };
                    assert_eq!(
                        moved.head_over(&leaf(index)),
                        Err(BadProof::Elsewhere),
                        "{size} {index} {other}"
                    );
                }
            }
        }
    }

    #[test]
    fn a_log_of_any_stated_size_is_answered_without_a_panic() {
        let key = SigningKey::throw_away();
        for size in [0, 1, 2, (1 << 63) - 1, 1 << 63, (1 << 63) + 1, u64::MAX - 1, u64::MAX] {
            for index in [0, 1, size / 2, size.saturating_sub(1), size, u64::MAX] {
                for hashes in [0, 1, 62, 63] {
                    let head = Head {
                        origin: "coreproof/archive/4d2c".into(),
                        size,
                        root: Hash([3; 32]),
                    };
                    let proof = Proof {
                        index,
                        hashes: vec![Hash([5; 32]); hashes],
                        note: sign(&head, &key).unwrap(),
                    };
                    assert_eq!(
                        proof.head_over(&leaf(0)),
                        Err(BadProof::Elsewhere),
                        "{size} {index} {hashes}"
                    );
                }
            }
        }
    }

    #[test]
    fn what_is_no_proof_is_refused() {
        let good = proved(5, 2).text();
        assert!(good.starts_with("c2sp.org/tlog-proof@v1\nindex 2\n"), "{good}");
        for bad in [
            "",
            &good.replacen("@v1", "@v2", 1),
            &good.replacen("index 2", "index 02", 1),
            &good.replacen("index 2", "index -2", 1),
            &good.replacen("index 2", "extra AAAA\nindex 2", 1),
            &good.replacen("=\n", "\n", 1),
            &good.replacen("=\n", "=\r\n", 1),
            &good.replacen(
                "index 2\n",
                &format!("index 2\n{}", format!("{}=\n", "A".repeat(43)).repeat(64)),
                1,
            ),
        ] {
            assert_eq!(Proof::read(bad), Err(BadProof::Unreadable), "{bad}");
        }
        let cut = &good[..good.len() - 2];
        assert_eq!(Proof::read(cut), Err(BadProof::Checkpoint(BadCheckpoint::Unreadable)));
    }
}
