//! What the walk asks: what to do at which end, and what to look at.
//!
//! The rule inside: every prompt names the end, the labels and what counts as an answer.

use super::event::Question;
use super::evidence::other;
use super::partition::Partition;
use super::plan::Method;
use super::resistors;
use super::walk::{Stage, Walk};
use super::words;
use crate::job::End;

/// Said before anything is touched.
pub const CAUTION: &str = "Isolate, lock off, and prove the cable dead at both ends with a two-pole voltage indicator proved before and after. \
Disconnect every core at both ends from everything, and let a long cable discharge. Local codes and licensed practice come first.";

/// One question with what to do before it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Prompt {
    pub heading: String,
    pub acts: Vec<String>,
    pub ask: String,
    pub answers: String,
}

impl Prompt {
    fn new(
        heading: impl Into<String>,
        acts: Vec<String>,
        ask: impl Into<String>,
        answers: impl Into<String>,
    ) -> Prompt {
        Prompt {
            heading: heading.into(),
            acts,
            ask: ask.into(),
            answers: answers.into(),
        }
    }
}

const WHICH_WAY: &str = "Which way does it conduct here? Type the label on the red lead first.";

impl Walk {
    /// What to do and to answer next; `None` at the end.
    pub fn prompt(&self) -> Option<Prompt> {
        if let Some(reading) = &self.now.pending {
            let example = match self.now.at {
                End::Near => "`A-C`",
                End::Far => "`1-4`",
            };
            return Some(Prompt::new(
                self.heading(),
                Vec::new(),
                format!("{} was taken. Between which two?", reading.display()),
                format!("the two labels, as {example}, or `back` where it was nothing"),
            ));
        }
        let prompt = match &self.now.stage {
            Stage::ProvedDead => Prompt::new(
                "before the first walk",
                vec![CAUTION.into()],
                "Is the cable proved dead and disconnected at both ends?",
                "`dead`",
            ),
            Stage::NearBare => {
                let acts = vec![self.label(End::Near), "Leave every core apart at both ends.".into()];
                Prompt::new("at the near end", acts, self.every_pair(), self.groups_or(""))
            }
            Stage::Look(joined) => Prompt::new(
                self.heading(),
                self.look_acts(joined),
                self.every_pair(),
                self.groups_or(""),
            ),
            Stage::Closing => {
                let acts = vec!["Part everything at the near end, then at the far end, where the labels go on.".into()];
                let heading = "the look that takes the labels to the far end";
                Prompt::new(heading, acts, self.every_pair(), self.groups_or(", `skip`"))
            }
            Stage::ResistorContacts => {
                let mut acts = self.resistor_acts();
                acts.extend(["Walk to the far end.".into(), self.label(End::Far)]);
                let labels = words::labels(End::Far, self.plan.cores, self.now.evidence.earth);
                let ask = format!(
                    "Try every pair of {labels}. Which read below {} ohm?",
                    self.plan.figures.joined_ohms()
                );
                Prompt::new(self.heading(), acts, ask, self.groups_or(""))
            }
            Stage::Resistor => {
                let (from, to) = self.next_pair()?;
                let ask = format!(
                    "Ohms from {}? On a range that reaches {:.1} kohm.",
                    self.pair_words(from, to),
                    self.reach_ohms() / 1000.0
                );
                Prompt::new(self.heading(), Vec::new(), ask, "`4.7k`, `OL`, or `back`")
            }
            Stage::DiodeNear => {
                let acts = vec!["Join A and B by the diode, either way round. Meter on the diode range.".into()];
                Prompt::new(
                    "at the near end",
                    acts,
                    WHICH_WAY,
                    "`A-B`, `B-A`, `both`, `none`, or `back`",
                )
            }
            Stage::DiodeFar => {
                let leave = "Leave the diode on. Walk to the far end with the same meter.".into();
                let acts = vec![leave, self.label(End::Far)];
                Prompt::new(
                    self.heading(),
                    acts,
                    WHICH_WAY,
                    "`1-2`, `2-1`, `both`, `none`, or `back`",
                )
            }
            Stage::Done => return None,
        };
        Some(prompt)
    }

