//! One question as data: what to do with the hands, between which points, against which window, and what may be answered.
//!
//! The rule inside: a prompt carries the hands' work as data (acts, probes, points, window) beside its words, names every choice with
//! what it means, and never says which answer is wanted.

use crate::job::Purpose;
use crate::judge::window::{Verdict, Window};
use crate::plan::{Act, Look, Probes, Stage, Subject, Then};
use crate::run::fold::Circuit;
use crate::value::quantity::{Prefix, Unit};
use crate::value::reading::Function;

/// The kind of answer that is wanted.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Ask {
    /// `done`, or the word given here where more than a nod is wanted.
    Done {
        /// The word.
        word: &'static str,
    },
    /// `lit` or `dark`.
    Indicator,
    /// What a terminal is for.
    Purpose {
        /// The terminal.
        terminal: String,
    },
    /// One of some words, or for what moved as many as did.
    Look {
        /// What is looked at.
        look: Look,
    },
    /// A line of text, and a photograph's file.
    Note {
        /// Whether a photograph is asked for.
        photograph: bool,
    },
    /// A typed reading; from the meter as well where one is on a port.
    Reading {
        /// What is read.
        function: Function,
        /// Whether the meter is on a port.
        from_meter: bool,
    },
    /// After a step that did not pass: what the sequence lets follow.
    Decision {
        /// What may follow.
        offers: Vec<Then>,
    },
    /// A step cannot be reached because of another.
    Blocked {
        /// The other.
        by: String,
    },
    /// Free text.
    #[default]
    Text,
    /// Core names, `all` or `none`.
    Touched,
    /// Nothing: the meter has to show that a voltage is not there. One that is may be typed.
    Held,
    /// What an identification asks: the choices and the free form stand in the prompt.
    Told,
}

/// An answer that can be chosen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// What is typed for it.
    pub word: String,
    /// What choosing it says.
    pub means: String,
}

impl Choice {
    /// A choice with its meaning.
    pub fn new(word: impl Into<String>, means: impl Into<String>) -> Choice {
        Choice {
            word: word.into(),
            means: means.into(),
        }
    }
}

/// What was taken or answered last, and what it came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Last {
    /// The step; empty in an identification.
    pub step: String,
    /// What the display showed; none where it was answered in words.
    pub display: Option<String>,
    /// The verdict, where there is one.
    pub verdict: Option<Verdict>,
}

/// One of the steps that an answer stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shared {
    /// The step, by its name in the plan.
    pub step: String,
    /// What is asked at it.
    pub say: String,
    /// The kind of answer that is wanted.
    pub ask: Ask,
}

/// One question with everything needed to answer it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Prompt {
    /// Its number in this sitting, from 1; an answer may name it.
    pub number: u64,
    /// The step it is about; empty for questions about the run.
    pub step: String,
    /// Its place in the plan, counted from 1, and the number of steps; zeros where there is no plan.
    pub place: (usize, usize),
    /// The stage of a run; none in an identification.
    pub stage: Option<Stage>,
    /// Where in an identification it stands, such as `walk 2 of 3, to the near end`.
    pub heading: String,
    /// What to do first, a line each, where it is more than [`Prompt::say`] says.
    pub todo: Vec<String>,
    /// What to do, or what is asked.
    pub say: String,
    /// The steps that the answer stands for where it is so for each; empty where it is for one.
    pub together: Vec<Shared>,
    /// Where the person stands, where that matters.
    pub stand: Option<String>,
    /// Cautions.
    pub cautions: Vec<String>,
    /// The instrument to use with its dial position, for measurements.
    pub instrument: Option<String>,
    /// The window, with its edges, their unit and their sources.
    pub window: Option<Window>,
    /// Prefix and unit in which the display is read.
    pub scale: Option<(Prefix, Unit)>,
    /// Sources of the window and of the times, in words.
    pub sources: Vec<String>,
    /// What the hands do.
    pub acts: Vec<Act>,
    /// The same in words of the program's own.
    pub hands: Vec<String>,
    /// Where the probes go.
    pub probes: Option<Probes>,
    /// The same two points in words, the first probe's first.
    pub points: Option<(String, String)>,
    /// The kind of answer.
    pub ask: Ask,
    /// The answers that can be chosen.
    pub choices: Vec<Choice>,
    /// What may be typed beside the choices.
    pub free: Option<String>,
    /// Whether `photograph FILE` binds a picture in.
    pub photograph: bool,
    /// What is known of the circuit where the person stands.
    pub circuit: Circuit,
    /// That it is done can be said at the laptop alone.
    pub at_laptop: bool,
    /// Reasons that are often given, where a reason is asked.
    pub reasons: &'static [&'static str],
    /// What was taken last, and what it came to.
    pub last: Option<Last>,
}

