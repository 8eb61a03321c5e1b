//! The one vocabulary: what happened in a run. Each event is one line of the journal.
//!
//! The rule inside: an event states what was done, read or said, never what follows from it; what follows is the fold of
//! [`super::fold`]. Nothing is ever edited: a correction is a later event.

use std::path::Path;

use serde::{Deserialize, Serialize};

use crate::job::{End, Purpose};
use crate::judge::window::Verdict;
use crate::located::Text;
use crate::plan::{Isolating, Plan};
use crate::value::quantity::Amount;
use crate::value::reading::Reading;

/// Version of the journal and record format, `major.minor`.
pub const FORMAT: &str = "1.1";

/// The name that a record gives to the program that wrote it.
pub const PROGRAM: &str = concat!("coreproof ", env!("CARGO_PKG_VERSION"));

/// A rehearsal says so inside the signed bytes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rehearsal {
    /// The fault put in, by name; absent for a healthy rehearsal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fault: Option<String>,
    /// The seed of its noise and of the differences between cores.
    pub seed: u64,
}

/// The earlier record that this one takes the place of.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Supersedes {
    /// Its run.
    pub run: uuid::Uuid,
    /// SHA-256 of its bytes, in lower-case hexadecimal.
    pub sha256: String,
    /// Why, as it was typed.
    pub because: String,
}

/// The record on whose lock a run rests: the supply was switched off and locked off in it, its key kept and its notice posted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RestsOn {
    /// Its run.
    pub run: uuid::Uuid,
    /// SHA-256 of its bytes, in lower-case hexadecimal.
    pub sha256: String,
}

impl RestsOn {
    /// It in words.
    pub fn words(&self) -> String {
        format!(
            "The supply was switched off, locked off, its key kept and its notice posted in the record of run {}, on which this one rests. The \
             indicator and every point were proved in this one.",
            self.run
        )
    }
}

impl Supersedes {
    /// It in words.
    pub fn words(&self) -> String {
        format!(
            "This record supersedes that of run {}: {}.",
            self.run,
            self.because.trim_end_matches('.')
        )
    }
}

/// By which way answers come, where it is not by a person at a terminal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum AnsweredBy {
    /// A pipe or a file.
    Pipe,
}

/// By which face an answer comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Face {
    /// Lines that a person types at a terminal.
    Terminal,
    /// Lines of a pipe or a file.
    Pipe,
    /// The page, in a browser on the same machine.
    Page,
    /// The page, on a device in the same network: its number, counted from 1 as they are let in since the run was begun or gone on with.
    Device(u32),
}

impl From<Option<AnsweredBy>> for Face {
    fn from(way: Option<AnsweredBy>) -> Face {
        match way {
            None => Face::Terminal,
            Some(AnsweredBy::Pipe) => Face::Pipe,
        }
    }
}

/// The first line: everything needed to judge the record again from itself alone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Opened {
    /// `major.minor` of the format.
    pub format: String,
    /// The program that wrote it, with its version.
    pub program: String,
    /// The run's identifier, which sorts by time.
    pub run: uuid::Uuid,
    /// Set where nothing was measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rehearsal: Option<Rehearsal>,
    /// The name of the rules by which it is judged ([`super::rules`]); none in format 1.0, which had only the first.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rules: Option<String>,
    /// The edition of the limits that judge.
    pub edition: String,
    /// What must be said of those limits, in words: whose values judge, and which tables were not seen.
    pub caveat: String,
    /// The sequence, whole.
    pub sequence: Text,
    /// The parts that the sequence includes.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub parts: Vec<Text>,
    /// The job, whole.
    pub job: Text,
    /// The profile of the meter on the port, and those that the job's instruments talk.
    pub profiles: Vec<Text>,
    /// The signed identification of the cores, with its signature behind it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub identified: Option<Text>,
    /// What stood at the other end of the meter's cable: a serial port, a network address, a capture.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub port: Option<String>,
    /// By which way answers come; absent for a person at a terminal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub answered_by: Option<AnsweredBy>,
    /// Why the run began in spite of something that should have been otherwise, such as a calibration past its date.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub departures: Vec<String>,
    /// The record that this one corrects.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub supersedes: Option<Supersedes>,
    /// The record on whose lock this one rests.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rests_on: Option<RestsOn>,
}

impl Opened {
    /// The opening of a run of a plan, under this id. Files are carried under their names, not under where they lay on this machine; a
    /// part under the name by which it is included.
    pub fn of_plan(plan: &Plan, run: uuid::Uuid) -> Opened {
        let name = |path: &str| {
            let name = Path::new(path).file_name();
            name.map_or_else(|| path.to_owned(), |name| name.to_string_lossy().into_owned())
        };
        let carried = |text: &Text| Text::new(name(&text.name), &*text.text);
        Opened {
            run,
            caveat: plan.job.limits.caveat.clone(),
            ..Opened::new(
                (carried(&plan.texts[0]), plan.texts[1..].to_vec()),
                carried(&plan.job.text),
                &*plan.job.limits.edition,
            )
        }
    }

