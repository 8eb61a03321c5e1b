//! Where a person stands at a step, and what a second person at the far end could do there instead.
//!
//! The rule inside: the place follows from what hands and probes do and where the job's equipment is wired; where neither tells, the
//! sequence does, and where nothing tells, the person stays where they are.

use serde::Serialize;

use super::act::Act;
use super::step::{Kind, Plan, Stage, Step, Subject};
use crate::job::{At, End, Is, Job, MovedBy};

/// Where a person stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Stand {
    /// At the near end of the cable.
    Near,
    /// At its far end.
    Far,
    /// Where the supply is switched off.
    Isolator,
}

impl Stand {
    /// At an end of the cable.
    pub fn at(end: End) -> Stand {
        match end {
            End::Near => Stand::Near,
            End::Far => Stand::Far,
        }
    }

    /// The place in the words of a prompt.
    pub fn words(self, job: &Job) -> String {
        match self {
            Stand::Near => format!("at the {}, the near end", job.near.name),
            Stand::Far => format!("at the {}, the far end", job.far.name),
            Stand::Isolator => "where the supply is switched off".into(),
        }
    }
}

impl Step {
    /// Where the person stands; `None` where it can be done wherever they are.
    pub fn stand(&self, job: &Job) -> Option<Stand> {
        if let Some(end) = self.at {
            return Some(Stand::at(end));
        }
        let of_kind = match &self.kind {
            Kind::Do | Kind::Gate | Kind::Note { .. } => None,
            Kind::Look(look) => of_subject(&look.subject, job),
            Kind::Indicator { probes, .. } => probes.first.end().or(probes.second.end()).map(Stand::at),
            Kind::Measure(measure) => {
                let probes = &measure.probes;
                probes.first.end().or(probes.second.end()).map(Stand::at)
            }
            Kind::Connect { end, .. } => Some(Stand::at(*end)),
        };
        of_kind.or_else(|| self.acts.iter().find_map(|act| of_act(act, job)))
    }

    /// Whether somebody at the far end, who measures nothing and opens nothing, can do it when called to: a link, a cover, a control.
    pub fn can_be_called_out(&self, job: &Job) -> bool {
        let by_another = |act: &Act| {
            matches!(
                act,
                Act::LinkToEarth(_)
                    | Act::RemoveLink(_)
                    | Act::RemoveEveryLink
                    | Act::GuardFarEnd
                    | Act::CoverFarEnd
                    | Act::Call(_)
                    | Act::Satisfy(_)
                    | Act::EveryCallOff
            )
        };
        self.kind == Kind::Do && self.stand(job) == Some(Stand::Far) && self.acts.iter().all(by_another)
    }
}

fn of_act(act: &Act, job: &Job) -> Option<Stand> {
    match act {
        Act::SwitchOff | Act::LockOff | Act::PostNotice | Act::Energise | Act::Further { .. } => Some(Stand::Isolator),
        Act::Disconnect(end) | Act::Connect { end, .. } | Act::EarthOff(end) | Act::EarthBack(end) => {
            Some(Stand::at(*end))
        }
        Act::GuardFarEnd | Act::LinkToEarth(_) | Act::RemoveLink(_) | Act::RemoveEveryLink | Act::CoverFarEnd => {
            Some(Stand::Far)
        }
        Act::JoinLiveCores
        | Act::PartLiveCores
        | Act::JoinEarth
        | Act::PartEarth
        | Act::JoinRest(_)
        | Act::PartRest
        | Act::PartNeutral
        | Act::RestoreNeutral
        | Act::JoinTerminals
        | Act::PartTerminals
        | Act::Discharge => Some(Stand::Near),
        Act::TakeLeadOff(contact) | Act::PutLeadOn(contact) => of_equipment(contact, job),
        Act::Call(control) | Act::Satisfy(control) => of_control(job, |moved| moved == control),
        Act::EveryCallOff => of_control(job, |_| true),
        Act::KeepKey | Act::TakeOutElectronics | Act::ResetDevice | Act::MakeSafe => None,
    }
}

fn of_subject(subject: &Subject, job: &Job) -> Option<Stand> {
    match subject {
        Subject::Tug { end, .. } | Subject::Polarity { end, .. } | Subject::Plate(end) => Some(Stand::at(*end)),
        Subject::Identity { .. } => Some(Stand::Near),
        Subject::Lever(name) | Subject::Pin(name) | Subject::Load(name) | Subject::Warmth(name) => {
            of_equipment(name, job)
        }
        Subject::Moved | Subject::Thing(_) => None,
    }
}

