//! Diagnosis from consistency, whatever the system is: which smallest sets of broken parts agree with what was seen.
//!
//! The rule inside: completeness before speed. Every set up to the size asked for is looked at, unless it holds a smaller one
//! that agrees already.

use std::collections::BTreeSet;

/// A system with parts that can be broken in ways.
pub trait Theory {
    /// How many ways of being broken there are, over all parts.
    fn modes(&self) -> usize;
    /// The part that a mode belongs to. A part is broken in one way at a time.
    fn part(&self, mode: usize) -> usize;
    /// Whether everything that was seen agrees with these modes, every other part being sound. `modes` go upwards.
    fn agrees(&mut self, modes: &[usize]) -> bool;
}

/// The minimal diagnoses of at most so many modes, smaller ones first. One empty set: nothing need be broken. `told` hears how many of the
/// sets of a size are behind, and of how many, each time that another mode is taken as the first of them.
pub fn diagnoses(theory: &mut impl Theory, at_most: usize, told: &mut dyn FnMut(usize, usize)) -> Vec<Vec<usize>> {
    let mut found: Vec<Vec<usize>> = Vec::new();
    for size in 0..=at_most {
        let before = found.len();
        let mut search = Search {
            theory: &mut *theory,
            size,
            smaller: before,
            found,
        };
        search.extend(0, &mut Vec::with_capacity(size), told);
        found = search.found;
        if size == 0 && !found.is_empty() {
            break;
        }
    }
    found
}

/// How many sets of so many there are among these.
fn sets_of(size: usize, among: usize) -> usize {
    (0..size).fold(1, |sets, n| sets * among.saturating_sub(n) / (n + 1))
}

struct Search<'t, T> {
    theory: &'t mut T,
    size: usize,
    /// So many of those found are smaller.
    smaller: usize,
    found: Vec<Vec<usize>>,
}

impl<T: Theory> Search<'_, T> {
    fn extend(&mut self, from: usize, set: &mut Vec<usize>, told: &mut dyn FnMut(usize, usize)) {
        let holds = |small: &Vec<usize>| small.iter().all(|mode| set.contains(mode));
        if !set.is_empty() && self.found[..self.smaller].iter().any(holds) {
            return;
        }
        if set.len() == self.size {
            if self.theory.agrees(set) {
                self.found.push(set.clone());
            }
            return;
        }
        let modes = self.theory.modes();
        for mode in from..modes {
            if set.is_empty() {
                let all = sets_of(self.size, modes);
                told(all - sets_of(self.size, modes - mode), all);
            }
            let part = self.theory.part(mode);
            if set.iter().all(|there| self.theory.part(*there) != part) {
                set.push(mode);
                self.extend(mode + 1, set, told);
                set.pop();
            }
        }
    }
}

/// The minimal sets that have something in common with each of these sets. Of conflicts they are the diagnoses, of diagnoses
/// the conflicts, where parts have one mode each.
pub fn hitting_sets(sets: &[BTreeSet<usize>]) -> Vec<BTreeSet<usize>> {
    let mut hitting = vec![BTreeSet::new()];
    for set in sets {
        let mut next: Vec<BTreeSet<usize>> = Vec::new();
        for part in &hitting {
            if part.is_disjoint(set) {
                next.extend(set.iter().map(|one| part | &BTreeSet::from([*one])));
            } else {
                next.push(part.clone());
            }
        }
        hitting = minimal(next);
    }
    hitting
}

/// The sets that hold no other of the sets, each once.
pub fn minimal(mut sets: Vec<BTreeSet<usize>>) -> Vec<BTreeSet<usize>> {
    sets.sort_by(|one, other| one.len().cmp(&other.len()).then(one.cmp(other)));
    sets.dedup();
    let mut kept: Vec<BTreeSet<usize>> = Vec::new();
    for set in sets {
        if !kept.iter().any(|small| small.is_subset(&set)) {
            kept.push(set);
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Parts with two modes each; a table says which sets agree.
    struct Table {
        parts: usize,
        agreeing: Vec<Vec<usize>>,
    }

    impl Theory for Table {
        fn modes(&self) -> usize {
            2 * self.parts
        }
        fn part(&self, mode: usize) -> usize {
            mode / 2
        }
        fn agrees(&mut self, modes: &[usize]) -> bool {
            self.agreeing.iter().any(|set| set == modes)
        }
    }

    fn set(members: &[usize]) -> BTreeSet<usize> {
        members.iter().copied().collect()
    }

    #[test]
    fn nothing_broken_is_the_only_diagnosis_where_all_agrees() {
        let agreeing = vec![vec![], vec![0]];
        let found = diagnoses(&mut Table { parts: 2, agreeing }, 3, &mut |_, _| {});
        assert_eq!(found, [Vec::<usize>::new()]);
    }

    #[test]
    fn how_far_it_is_is_told_and_ends_with_the_last_set() {
        let mut told = Vec::new();
        let agreeing = Vec::new();
        diagnoses(&mut Table { parts: 2, agreeing }, 2, &mut |behind, of| {
            told.push((behind, of))
        });
        // four modes: four sets of one, six of two
        let singles = [(0, 4), (1, 4), (2, 4), (3, 4)];
        let pairs = [(0, 6), (3, 6), (5, 6), (6, 6)];
        assert_eq!(told, [singles, pairs].concat());
        assert_eq!([0, 1, 2, 3, 4, 5].map(|size| sets_of(size, 4)), [1, 4, 6, 4, 1, 0]);
    }

    #[test]
    fn hitting_sets_touch_every_set() {
        let sets = [set(&[1, 2]), set(&[2, 3])];
        assert_eq!(hitting_sets(&sets), [set(&[2]), set(&[1, 3])]);
        assert_eq!(hitting_sets(&[]), [set(&[])]);
        assert_eq!(hitting_sets(&[set(&[])]), Vec::<BTreeSet<usize>>::new());
    }

    proptest! {
        #[test]
        fn diagnoses_are_those_that_brute_force_finds(
            agreeing in prop::collection::vec(prop::collection::btree_set(0..8usize, 0..4), 0..12),
        ) {
            let one_mode_a_part = |set: &BTreeSet<usize>| set.iter().map(|mode| mode / 2).collect::<BTreeSet<_>>().len() == set.len();
            let mut table = Table { parts: 4, agreeing: agreeing.iter().map(|set| set.iter().copied().collect()).collect() };
            let found: BTreeSet<BTreeSet<usize>> = diagnoses(&mut table, 3, &mut |_, _| {}).into_iter().map(|set| set.into_iter().collect()).collect();
            // brute force: all 256 sets of modes
            let all = (0..256_u32).map(|bits| (0..8).filter(|mode| bits >> mode & 1 == 1).collect::<BTreeSet<usize>>());
            let agree: Vec<_> = all.filter(|set| set.len() <= 3 && one_mode_a_part(set) && agreeing.contains(set)).collect();
            let expected: BTreeSet<_> = minimal(agree).into_iter().collect();
            prop_assert_eq!(found, expected);
        }

        #[test]
        fn the_hitting_sets_of_the_hitting_sets_are_the_minimal_sets(
            sets in prop::collection::vec(prop::collection::btree_set(0..6usize, 1..4), 1..6),
        ) {
            let sets = minimal(sets);
            prop_assert_eq!(minimal(hitting_sets(&hitting_sets(&sets))), sets);
        }
    }
}
