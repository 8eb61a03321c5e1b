//! A checking walk: two looks after the list is made, at which one wrong label shows.
//!
//! The rule inside: the fewest walks give every core its own pattern, and one label mistyped is often another core's pattern, so the list
//! itself cannot show it. Neighbours in the list are joined two by two, at one end and then at the other, so that every core is joined to
//! another one each time; two cores in each other's place change what conducts at one look or at the other.

use serde::{Deserialize, Serialize};

use super::found::{Row, State};
use super::partition::Partition;

/// Fewest cores between which a wrong label can be seen by links.
const CORES_MIN: usize = 3;

/// What a checking walk came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Checked {
    /// Both looks were as the list says.
    AsListed,
    /// It was left out.
    LeftOut,
    /// A look was twice other than the list says: a label is wrong.
    Otherwise,
}

impl Checked {
    /// What is said of it.
    pub fn words(self) -> &'static str {
        match self {
            Checked::AsListed => "its checking walk was as listed at both ends",
            Checked::LeftOut => "no checking walk was made: one label mistyped would not show",
            Checked::Otherwise => {
                "ITS CHECKING WALK CONTRADICTS THE LIST: a label is wrong, or a core is not as listed; tell them apart anew"
            }
        }
    }
}

/// One look of the checking walk.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct CheckLook {
    /// Over the terminals of the end that was left.
    pub(super) joined: Partition,
    /// What must conduct where one stands.
    pub(super) conducts: Partition,
    /// The look after it, from the other end.
    pub(super) next: Option<Box<CheckLook>>,
    /// What was seen otherwise; it is looked at once more before it counts.
    pub(super) otherwise: Option<Partition>,
}

/// What is joined at one end, and what must then conduct at the other, by labels.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Check {
    /// Two by two, at the end where one stands.
    pub joined: Vec<[String; 2]>,
    /// Exactly these conduct at the other end.
    pub conducts: Vec<[String; 2]>,
}

/// The two looks: joined at the far end and looked at from the near one, then joined at the near end and looked at from the far one.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Checking {
    /// Joined at the far end.
    pub from_far: Check,
    /// Joined at the near end.
    pub from_near: Check,
}

/// The checking walk of a list; `None` for fewer than three cores that are known from end to end.
pub fn checking(rows: &[Row]) -> Option<Checking> {
    let known = rows
        .iter()
        .filter(|row| matches!(row.state, State::Conducts | State::ByElimination));
    let known: Vec<[&str; 2]> = known
        .filter_map(|row| match (row.near.as_slice(), row.far.as_slice()) {
            ([near], [far]) => Some([near.as_str(), far.as_str()]),
            _ => None,
        })
        .collect();
    if known.len() < CORES_MIN {
        return None;
    }
    let joined = |from: usize, end: usize| -> Vec<[String; 2]> {
        let pairs = known[from..].chunks_exact(2);
        pairs
            .map(|pair| [0, 1].map(|core: usize| pair[core][end].to_owned()))
            .collect()
    };
    Some(Checking {
        from_far: Check {
            joined: joined(0, 1),
            conducts: joined(0, 0),
        },
        from_near: Check {
            joined: joined(1, 0),
            conducts: joined(1, 1),
        },
    })
}

impl CheckLook {
    /// Whether it is looked at once more.
    pub(super) fn is_again(&self) -> bool {
        self.otherwise.is_some()
    }
}

impl Checking {
    /// What is said of it, a line each.
    pub fn words(&self) -> Vec<String> {
        let pairs = |pairs: &[[String; 2]]| {
            pairs
                .iter()
                .map(|[a, b]| format!("{a}-{b}"))
                .collect::<Vec<_>>()
                .join(" ")
        };
        let (far, near) = (&self.from_far, &self.from_near);
        vec![
            "One label mistyped can make another list that looks as good: nothing in these answers would show it."
                .into(),
            "A checking walk does, dead and with every core apart but these:".into(),
            format!(
                "  at the far end join {}: at the near end exactly {} conduct",
                pairs(&far.joined),
                pairs(&far.conducts)
            ),
            format!(
                "  at the near end join {}: at the far end exactly {} conduct",
                pairs(&near.joined),
                pairs(&near.conducts)
            ),
            "Anything else: a label is wrong; tell the cores apart again.".into(),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    fn rows(far: &[usize]) -> Vec<Row> {
        let row = |(near, far): (usize, &usize)| Row {
            near: vec![format!("n{near}")],
            far: vec![format!("f{far}")],
            state: State::Conducts,
            remark: None,
        };
        far.iter().enumerate().map(row).collect()
    }

    fn set(pairs: impl Iterator<Item = [String; 2]>) -> BTreeSet<BTreeSet<String>> {
        pairs.map(|pair| pair.into_iter().collect()).collect()
    }

    /// Whether both looks are as the list says on a cable whose core `n` really goes to `truth[n]`.
    fn passes(list: &Checking, truth: &[usize]) -> bool {
        let far = |near: &String| format!("f{}", truth[near[1..].parse::<usize>().unwrap()]);
        let near = |far: &String| {
            format!(
                "n{}",
                truth.iter().position(|there| format!("f{there}") == *far).unwrap()
            )
        };
        let seen = |check: &Check, of: &dyn Fn(&String) -> String| {
            let seen = set(check.joined.iter().map(|[a, b]| [of(a), of(b)]));
            seen == set(check.conducts.iter().cloned())
        };
        seen(&list.from_far, &near) && seen(&list.from_near, &far)
    }

    #[test]
    fn any_two_cores_in_each_others_place_are_noticed() {
        for cores in 3..=20 {
            let truth: Vec<usize> = (0..cores).map(|core| (core * 7 + 3) % cores).collect();
            // a multiple of seven makes no order of its own
            let truth = if cores % 7 == 0 {
                (0..cores).rev().collect()
            } else {
                truth
            };
            assert!(passes(&checking(&rows(&truth)).unwrap(), &truth), "{cores}");
            for a in 0..cores {
                for b in a + 1..cores {
                    let mut list = truth.clone();
                    list.swap(a, b);
                    assert!(
                        !passes(&checking(&rows(&list)).unwrap(), &truth),
                        "{cores}: {a} and {b}"
                    );
                }
            }
        }
    }

    #[test]
    fn it_is_said_in_labels() {
        let words = checking(&rows(&[2, 0, 1, 3])).unwrap().words();
        assert_eq!(
            words[2..4],
            [
                "  at the far end join f2-f0 f1-f3: at the near end exactly n0-n1 n2-n3 conduct",
                "  at the near end join n1-n2: at the far end exactly f0-f1 conduct",
            ]
        );
        assert_eq!(checking(&rows(&[0, 1])), None);
    }
}
