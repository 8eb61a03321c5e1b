//! What hands do to the wiring, and how a prompt says it.
//!
//! The rule inside: an act is said in words of the program's own beside those of the sequence's author, so that a slip in a sequence never
//! sends hands to another place than the one that is proved.

use serde::Serialize;

use super::Point;
use crate::job::{End, Job};

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
    /// The tester discharges what its test voltage has charged.
    Discharge,
    /// A core goes into the terminal it belongs to.
    Connect {
        /// The core, by its name.
        core: String,
        /// The end at which it goes in.
        end: End,
    },
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
    /// The supply is switched off and locked off before the place is left.
    MakeSafe,
}

impl Act {
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
            Act::Discharge => "let the tester discharge every core".into(),
            Act::Connect { core, end: at } => format!("put core {core} into its terminal at the {}", end(at)),
            Act::Energise => format!("SWITCH ON at the {}", job.supply.from),
            Act::Call(control) => format!("set {control} so that it calls"),
            Act::Satisfy(control) => format!("set {control} so that it does not call"),
            Act::EveryCallOff => "set every control so that none calls".into(),
            Act::ResetDevice => "see that the residual-current device is on, or switch it on again".into(),
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