/// What covers ask of whoever comes to what is live, or leaves it: no more is uncovered than is read, and nobody leaves an end open.
pub fn of_covers(plan: &Plan, step: usize) -> Vec<String> {
    let job = &plan.job;
    let is_open = |step: &Step| {
        let live = matches!(step.stage, Stage::Survey | Stage::FaultFinding | Stage::Live);
        live && matches!(step.kind, Kind::Measure(_) | Kind::Indicator { .. })
    };
    // what was read since somebody came to a place, up to this step
    let opened = |stand: Stand| {
        let earlier = plan.steps[..step].iter().rev().map(|step| (step, step.stand(job)));
        let mut stay = earlier.take_while(|(_, at)| at.is_none_or(|at| at == stand));
        stay.any(|(step, at)| at.is_some() && is_open(step))
    };
    let Some(stand) = plan.steps[step].stand(job) else {
        return Vec::new();
    };
    let mut said = Vec::new();
    let left = plan.steps[..step].iter().rev().find_map(|step| step.stand(job));
    if let Some(left) = left.filter(|left| *left != stand && opened(*left)) {
        let name = match left {
            Stand::Far => &job.far.name,
            Stand::Near | Stand::Isolator => &job.near.name,
        };
        said.push(format!("it is live: cover the {name} before you leave it"));
    }
    if is_open(&plan.steps[step]) && !opened(stand) {
        said.push("uncover no more than is read here".to_owned());
    }
    said
}

/// The end that a piece of equipment is wired to.
fn of_equipment(name: &str, job: &Job) -> Option<Stand> {
    let found = job.equipment.iter().find(|there| there.name == name)?;
    wired_to(&found.is)
}

fn wired_to(is: &Is) -> Option<Stand> {
    let (first, second) = is.between();
    [first, second].into_iter().find_map(|at| match at {
        At::Near(_) => Some(Stand::Near),
        At::Far(_) => Some(Stand::Far),
        At::Inside(_) | At::Line | At::Neutral | At::Earth => None,
    })
}

/// The farthest end at which one of these controls is.
fn of_control(job: &Job, which: impl Fn(&str) -> bool) -> Option<Stand> {
    let contacts = job.equipment.iter().filter_map(|there| match &there.is {
        Is::Contact(contact) => match &contact.moved_by {
            MovedBy::Control(control) if which(control) => wired_to(&there.is),
            _ => None,
        },
        _ => None,
    });
    contacts.max()
}

#[cfg(test)]
mod tests {
    use super::of_covers;
    use crate::model::sample::plan;

    #[test]
    fn nobody_leaves_a_live_end_open_or_uncovers_more_than_is_read() {
        let plan = plan();
        let said = |id: &str| of_covers(&plan, plan.index(id).unwrap_or_else(|| panic!("{id}"))).join("; ");
        let uncover = "uncover no more than is read here";
        let leave = |place: &str| format!("it is live: cover the {place} before you leave it");
        for (id, expected) in [
            ("earth-near", uncover.to_owned()),
            ("lead", String::new()),
            ("switch-off", leave("wiring centre")),
            ("lock-off", String::new()),
            // what is proved dead is left open
            ("dead-near/earth-line", String::new()),
            ("dead-far/earth-line", String::new()),
            ("supply", uncover.to_owned()),
            ("feed", format!("{}; {uncover}", leave("wiring centre"))),
            ("feed-earth", String::new()),
            // a control is turned with its cover on
            ("call", String::new()),
            ("switched-on", format!("{}; {uncover}", leave("sail loft thermostat"))),
            ("satisfy", leave("wiring centre")),
            ("switched-off", uncover.to_owned()),
            ("covers", String::new()),
        ] {
            assert_eq!(said(id), expected, "{id}");
        }
    }

    #[test]
    fn each_step_has_the_place_that_its_hands_and_probes_have() {
        let plan = plan();
        let job = &plan.job;
        for (id, expected, called_out) in [
            ("switch-off", "where the supply is switched off", false),
            ("dead-near/earth-line", "at the wiring centre, the near end", false),
            ("dead-far/earth-line", "at the sail loft thermostat, the far end", false),
            ("guard", "at the sail loft thermostat, the far end", true),
            ("link/grey+black", "at the sail loft thermostat, the far end", true),
            ("continuity/brown", "at the wiring centre, the near end", false),
            ("connect-far/brown", "at the sail loft thermostat, the far end", false),
            ("call", "at the sail loft thermostat, the far end", true),
            ("lead-null", "where the person is", false),
        ] {
            let step = &plan.steps[plan.index(id).unwrap_or_else(|| panic!("{id}"))];
            let place = step
                .stand(job)
                .map_or("where the person is".into(), |stand| stand.words(job));
            assert_eq!(
                (place.as_str(), step.can_be_called_out(job)),
                (expected, called_out),
                "{id}"
            );
        }
    }
}
