//! Insulation of circuits measured together.
//!
//! The rule inside: what is joined reads less than its worst member, so a good group proves every member and a bad group
//! proves no single one bad, unless it reads less than all of them together could.

use rust_decimal::Decimal;

/// Resistances in parallel, in the unit they are given in; `None` where one of them is zero or none is given.
///
/// ```
/// use coreproof::judge::insulation::parallel;
/// // a worked example of a test course: 5, 20, 10, 20 and 2 Mohm give 1.111 Mohm
/// let all = [5, 20, 10, 20, 2].map(rust_decimal::Decimal::from);
/// assert_eq!(parallel(&all).unwrap().round_dp(5).to_string(), "1.11111");
/// ```
pub fn parallel(resistances: &[Decimal]) -> Option<Decimal> {
    if resistances.is_empty() || resistances.iter().any(|r| *r <= Decimal::ZERO) {
        return None;
    }
    let conductance: Decimal = resistances.iter().map(|r| Decimal::ONE / r).sum();
    Decimal::ONE.checked_div(conductance)
}

/// What one reading over several members joined together proves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GroupProof {
    /// The group is at or above the minimum, so every member is.
    EachIsGood,
    /// The group is below the minimum, yet every member may be good: test each alone.
    NothingOfEach,
    /// The group reads less than that many good members could: at least one is bad.
    OneIsBad,
}

/// What a group reading proves about its members, each of which needs `minimum`.
///
/// ```
/// use coreproof::judge::insulation::{GroupProof, group};
/// let ohms = rust_decimal::Decimal::from;
/// assert_eq!(group(2, ohms(1_000_000), ohms(1_000_000)), GroupProof::EachIsGood);
/// assert_eq!(group(2, ohms(500_000), ohms(1_000_000)), GroupProof::NothingOfEach);
/// assert_eq!(group(2, ohms(499_999), ohms(1_000_000)), GroupProof::OneIsBad);
/// ```
pub fn group(members: u32, reading: Decimal, minimum: Decimal) -> GroupProof {
    assert!(0 < members, "a group has members");
    if minimum <= reading {
        GroupProof::EachIsGood
    } else if minimum <= reading * Decimal::from(members) {
        GroupProof::NothingOfEach
    } else {
        GroupProof::OneIsBad
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn members_just_passing_read_their_share() {
        // arithmetic: n circuits of 1.0 Mohm each read 1/n Mohm
        for n in 1..=8_u32 {
            let all = vec![Decimal::ONE; n as usize];
            let read = parallel(&all).unwrap();
            assert_eq!(read.round_dp(20), (Decimal::ONE / Decimal::from(n)).round_dp(20));
        }
        assert_eq!(parallel(&[Decimal::from(200); 2]), Some(Decimal::from(100)));
    }

    #[test]
    fn nothing_and_a_short_circuit_have_no_parallel() {
        assert_eq!(parallel(&[]), None);
        assert_eq!(parallel(&[Decimal::ONE, Decimal::ZERO]), None);
    }
}
