//! Labels: letters at the near end, numbers at the far end, and the word `earth` at both.
//!
//! The rule inside: a label belongs to one end only, so a slip between the ends is noticed.

use super::partition::Partition;
use crate::job::End;

/// The words for an end.
pub fn end(end: End) -> &'static str {
    match end {
        End::Near => "near",
        End::Far => "far",
    }
}

/// The label of a terminal: A, B, … at the near end, 1, 2, … at the far end, `earth` beyond the last core.
pub fn label(at: End, terminal: usize, cores: usize) -> String {
    match at {
        _ if terminal == cores => "earth".into(),
        End::Near => char::from(b'A' + u8::try_from(terminal).expect("at most 20 cores")).to_string(),
        End::Far => (terminal + 1).to_string(),
    }
}

/// The terminal of a label; letters in either case.
pub fn terminal(at: End, text: &str, cores: usize, earth: bool) -> Option<usize> {
    (0..cores + usize::from(earth)).find(|t| label(at, *t, cores).eq_ignore_ascii_case(text))
}

/// `A to E`, `1 to 5 and earth`.
pub fn labels(at: End, cores: usize, earth: bool) -> String {
    let tail = if earth { " and earth" } else { "" };
    format!("{} to {}{tail}", label(at, 0, cores), label(at, cores - 1, cores))
}

/// Labels joined by hyphens: `A-C-D`.
pub fn group(at: End, group: &[usize], cores: usize) -> String {
    group.iter().map(|t| label(at, *t, cores)).collect::<Vec<_>>().join("-")
}

/// The labels of each group of a partition.
pub fn group_labels(at: End, partition: &Partition, cores: usize) -> Vec<Vec<String>> {
    let labels = |group: Vec<usize>| group.iter().map(|t| label(at, *t, cores)).collect();
    partition.groups().into_iter().map(labels).collect()
}

/// The groups of a partition: `A-C, D-E`; `none` where everything is apart.
pub fn groups(at: End, partition: &Partition, cores: usize) -> String {
    let all: Vec<_> = partition.groups().iter().map(|g| group(at, g, cores)).collect();
    if all.is_empty() { "none".into() } else { all.join(", ") }
}
