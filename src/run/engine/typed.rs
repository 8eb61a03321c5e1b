//! Lines as they are typed: an answer to what was asked, or a word that is asked again.
//!
//! The rule inside: what is not understood leaves no trace in the record, and nothing that the sequence does not let follow is
//! taken.

use jiff::Timestamp;

use super::answer::{self, Decision};
use super::machine::{Asking, Engine};
use crate::plan::{Act, ISOLATE_FIRST, Isolating, Kind, Stage, Then, done_as_found, may_follow, shows_dark};
use crate::run::dialogue::{Output, is_word};
use crate::run::event::{Answer, Ending, Event};
use crate::run::fold::{Evidence, Further};
use crate::value::reading::{Contact, Reading};
use crate::value::slip::other_quantity;

impl Engine {
    /// An answer to what is asked, no voltage among it.
    pub(super) fn answered_to(&mut self, asking: Asking, line: &str, now: Timestamp) {
        // a line with a length and a voltage is asked about first; where the answer is `no` it comes here once more
        if self.voltage_told(&asking, line, now) || self.length_said(&asking, line) {
            return;
        }
        match asking {
            Asking::Step(step) => match self.run.plan.steps[step].kind {
                Kind::Measure(_) => self.measure_line(step, line, now),
                _ => self.step_line(step, line, now),
            },
            other => self.beside_a_step(other, line),
        }
    }

    /// An answer to anything but a step itself.
    pub(super) fn beside_a_step(&mut self, asking: Asking, line: &str) {
        match asking {
            Asking::Together(steps) => self.together_line(steps, line),
            Asking::Other(step) => self.other_line(step, line),
            Asking::Step(_)
            | Asking::Held(_)
            | Asking::Doubted(..)
            | Asking::SeenNow { .. }
            | Asking::VoltsOrMegohm { .. } => {
                unreachable!("a step and a voltage are answered as such, and a frame that holds the run by the meter")
            }
            Asking::Arrange(step) => self.arrange_line(step, line),
            Asking::FurtherWhat(step) => self.free_text(line, |engine, supply| {
                let next = Isolating::SwitchOff;
                engine.ask(Asking::Further(Further { step, supply, next }));
            }),
            Asking::Further(further) => self.further_line(further, line),
            Asking::WhyNotDone(step) => self.free_text(line, |engine, why| {
                let step = engine.step_id(step);
                engine.talk.give(Event::Answered {
                    step,
                    answer: Answer::NotDone(why),
                });
            }),
            Asking::Decision(step) => self.decision_line(step, line),
            Asking::RepairWhat(step) if self.may_stay_as_found(step) && line.trim().eq_ignore_ascii_case("leave") => {
                self.ask(Asking::WhyLeft(step));
            }
            Asking::RepairWhat(step) => {
                self.free_text(line, |engine, what| engine.ask(Asking::RepairTouched(step, what)))
            }
            Asking::RepairTouched(step, what) => match answer::touched(line, &self.run.plan.job) {
                Ok(touched) => {
                    let step = self.step_id(step);
                    self.talk.give(Event::Repaired { step, what, touched });
                }
                Err(why) => self.talk.notice(why),
            },
            Asking::Beside(step) => self.free_text(line, |engine, text| {
                let step = engine.step_id(step);
                engine.talk.give(Event::Remarked { step, text });
            }),
            Asking::NewLength => self.new_length(line),
            Asking::WhyLength(length) => self.free_text(line, |engine, because| {
                engine.correct_length(length, Some(because));
            }),
            Asking::WhyLeft(step) => self.free_text(line, |engine, reason| {
                let step = engine.step_id(step);
                engine.talk.give(Event::Left { step, reason });
            }),
            Asking::Locked(step) => self.locked_line(step, line),
            Asking::Blocked { by } => self.blocked_line(by, line),
            Asking::WhyAbandon => self.free_text(line, Engine::abandon_for),
            Asking::MakeSafe if is_word(line, "done") => {
                let what = self.run.to_make_safe().join("; ");
                self.talk.give(Event::MadeSafe { what });
            }
            Asking::MakeSafe => self.talk.notice("type `done` when it is made safe"),
            Asking::ResumeTouched { torn_bytes } => self.resume_line(torn_bytes, line),
        }
    }

