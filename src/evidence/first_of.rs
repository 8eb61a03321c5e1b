//! The first of many things that are told, and how many more there were.
//!
//! The rule inside: what is told of an archive takes no more room the more records it holds; what is not kept is counted.

/// The most that is kept of one kind.
pub const KEPT_MAX: usize = 1000;

/// The first [`KEPT_MAX`] of them, in the order in which they came.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FirstOf<T> {
    first: Vec<T>,
    more: u64,
}

impl<T> Default for FirstOf<T> {
    fn default() -> FirstOf<T> {
        FirstOf {
            first: Vec::new(),
            more: 0,
        }
    }
}

impl<T> FirstOf<T> {
    /// One more.
    pub fn push(&mut self, one: T) {
        if self.first.len() < KEPT_MAX {
            self.first.push(one);
        } else {
            self.more += 1;
        }
    }

    /// Those that are kept.
    pub fn first(&self) -> &[T] {
        &self.first
    }

    /// How many came after them.
    pub fn more(&self) -> u64 {
        self.more
    }

    /// How many there were.
    pub fn total(&self) -> u64 {
        self.first.len() as u64 + self.more
    }
}

impl<T> Extend<T> for FirstOf<T> {
    fn extend<I: IntoIterator<Item = T>>(&mut self, all: I) {
        all.into_iter().for_each(|one| self.push(one));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_thousand_are_kept_and_the_others_counted() {
        let mut kept = FirstOf::default();
        kept.extend(0..KEPT_MAX);
        assert_eq!((kept.first().len(), kept.more(), kept.total()), (1000, 0, 1000));
        kept.extend(0..5);
        assert_eq!((kept.first().len(), kept.more(), kept.total()), (1000, 5, 1005));
        assert_eq!(kept.first().last(), Some(&999));
    }
}
