//! Steps of eyes and fingers: what is looked at, the words to answer with, and what a sound installation shows.

use super::binder::Binder;
use super::moving::Moving;
use super::raw::{HandOver, Identify, Inspect, LiveReasons, Note, Polarity, Tug, ZoneMap};
use crate::job::{End, Is, Purpose};
use crate::located::{Located, listed};
use crate::plan::{Kind, Look, Reason, Stage, Subject, Timing};

/// The word for a thing that is as it should be.
const SOUND: &str = "sound";
/// The word for what was handed over.
const DONE: &str = "done";

impl<'a> Binder<'a> {
    /// A look with one right word.
    fn look(&mut self, at: &Located<String>, stage: Stage, say: &str, extra: &[(&str, &str)], look: Look) {
        let id = self.named(&at.value);
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
        self.steps.last_mut().expect("just pushed").at = step.end;
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
        let id = self.named(&step.id.value);
        let photograph = step.photograph;
        self.push(
            &step.id,
            id,
            step.stage,
            &step.say,
            &[],
            Kind::Note {
                photograph,
                reason: None,
            },
        );
    }

    /// A line for each thing that the law asks before work is done live.
    pub(super) fn live_reasons(&mut self, step: &'a LiveReasons) {
        for reason in Reason::ALL {
            let id = format!("{}/{}", self.named(&step.id.value), reason.word());
            let say = format!("{} {}", step.say.value, reason.question());
            let kind = Kind::Note {
                photograph: false,
                reason: Some(reason),
            };
            self.push(&step.id, id, Stage::FaultFinding, &say, &[], kind);
        }
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
            let id = format!("{}/{}", self.named(at), core.name);
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
            let hint = match known.as_slice() {
                [] => format!("add one to the equipment of the job `{}`", self.job.text.name),
                known => {
                    let known = listed(known, |there| format!("`{}`", there.name));
                    format!("the job `{}` has {known}", self.job.text.name)
                }
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
}
