//! What a check finds, as much of it as anybody reads.
//!
//! The rule inside: what is said twice at one place is there once, and beyond the first [`FOUND_MAX`] only the number is kept, so
//! that a file of a thousand mistakes takes no more room than one of fifty.

use std::collections::BTreeSet;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::ops::Deref;

/// Most findings that one check keeps.
pub const FOUND_MAX: usize = 50;

/// The first findings of a check, and how many more there are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found<T> {
    first: Vec<T>,
    more: usize,
    /// A hash of each, to know again what was said already.
    said: BTreeSet<u64>,
}

impl<T> Default for Found<T> {
    fn default() -> Found<T> {
        Found {
            first: Vec::new(),
            more: 0,
            said: BTreeSet::new(),
        }
    }
}

impl<T: Hash> Found<T> {
    /// Takes one more, unless it was said already.
    pub fn push(&mut self, one: T) {
        let mut hasher = DefaultHasher::new();
        one.hash(&mut hasher);
        if !self.said.insert(hasher.finish()) {
            return;
        }
        if self.first.len() < FOUND_MAX {
            self.first.push(one);
        } else {
            self.more += 1;
        }
    }

    /// Takes what another check found.
    pub fn append(&mut self, other: Found<T>) {
        let more = other.more;
        self.extend(other);
        self.more += more;
    }
}

impl<T> Found<T> {
    /// How many were found, kept or not.
    pub fn total(&self) -> usize {
        self.first.len() + self.more
    }

    /// Puts those that are kept in order.
    pub fn sort_by_key<K: Ord>(&mut self, key: impl FnMut(&T) -> K) {
        self.first.sort_by_key(key);
    }

    /// The same findings as something else.
    pub(super) fn map<U: Hash>(self, to: impl FnMut(T) -> U) -> Found<U> {
        let more = self.more;
        let mut found: Found<U> = self.first.into_iter().map(to).collect();
        found.more += more;
        found
    }
}

/// Those that are kept.
impl<T> Deref for Found<T> {
    type Target = [T];
    fn deref(&self) -> &[T] {
        &self.first
    }
}

impl<T> IntoIterator for Found<T> {
    type Item = T;
    type IntoIter = std::vec::IntoIter<T>;
    fn into_iter(self) -> Self::IntoIter {
        self.first.into_iter()
    }
}

impl<T: Hash> Extend<T> for Found<T> {
    fn extend<I: IntoIterator<Item = T>>(&mut self, all: I) {
        all.into_iter().for_each(|one| self.push(one));
    }
}

impl<T: Hash> FromIterator<T> for Found<T> {
    fn from_iter<I: IntoIterator<Item = T>>(all: I) -> Found<T> {
        let mut found = Found::default();
        found.extend(all);
        found
    }
}

impl<T: Hash> From<T> for Found<T> {
    fn from(one: T) -> Found<T> {
        Found::from_iter([one])
    }
}

#[cfg(test)]
mod tests {
    use crate::located::{Problem, Problems};

    #[test]
    fn the_first_fifty_are_kept_and_the_others_counted() {
        let problem = |at: usize| Problem::new(&(at..at), format!("problem {at}"));
        let mut found: Problems = (0..60).chain(0..10).map(problem).collect();
        assert_eq!((found.len(), found.total()), (50, 60));
        found.append((55..70).map(problem).collect());
        // the five that were among those counted are known again
        assert_eq!((found.len(), found.total()), (50, 70));
        let mut one = Problems::from(problem(0));
        one.append(found);
        assert_eq!((one.len(), one.total()), (50, 70));
    }
}