    fn every_pair(&self) -> String {
        let labels = words::labels(self.now.at, self.plan.cores, self.now.evidence.earth);
        format!("Try every pair of {labels}. What conducts to what?")
    }

    fn groups_or(&self, more: &str) -> String {
        let (groups, reading) = match self.now.at {
            End::Near => ("`A-C B-D`", "`A-C=0.6`"),
            End::Far => ("`1-3 2-4`", "`1-3=0.6`"),
        };
        format!("{groups}, a reading as {reading}, `none`{more}, or `back`")
    }

    fn label(&self, at: End) -> String {
        let labels = words::labels(at, self.plan.cores, false);
        format!("Label the cores {labels} at the {} end, in any order.", words::end(at))
    }

    fn look_acts(&self, joined: &Partition) -> Vec<String> {
        let (here, left) = (words::end(self.now.at), other(self.now.at));
        let there = words::end(left);
        let join = match words::groups(left, joined, self.plan.cores).as_str() {
            "none" => format!("At the {there} end join nothing."),
            groups => format!("At the {there} end join {groups}, and leave the rest apart."),
        };
        let arrive = if self.now.walks == 1 {
            self.label(End::Far)
        } else {
            format!("At the {here} end part everything, and take off whatever was connected there.")
        };
        vec![join, format!("Walk to the {here} end."), arrive]
    }

    fn heading(&self) -> String {
        let (walk, planned) = (self.now.walks, self.plan.walks);
        let end = words::end(self.now.at);
        if walk <= planned && !self.now.faulty {
            format!("walk {walk} of {planned}, to the {end} end")
        } else {
            format!("extra walk, {walk} in all, to the {end} end")
        }
    }

    /// What is asked now, as it is written down.
    pub fn question(&self) -> Option<Question> {
        let at = || words::end(self.now.at).to_owned();
        let conducts = |joined: String| Question::Conducts {
            walks: self.now.walks,
            at: at(),
            joined,
        };
        if self.now.pending.is_some() {
            return Some(Question::Between);
        }
        Some(match &self.now.stage {
            Stage::ProvedDead => Question::ProvedDead,
            Stage::NearBare | Stage::Closing => conducts("none".into()),
            Stage::Look(joined) => conducts(words::groups(other(self.now.at), joined, self.plan.cores)),
            Stage::ResistorContacts => conducts("resistors".into()),
            Stage::Resistor => {
                let (from, to) = self.next_pair()?;
                Question::Ohms {
                    between: self.pair_words(from, to),
                }
            }
            Stage::DiodeNear | Stage::DiodeFar => Question::Diode { at: at() },
            Stage::Done => return None,
        })
    }

    /// How the cable is to be between the ends now.
    pub fn left_as(&self) -> String {
        match &self.now.stage {
            Stage::ResistorContacts | Stage::Resistor => {
                "The resistors are to be on at the near end as they were, and everything else apart.".into()
            }
            Stage::DiodeFar => "The diode is to be on at the near end as it was.".into(),
            Stage::Look(joined) if !joined.is_apart() => {
                let there = other(self.now.at);
                format!(
                    "At the {} end {} are to be joined, and the rest apart at both ends.",
                    words::end(there),
                    words::groups(there, joined, self.plan.cores)
                )
            }
            _ => "Everything is to be apart at both ends.".into(),
        }
    }

    fn resistor_acts(&self) -> Vec<String> {
        let label = |t: usize| words::label(End::Near, t, self.plan.cores);
        match &self.plan.method {
            Method::ResistorsToEarth(values) => {
                let each = values.iter().enumerate();
                each.map(|(i, v)| {
                    format!(
                        "At the near end connect {} to the earth by {}.",
                        label(i),
                        resistors::words(*v)
                    )
                })
                .collect()
            }
            Method::ResistorsFromHub(values) => {
                let each = values.iter().enumerate();
                each.map(|(i, v)| {
                    format!(
                        "At the near end connect A to {} by {}.",
                        label(i + 1),
                        resistors::words(*v)
                    )
                })
                .collect()
            }
            _ => Vec::new(),
        }
    }
}
