//! The plan: concrete steps in order, with every window worked out and its sources.
//!
//! The rule inside: a step tells hands what to do only through [`Act`]s and probe [`Point`](super::Point)s, so that a person, a model of
//! the wiring and the record all mean the same thing by it.

use std::fmt;
use std::ops::Range;

use serde::Serialize;

use super::act::Act;
use super::point::{Leads, Probes};
use super::reason::Reason;
use super::solved::Solved;
use crate::job::instrument::Use;
use crate::job::{End, Job, Purpose};
use crate::judge::window::Window;
use crate::limits::Basis;
use crate::located::Text;
use crate::value::quantity::Amount;

/// The stages of a proof, in the only order they may be walked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, serde::Deserialize)]
pub enum Stage {
    /// Looking and reading as the place was found, before anything is switched off.
    Survey,
    /// Reading live, on the supply as it was found on, where a fault must be; nothing rests on it.
    FaultFinding,
    /// Switching off, locking off, and proving dead.
    Isolate,
    /// Cores come out of their terminals.
    Disconnect,
    /// Measurements on a dead, disconnected cable.
    Test,
    /// Cores go into their terminals.
    Connect,
    /// Energising, and what is measured with the supply on.
    Live,
    /// Labels, and what the user is shown.
    HandOver,
}

impl Stage {
    /// Every stage, in order.
    pub const ALL: [Stage; 8] = [
        Stage::Survey,
        Stage::FaultFinding,
        Stage::Isolate,
        Stage::Disconnect,
        Stage::Test,
        Stage::Connect,
        Stage::Live,
        Stage::HandOver,
    ];

    /// The heading of the stage.
    pub fn words(self) -> &'static str {
        match self {
            Stage::Survey => "as found",
            Stage::FaultFinding => "live fault-finding, as found",
            Stage::Isolate => "isolate and prove dead",
            Stage::Disconnect => "disconnect",
            Stage::Test => "dead tests",
            Stage::Connect => "connect",
            Stage::Live => "live tests",
            Stage::HandOver => "hand over",
        }
    }

    /// The caution shown with every step of the stage.
    pub fn caution(self) -> &'static str {
        match self {
            Stage::Survey => {
                "LIVE, and as somebody else left it. Competent, licensed persons only; GS38 probes, touch nothing else. Local codes come first."
            }
            Stage::FaultFinding => {
                "LIVE, and as somebody else left it. Readings only: uncover no more than is read, cover it again, hands on nothing else. Competent, licensed persons only; GS38 probes. Local codes come first."
            }
            Stage::Isolate => {
                "Treat every conductor as live until it is proved dead. Two-pole voltage indicator only. Local codes come first."
            }
            Stage::Disconnect => {
                "Lock still on, key still with you? If you left the work, prove dead again. Local codes come first."
            }
            Stage::Test => {
                "The insulation test puts up to 500 V d.c. on the cores: nobody at either end touches them while it is on, and hands go to them once the tester's own voltage display is at zero."
            }
            Stage::Connect => "Still isolated: lock on, key with you. A colour is never proof of what a core is.",
            Stage::Live => {
                "LIVE. Competent, licensed persons only; GS38 probes, one hand where you can, nobody else at open terminals."
            }
            Stage::HandOver => {
                "Covers on before anybody is shown anything. The supply is on: what is covered stays covered."
            }
        }
    }
}

/// When the reading of a step counts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub enum Timing {
    /// Whenever it comes.
    Any,
    /// The reading must come within this time of the named step being done.
    Within {
        /// The step whose being done starts the time.
        since: String,
        /// The longest it may take, in seconds.
        limit: Amount,
        /// Where that time comes from.
        basis: Basis,
    },
    /// The reading counts only after this time since the named step was done.
    After {
        /// The step whose being done starts the time.
        since: String,
        /// How long is waited, in seconds.
        wait: Amount,
        /// Where that time comes from.
        basis: Basis,
    },
}

