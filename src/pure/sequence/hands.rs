//! Steps of hands and eyes: acts, proving dead, connecting.

use super::bind::Binder;
use super::raw::RawAct;
use crate::pure::job::{Core, End, Purpose};
use crate::pure::located::Located;
use crate::pure::plan::{Act, Kind, Point, Probes, Stage};

impl Binder<'_> {
    pub(super) fn act(
        &mut self,
        id: &Located<String>,
        stage: Stage,
        act: &RawAct,
        say: &str,
        caution: Option<&Located<String>>,
        core: Option<&Core>,
    ) {
        let name = || core.expect("checked: only inside `EachCore`").name.clone();
        if let RawAct::Call(control) | RawAct::Satisfy(control) = act
            && !self.job.controls().contains(&control.as_str())
        {
            let known: Vec<String> = self.job.controls().iter().map(|name| format!("`{name}`")).collect();
            let what = format!("the job `{}` has no control called `{control}`", self.job.text.name);
            let hint = if known.is_empty() {
                "list the contact that it moves in the equipment of the job".to_owned()
            } else {
                format!("it has {}", known.join(", "))
            };
            return self.problem(id, what, Some(hint));
        }
        let acts = vec![match act {
            RawAct::SwitchOff => Act::SwitchOff,
            RawAct::LockOff => Act::LockOff,
            RawAct::KeepKey => Act::KeepKey,
            RawAct::PostNotice => Act::PostNotice,
            RawAct::DisconnectNear => Act::Disconnect(End::Near),
            RawAct::DisconnectFar => Act::Disconnect(End::Far),
            RawAct::TakeOutElectronics => Act::TakeOutElectronics,
            RawAct::GuardFarEnd => Act::GuardFarEnd,
            RawAct::LinkToEarth => Act::LinkToEarth(name()),
            RawAct::RemoveLink => Act::RemoveLink(name()),
            RawAct::RemoveEveryLink => Act::RemoveEveryLink,
            RawAct::JoinLiveCores => Act::JoinLiveCores,
            RawAct::PartLiveCores => Act::PartLiveCores,
            RawAct::Discharge => Act::Discharge,
            RawAct::Energise => Act::Energise,
            RawAct::Call(control) => Act::Call(control.clone()),
            RawAct::Satisfy(control) => Act::Satisfy(control.clone()),
            RawAct::EveryCallOff => Act::EveryCallOff,
            RawAct::ResetDevice => Act::ResetDevice,
        }];
        let id_text = core.map_or_else(|| id.value.clone(), |core| format!("{}/{}", id.value, core.name));
        let core_word = core.map_or("", |core| core.name.as_str());
        let stays = self
            .job
            .stays_connected
            .as_ref()
            .filter(|_| act_is_about_terminals(act));
        let say = match stays {
            Some(what) => format!("{say} Only {what} stays connected, as the job says: nothing else may."),
            None => say.to_owned(),
        };
        self.push(id, id_text, stage, &say, &[("core", core_word)], Kind::Do);
        let caution = caution.map(|c| self.words(c, &[("core", core_word)]));
        let step = self.steps.last_mut().expect("just pushed");
        step.acts = acts;
        step.caution = caution;
        step.cores = match (stage, core) {
            (_, Some(core)) => vec![core.name.clone()],
            // taking cores off and joining them is about every core
            (Stage::Disconnect | Stage::Test, None) => self.job.cores.iter().map(|c| c.name.clone()).collect(),
            _ => Vec::new(),
        };
    }

    /// Earth to line, neutral to line, earth to neutral, then every core to earth and to neutral; earth goes on first.
    pub(super) fn prove_dead(&mut self, id: &Located<String>, end: End, say: &str) {
        let job = self.job;
        let at = job.end(end);
        let terminal = |purpose: Purpose| at.terminal_for(purpose).map(|t| (purpose, t.name.clone()));
        let earth = terminal(Purpose::Earth);
        let line = terminal(Purpose::PermanentLive).or_else(|| terminal(Purpose::SwitchedLive));
        let neutral = terminal(Purpose::Neutral);
        let point = |(_, name): &(Purpose, String)| Point::Terminal {
            terminal: name.clone(),
            end,
        };
        let earth_point = earth.as_ref().map_or(Point::KnownEarth, point);
        let neutral_point = neutral.as_ref().map(point);
        // a reference is not proved against itself
        let references = |name: &str| -> Vec<(&'static str, Point)> {
            let own = |there: &Option<(Purpose, String)>| there.as_ref().is_some_and(|(_, own)| own == name);
            let to_earth = (!own(&earth)).then(|| ("earth", earth_point.clone()));
            let to_neutral = neutral_point.clone().filter(|_| !own(&neutral));
            to_earth
                .into_iter()
                .chain(to_neutral.map(|point| ("neutral", point)))
                .collect()
        };
        let mut pairs: Vec<(String, Point, Point)> = Vec::new();
        if let Some(line) = &line {
            pairs.push(("earth-line".into(), earth_point.clone(), point(line)));
            if let Some(neutral) = &neutral {
                pairs.push(("neutral-line".into(), point(neutral), point(line)));
            }
        }
        if let Some(neutral) = &neutral {
            pairs.push(("earth-neutral".into(), earth_point.clone(), point(neutral)));
        }
        for core in &job.cores {
            let core_point = Point::Core {
                core: core.name.clone(),
                end,
            };
            for (word, reference) in references(core.terminal(end)) {
                pairs.push((format!("{}-{word}", core.name), reference, core_point.clone()));
            }
        }
        // a terminal without a core of this cable can be fed from elsewhere as well
        let without_core = at.terminals.iter().filter(|terminal| {
            let reference = matches!(terminal.takes, Purpose::Earth | Purpose::Neutral);
            let has_core = job.cores.iter().any(|core| core.terminal(end) == terminal.name);
            !reference && !has_core && line.as_ref().is_none_or(|(_, line)| *line != terminal.name)
        });
        for terminal in without_core {
            let there = point(&(terminal.takes, terminal.name.clone()));
            for (word, reference) in references(&terminal.name) {
                pairs.push((format!("terminal-{}-{word}", terminal.name), reference, there.clone()));
            }
        }
        for (name, first, second) in pairs {
            let words = [first.words(job), second.words(job)];
            let extra = [
                ("first", words[0].as_str()),
                ("second", words[1].as_str()),
                ("end", at.name.as_str()),
            ];
            let kind = Kind::Indicator {
                probes: Probes { first, second },
                lit: false,
            };
            self.push(id, format!("{}/{name}", id.value), Stage::Isolate, say, &extra, kind);
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
                format!("{}/{}", id.value, core.name),
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