impl Prompt {
    /// The same asking for this, with the choices and the free form that go with it.
    pub fn asking(mut self, ask: Ask) -> Prompt {
        (self.choices, self.free) = offered(&ask);
        self.photograph = matches!(ask, Ask::Note { photograph: true });
        self.ask = ask;
        self
    }

    /// The answers that are understood, in words.
    pub fn answers(&self) -> String {
        let chosen = self.choices.iter().map(|choice| match choice.means.as_str() {
            "" => format!("`{}`", choice.word),
            means => format!("`{}` {means}", choice.word),
        });
        self.free.iter().cloned().chain(chosen).collect::<Vec<_>>().join("; ")
    }
}

/// What may be chosen and what may be typed beside it.
fn offered(ask: &Ask) -> (Vec<Choice>, Option<String>) {
    let free = |text: &str| Some(text.to_owned());
    let no = |means: &str| Choice::new("no", means);
    match ask {
        Ask::Done { word } => {
            let done = Choice::new(*word, "when it is done");
            (vec![done, no("when it cannot be")], None)
        }
        Ask::Indicator => {
            let lit = Choice::new("lit", "(or `l`) when it lights");
            let dark = Choice::new("dark", "(or `s`) when it stays dark");
            (vec![lit, dark, no("when it cannot be tested")], None)
        }
        Ask::Purpose { .. } => {
            let number = |(i, purpose): (usize, &Purpose)| Choice::new((i + 1).to_string(), purpose.words());
            let mut choices: Vec<_> = Purpose::ALL.iter().enumerate().map(number).collect();
            choices.push(no("when the core is not connected"));
            (
                choices,
                free("what it is for, in these words or by its number; `L`, `phase`, `N`, `E` and `SL` are understood"),
            )
        }
        Ask::Look { look } if look.subject == Subject::Moved => {
            let mut choices: Vec<_> = look.words.iter().map(|word| Choice::new(word, "")).collect();
            choices.push(Choice::new("none", "when nothing has moved"));
            (
                choices,
                free("what has moved, with commas; `found` and a text for anything else"),
            )
        }
        Ask::Look { look } => {
            let mut choices: Vec<_> = look.words.iter().map(|word| Choice::new(word, "")).collect();
            choices.push(no("when it cannot be seen"));
            (choices, free("what you see; `found` and a text for anything else"))
        }
        Ask::Note { photograph } => {
            let binds = if *photograph {
                "one line of text; `photograph FILE` binds a picture in by its hash"
            } else {
                "one line of text"
            };
            (vec![no("when there is nothing to note")], free(binds))
        }
        Ask::Reading { function, from_meter } => reading(*function, *from_meter),
        Ask::Decision { offers } => (offers.iter().map(follows).chain([abandon()]).collect(), None),
        Ask::Blocked { .. } => (vec![Choice::new("again", "to go back to it"), abandon()], None),
        Ask::Text => (
            vec![Choice::new("back", "to take the last answer back")],
            free("one line of text"),
        ),
        Ask::Touched => {
            let all = Choice::new("all", "where anything may have been touched");
            (
                vec![Choice::new("none", "where no core was touched"), all],
                free("the names of cores, with commas"),
            )
        }
        Ask::Held => (
            vec![Choice::new(
                "live",
                "where a voltage is there: everything is isolated again",
            )],
            free("the meter is waited for, three seconds at most"),
        ),
        Ask::Told => (Vec::new(), None),
    }
}

fn reading(function: Function, from_meter: bool) -> (Vec<Choice>, Option<String>) {
    let mut choices = Vec::new();
    if from_meter {
        choices.push(Choice::new("on", "when both probes are on the points"));
    }
    if function == Function::Continuity {
        choices.push(Choice::new("leads", "when the leads were changed"));
    }
    let unit = format!("{}{}", function.prefix().letter(), function.unit());
    let typed = if from_meter {
        format!("the meter is read; or type the reading in {unit}")
    } else {
        format!("type the reading in {unit}")
    };
    (choices, Some(typed))
}

fn follows(then: &Then) -> Choice {
    match then {
        Then::Isolate => Choice::new(
            "isolate",
            "to isolate the supply that lit it, then prove everything again",
        ),
        Then::Again => Choice::new("again", "to test again"),
        Then::Repair(None) => Choice::new("repair", "to record a repair, then test again"),
        Then::Repair(Some(step)) => Choice::new("repair", format!("to record a repair, then go back to `{step}`")),
        Then::Leave => Choice::new("leave", "to leave it so, with a reason"),
        Then::Locate => Choice::new("locate", "to be told where the fault must be"),
    }
}

fn abandon() -> Choice {
    Choice::new("abandon", "to end the run")
}