/// The window of a measurement, or how it comes about during the run.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub enum WindowRule {
    /// Known before the run.
    Fixed(Window),
    /// The cable's length is not known: the value must agree with that of the first core measured.
    Like {
        /// The step that measured the first core.
        first: String,
        /// How far from its value this one may be, either way.
        within: Amount,
        /// Where that difference comes from.
        basis: Basis,
    },
    /// The same, read between two cores: each core is solved, the return core too.
    Solved(Box<Solved>),
}

/// A measurement.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Measure {
    /// Where the probes go.
    pub probes: Probes,
    /// With which instrument, and how it is set.
    pub used: Use,
    /// What passes.
    pub window: WindowRule,
    /// This step measures the leads themselves.
    pub is_null: bool,
    /// This step reads through the clip that joins the earth core to the earth of the building.
    pub is_join: bool,
    /// The lead resistance is subtracted.
    pub subtract_null: bool,
    /// It reads the cable through leads that the tester has nulled: nothing is subtracted, and it counts only once they were seen so.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub nulled: bool,
    /// It shows an open circuit, which counts only once the leads were seen closed.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub leads_seen: bool,
    /// When the reading counts.
    pub timing: Timing,
    /// The greatest input resistance with which a reading here can pass.
    pub input_max: Option<(Amount, Basis)>,
    /// The reading of the supply that this voltage at a load is told beside.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fed_from: Option<FedFrom>,
}

impl Measure {
    /// Whether it reads ohms of the cable itself, without the leads: they are subtracted, or the tester has nulled them.
    pub fn is_of_cable(&self) -> bool {
        self.subtract_null || self.nulled
    }

    /// Whether it reads one core in series with the return core, which gives R1+R2 and the length.
    pub fn is_of_core(&self) -> bool {
        self.is_of_cable() && !matches!(self.window, WindowRule::Solved(_))
    }

    /// What is done about the leads that this step measures, in words; `None` where it measures anything else.
    pub fn leads_words(&self) -> Option<&'static str> {
        self.is_null.then_some(if self.used.nulls {
            "nulled in the tester: nothing is subtracted"
        } else {
            "subtracted from what follows"
        })
    }
}

/// Where a load's voltage comes from: how far it lies below that is a remark and never a verdict.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FedFrom {
    /// The step that read the supply at its own terminals.
    pub step: String,
    /// A drop above this asks for a bad joint, in volts.
    pub asks_above: Amount,
    /// Where that figure comes from.
    pub basis: Basis,
}

/// What eyes or fingers find something out about; a model of the wiring can answer for each.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub enum Subject {
    /// How a core sits in its clamp when it is tugged: `holds` or `moves`.
    Tug {
        /// The core that is tugged.
        core: String,
        /// At which end.
        end: End,
    },
    /// Which core of the near end is the one linked at the far end.
    Identity {
        /// The core that should be the one.
        core: String,
    },
    /// What the terminal is for into which a core goes.
    Polarity {
        /// The core that goes in.
        core: String,
        /// At which end.
        end: End,
    },
    /// What an end of the control pair is by its maker's plate: `mains`, `extra-low voltage` or `volt-free`.
    Plate(End),
    /// The manual lever of a motor's actuator: `slack` when the valve is open, `firm` when it is shut.
    Lever(String),
    /// The pin or cap of an actuator: `up` when it is open, `down` when it is shut.
    Pin(String),
    /// A load: `runs` or `still`.
    Load(String),
    /// What a motor's valve feeds: `warm` or `cold`.
    Warmth(String),
    /// Which of all actuators and flow meters have moved.
    Moved,
    /// Anything else that is looked at.
    Thing(String),
}

