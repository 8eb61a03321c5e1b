//! What came of it: which core is which, what is broken or in contact, and what was never seen to conduct.
//!
//! The rule inside: a pair is called seen only where it is certain and was measured; everything else says what it is.

use serde::{Deserialize, Serialize};

use super::consistent::Known;
use super::evidence::Evidence;
use super::words;
use crate::job::End;
use crate::value::reading::Reading;

/// How a line of the list is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum State {
    /// It was seen to conduct from end to end.
    Conducts,
    /// It is the one that is left.
    ByElimination,
    /// It touches another core.
    InContact,
    /// It was never seen to conduct.
    Broken,
    /// The looks leave several possibilities.
    NotTold,
}

impl State {
    /// The words of the list.
    pub fn words(self) -> &'static str {
        match self {
            State::Conducts => "seen to conduct",
            State::ByElimination => "by elimination: not seen to conduct",
            State::InContact => {
                "IN CONTACT inside the cable: which is which cannot be told until the contact is cleared"
            }
            State::Broken => "BROKEN: conducts to nothing at the other end",
            State::NotTold => "NOT TOLD APART",
        }
    }
}

/// One line of the list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Row {
    /// Labels at the near end.
    pub near: Vec<String>,
    /// Labels at the far end.
    pub far: Vec<String>,
    /// How it is known.
    pub state: State,
    /// What is to be known beside it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub remark: Option<String>,
}

impl Row {
    /// `A = 3`.
    pub fn name(&self) -> String {
        let side = |labels: &[String]| {
            if labels.is_empty() {
                "?".to_owned()
            } else {
                labels.join("+")
            }
        };
        format!("{} = {}", side(&self.near), side(&self.far))
    }
}

/// One look as it goes into the record.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Step {
    /// Walks before it.
    pub walks: usize,
    /// The end that was looked at: `near` or `far`.
    pub at: &'static str,
    /// What was joined at the other end.
    pub joined: String,
    /// What was typed.
    pub typed: String,
    /// What it was understood as.
    pub read_as: String,
    /// Readings of a meter that this look rests on.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub readings: Vec<Measured>,
}

/// A reading of a meter between two terminals.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Measured {
    /// The two, by their labels.
    pub between: String,
    /// The reading with its bytes.
    pub reading: Reading,
}

/// The whole result.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Found {
    /// How many cores.
    pub cores: usize,
    /// Walks taken until this was known, without the look at the parted far end.
    pub walks: usize,
    /// One line a core or a group of cores in contact.
    pub rows: Vec<Row>,
    /// Whether no broken core can touch another beyond its break.
    pub far_end_seen_parted: bool,
    /// What is to be known beside them.
    pub remarks: Vec<String>,
    /// Every look, in the order in which they were made.
    pub steps: Vec<Step>,
}

impl Found {
    /// Whether every core is known and was seen to conduct, and nothing touches.
    pub fn is_sound(&self) -> bool {
        self.far_end_seen_parted && self.rows.iter().all(|r| r.state == State::Conducts)
    }
}

struct Rows<'a> {
    evidence: &'a Evidence,
    rows: Vec<Row>,
}

impl Rows<'_> {
    fn labels(&self, at: End, group: &[usize]) -> Vec<String> {
        group
            .iter()
            .map(|t| words::label(at, *t, self.evidence.cores))
            .collect()
    }

    fn push(&mut self, near: &[usize], far: &[usize], state: State, remark: Option<&str>) {
        let row = Row {
            near: self.labels(End::Near, near),
            far: self.labels(End::Far, far),
            state,
            remark: remark.map(Into::into),
        };
        self.rows.push(row);
    }

    /// What conducts to nothing at the other end.
    fn dead(&mut self, known: &Known, dead_near: &[usize], dead_far: &[usize]) {
        if let ([near], [far]) = (dead_near, dead_far)
            && all_others_told(known, *far)
            && known.near[*near].len() + known.far[*far].len() == 2
        {
            let remark = "the two ends of one core, by elimination";
            self.push(&known.near[*near], &known.far[*far], State::Broken, Some(remark));
        } else {
            for (groups, at) in [(dead_near, End::Near), (dead_far, End::Far)] {
                for g in groups {
                    let group = if at == End::Near {
                        &known.near[*g]
                    } else {
                        &known.far[*g]
                    };
                    let remark = (1 < group.len()).then_some("and in contact with each other at this end");
                    match at {
                        End::Near => self.push(group, &[], State::Broken, remark),
                        End::Far => self.push(&[], group, State::Broken, remark),
                    }
                }
            }
        }
    }
}

