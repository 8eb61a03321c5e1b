//! Steps of hands: acts and connecting.

use super::binder::{Binder, linked_words};
use super::raw::{Do, RawAct};
use crate::job::{Core, End, Purpose};
use crate::located::{Located, listed};
use crate::plan::{Act, Isolating, Kind, SetUp, Stage};

impl<'a> Binder<'a> {
    pub(super) fn act(&mut self, step: &'a Do) {
        let Some(acts) = self.acts_of(&step.act) else { return };
        let job = self.job;
        let stays = job
            .stays_connected
            .as_ref()
            .filter(|_| act_is_about_terminals(&step.act));
        let say = match stays {
            Some(what) => format!(
                "{} Only {what} stays connected, as the job says: nothing else may.",
                step.say.value
            ),
            None => step.say.value.clone(),
        };
        let id = self.named(&step.id.value);
        let linked = self.linked_by(&step.act).unwrap_or_default();
        let words = linked_words(&linked);
        let mut extra = Vec::new();
        if !linked.is_empty() {
            extra.push(("linked", words.as_str()));
        }
        if let (RawAct::LinkPair, [first, second]) = (&step.act.value, linked.as_slice()) {
            extra.extend([("core", first.name.as_str()), ("other", second.name.as_str())]);
        }
        self.push(&step.id, id, step.stage, &say, &extra, Kind::Do);
        let around = [self.around.core, self.around.other].into_iter().flatten();
        let mut cores: Vec<_> = around.map(|core| core.name.clone()).collect();
        // taking cores off and joining them is about every core
        if cores.is_empty() && matches!(step.stage, Stage::Disconnect | Stage::Test) {
            cores = job.cores.iter().map(|core| core.name.clone()).collect();
        }
        let made = self.steps.last_mut().expect("just pushed");
        (made.acts, made.cores) = (acts, cores);
    }

    /// What hands do to the wiring at a step.
    fn acts_of(&mut self, act: &Located<RawAct>) -> Option<Vec<Act>> {
        match act.value {
            RawAct::Link | RawAct::LinkPair if self.around.supply.is_none() => {
                let acts = self.linking(&self.linked_by(act)?);
                (!acts.is_empty()).then_some(acts)
            }
            RawAct::JoinRest if self.set_up().rest.is_some() => Some(vec![Act::PartRest, self.act_of(act)?]),
            _ => Some(vec![self.act_of(act)?]),
        }
    }

