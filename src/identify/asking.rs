//! What the walk asks: what to do at which end, and what to look at.
//!
//! The rule inside: every prompt names the end, the labels and what counts as an answer.

use super::checking::CheckLook;
use super::event::Question;
use super::evidence::other;
use super::partition::Partition;
use super::plan::Method;
use super::prompt::{back, proved_dead, question};
use super::resistors;
use super::walk::{Stage, Walk};
use super::words;
use crate::job::End;
use crate::run::dialogue::{Choice, Prompt};

/// Said before anything is touched.
pub const CAUTION: &str = "Isolate, lock off, and prove the cable dead at both ends with a two-pole voltage indicator proved before and after. \
Disconnect every core at both ends from everything, and let a long cable discharge. Local codes and licensed practice come first.";

const WHICH_WAY: &str = "Which way does it conduct here? Type the label on the red lead first.";

/// The ways that a diode can conduct.
fn ways(straight: &str, reversed: &str) -> Vec<Choice> {
    vec![
        Choice::new(straight, "this way"),
        Choice::new(reversed, "the other way"),
        Choice::new("both", "when it conducts both ways"),
        Choice::new("none", "when it conducts neither way"),
        back(),
    ]
}

impl Walk {
    /// What to do and to answer next; `None` at the end.
    pub fn prompt(&self) -> Option<Prompt> {
        if let Some(reading) = &self.now.pending {
            let example = match self.now.at {
                End::Near => "`A-C`",
                End::Far => "`1-4`",
            };
            return Some(question(
                self.heading(),
                Vec::new(),
                format!("{} was taken. Between which two?", reading.display()),
                vec![Choice::new("back", "where it was nothing")],
                Some(format!("the two labels, as {example}")),
            ));
        }
        let looking = |heading: String, acts: Vec<String>, ask: String| self.looking(heading, acts, ask);
        Some(match &self.now.stage {
            Stage::ProvedDead => question(
                "before the first walk",
                vec![CAUTION.into()],
                "Is the cable proved dead and disconnected at both ends?",
                vec![proved_dead()],
                None,
            ),
            Stage::NearBare => {
                let acts = vec![self.label(End::Near), "Leave every core apart at both ends.".into()];
                looking("at the near end".into(), acts, self.every_pair())
            }
            Stage::Look(joined) => looking(self.heading(), self.look_acts(joined), self.every_pair()),
            Stage::Closing => {
                let acts = vec!["Part everything at the near end, then at the far end, where the labels go on.".into()];
                let heading = "the look that takes the labels to the far end";
                let mut prompt = looking(heading.into(), acts, self.every_pair());
                let skip = Choice::new("skip", "to leave this look out; the list says so then");
                prompt.choices.insert(1, skip);
                prompt
            }
            Stage::ResistorContacts => {
                let mut acts = self.resistor_acts();
                acts.extend(["Walk to the far end.".into(), self.label(End::Far)]);
                let labels = words::labels(End::Far, self.plan.cores, self.now.evidence.earth);
                let ask = format!(
                    "Try every pair of {labels}. Which read below {} ohm?",
                    self.plan.figures.joined_ohms()
                );
                looking(self.heading(), acts, ask)
            }
            Stage::Resistor => {
                let (from, to) = self.next_pair()?;
                let ask = format!(
                    "Ohms from {}? On a range that reaches {:.1} kohm.",
                    self.pair_words(from, to),
                    self.reach_ohms() / 1000.0
                );
                let free = Some("the reading, as `4.7k` or `OL`".into());
                question(self.heading(), Vec::new(), ask, vec![back()], free)
            }
            Stage::DiodeNear => {
                let acts = vec!["Join A and B by the diode, either way round. Meter on the diode range.".into()];
                question("at the near end", acts, WHICH_WAY, ways("A-B", "B-A"), None)
            }
            Stage::DiodeFar => {
                let leave = "Leave the diode on. Walk to the far end with the same meter.".into();
                let acts = vec![leave, self.label(End::Far)];
                question(self.heading(), acts, WHICH_WAY, ways("1-2", "2-1"), None)
            }
            Stage::Check(look) => self.checking_prompt(look),
            Stage::Done => return None,
        })
    }

    /// A look of the checking walk; what must conduct is not named.
    fn checking_prompt(&self, look: &CheckLook) -> Prompt {
        let mut acts = self.look_acts(&look.joined);
        acts.insert(0, "A label that was mistyped shows only here.".into());
        if look.is_again() {
            acts[0] = "That is not what the list gives. See to the joints once more, then try every pair again.".into();
        }
        let heading = format!("the checking walk, to the {} end", words::end(self.now.at));
        let mut prompt = self.looking(heading, acts, self.every_pair());
        if self.may_leave_check() {
            let skip = Choice::new("skip", "to leave the checking walk out; the list says so then");
            prompt.choices.insert(1, skip);
        }
        prompt
    }

    /// What conducts to what at this end, by labels or by readings.
    fn looking(&self, heading: String, acts: Vec<String>, ask: String) -> Prompt {
        let (groups, reading) = match self.now.at {
            End::Near => ("`A-C B-D`", "`A-C=0.6`"),
            End::Far => ("`1-3 2-4`", "`1-3=0.6`"),
        };
        let choices = vec![Choice::new("none", "when nothing conducts"), back()];
        question(
            heading,
            acts,
            ask,
            choices,
            Some(format!("{groups}, or a reading as {reading}")),
        )
    }

    fn every_pair(&self) -> String {
        let labels = words::labels(self.now.at, self.plan.cores, self.now.evidence.earth);
        format!("Try every pair of {labels}. What conducts to what?")
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
            Stage::Check(look) => Question::Checks {
                at: at(),
                joined: words::groups(other(self.now.at), &look.joined, self.plan.cores),
            },
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
            Stage::Look(joined) | Stage::Check(CheckLook { joined, .. }) if !joined.is_apart() => {
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
