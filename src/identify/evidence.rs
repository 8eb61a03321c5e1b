//! What was seen of a cable, and what it says about each end by itself.
//!
//! The rule inside: what conducts at an end with nothing joined at the other is in contact inside the cable. It is known for sure once the
//! joints of all looks at that end have no pair in common.

use super::partition::Partition;
use crate::job::End;

/// One look: what was joined at the other end, and what conducted at this one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Look {
    /// The end that was looked at.
    pub at: End,
    /// Over the terminals of the other end.
    pub joined: Partition,
    /// Over the terminals of this end.
    pub shown: Partition,
}

/// Everything seen so far. Terminals are the cores `0..cores`, then the earth where it is used, at both ends.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Evidence {
    /// How many cores.
    pub cores: usize,
    /// Whether an earth known at both ends is used.
    pub earth: bool,
    /// In the order in which they were made.
    pub looks: Vec<Look>,
    /// Near and far terminal, told by the value of a resistor.
    pub told: Vec<(usize, usize)>,
    /// Far terminals that conduct to nothing though a resistor waits for them.
    pub dead: Vec<usize>,
}

/// The other end.
pub fn other(end: End) -> End {
    match end {
        End::Near => End::Far,
        End::Far => End::Near,
    }
}

impl Evidence {
    /// Nothing seen yet.
    pub fn new(cores: usize, earth: bool) -> Evidence {
        Evidence {
            cores,
            earth,
            looks: Vec::new(),
            told: Vec::new(),
            dead: Vec::new(),
        }
    }

    /// Terminals at one end.
    pub fn terminals(&self) -> usize {
        self.cores + usize::from(self.earth)
    }

    /// The looks at one end.
    pub fn at(&self, end: End) -> impl Iterator<Item = &Look> {
        self.looks.iter().filter(move |look| look.at == end)
    }

    /// What is in contact at an end with nothing joined: at most these.
    pub fn contact(&self, end: End) -> Partition {
        let mut looks = self.at(end).map(|look| look.shown.clone());
        let Some(first) = looks.next() else {
            return Partition::apart(self.terminals());
        };
        looks.fold(first, |met, shown| met.and(&shown))
    }

    /// Whether [`Evidence::contact`] is exact at both ends.
    pub fn is_settled(&self) -> bool {
        let near_looked_bare = self.at(End::Near).any(|look| look.joined.is_apart());
        near_looked_bare && self.settles(&[])
    }

    /// Whether the far end's contacts are exact once these joints have been made at the near end and looked at.
    pub fn settles(&self, more: &[Partition]) -> bool {
        let near = self.contact(End::Near);
        let joints = self.at(End::Far).map(|look| &look.joined).chain(more);
        let met = joints.map(|joined| joined.or(&near)).reduce(|met, next| met.and(&next));
        met.is_some_and(|met| met == near)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_contact_is_sure_once_no_pair_was_joined_every_time() {
        let mut evidence = Evidence::new(3, false);
        let look = |at, joined: &[Vec<usize>], shown: &[Vec<usize>]| Look {
            at,
            joined: Partition::joined(3, joined),
            shown: Partition::joined(3, shown),
        };
        evidence.looks.push(look(End::Near, &[], &[]));
        assert!(!evidence.is_settled());
        evidence.looks.push(look(End::Far, &[vec![0, 1]], &[vec![0, 2]]));
        assert!(!evidence.is_settled());
        assert!(evidence.settles(&[Partition::joined(3, &[vec![1, 2]])]));
        evidence.looks.push(look(End::Far, &[vec![1, 2]], &[vec![0, 2]]));
        assert!(evidence.is_settled());
        assert_eq!(evidence.contact(End::Far).groups(), [vec![0, 2]]);
    }
}