    /// The cores that an act links to the return core, and no others; `None` where it is about no link, or the cable has no cores for it.
    fn linked_by(&self, act: &Located<RawAct>) -> Option<Vec<&'a Core>> {
        match act.value {
            RawAct::Link if self.around.linked.is_empty() => {
                let first = self.turns().into_iter().next()?;
                // it may still be in its terminal at the near end
                let is_neutral = |core: &&Core| core.carries == Purpose::Neutral;
                (!first.iter().any(is_neutral)).then_some(first)
            }
            RawAct::Link => Some(self.around.linked.clone()),
            RawAct::LinkPair => self.job.linked_pair().map(Vec::from),
            _ => None,
        }
    }

    /// What hands do so that these cores are linked and no others, as the steps before leave it.
    fn linking(&self, linked: &[&Core]) -> Vec<Act> {
        let there = self.set_up().links;
        let is_wanted = |name: &String| linked.iter().any(|core| core.name == *name);
        let off = there
            .iter()
            .filter(|name| !is_wanted(name))
            .cloned()
            .map(Act::RemoveLink);
        let on = linked.iter().filter(|core| !there.contains(&core.name));
        off.chain(on.map(|core| Act::LinkToEarth(core.name.clone()))).collect()
    }

    /// What is linked and joined after the steps so far.
    fn set_up(&self) -> SetUp {
        let mut set_up = SetUp::default();
        self.steps
            .iter()
            .flat_map(|step| &step.acts)
            .for_each(|act| set_up.act(act));
        set_up
    }

    fn act_of(&mut self, act: &Located<RawAct>) -> Option<Act> {
        let core = || {
            let core = self.around.core.expect("checked: only inside `EachCore`");
            core.name.clone()
        };
        if let Some(further) = self.around.supply {
            let supply = further.name.clone();
            let isolating = match &act.value {
                RawAct::SwitchOff => Isolating::SwitchOff,
                RawAct::LockOff => Isolating::LockOff,
                RawAct::KeepKey => Isolating::KeepKey,
                RawAct::PostNotice => Isolating::PostNotice,
                _ => {
                    let what =
                        "at each supply it is switched off, locked off, its key kept and a notice posted, nothing else";
                    return self.cannot(act, what.into(), "put the step outside `EachSupply`".into());
                }
            };
            return Some(Act::Further { supply, act: isolating });
        }
        Some(match &act.value {
            RawAct::SwitchOff => Act::SwitchOff,
            RawAct::LockOff => Act::LockOff,
            RawAct::KeepKey => Act::KeepKey,
            RawAct::PostNotice => Act::PostNotice,
            RawAct::DisconnectNear => Act::Disconnect(End::Near),
            RawAct::DisconnectFar => Act::Disconnect(End::Far),
            RawAct::TakeOutElectronics => Act::TakeOutElectronics,
            RawAct::GuardFarEnd => Act::GuardFarEnd,
            RawAct::LinkToEarth => Act::LinkToEarth(core()),
            RawAct::Link | RawAct::LinkPair => unreachable!("more than one act, told before"),
            RawAct::RemoveLink => Act::RemoveLink(core()),
            RawAct::RemoveEveryLink => Act::RemoveEveryLink,
            RawAct::JoinLiveCores => Act::JoinLiveCores,
            RawAct::PartLiveCores => Act::PartLiveCores,
            RawAct::JoinEarth | RawAct::PartEarth if self.job.core_for(Purpose::Earth).is_none() => {
                let what = format!("the cable `{}` has no earth core to join", self.job.cable);
                return self.cannot(act, what, "put the step into `If(HasEarthCore, [...])`".into());
            }
            RawAct::JoinEarth => Act::JoinEarth,
            RawAct::PartEarth => Act::PartEarth,
            RawAct::JoinRest => Act::JoinRest(core()),
            RawAct::PartRest => Act::PartRest,
            RawAct::CoverFarEnd => Act::CoverFarEnd,
            RawAct::PartNeutral => Act::PartNeutral,
            RawAct::RestoreNeutral => Act::RestoreNeutral,
            RawAct::EarthOffNear => Act::EarthOff(self.metal_at(act, End::Near)?),
            RawAct::EarthOffFar => Act::EarthOff(self.metal_at(act, End::Far)?),
            RawAct::EarthBackNear => Act::EarthBack(self.metal_at(act, End::Near)?),
            RawAct::EarthBackFar => Act::EarthBack(self.metal_at(act, End::Far)?),
            RawAct::JoinTerminals => Act::JoinTerminals,
            RawAct::PartTerminals => Act::PartTerminals,
            RawAct::Discharge => Act::Discharge,
            RawAct::Energise => Act::Energise,
            RawAct::Call(control) => Act::Call(self.control(act, control)?),
            RawAct::Satisfy(control) => Act::Satisfy(self.control(act, control)?),
            RawAct::EveryCallOff => Act::EveryCallOff,
            RawAct::ResetDevice => Act::ResetDevice,
        })
    }

    /// An end where metal touches the earth terminal: without it nothing is gained by taking the earth conductor off.
    fn metal_at(&mut self, act: &Located<RawAct>, end: End) -> Option<End> {
        if self.job.metal_beside_earth(end).is_some() {
            return Some(end);
        }
        let what = format!(
            "the job `{}` has no metalwork beside an earth conductor at the {}: it is read in its terminal",
            self.job.text.name,
            self.job.end(end).name
        );
        self.cannot(
            act,
            what,
            format!("put the step into `If(HasMetalwork({end:?}), [...])`"),
        )
    }

    /// What hands cannot do at this job, told at the act.
    fn cannot<T>(&mut self, act: &Located<RawAct>, what: String, hint: String) -> Option<T> {
        let at = Located {
            value: String::new(),
            span: act.span.clone(),
        };
        self.problem(&at, what, Some(hint));
        None
    }

    /// A control of the job by its name; inside `EachZone` as `{control}`.
    fn control(&mut self, act: &Located<RawAct>, name: &str) -> Option<String> {
        let name = self.words(name, &[]);
        let known = self.job.controls();
        if known.contains(&name.as_str()) {
            return Some(name);
        }
        let at = Located {
            value: name.clone(),
            span: act.span.clone(),
        };
        let hint = match known.as_slice() {
            [] => "list the contact that it moves in the equipment of the job".to_owned(),
            known => format!("it has {}", listed(known, |control| format!("`{control}`"))),
        };
        let what = format!("the job `{}` has no control called `{name}`", self.job.text.name);
        self.problem(&at, what, Some(hint));
        None
    }

    pub(super) fn connect(&mut self, id: &Located<String>, end: End, say: &str) {
        let job = self.job;
        for core in &job.cores {
            let terminal = core.terminal(end).to_owned();
            let extra = [
                ("core", core.name.as_str()),
                ("terminal", terminal.as_str()),
                ("end", job.end(end).name.as_str()),
            ];
            let kind = Kind::Connect {
                core: core.name.clone(),
                end,
                terminal: terminal.clone(),
                carries: core.carries,
            };
            self.push(
                id,
                format!("{}/{}", self.named(id), core.name),
                Stage::Connect,
                say,
                &extra,
                kind,
            );
            let step = self.steps.last_mut().expect("just pushed");
            step.acts = vec![Act::Connect {
                core: core.name.clone(),
                end,
            }];
            step.cores = vec![core.name.clone()];
        }
    }
}

/// Acts that take everything off the cable, but for what the job says must stay.
fn act_is_about_terminals(act: &RawAct) -> bool {
    matches!(
        act,
        RawAct::DisconnectNear | RawAct::DisconnectFar | RawAct::TakeOutElectronics
    )
}