    /// What may have been touched in a break.
    fn resume_line(&mut self, torn_bytes: u64, line: &str) {
        match answer::touched(line, &self.run.plan.job) {
            Ok(touched) => self.talk.give(Event::Resumed {
                touched,
                torn_bytes,
                outdated: self.run.outdated(),
                answered_by: self.answered_by,
            }),
            Err(why) => self.talk.notice(why),
        }
    }

    /// The set-up of a step, made to be exactly the plan's.
    fn arrange_line(&mut self, step: usize, line: &str) {
        let Some(set_up) = self.run.to_arrange(step).filter(|_| is_word(line, "done")) else {
            let what = "type `done` when it is exactly so; if it cannot be, `abandon`";
            return self.talk.notice(what);
        };
        let step = self.step_id(step);
        self.talk.give(Event::Arranged {
            step,
            links: set_up.links.into_iter().collect(),
            joined: set_up.joined,
            rest: set_up.rest,
            earthed: set_up.earthed,
            terminals: set_up.terminals,
            neutral_off: set_up.neutral_off,
            earths_off: set_up.earths_off.into_iter().collect(),
        });
    }

    /// One act of isolating the supply that lit a point.
    fn further_line(&mut self, further: Further, line: &str) {
        if !is_word(line, "done") {
            let what = "type `done` when it is done; if it cannot be, `abandon` and keep everybody away";
            return self.talk.notice(what);
        }
        let (supply, act) = (further.supply, further.next);
        let step = self.step_id(further.step);
        self.talk.give(Event::Isolated { step, supply, act });
    }

    /// Where a step is in the way: what was found by eye is repaired, anything else is done again.
    fn blocked_line(&mut self, by: usize, line: &str) {
        if self.pictured(by, line) {
            return;
        }
        let is_noted = self.can_be_noted(by);
        match answer::decision(line) {
            Some(Decision::Repair) if is_noted => self.begin_repair(by),
            Some(Decision::Again) if !is_noted && !self.run.waits_for_repair(by) => {
                let step = self.step_id(by);
                self.talk.give(Event::Again { step });
            }
            _ => {
                let on = if is_noted { "repair" } else { "again" };
                self.talk
                    .notice(format!("`{}` is neither `{on}` nor `abandon`", line.trim()));
            }
        }
    }

    /// A picture of what was found by eye; true where the line names one.
    fn pictured(&mut self, step: usize, line: &str) -> bool {
        let Some(file) = answer::photograph(line).filter(|_| self.can_be_noted(step)) else {
            return false;
        };
        self.talk.give(Output::Photograph(file));
        true
    }

    /// What was found wrong by eye is noted, or what failed live is isolated; what was repaired is asked once dead is proved.
    fn begin_repair(&mut self, step: usize) {
        let photograph = self.photograph.take();
        let step = self.step_id(step);
        self.talk.give(Event::RepairBegins { step, photograph });
    }

    /// What follows a failure, among what the sequence lets follow it.
    fn decision_line(&mut self, step: usize, line: &str) {
        if self.pictured(step, line) {
            return;
        }
        match answer::decision(line).filter(|decision| self.is_offered(step, *decision)) {
            Some(Decision::Isolate) => self.ask(Asking::FurtherWhat(step)),
            Some(Decision::Again) => {
                let step = self.step_id(step);
                self.talk.give(Event::Again { step });
            }
            // nothing live is repaired: isolation comes first, what was repaired is asked after it
            Some(Decision::Repair) if self.run.isolates_first(step) => self.begin_repair(step),
            Some(Decision::Repair) => self.ask(Asking::RepairWhat(step)),
            Some(Decision::Leave) => self.ask(Asking::WhyLeft(step)),
            Some(Decision::Locate) => self.talk.give(Output::Locate(Box::new(self.run.clone()))),
            Some(Decision::Abandon) => self.ask(Asking::WhyAbandon),
            None => {
                let words: Vec<_> = self.offers(step).iter().map(word).chain(["abandon"]).collect();
                self.talk
                    .notice(format!("`{}` is none of `{}`", line.trim(), words.join("`, `")));
            }
        }
    }

