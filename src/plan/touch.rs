//! Where hands or a dead tester are on the conductors, and what eyes find before anybody may be.
//!
//! The rule inside: what is wrong to the eye while the place is live is noted and left alone; hands go to it once dead is proved, and only in a
//! plan whose hands go in at all, since the order proves every point of both ends dead for those alone.

use std::collections::BTreeSet;

use super::tables::{is_null, looks_as_found, may_follow, shows_dark};
use super::{Act, Kind, Measure, Plan, Stage, Stand, Step, Subject, Then};
use crate::job::End;
use crate::value::reading::Function;

/// A measurement made on dead cores.
pub fn dead_measure(step: &Step) -> Option<&Measure> {
    match &step.kind {
        Kind::Measure(m)
            if !is_null(step)
                && matches!(
                    m.used.function,
                    Function::Continuity | Function::Resistance | Function::Insulation(_)
                ) =>
        {
            Some(m)
        }
        _ => None,
    }
}

/// Whether hands are on the cores, or a dead tester.
pub fn touches(step: &Step) -> bool {
    let hands = |act: &Act| {
        matches!(
            act,
            Act::Disconnect(_)
                | Act::TakeOutElectronics
                | Act::LinkToEarth(_)
                | Act::RemoveLink(_)
                | Act::RemoveEveryLink
                | Act::JoinLiveCores
                | Act::PartLiveCores
                | Act::JoinEarth
                | Act::PartEarth
                | Act::JoinRest(_)
                | Act::PartRest
                | Act::PartNeutral
                | Act::RestoreNeutral
                | Act::EarthOff(_)
                | Act::EarthBack(_)
                | Act::JoinTerminals
                | Act::PartTerminals
                | Act::TakeLeadOff(_)
                | Act::PutLeadOn(_)
                | Act::Discharge
                | Act::Connect { .. }
        )
    };
    let fingers = |kind: &Kind| {
        let Kind::Look(look) = kind else { return false };
        matches!(look.subject, Subject::Tug { .. } | Subject::Identity { .. })
    };
    dead_measure(step).is_some() || fingers(&step.kind) || step.acts.iter().any(hands)
}

impl Plan {
    /// The steps that look at the place as it was found and whose fault is noted, repaired once everything is proved dead where it is, and then
    /// looked at again.
    pub fn repaired_once_dead(&self) -> BTreeSet<usize> {
        let dead = self.dead_for_hands();
        let all = 0..self.steps.len();
        all.filter(|step| self.is_noted_where(*step, dead)).collect()
    }

    /// Whether a step is one of these.
    pub fn is_repaired_once_dead(&self, step: usize) -> bool {
        looks_as_found(&self.steps[step]) && self.is_noted_where(step, self.dead_for_hands())
    }

    /// At which ends points are shown dark before hands go in; at none where none ever do.
    fn dead_for_hands(&self) -> [bool; 2] {
        let go_in = self.steps.iter().any(touches);
        End::BOTH.map(|end| {
            let there = Some(Stand::at(end));
            let mut isolates = self.steps.iter().filter(|step| step.stage == Stage::Isolate);
            go_in && isolates.any(|step| shows_dark(step) && step.stand(&self.job) == there)
        })
    }

    fn is_noted_where(&self, step: usize, dead: [bool; 2]) -> bool {
        let step = &self.steps[step];
        let repairs = |then: &Then| matches!(then, Then::Repair(_)) && may_follow(step, then);
        let is_dead = match step.at {
            Some(end) => dead[end as usize],
            None => dead == [true; 2],
        };
        looks_as_found(step) && is_dead && step.after_failure.iter().any(repairs)
    }

    /// The first step after the proof of isolation, where what was found by eye is repaired; `None` where nothing is isolated.
    pub fn after_isolation(&self) -> Option<usize> {
        let last = self.steps.iter().rposition(|step| step.stage == Stage::Isolate)?;
        Some(last + 1)
    }
}
