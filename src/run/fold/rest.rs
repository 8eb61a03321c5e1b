//! Resting on the lock of an earlier run: what is taken over, and why nothing may rest on a run.
//!
//! The rule inside: switch, lock, key and notice are taken over and nothing that an indicator showed; whatever could have changed since they
//! were done (current that flowed, a voltage that was seen, time, another supply, another person with the key) lets nothing rest on them.

use jiff::Timestamp;
use rust_decimal::Decimal;

use super::judge::TAKEN_OVER;
use super::run::{Attempt, Evidence, Run, Status};
use crate::job::Job;
use crate::judge::window::{Outcome, Verdict};
use crate::plan::{Act, Isolating, Stage, Supply};
use crate::run::event::{Answer, Ending};

impl Run {
    /// What is done before the first step, where the run rests on the lock of another.
    pub(super) fn take_over(&mut self) {
        if self.opened.rests_on.is_none() {
            return;
        }
        let plan = std::sync::Arc::clone(&self.plan);
        for step in plan.taken_over() {
            self.steps[step].status = Status::Passed;
            let verdict = Verdict::plain(Outcome::Pass, TAKEN_OVER);
            let evidence = Evidence::Answer(Answer::TakenOver);
            self.steps[step]
                .attempts
                .push(Attempt::new(self.opened_at, evidence, verdict));
            plan.steps[step].acts.iter().for_each(|act| self.hands.act(act));
        }
    }

    /// Notes when the supply was switched on: nothing rests on a lock from then on.
    pub(super) fn switched(&mut self, step: usize, evidence: &Evidence, at: Timestamp) {
        let is_done = !matches!(evidence, Evidence::Answer(Answer::NotDone(_) | Answer::NotNeeded));
        if is_done && self.plan.steps[step].acts.contains(&Act::Energise) {
            self.energised.push(at);
        }
    }

    /// Whether what was taken over still stands: a break, a voltage that was seen and work that was left make it void, and it is done anew.
    pub(super) fn takes_over(&self) -> bool {
        let stands = |step: &usize| {
            let attempt = self.standing(*step);
            attempt.is_some_and(|attempt| attempt.evidence == Evidence::Answer(Answer::TakenOver))
        };
        self.opened.rests_on.is_some() && self.plan.taken_over().iter().any(stands)
    }

    /// Whether it is of this place and fed from this point of isolation.
    pub fn is_behind(&self, job: &Job) -> bool {
        let own = &self.plan.job;
        (&own.place.name, &own.place.part) == (&job.place.name, &job.place.part) && own.supply.from == job.supply.from
    }

    /// Why a run of this job that begins at this time may not rest on the lock of this one, in words; nothing where it may.
    pub fn cannot_be_rested_on(&self, job: &Job, begins: Timestamp) -> Vec<String> {
        let own = &self.plan.job;
        let mut why: Vec<String> = Vec::new();
        let mut say = |holds: bool, what: &str| {
            if !holds {
                why.push(what.to_owned());
            }
        };
        say(self.opened.rehearsal.is_none(), "it is a rehearsal");
        say(self.broken.is_none(), "it could not go on");
        let completed = matches!(self.ending, Some((Ending::Completed, _)));
        say(completed, "it did not go through to its end");
        say(
            self.hands.supply == Supply::SwitchedOff,
            "it did not leave the supply switched off",
        );
        say(self.stage_passed(Stage::Isolate), "its proof of dead does not stand");
        say(
            self.locks_off(),
            "it did not switch off, lock off, keep the key and post a notice",
        );
        say(
            self.went_on_late.is_empty(),
            "its work was left, and went on without isolation proved again",
        );
        let place = (&own.place.name, &own.place.part) == (&job.place.name, &job.place.part);
        say(place, "it is of another place");
        say(own.supply.from == job.supply.from, "it is of another supply");
        let further = &job.supply.further;
        let locks = |supply: &crate::job::FurtherSupply| own.supply.further.contains(supply);
        say(further.iter().all(locks), "it did not lock off every further supply");
        say(own.engineer == job.engineer, "its key is with another engineer");
        if let Some((_, closed)) = &self.ending {
            let left = Decimal::from(begins.as_millisecond() - closed.as_millisecond());
            let most = own.left_after();
            if left < Decimal::ZERO {
                why.push("it was closed later".into());
            } else if most.value() * Decimal::ONE_THOUSAND < left {
                why.push(format!(
                    "it was closed at {closed}, longer before than work may be left ({most})"
                ));
            }
        }
        why
    }

