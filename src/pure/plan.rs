//! The plan: concrete steps in order, with every window worked out and its sources.
//!
//! The rule inside: a step tells hands what to do only through [`Act`]s and probe [`Point`]s, so that a person, a model of
//! the wiring and the record all mean the same thing by it.

use std::fmt;

use serde::Serialize;

use super::job::instrument::Use;
use super::job::{End, Job, Purpose};
use super::limits::Basis;
use super::located::Text;
use super::quantity::Amount;
use super::window::Window;

/// The stages of a proof, in the only order they may be walked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, serde::Deserialize)]
pub enum Stage {
    Isolate,
    Disconnect,
    Test,
    Connect,
    Live,
}

impl Stage {
    /// The heading of the stage.
    pub fn words(self) -> &'static str {
        match self {
            Stage::Isolate => "isolate and prove dead",
            Stage::Disconnect => "disconnect",
            Stage::Test => "dead tests",
            Stage::Connect => "connect",
            Stage::Live => "live tests",
        }
    }

    /// The caution shown with every step of the stage.
    pub fn caution(self) -> &'static str {
        match self {
            Stage::Isolate => {
                "Treat every conductor as live until it is proved dead. Two-pole voltage indicator only. Local codes come first."
            }
            Stage::Disconnect => {
                "Lock still on, key still with you? If you left the work, prove dead again. Local codes come first."
            }
            Stage::Test => "The insulation test puts up to 500 V d.c. on the cores: nobody at either end touches them.",
            Stage::Connect => "Still isolated: lock on, key with you. A colour is never proof of what a core is.",
            Stage::Live => {
                "LIVE. Competent, licensed persons only; GS38 probes, one hand where you can, nobody else at open terminals."
            }
        }
    }
}

/// Where a probe goes.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub enum Point {
    Core {
        core: String,
        end: End,
    },
    Terminal {
        terminal: String,
        end: End,
    },
    /// All live cores, joined together at the near end.
    JoinedCores,
    /// The supply that stays live, for proving the indicator.
    KnownSource,
    /// One tip of the instrument's own leads, for measuring the leads.
    Tip,
}

impl Point {
    /// The point in the words of a prompt.
    pub fn words(&self, job: &Job) -> String {
        match self {
            Point::Core { core, end } => format!("core {core} at the {}", job.end(*end).name),
            Point::Terminal { terminal, end } => format!("terminal {terminal} at the {}", job.end(*end).name),
            Point::JoinedCores => format!("the joined cores at the {}", job.near.name),
            Point::KnownSource => job.supply.known_source.clone(),
            Point::Tip => "the other tip".into(),
        }
    }
}

/// A pair of probes; the first goes on first.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Probes {
    pub first: Point,
    pub second: Point,
}

/// What hands do to the wiring.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub enum Act {
    SwitchOff,
    LockOff,
    KeepKey,
    PostNotice,
    Disconnect(End),
    TakeOutElectronics,
    GuardFarEnd,
    LinkToEarth(String),
    RemoveLink(String),
    RemoveEveryLink,
    JoinLiveCores,
    PartLiveCores,
    Discharge,
    Connect {
        core: String,
        end: End,
    },
    Energise,
    Call,
    /// The call ended, every other call off.
    Satisfy,
    MakeSafe,
}

/// When the reading of a step counts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub enum Timing {
    Any,
    /// The reading must come within this time of the named step being done.
    Within {
        since: String,
        limit: Amount,
        basis: Basis,
    },
    /// The reading counts only after this time since the named step was done.
    After {
        since: String,
        wait: Amount,
        basis: Basis,
    },
}

/// The window of a measurement, or how it comes about during the run.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub enum WindowRule {
    Fixed(Window),
    /// The cable's length is not known: the value must agree with that of the first core measured.
    Like {
        first: String,
        within: Amount,
        basis: Basis,
    },
}

/// A measurement.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Measure {
    pub probes: Probes,
    pub used: Use,
    pub window: WindowRule,
    /// This step measures the leads themselves.
    pub is_null: bool,
    /// The lead resistance is subtracted.
    pub subtract_null: bool,
    pub timing: Timing,
    /// The greatest input resistance with which a reading here can pass.
    pub input_max: Option<(Amount, Basis)>,
}

/// What is asked at a step.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub enum Kind {
    /// An act is done and said to be done.
    Do,
    /// The indicator is lit or dark between two points.
    Indicator {
        probes: Probes,
        lit: bool,
    },
    /// A core goes into a terminal whose purpose is read from its marking.
    Connect {
        core: String,
        end: End,
        terminal: String,
        carries: Purpose,
    },
    Measure(Box<Measure>),
    /// Everything before it has passed.
    Gate,
}

/// One concrete step.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Step {
    /// Unique, made of the sequence's name for it and what it is about: `continuity/brown`.
    pub id: String,
    /// Line of the sequence file it comes from.
    pub line: usize,
    pub stage: Stage,
    pub say: String,
    pub caution: Option<String>,
    pub acts: Vec<Act>,
    pub kind: Kind,
    /// Cores whose repair voids this step's result.
    pub cores: Vec<String>,
}

/// A sequence bound to a job.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    pub name: String,
    pub title: String,
    pub sequence: Text,
    pub job: Job,
    pub steps: Vec<Step>,
    /// What the plan cannot show and why, in words; printed on the certificate.
    pub limitations: Vec<String>,
    /// Kinds of fault that the sequence promises to find, and the faults it excepts with the reason.
    pub promises: Vec<String>,
    pub exceptions: Vec<(String, String)>,
}

impl Plan {
    /// A step's place in the plan.
    pub fn index(&self, id: &str) -> Option<usize> {
        self.steps.iter().position(|step| step.id == id)
    }
}

impl Stage {
    /// The caution in a few words, repeated with every step; the whole of it stands at the head of the stage.
    pub fn caution_short(self) -> &'static str {
        match self {
            Stage::Isolate => "live until proved dead; two-pole indicator only",
            Stage::Disconnect => "lock on, key with you; if you left, prove dead again",
            Stage::Test => "test voltage on the cores: nobody touches them",
            Stage::Connect => "lock on; a colour is never proof",
            Stage::Live => "LIVE: licensed persons, GS38 probes, nobody else near",
        }
    }
}

impl fmt::Display for Stage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.words())
    }
}
