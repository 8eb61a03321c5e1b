//! How much stands between a tap and its answer.
//!
//! The rule inside: what says that a voltage is there is one tap; what says that something is so takes a second; what makes a place dead
//! or live is said at the laptop alone.

use serde::Serialize;

use super::prompt::{Ask, Prompt};
use crate::plan::Act;

/// The weight of an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Weight {
    /// One tap.
    Plain,
    /// A second tap says it.
    SecondTap,
    /// Only at the laptop: its keyboard, or its own browser, where a second tap says it.
    LaptopOnly,
}

/// Whether an act makes a place dead, or live, or holds a charge: that it is done is said at the laptop alone.
pub fn is_grave(act: &Act) -> bool {
    match act {
        Act::SwitchOff
        | Act::LockOff
        | Act::KeepKey
        | Act::PostNotice
        | Act::Further { .. }
        | Act::EveryCallOff
        | Act::Energise
        | Act::MakeSafe => true,
        act => act.lets_go(),
    }
}

impl Prompt {
    /// The weight of a choice by its word.
    pub fn weight(&self, word: &str) -> Weight {
        match (word, &self.ask) {
            // the probes are on the points
            ("on", Ask::Reading { .. }) => Weight::Plain,
            // a voltage is there: nothing stands between it and its record
            ("live", _) | ("yes" | "volts", Ask::Told) => Weight::Plain,
            ("done" | "energise", _) if self.at_laptop => Weight::LaptopOnly,
            _ => Weight::SecondTap,
        }
    }

    /// The weight of what is typed beside the choices: a reading in sight is plain.
    pub fn weight_of_typed(&self) -> Weight {
        match self.ask {
            Ask::Reading { .. } => Weight::Plain,
            _ => Weight::SecondTap,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::End;

    #[test]
    fn what_makes_dead_or_live_is_for_the_laptop() {
        for (act, expected) in [
            (Act::SwitchOff, true),
            (Act::LockOff, true),
            (Act::KeepKey, true),
            (Act::PostNotice, true),
            (Act::Discharge, true),
            (Act::PartLiveCores, true),
            (Act::EveryCallOff, true),
            (Act::Energise, true),
            (Act::MakeSafe, true),
            (Act::Disconnect(End::Far), false),
            (Act::LinkToEarth("brown".into()), false),
            (Act::GuardFarEnd, false),
            (Act::Call("thermostat".into()), false),
        ] {
            assert_eq!(is_grave(&act), expected, "{act:?}");
        }
    }

    #[test]
    fn each_answer_has_its_weight() {
        let prompt = |ask, at_laptop| {
            Prompt {
                at_laptop,
                ..Prompt::default()
            }
            .asking(ask)
        };
        let done = || Ask::Done { word: "done" };
        let reading = || Ask::Reading {
            function: crate::value::reading::Function::Continuity,
            from_meter: true,
        };
        for (ask, at_laptop, word, expected) in [
            (reading(), false, "on", Weight::Plain),
            (reading(), false, "leads", Weight::SecondTap),
            (Ask::Held, false, "live", Weight::Plain),
            (Ask::Told, false, "yes", Weight::Plain),
            (Ask::Told, false, "no", Weight::SecondTap),
            (Ask::Told, false, "megohm", Weight::SecondTap),
            (Ask::Indicator, false, "lit", Weight::SecondTap),
            (Ask::Indicator, false, "dark", Weight::SecondTap),
            (done(), false, "done", Weight::SecondTap),
            (done(), true, "done", Weight::LaptopOnly),
            (done(), true, "no", Weight::SecondTap),
            (Ask::Done { word: "energise" }, true, "energise", Weight::LaptopOnly),
        ] {
            let said = format!("{word} at {ask:?}");
            assert_eq!(prompt(ask, at_laptop).weight(word), expected, "{said}");
        }
        assert_eq!(prompt(reading(), false).weight_of_typed(), Weight::Plain);
        assert_eq!(prompt(Ask::Text, false).weight_of_typed(), Weight::SecondTap);
    }
}
