//! How much a measurement tells, before it is made.
//!
//! The rule inside: what is expected of a measurement is the entropy of its outcomes over the diagnoses that are left, each
//! with its weight: the mean information it brings, in bits.

use std::collections::BTreeMap;

/// What a candidate expects of a measurement: outcomes with their shares, which add up to 1.
pub type Expected = Vec<(usize, f64)>;

/// The entropy of a measurement's outcome in bits, given the weight of each candidate and what it expects.
///
/// ```
/// use coreproof::diagnosis::locate::entropy::bits;
/// let even = [(1.0, vec![(0, 1.0)]), (1.0, vec![(1, 1.0)])];
/// assert_eq!(bits(&even), 1.0);
/// let sure = [(1.0, vec![(0, 1.0)]), (3.0, vec![(0, 1.0)])];
/// assert_eq!(bits(&sure), 0.0);
/// ```
pub fn bits(candidates: &[(f64, Expected)]) -> f64 {
    let total: f64 = candidates.iter().map(|(weight, _)| weight).sum();
    let mut shares: BTreeMap<usize, f64> = BTreeMap::new();
    for (weight, expected) in candidates {
        for (outcome, share) in expected {
            *shares.entry(*outcome).or_insert(0.0) += weight * share / total;
        }
    }
    let entropy: f64 = shares
        .values()
        .filter(|share| 0.0 < **share)
        .map(|share| -share * share.log2())
        .sum();
    // a sure outcome comes out as -0
    entropy.max(0.0)
}

/// Sorts intervals into outcomes: those that overlap, directly or by way of others, cannot be told apart.
pub fn outcomes(intervals: &[(f64, f64)]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..intervals.len()).collect();
    order.sort_by(|one, other| intervals[*one].0.total_cmp(&intervals[*other].0));
    let mut found = vec![0; intervals.len()];
    let (mut outcome, mut reach) = (0, f64::NEG_INFINITY);
    for at in order {
        let (low, high) = intervals[at];
        if reach < low && reach != f64::NEG_INFINITY {
            outcome += 1;
        }
        reach = reach.max(high);
        found[at] = outcome;
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn intervals_that_overlap_are_one_outcome() {
        let check = |intervals: &[(f64, f64)], expected: &[usize]| assert_eq!(outcomes(intervals), expected);
        check(&[(0.0, 1.0), (2.0, 3.0)], &[0, 1]);
        check(&[(2.0, 3.0), (0.0, 1.0), (0.5, 2.5)], &[0, 0, 0]);
        check(&[(0.5, 0.7), (1e6, f64::INFINITY), (0.6, 0.8)], &[0, 1, 0]);
    }

    #[test]
    fn four_even_outcomes_are_two_bits() {
        let candidates: Vec<(f64, Expected)> = (0..4).map(|outcome| (0.2, vec![(outcome, 1.0)])).collect();
        assert_eq!(bits(&candidates), 2.0);
        // one candidate that leaves it open between four
        assert_eq!(bits(&[(1.0, (0..4).map(|outcome| (outcome, 0.25)).collect())]), 2.0);
    }
}
