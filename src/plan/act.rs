//! What hands do to the wiring, and how a prompt says it.
//!
//! The rule inside: an act is said in words of the program's own beside those of the sequence's author, so that a slip in a sequence never
//! sends hands to another place than the one that is proved.

use serde::{Deserialize, Serialize};

use super::point::Point;
use crate::job::{End, Job, Purpose};

/// The acts of isolating one supply.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Isolating {
    /// It is switched off at its point of isolation.
    SwitchOff,
    /// That is locked off, or its fuse taken out.
    LockOff,
    /// The key, or the fuse, is kept on the person.
    KeepKey,
    /// A notice is posted there.
    PostNotice,
}

impl Isolating {
    /// Every act, in the order in which they are done.
    pub const ALL: [Isolating; 4] = [
        Isolating::SwitchOff,
        Isolating::LockOff,
        Isolating::KeepKey,
        Isolating::PostNotice,
    ];

    /// The act in the words of a prompt, at a point of isolation.
    pub fn words(self, from: &str) -> String {
        match self {
            Isolating::SwitchOff => format!("switch off: {from}"),
            Isolating::LockOff => format!("lock it off, or take its fuse out: {from}"),
            Isolating::KeepKey => format!("keep its only key or its fuse on you: {from}"),
            Isolating::PostNotice => format!("post a notice there: {from}"),
        }
    }
}

/// A neutral that hands part: what another circuit returns through it is live from then on, so it is tried before they go on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Neutral {
    /// That of the cable, off its terminal at this end.
    OfCable(End),
    /// The supply's, off its terminal at the near end.
    OfSupply,
}

impl Neutral {
    /// Every neutral that is parted.
    pub const ALL: [Neutral; 3] = [
        Neutral::OfCable(End::Near),
        Neutral::OfCable(End::Far),
        Neutral::OfSupply,
    ];

    /// The act that parts it.
    pub fn parting(self) -> Act {
        match self {
            Neutral::OfCable(end) => Act::Disconnect(end),
            Neutral::OfSupply => Act::PartNeutral,
        }
    }

    /// The line that it is tried against once it is parted: the end's terminal, in which other cables stay; at the far end, where nothing
    /// else may stay in it, the core that belongs there.
    pub fn line_to_try(self, job: &Job) -> Option<Point> {
        let end = self.end();
        let lines = [Purpose::PermanentLive, Purpose::SwitchedLive];
        let core = lines.iter().find_map(|purpose| job.core_for(*purpose));
        match (self, core) {
            (Neutral::OfCable(End::Far), Some(core)) => Some(Point::Core {
                core: core.name.clone(),
                end,
            }),
            _ => {
                let terminal = lines.iter().find_map(|purpose| job.end(end).terminal_for(*purpose))?;
                Some(Point::Terminal {
                    terminal: terminal.name.clone(),
                    end,
                })
            }
        }
    }

    /// The end where it is parted.
    pub fn end(self) -> End {
        match self {
            Neutral::OfCable(end) => end,
            Neutral::OfSupply => End::Near,
        }
    }
}

/// What hands do to the wiring.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub enum Act {
    /// The supply is switched off at its point of isolation.
    SwitchOff,
    /// The point of isolation is locked off.
    LockOff,
    /// The key of the lock is kept on the person.
    KeepKey,
    /// A notice is posted at the point of isolation.
    PostNotice,
    /// Every core is taken out of its terminals at this end.
    Disconnect(End),
    /// What the test voltage could damage is taken off the cores.
    TakeOutElectronics,
    /// Nobody can touch the far end: it is barred, or a person stands there.
    GuardFarEnd,
    /// To the return core, which is the earth core where there is one.
    LinkToEarth(String),
    /// The link of this core is taken off.
    RemoveLink(String),
    /// Every link at the far end is taken off.
    RemoveEveryLink,
    /// All cores but the one that tests return through are joined at the near end.
    JoinLiveCores,
    /// They are parted again.
    PartLiveCores,
    /// The earth core is clipped to the earth of the building at the near end, so that a core that touches anything earthed shows.
    JoinEarth,
    /// That clip is taken off.
    PartEarth,
    /// All cores but this one, the earth core too, are joined at the near end.
    JoinRest(String),
    /// They are discharged and parted.
    PartRest,
    /// Covers are on at the far end and nobody is at it.
    CoverFarEnd,
    /// The supply's neutral is taken off its terminal at the near end and insulated.
    PartNeutral,
    /// It is back in its terminal, tightened and tugged.
    RestoreNeutral,
    /// The earth conductor of an end is taken off its terminal, where metal touches that: at the near end the one that comes in, at the far
    /// end the earth core of the cable.
    EarthOff(End),
    /// It is back in its terminal, tightened and tugged.
    EarthBack(End),
    /// Every live terminal for mains at the near end is joined to the others, the cores in them.
    JoinTerminals,
    /// They are discharged and parted.
    PartTerminals,
    /// The tester discharges what its test voltage has charged.
    Discharge,
    /// A core goes into the terminal it belongs to.
    Connect {
        /// The core, by its name.
        core: String,
        /// The end at which it goes in.
        end: End,
    },
    /// The live conductor of a contact is taken off it and made safe, until [`Act::PutLeadOn`].
    TakeLeadOff(String),
    /// Every conductor of a contact is on it.
    PutLeadOn(String),
    /// The lock is taken off and the supply is switched on.
    Energise,
    /// A control of the job is set so that it calls.
    Call(String),
    /// A control of the job is set so that it does not call.
    Satisfy(String),
    /// No control calls.
    EveryCallOff,
    /// The residual-current device, which a test has tripped, is switched on again.
    ResetDevice,
    /// One act of isolating a further supply of the job.
    Further {
        /// The supply, by its name.
        supply: String,
        /// What is done at its point of isolation.
        act: Isolating,
    },
    /// The supply is switched off and locked off before the place is left.
    MakeSafe,
}