/// Whether every other core is told from end to end: only then does elimination hold, for a contact can hide that two are broken.
fn all_others_told(known: &Known, far: usize) -> bool {
    let single = |g: usize| {
        known
            .certain(g)
            .is_some_and(|v| known.near[v].len() + known.far[g].len() == 2)
    };
    (0..known.far.len()).all(|g| g == far || single(g))
}

/// The list, near labels in order.
pub fn rows(evidence: &Evidence, known: &Known) -> Vec<Row> {
    let mut rows = Rows {
        evidence,
        rows: Vec::new(),
    };
    let earth = |group: &[usize]| evidence.earth && group == [evidence.cores];
    let (mut open_near, mut open_far) = (Vec::new(), Vec::new());
    let (mut dead_near, mut dead_far): (Vec<usize>, Vec<usize>) = (Vec::new(), Vec::new());
    let mut placed = Vec::new();
    for (f, far) in known.far.iter().enumerate() {
        let by_elimination = known.by_elimination(f).filter(|_| all_others_told(known, f));
        match known.certain(f).or(by_elimination) {
            Some(v) => {
                placed.push(v);
                let near = &known.near[v];
                if earth(near) && earth(far) {
                    continue;
                }
                let state = match (near.len() + far.len(), by_elimination) {
                    (3.., _) => State::InContact,
                    (_, Some(_)) => State::ByElimination,
                    (_, None) => State::Conducts,
                };
                let uneven = (near.len() != far.len()).then_some("a core among these is broken as well");
                rows.push(near, far, state, uneven);
            }
            None if known.may[f] == 0 => dead_far.push(f),
            None => open_far.push(f),
        }
    }
    for v in 0..known.near.len() {
        if !placed.contains(&v) {
            if known.far_of(v).is_empty() {
                dead_near.push(v);
            } else {
                open_near.push(v);
            }
        }
    }
    rows.dead(known, &dead_near, &dead_far);
    if !open_near.is_empty() || !open_far.is_empty() {
        let near: Vec<usize> = open_near.iter().flat_map(|v| known.near[*v].clone()).collect();
        let far: Vec<usize> = open_far.iter().flat_map(|f| known.far[*f].clone()).collect();
        rows.push(&near, &far, State::NotTold, None);
    }
    let mut rows = rows.rows;
    let key = |row: &Row| {
        (
            row.near.is_empty(),
            row.near.first().cloned(),
            row.far.first().map(|f| (f.len(), f.clone())),
        )
    };
    rows.sort_by_key(key);
    rows
}

/// The `cores` of a job. What was not found out is `?`, which `coreproof check` refuses at its place.
pub fn job_cores(rows: &[Row]) -> String {
    let mut text = String::from("cores: [\n");
    for row in rows {
        match (row.state, &row.near[..], &row.far[..]) {
            (State::Conducts | State::ByElimination, [near], [far]) => {
                let remark = if row.state == State::ByElimination {
                    "  // by elimination: not seen to conduct"
                } else {
                    ""
                };
                text.push_str(&format!(
                    "    (name: \"{near}-{far}\", size: \"?\", carries: ?, near: \"?\", far: \"?\"),{remark}\n"
                ));
            }
            _ => text.push_str(&format!("    // {}: {}\n", row.name(), row.state.words())),
        }
    }
    text + "],\n"
}