    fn free_text(&mut self, line: &str, then: impl FnOnce(&mut Engine, String)) {
        match answer::text(line) {
            Some(text) => then(self, text),
            None => self.talk.notice("type one line of text"),
        }
    }

    /// What may follow a failure of a step. What failed live is isolated before it is repaired, so in a run that isolates nothing there is
    /// no repair: hands would be in a place that is live as it was found.
    pub(super) fn offers(&self, step: usize) -> Vec<Then> {
        let plan = &self.run.plan;
        let here = &plan.steps[step];
        let isolates = plan.steps.iter().any(|step| step.stage == Stage::Isolate);
        let stays_live = ISOLATE_FIRST.contains(&here.stage) && !isolates;
        // nor where a point is tried that may be live, before anything is proved dead
        let may_be_live = here.stage == Stage::Isolate || shows_dark(here);
        // what eyes found is noted where hands come to it once it is dead, and from then on looked at again only once it is repaired
        let stays = done_as_found(here) && !self.run.can_be_noted(step);
        let waits = self.run.waits_for_repair(step);
        let repairs = |then: &Then| matches!(then, Then::Repair(_));
        let allowed = |then: &&Then| {
            may_follow(here, then)
                && !(repairs(then) && (stays_live || may_be_live || stays))
                && !(**then == Then::Again && waits)
        };
        let lit = self.run.is_lit(step).then_some(Then::Isolate);
        lit.into_iter()
            .chain(here.after_failure.iter().filter(allowed).cloned())
            .collect()
    }

    /// Whether the sequence lets this follow a failure of the step.
    fn is_offered(&self, step: usize, decision: Decision) -> bool {
        let offers = self.offers(step);
        match decision {
            Decision::Isolate => offers.contains(&Then::Isolate),
            Decision::Again => offers.contains(&Then::Again),
            Decision::Repair => offers.iter().any(|then| matches!(then, Then::Repair(_))),
            Decision::Leave => offers.contains(&Then::Leave),
            Decision::Locate => offers.contains(&Then::Locate),
            Decision::Abandon => true,
        }
    }

    pub(super) fn step_line(&mut self, step: usize, line: &str, now: Timestamp) {
        let id = self.step_id(step);
        let word = line.trim().to_lowercase();
        let energises = self.run.plan.steps[step].acts.contains(&Act::Energise);
        if word == "no" && matches!(self.run.plan.steps[step].kind, Kind::Note { reason: None, .. }) {
            return self.talk.give(Event::Answered {
                step: id,
                answer: Answer::NotNeeded,
            });
        }
        if word == "no" {
            return self.ask(Asking::WhyNotDone(step));
        }
        match &self.run.plan.steps[step].kind {
            Kind::Do | Kind::Gate => {
                let wanted = if energises { "energise" } else { "done" };
                if is_word(line, wanted) {
                    self.talk.give(Event::Answered {
                        step: id,
                        answer: Answer::Done,
                    });
                } else {
                    self.talk.notice(format!(
                        "`{}` is not `{wanted}`; type `{wanted}` when it is done",
                        line.trim()
                    ));
                }
            }
            Kind::Look(look) => match answer::look(line, look) {
                Ok(answer) => self.looked(step, answer, now),
                Err(why) => self.talk.notice(why),
            },
            Kind::Note { photograph, .. } => match (answer::photograph(line), answer::text(line)) {
                (Some(file), _) if *photograph => self.talk.give(Output::Photograph(file)),
                (_, Some(text)) => {
                    let photograph = self.photograph.take();
                    self.talk.give(Event::Answered {
                        step: id,
                        answer: Answer::Note { text, photograph },
                    });
                }
                (_, None) => self.talk.notice("type one line of text"),
            },
            Kind::Indicator { .. } => match answer::indicator(line) {
                Some(answer) => self.talk.give(Event::Answered { step: id, answer }),
                None => self
                    .talk
                    .notice(format!("`{}` is neither `lit` nor `dark`", line.trim())),
            },
            Kind::Connect { .. } => match answer::purpose(line) {
                Some(purpose) => self.talk.give(Event::Answered {
                    step: id,
                    answer: Answer::For(purpose),
                }),
                None => self.talk.notice(format!(
                    "`{}` is not in the list; type its number or its words",
                    line.trim()
                )),
            },
            Kind::Measure(_) => unreachable!("a measurement is answered as one"),
        }
    }