impl Act {
    /// Whether the tester lets go what its insulation test has charged, before hands do anything else.
    pub fn lets_go(&self) -> bool {
        matches!(
            self,
            Act::Discharge | Act::PartLiveCores | Act::PartRest | Act::PartTerminals
        )
    }

    /// The act in the words of a prompt.
    pub fn words(&self, job: &Job) -> String {
        let end = |end: &End| job.end(*end).name.as_str();
        match self {
            Act::SwitchOff => format!("switch off at the {}", job.supply.from),
            Act::LockOff => format!("lock off the {}", job.supply.from),
            Act::KeepKey => "keep the only key or the fuse on you".into(),
            Act::PostNotice => format!("post a notice at the {}", job.supply.from),
            Act::Disconnect(at) => format!("take every core off at the {}", end(at)),
            Act::TakeOutElectronics => "take out whatever is electronic".into(),
            Act::GuardFarEnd => format!("let nobody touch the cores at the {}", job.far.name),
            Act::LinkToEarth(core) => format!("link core {core} to {} at the {}", job.return_words(), job.far.name),
            Act::RemoveLink(core) => format!("take off the link of core {core} at the {}", job.far.name),
            Act::RemoveEveryLink => format!("take off every link at the {}", job.far.name),
            Act::JoinLiveCores => format!("join all cores but {} at the {}", job.return_words(), job.near.name),
            Act::PartLiveCores => format!("part the joined cores at the {}", job.near.name),
            Act::JoinEarth => format!(
                "clip {} to {}",
                job.return_words(),
                Point::building_earth(job).words(job)
            ),
            Act::PartEarth => format!(
                "take the earth clip off {} at the {}",
                job.return_words(),
                job.near.name
            ),
            Act::JoinRest(core) => format!("join every core but {core} at the {}", job.near.name),
            Act::PartRest => format!("part the joined cores at the {}", job.near.name),
            Act::CoverFarEnd => format!("put the covers on at the {}, and let nobody work at it", job.far.name),
            Act::PartNeutral => format!(
                "take the supply's neutral off at the {}, and insulate it",
                job.near.name
            ),
            Act::RestoreNeutral => format!(
                "put the supply's neutral back at the {}, tighten it and tug it",
                job.near.name
            ),
            Act::EarthOff(at) => format!(
                "take {} off its terminal, and no other conductor",
                Point::earth_conductor(job, *at).words(job)
            ),
            Act::EarthBack(at) => format!(
                "put {} back into its terminal, tighten it and tug it",
                Point::earth_conductor(job, *at).words(job)
            ),
            Act::JoinTerminals => format!("join every live terminal for mains at the {}", job.near.name),
            Act::PartTerminals => format!("take every joint off the terminals at the {}", job.near.name),
            Act::Discharge => "let the tester discharge every core".into(),
            Act::Connect { core, end: at } => format!("put core {core} into its terminal at the {}", end(at)),
            Act::TakeLeadOff(contact) => {
                format!("take the live conductor off {contact}, cap it and lay it clear of everything")
            }
            Act::PutLeadOn(contact) => format!("see that every conductor is on {contact}"),
            Act::Energise => format!("SWITCH ON at the {}", job.supply.from),
            Act::Call(control) => format!("set {control} so that it calls"),
            Act::Satisfy(control) => format!("set {control} so that it does not call"),
            Act::EveryCallOff => "set every control so that none calls".into(),
            Act::ResetDevice => "see that the residual-current device is on, or switch it on again".into(),
            Act::Further { supply, act } => {
                let mut further = job.supply.further.iter();
                let from = further
                    .find(|there| there.name == *supply)
                    .map(|there| there.from.as_str());
                act.words(from.unwrap_or(supply))
            }
            Act::MakeSafe => "make the place safe".into(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_act_names_its_place() {
        let job = crate::model::sample::job();
        for (act, expected) in [
            (
                Act::SwitchOff,
                "switch off at the fused connection unit beside the hot-water cylinder",
            ),
            (
                Act::Disconnect(End::Far),
                "take every core off at the sail loft thermostat",
            ),
            (
                Act::LinkToEarth("brown".into()),
                "link core brown to the earth core at the sail loft thermostat",
            ),
            (Act::JoinEarth, "clip the earth core to terminal E at the wiring centre"),
            (
                Act::JoinRest("brown".into()),
                "join every core but brown at the wiring centre",
            ),
            (
                Act::Energise,
                "SWITCH ON at the fused connection unit beside the hot-water cylinder",
            ),
        ] {
            assert_eq!(act.words(&job), expected);
        }
    }
}