    /// Whether every act of isolating every supply of the job stands as done.
    fn locks_off(&self) -> bool {
        let done = |act: &Act| {
            let steps = self.plan.steps.iter().zip(&self.steps);
            let mut of_it = steps.filter(|(step, _)| step.acts.contains(act));
            of_it.any(|(_, state)| state.status == Status::Passed)
        };
        let own = [Act::SwitchOff, Act::LockOff, Act::KeepKey, Act::PostNotice];
        let further = self.plan.job.supply.further.iter().flat_map(|supply| {
            Isolating::ALL.map(|act| Act::Further {
                supply: supply.name.clone(),
                act,
            })
        });
        own.into_iter().chain(further).all(|act| done(&act))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::located::Text;
    use crate::model::sample;
    use crate::plan::{Kind, Lock, Point};
    use crate::run::event::{Event, Opened, RestsOn, Touched};
    use crate::sequence;
    use crate::sequence::shipped;

    const OPENED: &str = "2026-11-25T08:00:00Z";

    /// A run of the shipped thermostat cable that rests on another.
    fn resting() -> Run {
        let (sequence, parts) = shipped::carried("stat-cable").unwrap();
        let job = Text::new("saltmarsh.ron", include_str!("../../../fixtures/saltmarsh.ron"));
        let mut opened = Opened::new((sequence, parts), job, "2018+A2:2022");
        opened.rests_on = Some(RestsOn {
            run: uuid::Uuid::from_u128(1),
            sha256: "ab".into(),
        });
        Run::open(opened, OPENED.parse().unwrap()).unwrap()
    }

    fn at(run: &Run) -> &str {
        &run.plan.steps[run.cursor().unwrap()].id
    }

    #[test]
    fn switch_lock_key_and_notice_are_taken_over_and_nothing_that_an_indicator_shows() {
        let run = resting();
        let passed: Vec<&str> = (run.plan.steps.iter().zip(&run.steps))
            .filter(|(_, state)| state.status == Status::Passed)
            .map(|(step, _)| step.id.as_str())
            .collect();
        assert_eq!(passed, ["switch-off", "lock-off", "keep-key", "notice"]);
        assert_eq!(run.hands.supply, Supply::SwitchedOff);
        // the earth and the long lead are shown to the source that stays live
        let first = &run.plan.steps[run.cursor().unwrap()];
        let Kind::Indicator { probes, lit: true } = &first.kind else {
            panic!("{first:?}");
        };
        assert_eq!((first.id.as_str(), &probes.second), ("earth-near", &Point::KnownSource));
        assert!(run.plan.index("lead").is_none(), "one step shows both");
    }

    #[test]
    fn a_break_or_work_that_was_left_makes_void_what_was_taken_over() {
        let mut run = resting();
        let later: Timestamp = "2026-11-25T08:31:00Z".parse().unwrap();
        assert!(run.is_left(later) && !run.is_left("2026-11-25T08:29:00Z".parse().unwrap()));
        let lit = Event::Answered {
            step: "earth-near".into(),
            answer: Answer::Lit,
        };
        let now: Timestamp = "2026-11-25T08:01:00Z".parse().unwrap();
        run.apply(now, &lit).unwrap();
        let (_, verdict) = run.due().unwrap();
        let step = "earth-near".into();
        run.apply(now, &Event::Judged { step, verdict }).unwrap();
        assert_eq!(at(&run), "indicator-first");
        let resumed = Event::Resumed {
            touched: Touched::Nothing,
            torn_bytes: 0,
            outdated: Vec::new(),
            answered_by: None,
        };
        run.apply(later, &resumed).unwrap();
        assert_eq!(at(&run), "switch-off");
        assert!(!run.takes_over());
    }

    #[test]
    fn the_order_behind_a_lock_is_proved_and_what_needs_the_supply_on_is_refused() {
        let check = |name: &str, expected: &[&str]| {
            let texts = shipped::texts(name).unwrap();
            let job = shipped::SEQUENCES.iter().find(|there| there.name == name).unwrap().job;
            let job = crate::job::read(&shipped::job(job).unwrap()).unwrap();
            let bound = sequence::bind_behind(&sequence::read(&texts).unwrap(), &job, Lock::TakenOver);
            let found: Vec<String> = match bound {
                Ok(_) => Vec::new(),
                Err(found) => found.iter().map(|finding| finding.problem.what.clone()).collect(),
            };
            assert_eq!(found, expected, "{name}");
        };
        check("stat-cable", &[]);
        check("zone-valve", &[]);
        let live = ["open", "first-to-earth", "second-to-earth", "closed"].map(|read| {
            format!("`pair/{read}` reads the place as it was found, and the supply is locked off before the first step")
        });
        check("extra-low-pair", &live.each_ref().map(String::as_str));
    }

    #[test]
    fn a_sequence_that_locks_nothing_off_takes_no_lock_over() {
        let mut texts = shipped::texts("stat-cable").unwrap();
        for text in &mut texts {
            let without = text.text.replace(
                "Do(id: \"lock-off\", stage: Isolate, act: LockOff,",
                "Note(id: \"lock-off\", stage: Isolate,",
            );
            *text = Text::new(text.name.as_str(), without);
        }
        let found =
            sequence::bind_behind(&sequence::read(&texts).unwrap(), &sample::job(), Lock::TakenOver).unwrap_err();
        let missing = found.iter().any(|finding| {
            finding
                .problem
                .hint
                .as_ref()
                .is_some_and(|hint| hint.contains("locked off"))
        });
        assert!(missing, "{found:?}");
    }
}
