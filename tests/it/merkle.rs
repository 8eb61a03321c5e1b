//! Merkle proofs of transparency-dev/merkle (commit 417fb0c3, testdata): 518, of which 36 hold. They lie outside the clone; `COREPROOF_VECTORS`
//! names their folder.
//!
//! A proof of inclusion in a subtree is one in a tree of its own. Of the proofs that a subtree is consistent with a tree those that begin at
//! the first leaf are ordinary ones; the 27 others (later first leaves, empty subtrees) are of a kind that no log here uses, and are counted.

use std::path::{Path, PathBuf};

use serde_json::Value;
use tlog_tiles::{Hash, check_record, check_tree, record_hash};

fn files(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            files(&path, into);
        } else if path.extension().is_some_and(|end| end == "json") {
            into.push(path);
        }
    }
}

/// A hash of the vectors; some are of no hash's length.
fn hash(value: &Value) -> Option<Hash> {
    Hash::parse_hash(value.as_str()?).ok()
}

/// The root of a tree. Where only its being the same is asked, some are of no hash's length: another hash stands for each.
fn root(value: &Value) -> Option<Hash> {
    hash(value).or_else(|| Some(record_hash(value.as_str()?.as_bytes())))
}

fn number(vector: &Value, name: &str) -> u64 {
    vector[name].as_u64().unwrap()
}

/// Whether a proof holds; `None` of a kind that is not used.
fn holds(kind: &str, vector: &Value) -> Option<bool> {
    // a proof without hashes is written as nothing at all
    let proof = vector["proof"]
        .as_array()
        .map_or(Some(Vec::new()), |all| all.iter().map(hash).collect());
    let included = |from: u64, to: u64| {
        let index = number(vector, "leafIdx");
        let span = to
            .checked_sub(from)
            .filter(|span| 0 < *span)
            .and_then(u64::checked_next_power_of_two);
        let whole = span.is_some_and(|span| from.is_multiple_of(span));
        let (Some(proof), Some(root), Some(leaf)) = (&proof, hash(&vector["root"]), hash(&vector["leafHash"])) else {
            return false;
        };
        whole && from <= index && check_record(proof, to - from, root, index - from, leaf).is_ok()
    };
    let consistent = |from: u64, to: u64| {
        let (Some(proof), Some(old), Some(new)) = (&proof, root(&vector["root1"]), root(&vector["root2"])) else {
            return false;
        };
        check_tree(proof, to, new, from, old).is_ok()
    };
    match kind {
        "inclusion" => Some(included(0, number(vector, "treeSize"))),
        "subtreeinclusion" => Some(included(number(vector, "start"), number(vector, "end"))),
        "consistency" => Some(consistent(number(vector, "size1"), number(vector, "size2"))),
        "subtreeconsistency" if number(vector, "start") == 0 && number(vector, "end") != 0 => {
            Some(consistent(number(vector, "end"), number(vector, "size")))
        }
        _ => None,
    }
}

#[test]
fn the_published_proofs_hold_or_do_not_as_published() {
    let Some(folder) = std::env::var_os("COREPROOF_VECTORS") else {
        println!("NOT CHECKED: the Merkle vectors. COREPROOF_VECTORS names no folder that holds them");
        return;
    };
    let folder = Path::new(&folder).join("merkle");
    let mut all = Vec::new();
    files(&folder, &mut all);
    let (mut held, mut refused, mut unused) = (0, 0, 0);
    for path in &all {
        let vector: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
        let kind = path
            .strip_prefix(&folder)
            .unwrap()
            .iter()
            .next()
            .unwrap()
            .to_str()
            .unwrap();
        let expected = !vector["wantErr"].as_bool().unwrap();
        match holds(kind, &vector) {
            None => unused += 1,
            Some(came) => {
                assert_eq!(came, expected, "{}: {vector}", path.display());
                *(if came { &mut held } else { &mut refused }) += 1;
            }
        }
    }
    assert_eq!((all.len(), held, refused, unused), (518, 30, 461, 27));
}
