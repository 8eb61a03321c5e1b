//! A forger who changes each member of each event, one at a time, and signs the whole again.
//!
//! The rule inside: a lie is found, or its member stands in the list of what nothing else in a record contradicts: there the signer's word is all
//! there is, and it is printed as such.

use std::collections::{BTreeMap, BTreeSet};

use coreproof::evidence::audit::{Known, Remark, examine_known};
use coreproof::evidence::keys::SigningKey;
use coreproof::run::fold::Run;

use crate::forged::Forged;

/// Members that are words of people or names alone. What each says is shown with the record.
const WORD_ALONE: &[&str] = &[
    "closed.ending.abandoned",
    "made_safe.what",
    // of a record of another version than this one; what is printed is that of the edition
    "opened.caveat",
    // `1.0` as `1.1`: the later one holds all that the earlier one could
    "opened.format",
    "opened.identified.name",
    "opened.job.name",
    "opened.port",
    "opened.profiles.name",
    "opened.program",
    "opened.rehearsal.seed",
    "opened.sequence.name",
];

/// One value in an event: where it stands, by the names of its members, and its bytes.
struct Leaf {
    path: String,
    from: usize,
    to: usize,
}

/// Every string and number of an event, by its path; members of arrays go by the array.
fn leaves(event: &str) -> Vec<Leaf> {
    let bytes = event.as_bytes();
    let mut path: Vec<Option<String>> = Vec::new();
    let mut found = Vec::new();
    let mut at = 0;
    let path_of = |path: &[Option<String>]| path.iter().flatten().cloned().collect::<Vec<_>>().join(".");
    while at < bytes.len() {
        match bytes[at] {
            b'{' | b'[' => path.push(None),
            b'}' | b']' => drop(path.pop()),
            b'"' => {
                let mut end = at + 1;
                while bytes[end] != b'"' {
                    end += if bytes[end] == b'\\' { 2 } else { 1 };
                }
                let is_name = bytes.get(end + 1) == Some(&b':');
                if is_name {
                    *path.last_mut().unwrap() = Some(event[at + 1..end].to_owned());
                } else {
                    found.push(Leaf {
                        path: path_of(&path),
                        from: at,
                        to: end + 1,
                    });
                }
                at = end;
            }
            b'0'..=b'9' | b'-' | b't' | b'f' => {
                let end = at + bytes[at..].iter().position(|byte| b",}]".contains(byte)).unwrap();
                found.push(Leaf {
                    path: path_of(&path),
                    from: at,
                    to: end,
                });
                at = end - 1;
            }
            _ => {}
        }
        at += 1;
    }
    found
}

/// Another value of the same kind.
fn another(value: &str) -> String {
    match value {
        "true" => "false".into(),
        "false" => "true".into(),
        _ if value.ends_with("0\"") => format!("{}1\"", &value[..value.len() - 2]),
        _ if value.ends_with('"') => format!("{}0\"", &value[..value.len() - 1]),
        _ if value.ends_with('0') => format!("{}1", &value[..value.len() - 1]),
        _ => format!("{}0", &value[..value.len() - 1]),
    }
}

struct Court {
    key: SigningKey,
    known: Known,
}

impl Court {
    fn remarks(&self, forged: &Forged) -> Vec<Remark> {
        let bytes = forged.bytes();
        examine_known::<Run>(&bytes, &self.key.sign(&bytes), Some(&self.key.public()), &self.known).remarks
    }
}

/// How often a member of each path is changed in one record, in places far apart.
const PLACES_MAX: usize = 2;

#[test]
fn each_member_of_each_event_is_found_or_is_the_word_of_the_signer_alone() {
    let court = Court {
        key: SigningKey::throw_away(),
        known: Known::default(),
    };
    let mut unfound: BTreeSet<String> = BTreeSet::new();
    let mut lies = 0;
    for honest in [
        Forged::today(),
        Forged::earlier("meter-stat-cable-passed.jsonl"),
        Forged::earlier("stat-cable-abandoned.jsonl"),
        Forged::earlier("identified-stat-cable-passed.jsonl"),
    ] {
        let before = court.remarks(&honest);
        let mut places: BTreeMap<String, usize> = BTreeMap::new();
        for (n, (_, event)) in honest.0.iter().enumerate() {
            for leaf in leaves(event) {
                let seen = places.entry(leaf.path.clone()).or_default();
                *seen += 1;
                if PLACES_MAX < *seen {
                    continue;
                }
                let mut forged = honest.clone();
                let value = another(&event[leaf.from..leaf.to]);
                forged.0[n].1.replace_range(leaf.from..leaf.to, &value);
                lies += 1;
                if court.remarks(&forged) == before {
                    unfound.insert(leaf.path);
                }
            }
        }
    }
    assert!(100 < lies, "{lies} lies");
    let unfound: Vec<&str> = unfound.iter().map(String::as_str).collect();
    assert_eq!(unfound, WORD_ALONE, "of {lies} lies these stand");
}
