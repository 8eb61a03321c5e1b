//! The textbook example: three multipliers and two adders, of which something is broken.
//!
//! The rule inside: the same code that looks for faults in wiring finds the published answer. M1: X = A C, M2: Y = B D,
//! M3: Z = C E, A1: F = X + Y, A2: G = Y + Z, with A, B, C, D, E = 3, 2, 2, 3, 3 and F = 10, G = 12 seen (de Kleer and
//! Williams, 1987). Conflicts and diagnoses are the published ones; the probabilities and entropies were computed by brute
//! force over all 32 sets elsewhere, for this model with 16 values.

use std::collections::BTreeSet;

use super::consistency::{Theory, diagnoses, hitting_sets, minimal};
use super::entropy::{Expected, bits};

const PARTS: [&str; 5] = ["M1", "M2", "M3", "A1", "A2"];
const M1: usize = 0;
const M2: usize = 1;
const M3: usize = 2;
const A1: usize = 3;
const A2: usize = 4;
/// Values that a broken part can give, all alike.
const VALUES: i64 = 16;
const PROBABILITY: f64 = 0.01;

/// What is known at X, Y and Z when these parts are broken; `None` where it is open. The outer `None`: a contradiction.
fn values(broken: &[usize], seen: &[(usize, i64)]) -> Option<[Option<i64>; 3]> {
    let sound = |part: usize| !broken.contains(&part);
    let mut at = [None; 3];
    let mut holds = true;
    let mut set = |at: &mut [Option<i64>; 3], place: usize, value: i64| {
        holds &= at[place].is_none_or(|there| there == value);
        at[place] = Some(value);
    };
    seen.iter().for_each(|(place, value)| set(&mut at, *place, *value));
    for (part, place) in [(M1, 0), (M2, 1), (M3, 2)] {
        if sound(part) {
            set(&mut at, place, 6);
        }
    }
    // an adder gives the other summand; once more, for what the first pass brought
    for _ in 0..2 {
        for (adder, sum, [one, other]) in [(A1, 10, [0, 1]), (A2, 12, [1, 2])] {
            if !sound(adder) {
                continue;
            }
            if let Some(value) = at[one] {
                set(&mut at, other, sum - value);
            }
            if let Some(value) = at[other] {
                set(&mut at, one, sum - value);
            }
        }
    }
    holds.then_some(at)
}

struct Polybox {
    seen: Vec<(usize, i64)>,
}

impl Theory for Polybox {
    fn modes(&self) -> usize {
        PARTS.len()
    }
    fn part(&self, mode: usize) -> usize {
        mode
    }
    fn agrees(&mut self, modes: &[usize]) -> bool {
        values(modes, &self.seen).is_some()
    }
}

fn named(sets: &[Vec<usize>]) -> Vec<String> {
    let mut names: Vec<String> = sets
        .iter()
        .map(|set| {
            let mut parts: Vec<&str> = set.iter().map(|part| PARTS[*part]).collect();
            parts.sort_unstable();
            parts.join(" ")
        })
        .collect();
    names.sort();
    names
}

/// Every set of broken parts that agrees, with its probability.
fn consistent() -> Vec<(Vec<usize>, f64)> {
    let all = (0..32_u32).map(|bits| (0..5).filter(|part| bits >> part & 1 == 1).collect::<Vec<usize>>());
    let agreeing = all.filter(|set| values(set, &[]).is_some());
    agreeing
        .map(|set| {
            let broken = i32::try_from(set.len()).unwrap();
            let probability = PROBABILITY.powi(broken) * (1.0 - PROBABILITY).powi(5 - broken);
            (set, probability)
        })
        .collect()
}

#[test]
fn the_four_diagnoses_and_the_two_conflicts_come_out() {
    let found = diagnoses(&mut Polybox { seen: vec![] }, 5, &mut |_, _| {});
    assert_eq!(named(&found), ["A1", "A2 M2", "M1", "M2 M3"]);
    let sets: Vec<BTreeSet<usize>> = found.iter().map(|set| set.iter().copied().collect()).collect();
    let conflicts: Vec<Vec<usize>> = hitting_sets(&sets)
        .into_iter()
        .map(|set| set.into_iter().collect())
        .collect();
    assert_eq!(named(&conflicts), ["A1 A2 M1 M3", "A1 M1 M2"]);
    // the conflicts found the other way: sets of parts that cannot all be sound
    let all = (0..32_u32).map(|bits| (0..5).filter(|part| bits >> part & 1 == 1).collect::<BTreeSet<usize>>());
    let clashing = all.filter(|sound| {
        let broken: Vec<usize> = (0..5).filter(|part| !sound.contains(part)).collect();
        values(&broken, &[]).is_none()
    });
    let direct: Vec<Vec<usize>> = minimal(clashing.collect())
        .into_iter()
        .map(|set| set.into_iter().collect())
        .collect();
    assert_eq!(named(&direct), named(&conflicts));
    assert_eq!(consistent().len(), 27);
}

#[test]
fn the_next_probe_is_x() {
    let candidates = consistent();
    let expected = |place: usize| -> Vec<(f64, Expected)> {
        let of = |(set, weight): &(Vec<usize>, f64)| {
            let value = values(set, &[]).unwrap()[place];
            let outcomes = match value {
                Some(value) => vec![(usize::try_from(value).unwrap(), 1.0)],
                None => (0..VALUES)
                    .map(|v| (usize::try_from(v).unwrap(), 1.0 / VALUES as f64))
                    .collect(),
            };
            (*weight, outcomes)
        };
        candidates.iter().map(of).collect()
    };
    let bits_at = [0, 1, 2].map(|place| bits(&expected(place)));
    for (found, published) in bits_at.into_iter().zip([1.0535, 0.0820, 0.0480]) {
        assert!((found - published).abs() < 0.00005, "{bits_at:?}");
    }
    let total: f64 = candidates.iter().map(|(_, weight)| weight).sum();
    let share = |set: &[usize]| candidates.iter().find(|(there, _)| there == set).unwrap().1 / total;
    assert!((share(&[M1]) - 0.47803).abs() < 0.000_005 && (share(&[A1]) - 0.47803).abs() < 0.000_005);
    assert!(share(&[M2, M3]) <= 0.00483 && share(&[M2, A2]) <= 0.00483);
}

#[test]
fn a_probe_at_x_leaves_what_agrees_with_it() {
    assert_eq!(
        named(&diagnoses(&mut Polybox { seen: vec![(0, 6)] }, 5, &mut |_, _| {})),
        ["A1", "A2 M2", "M2 M3"].map(|s| s.to_owned())
    );
    assert_eq!(
        named(&diagnoses(&mut Polybox { seen: vec![(0, 4)] }, 5, &mut |_, _| {})),
        ["M1"]
    );
}
