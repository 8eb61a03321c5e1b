//! What can come of each step and where the walk can stand, from the tables of order.
//!
//! The rule inside: the graph is built from these, and afterwards checked against these: every outcome leads somewhere.

use std::collections::BTreeSet;

use super::graph::{Graph, Label, Node};
use super::later::Later;
use crate::plan::{
    Kind, Plan, Stage, Step, Then, Timing, answers_why, clipped_by, closing_needs, done_as_found, goes_back_to,
    is_dead_test, is_join, is_null, join_before, may_follow, proves_earth, proves_indicator, read_through, subtracts,
};

/// The name of the step that a step's time counts from.
pub(super) fn since(step: &Step) -> Option<&str> {
    match step.timing()? {
        Timing::Within { since, .. } | Timing::After { since, .. } => Some(since),
        Timing::Any => None,
    }
}

/// The steps that others speak of: what a time counts from, what a repair goes back to, what a condition asks.
pub(super) fn spoken_of(plan: &Plan) -> BTreeSet<&str> {
    let mut names = BTreeSet::new();
    for step in &plan.steps {
        names.extend(since(step));
        names.extend(goes_back_to(step));
        names.extend(step.only_if.iter().map(|condition| condition.step.as_str()));
    }
    names
}

/// Whether a step that did not pass lets the walk go on past it, in some place of the plan.
pub(super) fn may_be_left(step: &Step) -> bool {
    can_fail(step) && may_follow(step, &Then::Leave)
}

/// Whether a step can stand while the walk has gone back before it: the proof of isolation and what comes after energising are
/// repeated whole.
pub(super) fn may_stand(step: &Step) -> bool {
    match step.stage {
        Stage::Survey | Stage::FaultFinding => true,
        Stage::Isolate => !matches!(step.kind, Kind::Indicator { .. }),
        Stage::Disconnect | Stage::Test | Stage::Connect => step.kind != Kind::Gate,
        Stage::Live | Stage::HandOver => false,
    }
}

/// Nothing touched, each core, everything.
fn touches(cores: usize, of: [Label; 2], core: fn(u16) -> Label) -> impl Iterator<Item = Label> {
    let [nothing, everything] = of;
    let each = (0..cores as u16).map(core);
    std::iter::once(nothing).chain(each).chain(std::iter::once(everything))
}

/// What a repair may have touched.
pub(super) fn repairs(cores: usize) -> impl Iterator<Item = Label> {
    let of = [Label::RepairedNothing, Label::RepairedEverything];
    touches(cores, of, Label::RepairedCore)
}

/// What may have been touched in a break.
pub(super) fn resumptions(cores: usize) -> impl Iterator<Item = Label> {
    let of = [Label::ResumedNothing, Label::ResumedEverything];
    touches(cores, of, Label::ResumedCore)
}

/// What can come of doing a step.
pub(super) fn outcomes(plan: &Plan, clipped: &[Option<usize>], i: usize) -> Vec<Label> {
    let step = &plan.steps[i];
    let mut labels = vec![Label::Pass];
    match step.kind {
        Kind::Gate => {}
        Kind::Do => labels.push(Label::Untested),
        Kind::Note { reason: Some(_), .. } => labels.push(Label::Untested),
        Kind::Note { .. } => labels.push(Label::NotNeeded),
        Kind::Look(_) | Kind::Indicator { .. } | Kind::Connect { .. } | Kind::Measure(_) => {
            labels.extend([Label::Fail, Label::Untested]);
        }
    }
    if (!step.only_if.is_empty() || step.any_order.is_some()) && !labels.contains(&Label::NotNeeded) {
        labels.push(Label::NotNeeded);
    }
    if is_dead_test(step) {
        labels.push(Label::LiveSeen);
        if !is_null(step) && subtracts(step).is_some() {
            labels.push(Label::LeadsChanged);
        }
    }
    labels.extend(join_before(plan, clipped, i).map(|_| Label::ClipUnread));
    labels
}

/// Whether a step can end without a pass, so that a decision is due.
pub(super) fn can_fail(step: &Step) -> bool {
    answers_why(step) || !matches!(step.kind, Kind::Gate | Kind::Note { .. })
}

/// The repair that may follow a step at once; what was found by eye waits until dead is proved.
pub(super) fn repair(step: &Step) -> Option<&Then> {
    let mut repairs = step.after_failure.iter().filter(|then| matches!(then, Then::Repair(_)));
    repairs.find(|then| may_follow(step, then) && !done_as_found(step))
}

/// Where hands go to what these steps found by eye: once isolation is proved, and where such a step that was left is in the way later.
pub(super) fn repairs_due(plan: &Plan, later: &Later, found: &BTreeSet<usize>) -> BTreeSet<usize> {
    let isolated = plan.after_isolation().filter(|_| !found.is_empty());
    let blocked = found.iter().filter_map(|&i| blocks(plan, later, i));
    let due = isolated.into_iter().chain(blocked);
    due.filter(|at| *at < plan.steps.len()).collect()
}

