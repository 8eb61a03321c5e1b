//! Steps of eyes and fingers: what is looked at, the words to answer with, and what a sound installation shows.

use super::bind::Binder;
use super::raw::{HandOver, Identify, Inspect, Note, Polarity, Tug, ZoneMap};
use crate::job::{At, End, Is, Purpose};
use crate::located::Located;
use crate::plan::{Kind, Look, Stage, Subject, Timing};

/// What is watched about a motor or a load.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Moving {
    Lever,
    Pin,
    Load,
    Warmth,
}

impl Moving {
    pub(super) fn words(self) -> [&'static str; 2] {
        match self {
            Moving::Lever => ["slack", "firm"],
            Moving::Pin => ["up", "down"],
            Moving::Load => ["runs", "still"],
            Moving::Warmth => ["warm", "cold"],
        }
    }
}

/// The word for a thing that is as it should be.
const SOUND: &str = "sound";
/// The word for what was handed over.
const DONE: &str = "done";

impl<'a> Binder<'a> {
    /// A look with one right word.
    fn look(&mut self, at: &Located<String>, stage: Stage, say: &str, extra: &[(&str, &str)], look: Look) {
        let id = self.around.named(&at.value);
        self.push(at, id, stage, say, extra, Kind::Look(Box::new(look)));
    }

    pub(super) fn inspect(&mut self, step: &'a Inspect) {
        let look = Look {
            subject: Subject::Thing(self.words(&step.thing, &[])),
            words: vec![SOUND.into()],
            expected: vec![SOUND.into()],
            timing: Timing::Any,
        };
        self.look(&step.id, step.stage, &step.say, &[], look);
    }

    pub(super) fn hand_over(&mut self, step: &'a HandOver) {
        let look = Look {
            subject: Subject::Thing(self.words(&step.thing, &[])),
            words: vec![DONE.into()],
            expected: vec![DONE.into()],
            timing: Timing::Any,
        };
        self.look(&step.id, Stage::HandOver, &step.say, &[], look);
    }

    pub(super) fn note(&mut self, step: &'a Note) {
        let id = self.around.named(&step.id.value);
        let photograph = step.photograph;
        self.push(&step.id, id, step.stage, &step.say, &[], Kind::Note { photograph });
    }

    pub(super) fn identity(&mut self, step: &'a Identify) {
        let core = self.around.core.expect("checked: only inside `EachCore`");
        let look = Look {
            subject: Subject::Identity {
                core: core.name.clone(),
            },
            words: self.job.test_cores().map(|core| core.name.clone()).collect(),
            expected: vec![core.name.clone()],
            timing: Timing::Any,
        };
        self.look(&step.id, Stage::Test, &step.say, &[], look);
        self.steps.last_mut().expect("just pushed").cores = vec![core.name.clone()];
    }

    /// A look at every core in its terminal at one end.
    fn each_terminal(&mut self, at: &Located<String>, say: &str, end: End, look: impl Fn(&crate::job::Core) -> Look) {
        for core in &self.job.cores {
            let extra = [
                ("core", core.name.as_str()),
                ("terminal", core.terminal(end)),
                ("end", self.job.end(end).name.as_str()),
            ];
            let id = format!("{}/{}", at.value, core.name);
            self.push(at, id, Stage::Connect, say, &extra, Kind::Look(Box::new(look(core))));
            self.steps.last_mut().expect("just pushed").cores = vec![core.name.clone()];
        }
    }

    pub(super) fn tug(&mut self, step: &'a Tug) {
        let end = step.end;
        self.each_terminal(&step.id, &step.say, end, |core| Look {
            subject: Subject::Tug {
                core: core.name.clone(),
                end,
            },
            words: vec!["holds".into(), "moves".into()],
            expected: vec!["holds".into()],
            timing: Timing::Any,
        });
    }

    pub(super) fn polarity(&mut self, step: &'a Polarity) {
        let end = step.end;
        self.each_terminal(&step.id, &step.say, end, |core| Look {
            subject: Subject::Polarity {
                core: core.name.clone(),
                end,
            },
            words: Purpose::ALL.iter().map(|purpose| purpose.words().to_owned()).collect(),
            expected: vec![core.carries.words().into()],
            timing: Timing::Any,
        });
    }

