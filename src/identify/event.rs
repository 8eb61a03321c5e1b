//! What happened while cores or actuators were told apart: each event is one line of the journal of an identification.
//!
//! The rule inside: an event states what was typed or read. What follows from it is the fold of [`super::session`]; only the
//! closing carries it, so that a reader without the program has it, and so that it can be compared.

use serde::{Deserialize, Serialize};

use super::belongs::Belongs;
use super::checking::Checked;
use super::figures::Figures;
use super::found::Row;
use super::naming::NamedCore;
use crate::job::Job;
use crate::located::Text;
use crate::value::reading::Reading;

/// What is told apart.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Subject {
    /// Cores of a cable.
    Cores {
        /// How many, 2 to 20.
        cores: usize,
        /// The kit as it is given on the command line.
        kit: String,
        /// A further walk is taken rather than know the last core by elimination.
        every_core_seen: bool,
        /// A checking walk is asked for once the list is made; not in files of before.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        checked: bool,
    },
    /// Actuators of zones.
    Zones {
        /// How many zones, 1 to 63.
        zones: usize,
        /// How many actuators, 1 to 99.
        actuators: usize,
        /// One call more, so that what went wrong is noticed.
        checked: bool,
    },
}

impl Subject {
    /// Where it is, by the job.
    pub fn place(&self, job: &Job) -> String {
        let cable = match self {
            Subject::Cores { .. } => format!(": {}", job.cable),
            Subject::Zones { .. } => String::new(),
        };
        format!("{}, {}{cable}", job.place.name, job.place.part)
    }
}

/// The first line: everything needed to tell it again from itself alone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Opened {
    /// `major.minor` of the format.
    pub format: String,
    /// The program that wrote it, with its version.
    pub program: String,
    /// Its name; a record of a run has none of this kind.
    pub identification: uuid::Uuid,
    /// Where it is.
    pub place: String,
    /// Who does it.
    pub engineer: String,
    /// What is told apart.
    pub of: Subject,
    /// What counts as joined, open and one resistor, and how long an actuator takes.
    pub figures: Figures,
    /// The job that the cores are of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub job: Option<Text>,
    /// The profile of the meter on the port, and those that the job's instruments talk.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub profiles: Vec<Text>,
    /// The instrument whose readings came by themselves, as the job names it, and what stood at the other end of its cable.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instrument: Option<String>,
    /// What stood at the other end of the cable: a serial port, a network address, a capture.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub port: Option<String>,
    /// Instruments used past their calibration date, each with the reason.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub departures: Vec<String>,
}

/// What the cores turned out to be.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CoresTold {
    /// Walks taken until this was known, without the look at the parted far end.
    pub walks: usize,
    /// Whether no broken core can touch another beyond its break.
    pub far_end_seen_parted: bool,
    /// One line a core or a group of cores in contact.
    pub rows: Vec<Row>,
    /// What is to be known beside them.
    pub remarks: Vec<String>,
    /// The cores of the job by their labels; none where there is no job or they were left unnamed.
    pub named: Vec<NamedCore>,
    /// What the checking walk came to; absent where none was asked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub checked: Option<Checked>,
}

/// What the actuators turned out to be.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ZonesTold {
    /// For each actuator, from 1.
    pub actuators: Vec<Belongs>,
    /// Zones that moved nothing.
    pub idle: Vec<usize>,
}

/// What it came to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Told {
    /// Which core is which.
    Cores(CoresTold),
    /// Which actuator belongs to which zone.
    Zones(ZonesTold),
}

/// What was asked: where it was, and what had been joined or called for it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Question {
    /// Whether the cable is proved dead, before the first walk and again after voltage or a break.
    ProvedDead,
    /// What conducts to what at an end, after so many walks, with this joined at the other.
    Conducts {
        /// Walks so far.
        walks: usize,
        /// The end that is looked at.
        at: String,
        /// What is joined at the other end.
        joined: String,
    },
    /// What conducts to what at an end of the checking walk, with neighbours of the list joined at the other. What must conduct is not
    /// named before it is answered.
    Checks {
        /// The end that is looked at.
        at: String,
        /// What is joined at the other end.
        joined: String,
    },
    /// Between which two the contact was that the meter showed.
    Between,
    /// The ohms between two at the far end, with the resistors on.
    Ohms {
        /// The two, by their labels.
        between: String,
    },
    /// Which way the diode conducts at an end.
    Diode {
        /// The end that is looked at.
        at: String,
    },
    /// Which label goes to which terminal of the job.
    Terminals,
    /// Which actuators stand open while these zones call.
    Open {
        /// The zones that call, from 1.
        called: Vec<usize>,
    },
}

/// What an answer was understood as.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Given {
    /// The last answer is taken back.
    Back,
    /// The cable is proved dead.
    Dead,
    /// What conducts to what, by labels.
    Conducts(Vec<Vec<String>>),
    /// Between which two labels the contact was that the meter showed.
    Between(Vec<String>),
    /// What stood between two, as the display showed it.
    Ohms(String),
    /// The way that the diode conducts, the red lead's label first; `both` or `none`.
    Diode(String),
    /// The look was left out.
    Skipped,
    /// The cores of the job by their labels; none where they were left unnamed.
    Named(Vec<NamedCore>),
    /// The actuators that stand open, by number.
    Open(Vec<usize>),
}

/// One event.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Event {
    /// The first line.
    Opened(Box<Opened>),
    /// A typed line that answered the question.
    Answered {
        /// What was asked.
        to: Question,
        /// The line as it was typed.
        line: String,
        /// What it was understood as; not there in format 1.0, which kept the line alone.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        given: Option<Given>,
    },
    /// A reading of a meter that answered the question, or a contact that the next answer places.
    Taken {
        /// What was asked.
        to: Question,
        /// The reading with its bytes.
        reading: Reading,
    },
    /// Voltage was seen on a cable that had been proved dead.
    LiveSeen {
        /// The reading that showed it.
        reading: Reading,
    },
    /// It went on after a break.
    Resumed {
        /// Bytes of an unfinished last line that were dropped.
        torn_bytes: u64,
    },
    /// The end, with what it came to.
    Closed {
        /// What it came to.
        told: Told,
    },
}
