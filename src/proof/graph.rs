//! The control-flow graph of a plan: what can happen at each step, where it leads, and what it makes of the facts.
//!
//! The rule inside: a step has three nodes: it is come to, it is done once its gate has let through, and it waits for a decision
//! when it did not pass. The graph is built from the tables of order alone (see [`super::build`]).

use super::evidence::Evidence;
use super::facts::Facts;
use super::flow::Flow;
use crate::job::Job;

/// What an edge stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Label {
    /// The run is opened.
    Begin,
    /// The gate of a step lets through: what it needs has passed, links and joints are as it expects.
    LetThrough,
    /// The walk went back, and this step still stands as passed.
    Stands,
    /// The walk went back, and this step is still left as it was.
    StillLeft,
    /// An earlier step has not passed and is gone back to.
    Blocked,
    /// The step passed.
    Pass,
    /// The step failed.
    Fail,
    /// The step came to nothing that counts: it was not done, or not with what its standard accepts.
    Untested,
    /// Its condition does not hold.
    NotNeeded,
    /// A voltage was seen where everything had been proved dead.
    LiveSeen,
    /// Other leads are in use: the walk goes back to where leads are measured.
    LeadsChanged,
    /// The clip on the earth core was put on anew: it is read through before anything rests on it.
    ClipUnread,
    /// The step is done again.
    Again,
    /// Repaired, with nothing, one core (by its number) or everything touched.
    RepairedNothing,
    /// One core was touched.
    RepairedCore(u16),
    /// Everything may have been touched.
    RepairedEverything,
    /// The step is left without a pass, with a reason.
    Left,
    /// What eyes found as the place was found is noted, to be repaired once dead is proved.
    Noted,
    /// Dead is proved, and what was noted is repaired.
    RepairDue,
    /// A break or a crash.
    BrokenOff,
    /// Work goes on after a break, in which nothing was touched.
    ResumedNothing,
    /// One core was touched meanwhile.
    ResumedCore(u16),
    /// Anything may have been touched meanwhile.
    ResumedEverything,
    /// The run is given up.
    Abandoned,
    /// Abandoned while nothing is left on.
    IsOff,
    /// Abandoned while the supply may be on.
    IsOn,
    /// The supply is off and locked off again.
    MadeSafe,
    /// The run is closed.
    Closed,
}

/// What a node stands for; steps are counted from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Node {
    /// Before the first step.
    Start,
    /// The walk has come to a step.
    At(usize),
    /// The step is being done.
    Doing(usize),
    /// It did not pass and a decision is due.
    Deciding(usize),
    /// Nothing is left to do.
    Last,
    /// Hands repair what was found by eye.
    Repairing,
    /// Closed with every step decided.
    Completed,
    /// The run is broken off; somebody may go on with it.
    Break,
    /// The run is being given up.
    Abandoning,
    /// The supply may be on and is being made safe.
    MakingSafe,
    /// Closed as abandoned.
    AbandonedClosed,
}

/// The numbers of nodes, from the number of steps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Numbers {
    pub(super) steps: usize,
}

impl Numbers {
    /// The node of [`Node::At`], or of [`Node::Last`] after the last step.
    pub fn at(self, step: usize) -> usize {
        1 + 3 * step
    }

    /// The node of [`Node::Doing`].
    pub fn doing(self, step: usize) -> usize {
        2 + 3 * step
    }

    /// The node of [`Node::Deciding`].
    pub fn deciding(self, step: usize) -> usize {
        3 + 3 * step
    }

    pub(super) fn last(self) -> usize {
        self.at(self.steps)
    }

    /// The node of [`Node::Repairing`].
    pub fn repairing(self) -> usize {
        self.last() + 1
    }

    pub(super) fn completed(self) -> usize {
        self.last() + 2
    }

    pub(super) fn pause(self) -> usize {
        self.last() + 3
    }

    pub(super) fn abandoning(self) -> usize {
        self.last() + 4
    }

    pub(super) fn making_safe(self) -> usize {
        self.last() + 5
    }

    pub(super) fn abandoned(self) -> usize {
        self.last() + 6
    }

    pub(super) fn count(self) -> usize {
        self.last() + 7
    }
}

/// The graph with the meaning of its nodes and edges.
#[derive(Debug, Clone)]
pub struct Graph {
    /// The nodes and edges as numbers, to be solved.
    pub flow: Flow,
    /// The facts that its effects speak of.
    pub facts: Facts,
    /// The meaning of each node.
    pub nodes: Vec<Node>,
    /// The meaning of each edge of `flow`, in the same order.
    pub labels: Vec<Label>,
    /// Where each node is among `nodes`.
    pub numbers: Numbers,
    /// What the model says of every step.
    pub evidence: Evidence,
}

impl Graph {
    pub(super) fn new(facts: Facts, flow: Flow, labels: Vec<Label>, numbers: Numbers, evidence: Evidence) -> Graph {
        let mut nodes = vec![Node::Start];
        nodes.extend((0..numbers.steps).flat_map(|i| [Node::At(i), Node::Doing(i), Node::Deciding(i)]));
        nodes.extend([
            Node::Last,
            Node::Repairing,
            Node::Completed,
            Node::Break,
            Node::Abandoning,
            Node::MakingSafe,
            Node::AbandonedClosed,
        ]);
        Graph {
            flow,
            facts,
            nodes,
            labels,
            numbers,
            evidence,
        }
    }

    /// The same graph without one edge.
    pub fn without(&self, edge: usize) -> Graph {
        let mut graph = self.clone();
        graph.flow = self.flow.without(edge);
        graph.labels.remove(edge);
        graph
    }
}

/// The words of an outcome.
pub(super) fn label_words(label: Label, job: &Job) -> String {
    let core = |i: u16| job.cores[usize::from(i)].name.as_str();
    match label {
        Label::Begin => "begin".into(),
        Label::LetThrough => "let through".into(),
        Label::Stands => "still stands".into(),
        Label::StillLeft => "still left".into(),
        Label::Blocked => "blocked, back".into(),
        Label::Pass => "pass".into(),
        Label::Fail => "fail".into(),
        Label::Untested => "untested".into(),
        Label::NotNeeded => "not needed".into(),
        Label::LiveSeen => "a voltage is seen".into(),
        Label::ClipUnread => "the clip is on anew, it is read through again".into(),
        Label::LeadsChanged => "leads changed".into(),
        Label::Again => "again".into(),
        Label::RepairedNothing => "repaired, no core touched".into(),
        Label::RepairedCore(c) => format!("repaired, core {} touched", core(c)),
        Label::RepairedEverything => "repaired, everything touched".into(),
        Label::Left => "left".into(),
        Label::Noted => "noted, to be repaired once it is dead".into(),
        Label::RepairDue => "what was found by eye is repaired".into(),
        Label::BrokenOff => "a break".into(),
        Label::ResumedNothing => "resumed, no core touched".into(),
        Label::ResumedCore(c) => format!("resumed, core {} touched", core(c)),
        Label::ResumedEverything => "resumed, everything touched".into(),
        Label::Abandoned => "abandoned".into(),
        Label::IsOff => "nothing is on".into(),
        Label::IsOn => "the supply may be on".into(),
        Label::MadeSafe => "made safe".into(),
        Label::Closed => "closed".into(),
    }
}