/// Something that is looked at and answered in words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Look {
    /// What is looked at.
    pub subject: Subject,
    /// The words there are to answer with.
    pub words: Vec<String>,
    /// What a sound installation answers: one word, or for [`Subject::Moved`] all those that move and no others.
    pub expected: Vec<String>,
    /// When what is seen counts.
    pub timing: Timing,
}

/// What is asked at a step.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub enum Kind {
    /// An act is done and said to be done.
    Do,
    /// Something is looked at.
    Look(Box<Look>),
    /// A line of text, with a photograph's file bound in by its hash where one is taken.
    Note {
        /// A photograph is asked for.
        photograph: bool,
        /// It answers why work is done live, and cannot be passed over.
        #[serde(skip_serializing_if = "Option::is_none")]
        reason: Option<Reason>,
    },
    /// The indicator is lit or dark between two points.
    Indicator {
        /// Where its tips go; the first is the reference.
        probes: Probes,
        /// It must be lit, which proves the indicator; else dark, which proves the points dead.
        lit: bool,
    },
    /// A core goes into a terminal whose purpose is read from its marking.
    Connect {
        /// The core, by its name.
        core: String,
        /// At which end.
        end: End,
        /// The terminal it belongs to.
        terminal: String,
        /// What the core carries, which the terminal's marking must fit.
        carries: Purpose,
    },
    /// A reading is judged against a window.
    Measure(Box<Measure>),
    /// Everything before it has passed.
    Gate,
}

/// What an earlier step must have come to for a later one to be done.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub enum Came {
    /// Its result stands and is a pass.
    Passed,
    /// Its result stands and is a failure.
    Failed,
    /// This word was answered.
    Saw(String),
    /// Its value is below this.
    Below(Amount),
}

/// A step is done only if an earlier one came to this, or if `not`, only if it did not.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Condition {
    /// The earlier step, by its name.
    pub step: String,
    /// What it is asked about.
    pub came: Came,
    /// The step is done only where that is not so.
    pub not: bool,
}

/// What may follow a step that did not pass; abandoning is always open.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub enum Then {
    /// The supply that lit a point is isolated, and everything is proved again; no sequence says so, it always may.
    Isolate,
    /// The step is done again.
    Again,
    /// A repair is recorded, and the walk goes back to the step it names, or else to this one.
    Repair(Option<String>),
    /// The step stays as it is, with a reason.
    Leave,
    /// Where the fault must be is shown.
    Locate,
}

impl Then {
    /// What may follow where a sequence says nothing.
    pub fn usual() -> Vec<Then> {
        vec![Then::Again, Then::Repair(None), Then::Leave, Then::Locate]
    }
}

/// One concrete step.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Step {
    /// Unique, made of the sequence's name for it and what it is about: `continuity/brown`.
    pub id: String,
    /// The file it comes from, by its place among the sequence's texts, and its line there.
    pub text: usize,
    /// The line in that file, from 1.
    pub line: usize,
    /// The stage it is walked in.
    pub stage: Stage,
    /// What the person is told to do.
    pub say: String,
    /// What they are warned of first.
    pub caution: Option<String>,
    /// What hands have done to the wiring once it is done.
    pub acts: Vec<Act>,
    /// What is asked at it.
    pub kind: Kind,
    /// Cores whose repair voids this step's result.
    pub cores: Vec<String>,
    /// It is done only if all of these hold.
    pub only_if: Vec<Condition>,
    /// The ways on that are offered after a failure, in this order.
    pub after_failure: Vec<Then>,
    /// The end at which it is looked at, where hands and probes do not tell.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at: Option<End>,
    /// The group of neighbouring steps that one answer may stand for, by its number in the plan.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub together: Option<usize>,
    /// The set of neighbouring live readings, by its number in the plan, that are taken in any order and number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub any_order: Option<usize>,
}

