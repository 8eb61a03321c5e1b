//! Readings as they come, typed or from the meter, and the times they must keep.
//!
//! The rule inside: a reading out of its time is not recorded; the engineer is told how long is left.

use jiff::Timestamp;
use rust_decimal::Decimal;

use super::machine::{Asking, Engine};
use crate::judge::window::Outcome;
use crate::plan::{Timing, is_dead_test};
use crate::run::dialogue::{Heard, Needle, Show};
use crate::run::event::{Answer, Event};
use crate::run::fold::Evidence;
use crate::value::quantity::Amount;
use crate::value::reading::{Flag, Reading};

/// How long until a reading counts, or until it is too late.
pub(super) enum TimeLeft {
    /// Seconds until the time for the reading to come is up.
    UntilUp(Decimal),
    /// Seconds until a reading counts.
    UntilOpen(Decimal),
}

impl Engine {
    /// Whether a typed reading does not count yet, which is told: what is read may still be on its way.
    pub(super) fn is_not_yet(&mut self, step: usize, evidence: &Evidence, now: Timestamp) -> bool {
        match self.out_of_time(step, evidence, now) {
            None => return false,
            Some(TimeLeft::UntilUp(left)) => self.too_early(format!(
                "it may still be on its way: {left} s left; type the reading when it has come, or when the time is up"
            )),
            Some(TimeLeft::UntilOpen(left)) => {
                self.too_early(format!(
                    "too early: read again in {left} s and type it then; you are told when"
                ));
            }
        }
        true
    }

    /// What was seen too early is not recorded: it may still be on its way.
    pub(super) fn looked(&mut self, step: usize, answer: Answer, now: Timestamp) {
        match self.out_of_time(step, &Evidence::Answer(answer.clone()), now) {
            Some(TimeLeft::UntilUp(left)) => self.too_early(format!(
                "it may still be on its way: {left} s left; answer when it has come, or when the time is up"
            )),
            Some(TimeLeft::UntilOpen(left)) => {
                self.too_early(format!(
                    "too early: look again in {left} s and answer then; you are told when"
                ));
            }
            None => {
                let step = self.step_id(step);
                self.talk.give(Event::Answered { step, answer });
            }
        }
    }

    /// The time left where evidence does not count yet: before its time, or while it does not pass and may still come.
    fn out_of_time(&self, step: usize, evidence: &Evidence, now: Timestamp) -> Option<TimeLeft> {
        self.time_left(step, now).filter(|left| match left {
            TimeLeft::UntilOpen(_) => true,
            TimeLeft::UntilUp(_) => self.run.judged(step, evidence, now).outcome != Outcome::Pass,
        })
    }

    pub(super) fn time_left(&self, step: usize, now: Timestamp) -> Option<TimeLeft> {
        let timing = self.run.plan.steps[step].timing()?;
        let left = |since: &str, limit: &Amount| {
            let then = self.run.done_at(since)?;
            let elapsed = Decimal::from(now.as_millisecond() - then.as_millisecond());
            let left = limit.value() * Decimal::ONE_THOUSAND - elapsed;
            (Decimal::ZERO < left).then(|| (left / Decimal::ONE_THOUSAND).ceil())
        };
        match timing {
            Timing::Any => None,
            Timing::Within { since, limit, .. } => left(since, limit).map(TimeLeft::UntilUp),
            Timing::After { since, wait, .. } => left(since, wait).map(TimeLeft::UntilOpen),
        }
    }

    /// Something from the meter.
    pub(super) fn heard(&mut self, heard: Heard, now: Timestamp) {
        if self.heard_while_held(&heard, now) || self.went_away(now) || self.heard_in_doubt(&heard) {
            return;
        }
        let Some(Asking::Step(step)) = self.asking else { return };
        let Some(measure) = self.metered(step) else { return };
        let wanted = measure.used.function;
        let (reading, settled, to_go, state) = match heard {
            Heard::Trouble(text) => return self.talk.needs_hands(text),
            Heard::Reading {
                reading,
                settled,
                to_go,
                state,
            } => (reading, settled, to_go, state),
        };
        // whatever the dial is on: a voltage in a dead test is never only a wrong mode
        if is_dead_test(&self.run.plan.steps[step]) && self.run.is_live(&reading) {
            return self.volts_heard(step, reading);
        }
        if let Some(flag) = reading.flags.first() {
            return self.talk.needs_hands(Flag::refusal(*flag).to_owned());
        }
        if reading.function.is_some_and(|f| f != wanted) {
            let is = reading.function.map_or_else(String::new, |f| f.dial());
            return self
                .talk
                .needs_hands(format!("the meter is on {is}: turn the dial to {}", wanted.dial()));
        }
        self.talk.watch.remarked = None;
        let on_change = self.is_on_change();
        // a meter that sends on change says nothing while it stands still, and nothing while it is off
        let may_take = self.talk.watch.hear(&reading, settled && !on_change);
        let (waits, note) = match self.time_left(step, now) {
            Some(TimeLeft::UntilOpen(left)) => (true, format!(", counts in {left} s")),
            Some(TimeLeft::UntilUp(left)) => {
                let passes = self.run.judged(step, &Evidence::Reading(reading.clone()), now).outcome == Outcome::Pass;
                (!passes, format!(", {left} s left"))
            }
            None => (false, String::new()),
        };
        let ends = to_go.filter(|_| !settled && !on_change && !waits);
        let ends = ends.and_then(|to_go| self.ends_on_one_side(step, reading.clone().with_to_go(Some(to_go)), now));
        if let Some(moving) = ends.clone().filter(|_| self.talk.watch.said_on) {
            return self.take(step, moving);
        }
        if may_take && !waits {
            return self.take(step, reading);
        }
        let contact = if on_change {
            ", sent on change: type these digits to take them"
        } else if ends.is_some() {
            ", can only end on one side: type `on` to take it as it moves"
        } else if settled && !waits {
            ", type `on` when both probes are on the points"
        } else {
            ""
        };
        self.talk.give(Show::Live {
            digits: reading.display(),
            state: format!("{state}{note}{contact}"),
            needle: Needle::of(&reading, self.run.lead_taken_off(step)),
        });
    }