    /// The opening of a run of this sequence with its parts on this job, judged by this edition: by this program, with no name of its own
    /// yet, nothing remarkable and nothing at the port.
    pub fn new((sequence, parts): (Text, Vec<Text>), job: Text, edition: impl Into<String>) -> Opened {
        Opened {
            format: FORMAT.into(),
            program: PROGRAM.into(),
            run: uuid::Uuid::nil(),
            rehearsal: None,
            rules: Some(super::rules::today().name.into()),
            edition: edition.into(),
            caveat: String::new(),
            sequence,
            parts,
            job,
            profiles: Vec::new(),
            identified: None,
            port: None,
            answered_by: None,
            departures: Vec::new(),
            supersedes: None,
            rests_on: None,
        }
    }
}

/// What the engineer said at a step that is not a measurement.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Answer {
    /// It was done.
    Done,
    /// It could not be done, and why.
    NotDone(String),
    /// The indicator lit.
    Lit,
    /// The indicator stayed dark.
    Dark,
    /// What the terminal is for by its marking.
    For(Purpose),
    /// What was seen, in the words of the step.
    Saw(Vec<String>),
    /// What was found and has no word in the step.
    Found(String),
    /// A line of text, and a photograph's file by its name and SHA-256.
    Note {
        /// The line as it was typed.
        text: String,
        /// The photograph, where one was named.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        photograph: Option<Photograph>,
    },
    /// The condition of the step does not hold.
    NotNeeded,
    /// It was done in the record that the run rests on: never said in this one, so no line of a record can say it.
    #[serde(skip)]
    TakenOver,
}

impl Answer {
    /// What was said, in words; the reason of what was not done stands in its verdict.
    pub fn words(&self) -> String {
        match self {
            Answer::Done => "done".into(),
            Answer::NotDone(_) => "not done".into(),
            Answer::Lit => "lit".into(),
            Answer::Dark => "dark".into(),
            Answer::For(purpose) => format!("for {}", purpose.words()),
            Answer::Saw(words) if words.is_empty() => "nothing".into(),
            Answer::Saw(words) => words.join(", "),
            Answer::Found(text) => format!("found: {text}"),
            Answer::Note { text, photograph } => match photograph {
                Some(there) => format!("{text} (photograph {}, SHA-256 {})", there.file, there.sha256),
                None => text.clone(),
            },
            Answer::NotNeeded => "not needed".into(),
            Answer::TakenOver => "taken over".into(),
        }
    }
}

/// A photograph's file, bound in by its hash.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Photograph {
    /// Its name, without its folder.
    pub file: String,
    /// SHA-256 of its bytes, in hexadecimal.
    pub sha256: String,
}

/// Who chose what is read next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ChosenBy {
    /// The program, by what tells the faults that are left apart best.
    Program,
    /// The engineer.
    Engineer,
}

/// Which cores a repair, or whatever happened during a break, touched.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Touched {
    /// No core and no terminal.
    Nothing,
    /// Any core and any terminal.
    Everything,
    /// These cores and their terminals.
    Cores(Vec<String>),
}

/// How a run ended.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Ending {
    /// Every step was come to and decided.
    Completed,
    /// It was given up, with the reason.
    Abandoned(String),
}

impl Ending {
    /// How it ended, in words.
    pub fn words(&self) -> String {
        match self {
            Ending::Completed => "completed".into(),
            Ending::Abandoned(reason) => format!("abandoned: {reason}"),
        }
    }
}