/// A sequence bound to a job.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// By which records and messages call the sequence: `stat-cable`.
    pub name: String,
    /// What the sequence proves, as its file says.
    pub title: String,
    /// The sequence's file first, then the parts that it includes.
    pub texts: Vec<Text>,
    /// The job it is bound to.
    pub job: Job,
    /// Every step, in the order in which they are walked.
    pub steps: Vec<Step>,
    /// What the plan cannot show and why, in words; printed on the certificate.
    pub limitations: Vec<String>,
    /// Kinds of fault that the sequence promises to find, and the faults it excepts with the reason.
    pub promises: Vec<String>,
    /// See `promises`.
    pub exceptions: Vec<(String, String)>,
    /// Whose lock keeps the supply off.
    pub lock: Lock,
}

/// Whose lock keeps the supply of a plan off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Lock {
    /// The run's own: it switches off and locks off itself.
    #[default]
    Own,
    /// That of an earlier run, whose record this one rests on: switch, lock, key and notice are taken over.
    TakenOver,
}

impl Step {
    /// When what is read or seen counts; `None` for steps of which time asks nothing.
    pub fn timing(&self) -> Option<&Timing> {
        match &self.kind {
            Kind::Measure(measure) => Some(&measure.timing),
            Kind::Look(look) => Some(&look.timing),
            _ => None,
        }
    }
}

impl Plan {
    /// Where a step stands in the text it is of: its first line, without the indent.
    pub fn span(&self, step: usize) -> (&Text, Range<usize>) {
        let Step { text, line, .. } = &self.steps[step];
        let text = &self.texts[*text];
        let start: usize = text.text.split_inclusive('\n').take(line - 1).map(str::len).sum();
        let of_line = text.text[start..].lines().next().unwrap_or("");
        let indent = of_line.len() - of_line.trim_start().len();
        (text, start + indent..start + of_line.len())
    }

    /// The step that measures these leads themselves, where there is one.
    pub fn lead_null(&self, leads: Leads) -> Option<(usize, &Measure)> {
        let mut measures = self.steps.iter().enumerate().filter_map(|(i, step)| match &step.kind {
            Kind::Measure(measure) => Some((i, measure.as_ref())),
            _ => None,
        });
        measures.find(|(_, measure)| measure.is_null && measure.probes.leads() == leads)
    }

    /// The steps that are done before the first of this run: those that do nothing but switch off, lock off, keep the key or post the notice,
    /// where the lock is taken over. What an indicator shows never is.
    pub fn taken_over(&self) -> Vec<usize> {
        let isolates = |act: &Act| {
            matches!(
                act,
                Act::SwitchOff | Act::LockOff | Act::KeepKey | Act::PostNotice | Act::Further { .. }
            )
        };
        let is_taken = |step: &Step| {
            step.stage == Stage::Isolate
                && step.kind == Kind::Do
                && !step.acts.is_empty()
                && step.acts.iter().all(isolates)
        };
        match self.lock {
            Lock::Own => Vec::new(),
            Lock::TakenOver => (0..self.steps.len()).filter(|&i| is_taken(&self.steps[i])).collect(),
        }
    }

    /// A step's place in the plan.
    pub fn index(&self, id: &str) -> Option<usize> {
        self.steps.iter().position(|step| step.id == id)
    }
}

impl Stage {
    /// The caution in a few words, repeated with every step; the whole of it stands at the head of the stage.
    pub fn caution_short(self) -> &'static str {
        match self {
            Stage::Survey => "LIVE as found: licensed persons, GS38 probes, touch nothing else",
            Stage::FaultFinding => "LIVE as found: readings only, uncover no more than is read",
            Stage::Isolate => "live until proved dead; two-pole indicator only",
            Stage::Disconnect | Stage::Test => "lock on, key with you; if you left, prove dead again",
            Stage::Connect => "lock on; a colour is never proof",
            Stage::Live => "LIVE: licensed persons, GS38 probes, nobody else near",
            Stage::HandOver => "covers on; the supply is on",
        }
    }
}

impl fmt::Display for Stage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.words())
    }
}
