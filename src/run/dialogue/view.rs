//! What stands on a face that shows all at once: the fold of what is shown.
//!
//! The rule inside: danger stays until it is acknowledged, and from the moment it is shown nothing says dead; live digits belong to the
//! prompt that they came at and go with it; what was taken and its verdict stay until the next.

use super::bar::Needle;
use super::prompt::{Last, Prompt};
use super::show::Show;
use crate::judge::window::Outcome;
use crate::run::fold::Circuit;

/// Remarks at one prompt that are kept, the newest.
const NOTES_MAX: usize = 6;

/// Digits that are no result.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Live {
    /// What the display shows.
    pub digits: String,
    /// How it moves, and what is waited for.
    pub state: String,
    /// Where it stands among the edges.
    pub needle: Needle,
}

/// All that stands there.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct View {
    /// What is asked.
    pub prompt: Option<Prompt>,
    /// What is known of the circuit where the person stands.
    pub circuit: Circuit,
    /// What called for hands off and was not acknowledged, with the number of the newest.
    pub danger: Option<(u64, String)>,
    /// What was taken or answered last.
    pub last: Option<Last>,
    /// What the meter shows now.
    pub live: Option<Live>,
    /// What was remarked since the prompt; the newest is the last.
    pub notes: Vec<String>,
    /// The end, in words.
    pub finished: Option<(Outcome, String)>,
    dangers: u64,
}

impl View {
    /// Takes in what is shown.
    pub fn take(&mut self, show: &Show) {
        show.onto(&mut self.last);
        match show {
            Show::Prompt(prompt) => {
                self.circuit = prompt.circuit;
                self.live = None;
                // what was said when this came to be asked stays
                self.prompt = Some((**prompt).clone());
            }
            Show::Danger(text) => {
                self.dangers += 1;
                self.circuit = Circuit::Live;
                let before = self.danger.take().map(|(_, before)| format!("{before}\n"));
                self.danger = Some((self.dangers, format!("{}{text}", before.unwrap_or_default())));
            }
            Show::Live { digits, state, needle } => {
                self.live = Some(Live {
                    digits: digits.clone(),
                    state: state.clone(),
                    needle: *needle,
                });
            }
            Show::Taken { .. } => {
                self.live = None;
                self.notes.clear();
            }
            Show::Verdict { .. } => self.notes.clear(),
            Show::Notice(text) | Show::Now(text) | Show::Fault(text) => self.note(text.clone()),
            Show::Refused { what, next } => {
                self.note(next.iter().fold(what.clone(), |what, next| format!("{what}: {next}")));
            }
            Show::Stage(stage) => self.note(format!("{}: {}", stage.words(), stage.caution())),
            Show::Finished { outcome, ending } => {
                self.prompt = None;
                self.live = None;
                self.finished = Some((*outcome, ending.clone()));
                // nobody watches any more
                if self.circuit != Circuit::Live {
                    self.circuit = Circuit::NotProved;
                }
            }
        }
    }

    /// Takes the danger of this number away, where it is the newest; one that came meanwhile stays.
    pub fn acknowledge(&mut self, number: u64) -> bool {
        let is_newest = self.danger.as_ref().is_some_and(|(newest, _)| *newest == number);
        if is_newest {
            self.danger = None;
        }
        is_newest
    }

    fn note(&mut self, text: String) {
        if self.notes.len() == NOTES_MAX {
            self.notes.remove(0);
        }
        self.notes.push(text);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::judge::window::Verdict;

    fn prompt(circuit: Circuit) -> Show {
        Show::Prompt(Box::new(Prompt {
            circuit,
            ..Prompt::default()
        }))
    }

    fn dead() -> Circuit {
        Circuit::ProvedDead {
            at: "2026-11-25T08:00:00Z".parse().unwrap(),
        }
    }

    fn live() -> Show {
        Show::Live {
            digits: "0.42 ohm".into(),
            state: "moving".into(),
            needle: Needle::Over,
        }
    }

    #[test]
    fn danger_stays_until_it_is_acknowledged_and_nothing_says_dead() {
        let mut view = View::default();
        view.take(&prompt(dead()));
        assert_eq!(view.circuit, dead());
        view.take(&Show::Danger("230 V".into()));
        assert_eq!(view.circuit, Circuit::Live);
        view.take(&prompt(Circuit::NotProved));
        view.take(&Show::Danger("again".into()));
        let (number, text) = view.danger.clone().unwrap();
        assert_eq!((number, text.as_str()), (2, "230 V\nagain"));
        // an answer to the first does not take the second away
        assert!(!view.acknowledge(1));
        assert!(view.danger.is_some());
        assert!(view.acknowledge(2) && !view.acknowledge(2));
        assert_eq!(view.danger, None);
    }

    #[test]
    fn live_digits_go_with_their_prompt() {
        let mut view = View::default();
        for after in [
            prompt(Circuit::NotProved),
            Show::Taken {
                step: "a".into(),
                display: "0.42 ohm".into(),
                typed: false,
            },
            Show::Finished {
                outcome: Outcome::Pass,
                ending: "completed".into(),
            },
        ] {
            view.take(&live());
            assert!(view.live.is_some());
            view.take(&after);
            assert_eq!(view.live, None, "{after:?}");
        }
    }

    #[test]
    fn the_last_reading_keeps_its_own_verdict() {
        let verdict = |step: &str, because: &str| Show::Verdict {
            step: step.into(),
            verdict: Verdict::plain(Outcome::Pass, because),
        };
        let mut view = View::default();
        view.take(&Show::Taken {
            step: "a".into(),
            display: "0.42 ohm".into(),
            typed: true,
        });
        view.take(&verdict("a", "within"));
        view.take(&prompt(Circuit::NotProved));
        let last = view.last.clone().unwrap();
        assert_eq!(
            (last.display.as_deref(), last.verdict.unwrap().because.as_str()),
            (Some("0.42 ohm"), "within")
        );
        // an answer in words after it is no verdict on that reading
        view.take(&verdict("b", "done"));
        let last = view.last.unwrap();
        assert_eq!((last.step.as_str(), last.display), ("b", None));
    }

    #[test]
    fn the_end_says_nothing_of_dead() {
        let mut view = View::default();
        view.take(&prompt(dead()));
        view.take(&Show::Finished {
            outcome: Outcome::Pass,
            ending: "completed".into(),
        });
        assert_eq!(view.circuit, Circuit::NotProved);
    }
}