    /// A reading of the meter is taken, with how its contact was known.
    fn take(&mut self, step: usize, reading: Reading) {
        let contact = self.talk.watch.contact(&reading);
        let step = self.step_id(step);
        let reading = reading.with_contact(contact);
        self.talk.give(Event::Taken { step, reading });
    }

    /// A reading that still moves, where it can only end on one side of the edges: it may be taken where the engineer says so.
    fn ends_on_one_side(&self, step: usize, moving: Reading, now: Timestamp) -> Option<Reading> {
        let outcome = self.run.judged(step, &Evidence::Reading(moving.clone()), now).outcome;
        (outcome != Outcome::NotTested).then_some(moving)
    }

    /// Whether a typed line is asked about: of the meter only a voltage is heard meanwhile.
    fn heard_in_doubt(&mut self, heard: &Heard) -> bool {
        let Some(Asking::Doubted(step, ..)) = self.asking else {
            return false;
        };
        if let Heard::Reading { reading, .. } = heard
            && self.metered(step).is_some()
            && is_dead_test(&self.run.plan.steps[step])
            && self.run.is_live(reading)
        {
            self.volts_heard(step, reading.clone());
        }
        true
    }

    /// Whether the meter on the port sends only when its display changes.
    pub(super) fn is_on_change(&self) -> bool {
        self.port.as_ref().is_some_and(|port| port.on_change)
    }

    /// Tells once that a wait is over; eyes and hands are elsewhere meanwhile.
    fn wait(&mut self, step: usize, now: Timestamp) {
        let waits = match self.time_left(step, now) {
            Some(TimeLeft::UntilOpen(_)) => true,
            // what has not come yet is waited for once it was answered too early
            Some(TimeLeft::UntilUp(_)) => self.talk.watch.early,
            None => false,
        };
        if self.talk.watch.waits && !waits {
            let again = if self.talk.watch.early {
                ", and answer again"
            } else {
                ", and answer"
            };
            self.talk.give(Show::Now(format!("the wait is over: look now{again}")));
        }
        self.talk.watch.waits = waits;
    }

    /// What was answered before its time is asked once more when the time has come.
    fn too_early(&mut self, why: String) {
        self.talk.watch.early = true;
        self.talk.notice(why);
    }

    /// Time goes by: a reading that had to come within a time is taken as it stands when the time is up.
    pub(super) fn ticked(&mut self, now: Timestamp) {
        if self.held_too_long(now) || self.went_away(now) {
            return;
        }
        let Some(Asking::Step(step)) = self.asking else { return };
        self.wait(step, now);
        let Some(measure) = self.metered(step) else { return };
        if !matches!(measure.timing, Timing::Within { .. }) || self.time_left(step, now).is_some() {
            return;
        }
        match self.talk.watch.standing().cloned() {
            Some(reading) => {
                self.take(step, reading);
            }
            // what stood before does not tell what stands now
            None if self.talk.watch.last.is_none() => {
                let step = self.step_id(step);
                let why = "no reading was in force when the time was up".to_owned();
                self.talk.give(Event::Answered {
                    step,
                    answer: Answer::NotDone(why),
                });
            }
            None if !self.talk.watch.time_up => {
                self.talk.watch.time_up = true;
                let what = if self.is_on_change() {
                    "the time is up: type the digits that the meter shows"
                } else {
                    "the time is up: put both probes on the points and type `on` to take what the meter shows"
                };
                self.talk.give(Show::Now(what.to_owned()));
            }
            None => {}
        }
    }
}