    /// A place that is not as it was found, or proved dead and whole, is made safe before the run is closed.
    fn abandon_for(&mut self, reason: String) {
        if self.run.to_make_safe().is_empty() {
            let ending = Ending::Abandoned(reason);
            self.talk.give(Event::Closed { ending });
        } else {
            self.abandoning = Some(reason);
            self.ask(Asking::MakeSafe);
        }
    }

    pub(super) fn measure_line(&mut self, step: usize, line: &str, now: Timestamp) {
        if self.said_of_set(step, line) {
            return;
        }
        let Kind::Measure(m) = &self.run.plan.steps[step].kind else {
            unreachable!("only a measurement is typed as one")
        };
        let (function, subtracts) = (m.used.function, m.is_of_cable() || m.leads_seen);
        let word = line.trim().to_lowercase();
        if word == "on" && self.metered(step).is_some() && self.is_on_change() {
            let what = "this meter sends only when its display changes: type the digits that it shows";
            return self.talk.notice(what);
        }
        if word == "on" && self.metered(step).is_some() {
            self.talk.watch.said_on = true;
            self.talk.watch_anew();
            return self.talk.notice("taken as soon as it stands still");
        }
        if word == "leads" && subtracts {
            return self.talk.give(Event::LeadsChanged);
        }
        if word == "no" {
            return self
                .talk
                .notice("leave it only after a reading; type what the display shows, or `abandon`");
        }
        match Reading::typed(line, function) {
            Ok(reading) if self.is_doubtful(step, &reading) => self.doubt(step, line, Some(reading)),
            Ok(reading) => {
                let reading = self.sent_on_change(reading);
                if !self.is_not_yet(step, &Evidence::Reading(reading.clone()), now) {
                    let step = self.step_id(step);
                    self.talk.give(Event::Taken { step, reading });
                }
            }
            Err(_) if other_quantity(line, function).is_some() => self.doubt(step, line, None),
            Err(why) => self.talk.notice(why),
        }
    }

    /// What a meter that sends on change sent at this prompt, where the same digits were typed: they confirm it.
    pub(super) fn sent_on_change(&self, typed: Reading) -> Reading {
        let on_change = self.is_on_change();
        let sent = self.talk.watch.last.as_ref().map(|(sent, _)| sent);
        let same = |sent: &&Reading| (&sent.shown, sent.prefix, sent.unit) == (&typed.shown, typed.prefix, typed.unit);
        let confirmed = sent.filter(|sent| on_change && same(sent));
        confirmed
            .map(|sent| sent.clone().with_contact(Some(Contact::Said)))
            .unwrap_or(typed)
    }
}

fn word(then: &Then) -> &'static str {
    match then {
        Then::Isolate => "isolate",
        Then::Again => "again",
        Then::Repair(_) => "repair",
        Then::Leave => "leave",
        Then::Locate => "locate",
    }
}
