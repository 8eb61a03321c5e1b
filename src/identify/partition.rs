//! Groups of terminals that conduct to each other.
//!
//! The rule inside: every terminal is in exactly one group, and a group is known by its lowest terminal, so two equal partitions
//! have equal bytes.

/// A partition of terminals `0..len`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Partition {
    head: Vec<usize>,
}

impl Partition {
    /// Every terminal by itself.
    pub fn apart(len: usize) -> Partition {
        Partition {
            head: (0..len).collect(),
        }
    }

    /// The terminals of each group joined, also through other groups.
    ///
    /// ```
    /// use coreproof::identify::partition::Partition;
    /// let joined = Partition::joined(5, &[vec![0, 1], vec![1, 3]]);
    /// assert_eq!(joined.groups(), [vec![0, 1, 3]]);
    /// ```
    pub fn joined(len: usize, groups: &[Vec<usize>]) -> Partition {
        let mut made = Partition::apart(len);
        for group in groups {
            for pair in group.windows(2) {
                made.join(pair[0], pair[1]);
            }
        }
        made
    }

    /// The partition whose groups have equal marks.
    pub fn by_marks<T: PartialEq>(marks: &[T]) -> Partition {
        let head = marks
            .iter()
            .map(|mark| marks.iter().position(|m| m == mark).expect("the mark is there"))
            .collect();
        Partition { head }
    }

    fn join(&mut self, a: usize, b: usize) {
        let (low, high) = (self.head[a].min(self.head[b]), self.head[a].max(self.head[b]));
        for head in &mut self.head {
            if *head == high {
                *head = low;
            }
        }
    }

    /// Joined where either joins.
    pub fn or(&self, other: &Partition) -> Partition {
        let mut made = self.clone();
        for (terminal, head) in other.head.iter().enumerate() {
            made.join(terminal, *head);
        }
        made
    }

    /// Joined where both join.
    pub fn and(&self, other: &Partition) -> Partition {
        let marks: Vec<_> = self.head.iter().zip(&other.head).collect();
        Partition::by_marks(&marks)
    }

    /// How many terminals there are.
    pub fn len(&self) -> usize {
        self.head.len()
    }

    /// Whether there are no terminals.
    pub fn is_empty(&self) -> bool {
        self.head.is_empty()
    }

    /// The lowest terminal of the terminal's group.
    pub fn head(&self, terminal: usize) -> usize {
        self.head[terminal]
    }

    /// Whether two terminals are in one group.
    pub fn same(&self, a: usize, b: usize) -> bool {
        self.head[a] == self.head[b]
    }

    /// How many terminals are in the terminal's group.
    pub fn size(&self, terminal: usize) -> usize {
        self.head.iter().filter(|h| **h == self.head[terminal]).count()
    }

    /// Whether no terminal conducts to another.
    pub fn is_apart(&self) -> bool {
        self.head.iter().enumerate().all(|(i, head)| i == *head)
    }

    /// The groups of two and more.
    pub fn groups(&self) -> Vec<Vec<usize>> {
        self.blocks().into_iter().filter(|g| 1 < g.len()).collect()
    }

    /// Every group, also those of one.
    pub fn blocks(&self) -> Vec<Vec<usize>> {
        let heads = (0..self.len()).filter(|i| self.head[*i] == *i);
        heads
            .map(|h| (0..self.len()).filter(|i| self.head[*i] == h).collect())
            .collect()
    }

    /// Two-terminal links needed to make it.
    pub fn links(&self) -> usize {
        self.groups().iter().map(|g| g.len() - 1).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn joining_and_meeting_agree_with_their_definitions() {
        let a = Partition::joined(6, &[vec![0, 1, 2], vec![4, 5]]);
        let b = Partition::joined(6, &[vec![1, 2, 3]]);
        assert_eq!(a.or(&b).groups(), [vec![0, 1, 2, 3], vec![4, 5]]);
        assert_eq!(a.and(&b).groups(), [vec![1, 2]]);
        assert_eq!((a.links(), a.size(1), a.size(3)), (3, 3, 1));
        assert!(Partition::apart(3).is_apart() && !a.is_apart());
        assert_eq!(Partition::by_marks(&[7, 8, 7]).groups(), [vec![0, 2]]);
    }
}