/// The use of the indicator that one which does not light makes void first; or where the clip on the earth core does not read, the
/// reading through it with which the insulation that was measured meanwhile begins again.
pub(super) fn first_used(plan: &Plan, step: usize) -> Option<usize> {
    if is_join(&plan.steps[step]) {
        let clipped = clipped_by(plan);
        let first = *read_through(plan, &clipped, step).first()?;
        return Some(join_before(plan, &clipped, first).unwrap_or(first));
    }
    if !proves_indicator(&plan.steps[step]) {
        return None;
    }
    let mut before = plan.steps[..step].iter();
    before.position(|s| matches!(s.kind, Kind::Indicator { .. }) && !proves_earth(s))
}

/// Where a step that was left is gone back to from: the first that waits for it, or the end where the supply may be on there.
pub(super) fn blocks(plan: &Plan, later: &Later, step: usize) -> Option<usize> {
    let can_be_left = may_be_left(&plan.steps[step]) && !later.binds(step);
    let at_end = later.switches_on() && closing_needs(&plan.steps[step], true);
    let end = at_end.then_some(plan.steps.len());
    later.needer(step).or(end).filter(|_| can_be_left)
}

/// What must lead on from each node: each outcome that a person or the world can bring about there.
pub(super) struct Expected<'a> {
    plan: &'a Plan,
    graph: &'a Graph,
    later: Later,
    /// How many steps can be gone back to from each step, and from the end.
    blocked: Vec<usize>,
    surveys: bool,
    /// For each step the one that clipped the earth core, where the clip is on.
    clipped: Vec<Option<usize>>,
    /// The first step of the proof of isolation.
    isolates: Option<usize>,
    /// Steps at which eyes find what is repaired once dead is proved, and where the walk has come to by then.
    found: BTreeSet<usize>,
    due: BTreeSet<usize>,
}

impl<'a> Expected<'a> {
    pub(super) fn of(plan: &'a Plan, graph: &'a Graph) -> Expected<'a> {
        let later = Later::of(plan);
        let mut blocked = vec![0; plan.steps.len() + 1];
        for at in (0..plan.steps.len()).filter_map(|i| blocks(plan, &later, i)) {
            blocked[at] += 1;
        }
        let surveys = plan.steps.iter().any(done_as_found);
        let isolates = plan.steps.iter().position(|step| step.stage == Stage::Isolate);
        let found = plan.repaired_once_dead();
        Expected {
            due: repairs_due(plan, &later, &found),
            found,
            plan,
            graph,
            later,
            blocked,
            surveys,
            clipped: clipped_by(plan),
            isolates,
        }
    }

    pub(super) fn at(&self, node: usize) -> Vec<Label> {
        let cores = self.graph.facts.cores();
        let ends = [Label::BrokenOff, Label::Abandoned];
        match self.graph.nodes[node] {
            Node::Start => vec![Label::Begin],
            Node::At(i) => self.come_to(i),
            Node::Doing(i) if self.plan.steps[i].kind == Kind::Gate => vec![Label::Pass],
            Node::Doing(i) => [outcomes(self.plan, &self.clipped, i).as_slice(), &ends].concat(),
            Node::Deciding(i) if can_fail(&self.plan.steps[i]) => self.decide(i),
            Node::Repairing if self.found.is_empty() => Vec::new(),
            Node::Repairing => self.found.iter().flat_map(|_| repairs(cores)).chain(ends).collect(),
            Node::Break if self.surveys => resumptions(cores).chain(resumptions(cores)).collect(),
            Node::Break => resumptions(cores).collect(),
            Node::Abandoning => vec![Label::IsOff, Label::IsOn],
            Node::MakingSafe => vec![Label::MadeSafe],
            Node::Last => {
                let mut labels = vec![Label::Blocked; self.blocked[self.plan.steps.len()]];
                labels.push(Label::Closed);
                labels.extend(ends);
                labels
            }
            Node::Deciding(_) | Node::Completed | Node::AbandonedClosed => Vec::new(),
        }
    }

    fn come_to(&self, i: usize) -> Vec<Label> {
        let step = &self.plan.steps[i];
        let mut labels = vec![Label::Blocked; self.blocked[i]];
        labels.extend([Label::LetThrough, Label::BrokenOff, Label::Abandoned]);
        if may_stand(step) {
            labels.push(Label::Stands);
            if (may_be_left(step) || self.found.contains(&i)) && !self.later.binds(i) {
                labels.push(Label::StillLeft);
            }
        }
        if self.surveys && self.isolates == Some(i) {
            labels.push(Label::Stands);
        }
        labels.extend(self.due.contains(&i).then_some(Label::RepairDue));
        labels
    }

    fn decide(&self, i: usize) -> Vec<Label> {
        let step = &self.plan.steps[i];
        let mut labels = vec![Label::BrokenOff, Label::Abandoned];
        // a clip that does not bite leads back to what was measured through it, one that was not read does not
        let ways = 1 + usize::from(!read_through(self.plan, &self.clipped, i).is_empty());
        for _ in 0..ways {
            labels.extend(may_follow(step, &Then::Again).then_some(Label::Again));
            let repairs = repair(step).map(|_| repairs(self.graph.facts.cores()));
            labels.extend(repairs.into_iter().flatten());
        }
        labels.extend(self.found.contains(&i).then_some(Label::Noted));
        if may_be_left(step) {
            labels.push(Label::Left);
            labels.extend(first_used(self.plan, i).map(|_| Label::Left));
        }
        labels
    }
}