/// One event.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Event {
    /// The first line.
    Opened(Box<Opened>),
    /// A step was answered in words.
    Answered {
        /// The step, by its name in the plan.
        step: String,
        /// What was said.
        answer: Answer,
    },
    /// One answer for several steps that the sequence lets be answered together: where it passes each of them, the answers of each follow;
    /// where it does not, each is asked by itself.
    AnsweredTogether {
        /// The steps that it stands for, by their names in the plan.
        steps: Vec<String>,
        /// What was said.
        answer: Answer,
    },
    /// A reading was taken; written before it is shown as taken or judged.
    Taken {
        /// The step, by its name in the plan.
        step: String,
        /// The reading with its bytes.
        reading: Reading,
    },
    /// The verdict of what was taken or answered just before.
    Judged {
        /// The step, by its name in the plan.
        step: String,
        /// What it came to, and why.
        verdict: Verdict,
    },
    /// Links and joints were made to be exactly these, for the step that comes next.
    Arranged {
        /// The step that comes next, by its name in the plan.
        step: String,
        /// The cores that are linked at the far end.
        links: Vec<String>,
        /// Whether the live cores are joined at the near end.
        joined: bool,
        /// The core to which all others are joined apart, where they are.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        rest: Option<String>,
        /// Whether the earth core is clipped to the earth of the building.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        earthed: bool,
        /// Whether the live terminals at the near end are joined.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        terminals: bool,
        /// Whether the supply's neutral is off its terminal at the near end.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        neutral_off: bool,
        /// The ends whose earth conductor is off its terminal.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        earths_off: Vec<End>,
    },
    /// Answers come by another face from here on.
    TurnedTo {
        /// The face.
        face: Face,
    },
    /// One of the readings that are taken in any order comes next.
    Chosen {
        /// The reading, by its name in the plan.
        step: String,
        /// Who chose it.
        by: ChosenBy,
        /// Why.
        because: String,
    },
    /// No more is read of those that are taken in any order.
    Enough {
        /// One of those that are not read, by its name in the plan.
        step: String,
        /// Why.
        because: String,
    },
    /// The last answer is taken back: it stays in the record, and what it passed is done again.
    TakenBack {
        /// The step that it was about, by its name in the plan; after a break the first to be done.
        step: String,
    },
    /// A remark beside the last answer, which did not pass and stays.
    Remarked {
        /// The step that it is about, by its name in the plan.
        step: String,
        /// The remark as it was typed.
        text: String,
    },
    /// A point that was answered dark was lit; isolation is void, and the verdict on the point follows.
    WasLit {
        /// The step at which it was answered dark, by its name in the plan.
        step: String,
    },
    /// A line that is likely a slip, as it was typed; it is asked about, and what is answered then is another event.
    Doubted {
        /// The step at which it was typed, by its name in the plan.
        step: String,
        /// The line.
        line: String,
    },
    /// One frame of a meter showed a voltage where everything had been proved dead, and no checksum guards it: the run is held.
    FrameDoubted {
        /// The step at which it came, by its name in the plan.
        step: String,
        /// The reading that showed it.
        reading: Reading,
    },
    /// A frame without voltage followed; the second lets the run go on.
    FrameCleared {
        /// The same step.
        step: String,
        /// The reading that shows none.
        reading: Reading,
    },
    /// Voltage was seen where everything had been proved dead; isolation is void.
    LiveSeen {
        /// The step at which it was seen, by its name in the plan.
        step: String,
        /// The reading that showed it.
        reading: Reading,
    },
    /// One act of isolating a further supply, which lit a point that must be dark; after the last everything is proved again.
    Isolated {
        /// The step at which it was lit, by its name in the plan.
        step: String,
        /// The supply and its point of isolation, as they were typed.
        supply: String,
        /// What was done there.
        act: Isolating,
    },
    /// The instrument's leads were changed: they are measured again.
    LeadsChanged,
    /// The length of the cable was corrected; the verdicts on all that was judged by the one before follow.
    LengthCorrected {
        /// The length in force from here on.
        length: Amount,
        /// Why, as it was typed; there once something was read against the length.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        because: Option<String>,
    },
    /// The step is done again.
    Again {
        /// The step, by its name in the plan.
        step: String,
    },
    /// What failed live, or was found by eye before anything was switched, is to be repaired: isolation comes first.
    RepairBegins {
        /// The step that failed, by its name in the plan.
        step: String,
        /// The picture of what was found by eye.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        photograph: Option<Photograph>,
    },
    /// Something was repaired after a failure.
    Repaired {
        /// The step that failed, by its name in the plan.
        step: String,
        /// What was done, as it was typed.
        what: String,
        /// What it touched, which decides what becomes void.
        touched: Touched,
    },
    /// The step stays as it is, with the reason.
    Left {
        /// The step, by its name in the plan.
        step: String,
        /// The reason as it was typed.
        reason: String,
    },
    /// The run went on after a break or a crash.
    Resumed {
        /// What was touched meanwhile, by whoever goes on.
        touched: Touched,
        /// Bytes of an unfinished last line that were dropped.
        torn_bytes: u64,
        /// Steps that stood as passed by rules that are no longer today's, and are done again.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        outdated: Vec<String>,
        /// By which way answers come from here on; absent for a person at a terminal.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        answered_by: Option<AnsweredBy>,
    },
    /// What was made safe before an abandoned run was closed.
    MadeSafe {
        /// What was done, as it was typed.
        what: String,
    },
    /// The last line.
    Closed {
        /// How the run ended.
        ending: Ending,
    },
}
