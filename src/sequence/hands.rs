//! Steps of hands: acts, proving dead, connecting.

use std::collections::BTreeSet;

use super::binder::Binder;
use super::raw::{Do, ProveIndicator, RawAct};
use crate::job::{End, Job, Purpose};
use crate::located::{Located, listed};
use crate::plan::{Act, Kind, Point, Probes, Stage};
use crate::value::reading::Function;

impl<'a> Binder<'a> {
    pub(super) fn act(&mut self, step: &'a Do) {
        let Some(act) = self.act_of(&step.act) else { return };
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
        self.push(&step.id, id, step.stage, &say, &[], Kind::Do);
        let around = [self.around.core, self.around.other].into_iter().flatten();
        let mut cores: Vec<_> = around.map(|core| core.name.clone()).collect();
        // taking cores off and joining them is about every core
        if cores.is_empty() && matches!(step.stage, Stage::Disconnect | Stage::Test) {
            cores = job.cores.iter().map(|core| core.name.clone()).collect();
        }
        let made = self.steps.last_mut().expect("just pushed");
        (made.acts, made.cores) = (vec![act], cores);
    }

    fn act_of(&mut self, act: &Located<RawAct>) -> Option<Act> {
        let core = || {
            let core = self.around.core.expect("checked: only inside `EachCore`");
            core.name.clone()
        };
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
            RawAct::RemoveLink => Act::RemoveLink(core()),
            RawAct::RemoveEveryLink => Act::RemoveEveryLink,
            RawAct::JoinLiveCores => Act::JoinLiveCores,
            RawAct::PartLiveCores => Act::PartLiveCores,
            RawAct::JoinEarth | RawAct::PartEarth if self.job.core_for(Purpose::Earth).is_none() => {
                let what = format!("the cable `{}` has no earth core to join", self.job.cable);
                let at = Located {
                    value: String::new(),
                    span: act.span.clone(),
                };
                self.problem(&at, what, Some("put the step into `If(HasEarthCore, [...])`".into()));
                return None;
            }
            RawAct::JoinEarth => Act::JoinEarth,
            RawAct::PartEarth => Act::PartEarth,
            RawAct::JoinRest => Act::JoinRest(core()),
            RawAct::PartRest => Act::PartRest,
            RawAct::Discharge => Act::Discharge,
            RawAct::Energise => Act::Energise,
            RawAct::Call(control) => Act::Call(self.control(act, control)?),
            RawAct::Satisfy(control) => Act::Satisfy(self.control(act, control)?),
            RawAct::EveryCallOff => Act::EveryCallOff,
            RawAct::ResetDevice => Act::ResetDevice,
        })
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

    pub(super) fn prove_indicator(&mut self, step: &'a ProveIndicator) {
        let probes = Probes {
            first: Point::KnownSource,
            second: Point::KnownSource,
        };
        let kind = Kind::Indicator { probes, lit: true };
        let id = self.named(&step.id.value);
        self.push(&step.id, id, Stage::Isolate, &step.say, &[], kind);
    }

    /// Every pair of [`dark_pairs`] at one end is shown dark, and where extra-low voltage may be, without a voltage on a meter.
    pub(super) fn prove_dead(&mut self, id: &'a Located<String>, end: End, say: &str) {
        let job = self.job;
        let extra_low = job.may_carry_extra_low_voltage();
        for (name, first, second) in dark_pairs(job, end) {
            let words = [first.words(job), second.words(job)];
            let extra = [
                ("first", words[0].as_str()),
                ("second", words[1].as_str()),
                ("end", job.end(end).name.as_str()),
            ];
            let probes = Probes { first, second };
            let kind = Kind::Indicator {
                probes: probes.clone(),
                lit: false,
            };
            let name = format!("{}/{name}", self.named(id));
            self.push(id, name.clone(), Stage::Isolate, say, &extra, kind);
            // what lights no indicator may stand there all the same
            if extra_low && matches!(probes.second, Point::Core { .. }) {
                for function in [Function::VoltageAc, Function::VoltageDc] {
                    self.absent(id, &name, &probes, function);
                }
            }
        }
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

/// The pairs that must be dark at an end, each with its name, earth first: earth to line, neutral to line, earth to neutral, then every
/// core and every terminal without one to earth and to neutral.
fn dark_pairs(job: &Job, end: End) -> Vec<(String, Point, Point)> {
    let at = job.end(end);
    let point = |name: &str| Point::Terminal {
        terminal: name.to_owned(),
        end,
    };
    let terminal = |purpose: Purpose| at.terminal_for(purpose).map(|there| there.name.as_str());
    let line = terminal(Purpose::PermanentLive).or_else(|| terminal(Purpose::SwitchedLive));
    let (earth, neutral) = (terminal(Purpose::Earth), terminal(Purpose::Neutral));
    // an end without an earth of its own is proved dead against the main earthing terminal
    let earth_point = earth.map_or(Point::KnownEarth, point);
    let mut pairs: Vec<(&str, String, Point, Point)> = Vec::new();
    if let Some(line) = line {
        pairs.push(("end", "earth-line".into(), earth_point.clone(), point(line)));
        pairs.extend(neutral.map(|neutral| ("end", "neutral-line".into(), point(neutral), point(line))));
    }
    pairs.extend(neutral.map(|neutral| ("end", "earth-neutral".into(), earth_point.clone(), point(neutral))));
    // a reference is not shown dark against itself
    let mut against = |of: &'static str, name: &str, own: &str, there: Point| {
        if earth != Some(own) {
            pairs.push((of, format!("{name}-earth"), earth_point.clone(), there.clone()));
        }
        if let Some(neutral) = neutral.filter(|neutral| *neutral != own) {
            pairs.push((of, format!("{name}-neutral"), point(neutral), there));
        }
    };
    for core in &job.cores {
        let there = Point::Core {
            core: core.name.clone(),
            end,
        };
        against("core", &core.name, core.terminal(end), there);
    }
    // a terminal without a core of this cable can be fed from elsewhere as well
    for terminal in &at.terminals {
        let is_reference = matches!(terminal.takes, Purpose::Earth | Purpose::Neutral);
        let has_core = job.cores.iter().any(|core| core.terminal(end) == terminal.name);
        if !is_reference && !has_core && line != Some(terminal.name.as_str()) {
            let name = format!("terminal-{}", terminal.name);
            against("terminal", &name, &terminal.name, point(&terminal.name));
        }
    }
    // where neither earth nor neutral is near, a voltage between the cores shows in no other pair
    if earth.is_none() && neutral.is_none() {
        let core = |name: &str| Point::Core {
            core: name.to_owned(),
            end,
        };
        let back = &job.return_core().name;
        pairs.extend(
            job.test_cores()
                .map(|one| ("cores", format!("{back}-{}", one.name), core(back), core(&one.name))),
        );
    }
    told_apart(pairs)
}

/// A core called `earth` has pairs that read like the earth's own: the name of the later one says first what it is of.
fn told_apart(pairs: Vec<(&str, String, Point, Point)>) -> Vec<(String, Point, Point)> {
    let mut taken = BTreeSet::new();
    let named = |(of, name, first, second): (&str, String, _, _)| {
        let name = if taken.insert(name.clone()) {
            name
        } else {
            format!("{of}/{name}")
        };
        (name, first, second)
    };
    pairs.into_iter().map(named).collect()
}

/// Acts that take everything off the cable, but for what the job says must stay.
fn act_is_about_terminals(act: &RawAct) -> bool {
    matches!(
        act,
        RawAct::DisconnectNear | RawAct::DisconnectFar | RawAct::TakeOutElectronics
    )
}
