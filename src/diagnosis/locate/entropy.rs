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

/// What a measurement tells of the candidates on the average, in bits: the entropy of its outcome without that part which would be left
/// if the true candidate were known.
///
/// ```
/// use coreproof::diagnosis::locate::entropy::information;
/// let apart = [(1.0, vec![(0, 1.0)]), (1.0, vec![(1, 1.0)])];
/// assert_eq!(information(&apart), 1.0);
/// let alike = [(1.0, vec![(0, 0.5), (1, 0.5)]), (1.0, vec![(0, 0.5), (1, 0.5)])];
/// assert_eq!(information(&alike), 0.0);
/// ```
pub fn information(candidates: &[(f64, Expected)]) -> f64 {
    let total: f64 = candidates.iter().map(|(weight, _)| weight).sum();
    let alone = candidates
        .iter()
        .map(|one| one.0 / total * bits(std::slice::from_ref(one)));
    (bits(candidates) - alone.sum::<f64>()).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_overlaps_in_part_tells_in_part() {
        // two that share half of what they may show: with even chance the outcome names one of them, which is one bit half of the time
        let candidates = [(1.0, vec![(0, 0.5), (1, 0.5)]), (1.0, vec![(1, 0.5), (2, 0.5)])];
        assert_eq!(information(&candidates), 0.5);
    }

    #[test]
    fn four_even_outcomes_are_two_bits() {
        let candidates: Vec<(f64, Expected)> = (0..4).map(|outcome| (0.2, vec![(outcome, 1.0)])).collect();
        assert_eq!(bits(&candidates), 2.0);
        // one candidate that leaves it open between four
        assert_eq!(bits(&[(1.0, (0..4).map(|outcome| (outcome, 0.25)).collect())]), 2.0);
    }
}