    /// A lever, a pin, a load or the warmth behind a valve, by the name of the equipment.
    pub(super) fn moving(
        &mut self,
        at: &Located<String>,
        say: &str,
        name: &Located<String>,
        expect: &Located<String>,
        moving: Moving,
        timing: Timing,
    ) {
        let is_kind = |is: &Is| match moving {
            Moving::Load => matches!(is, Is::Load(_)),
            Moving::Lever | Moving::Pin | Moving::Warmth => matches!(is, Is::Motor(_)),
        };
        let named = self.words(name, &[]);
        let known: Vec<_> = self.job.equipment.iter().filter(|there| is_kind(&there.is)).collect();
        if !known.iter().any(|there| there.name == named) {
            let kind = if moving == Moving::Load { "load" } else { "motor" };
            let known: Vec<_> = known.iter().map(|there| format!("`{}`", there.name)).collect();
            let hint = match known.as_slice() {
                [] => format!("add one to the equipment of the job `{}`", self.job.text.name),
                known => format!("the job `{}` has {}", self.job.text.name, known.join(", ")),
            };
            return self.problem(name, format!("the job has no {kind} called `{named}`"), Some(hint));
        }
        let look = Look {
            subject: match moving {
                Moving::Lever => Subject::Lever(named),
                Moving::Pin => Subject::Pin(named),
                Moving::Load => Subject::Load(named),
                Moving::Warmth => Subject::Warmth(named),
            },
            words: moving.words().map(str::to_owned).to_vec(),
            expected: vec![expect.value.clone()],
            timing,
        };
        self.look(at, Stage::Live, say, &[], look);
    }

    /// What must have moved while one zone alone calls.
    pub(super) fn zone_map(&mut self, step: &'a ZoneMap, timing: Timing) {
        let zone = self.around.zone.expect("checked: only inside `EachZone`");
        let of = |zone: &crate::job::Zone| {
            let meters = zone.meters.iter().map(|(meter, _)| meter.clone());
            zone.actuators.iter().cloned().chain(meters).collect::<Vec<_>>()
        };
        let look = Look {
            subject: Subject::Moved,
            words: self.job.zones.iter().flat_map(of).collect(),
            expected: if step.nothing { Vec::new() } else { of(zone) },
            timing,
        };
        self.look(&step.id, Stage::Live, &step.say, &[], look);
    }

    /// The terminal of an end on which the actuators of the zone hang.
    pub(super) fn zone_terminal(&self, end: End) -> String {
        let first = self.around.zone.and_then(|zone| zone.actuators.first());
        let motor = first.and_then(|name| self.job.equipment.iter().find(|there| there.name == *name));
        let at = motor.map(|motor| {
            let between = motor.is.between();
            [&between.0, &between.1]
        });
        let ours = |at: &&At| match at {
            At::Near(_) => end == End::Near,
            At::Far(_) => end == End::Far,
            _ => false,
        };
        match at.and_then(|both| both.into_iter().find(ours)) {
            Some(At::Near(name) | At::Far(name)) => name.clone(),
            // the cable's core may end at the other end of the one that the motors hang on
            _ => self.across(at, end).unwrap_or_default(),
        }
    }

    /// A terminal of the control pair at an end.
    pub(super) fn pair_terminal(&self, end: End, second: bool) -> String {
        let pair = self.job.control_pair.as_ref();
        let at = pair.map(|pair| if second { &pair.between.1 } else { &pair.between.0 });
        match at {
            Some(At::Near(name)) if end == End::Near => name.clone(),
            Some(At::Far(name)) if end == End::Far => name.clone(),
            // the pair is read at one end, its cores lead to the other
            Some(at) => self.across(Some([at, at]), end).unwrap_or_default(),
            None => String::new(),
        }
    }

    /// The terminal at this end of the core that goes to a terminal at the other.
    pub(super) fn across(&self, at: Option<[&At; 2]>, end: End) -> Option<String> {
        let there = at?.into_iter().find_map(|at| match at {
            At::Near(name) => Some((End::Near, name)),
            At::Far(name) => Some((End::Far, name)),
            _ => None,
        })?;
        let core = self.job.cores.iter().find(|core| core.terminal(there.0) == there.1)?;
        Some(core.terminal(end).to_owned())
    }

    /// Whether equipment of the job hangs on a terminal.
    pub(super) fn has_equipment(&self, terminal: &str, end: End) -> bool {
        let here = match end {
            End::Near => At::Near(terminal.into()),
            End::Far => At::Far(terminal.into()),
        };
        self.job.equipment.iter().any(|there| {
            let between = there.is.between();
            between.0 == here || between.1 == here
        })
    }
}
