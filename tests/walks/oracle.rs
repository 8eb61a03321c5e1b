//! What the walks are judged by: a picture of the place kept apart from the fold.
//!
//! The rule inside: an act counts when it was said to be done, a step counts as passed until a later attempt did not.

use std::collections::{BTreeMap, BTreeSet};

use coreproof::job::End;
use coreproof::judge::window::Outcome;
use coreproof::plan::{Act, Kind, Plan, Stage, Step, WindowRule};
use coreproof::run::event::{Answer, Ending, Event};
use rust_decimal::Decimal;

/// The place as the hands left it, from the acts that were said to be done.
#[derive(Debug, Default, Clone)]
pub struct Hands {
    pub supply_on: bool,
    linked: BTreeSet<String>,
    joined: bool,
    rest: Option<String>,
    clipped: bool,
    terminals: bool,
    neutral_off: bool,
    /// Nobody may have put it back since the run parted it.
    neutral_known_off: bool,
    earths_off: BTreeSet<End>,
    in_terminals: BTreeSet<(String, End)>,
}

impl Hands {
    fn arrange(&mut self, links: &[String], joined: bool, rest: Option<&String>, clipped: bool) {
        self.linked = links.iter().cloned().collect();
        self.joined = joined;
        self.rest = rest.cloned();
        self.clipped = clipped;
    }

    fn is_bare(&self) -> bool {
        self.is_clear() && !self.terminals && !self.neutral_off && self.earths_off.is_empty()
    }

    /// Nothing on the cores, whatever is done to the terminals.
    fn is_clear(&self) -> bool {
        self.linked.is_empty() && !self.joined && self.rest.is_none() && !self.clipped
    }

    fn new(plan: &Plan) -> Hands {
        let ends = |end: End| plan.job.cores.iter().map(move |core| (core.name.clone(), end));
        Hands {
            supply_on: true,
            in_terminals: End::BOTH.into_iter().flat_map(ends).collect(),
            ..Hands::default()
        }
    }

    fn act(&mut self, act: &Act) {
        match act {
            Act::SwitchOff => self.supply_on = false,
            Act::Energise => self.supply_on = true,
            // a turn of the link has several cores, and takes the others off by an act of each
            Act::LinkToEarth(core) => drop(self.linked.insert(core.clone())),
            Act::RemoveLink(core) => drop(self.linked.remove(core)),
            Act::RemoveEveryLink => self.linked.clear(),
            Act::JoinLiveCores => self.joined = true,
            Act::PartLiveCores => self.joined = false,
            Act::JoinRest(core) => self.rest = Some(core.clone()),
            Act::PartRest => self.rest = None,
            Act::JoinEarth => self.clipped = true,
            Act::PartEarth => self.clipped = false,
            Act::JoinTerminals => self.terminals = true,
            Act::PartTerminals => self.terminals = false,
            Act::PartNeutral => (self.neutral_off, self.neutral_known_off) = (true, true),
            Act::RestoreNeutral => (self.neutral_off, self.neutral_known_off) = (false, false),
            Act::EarthOff(end) => drop(self.earths_off.insert(*end)),
            Act::EarthBack(end) => drop(self.earths_off.remove(end)),
            Act::Disconnect(end) => self.in_terminals.retain(|(_, at)| at != end),
            Act::Connect { core, end } => drop(self.in_terminals.insert((core.clone(), *end))),
            _ => {}
        }
    }
}

/// What the oracle keeps: the place, when each step last passed, and when isolation was last broken.
pub struct Oracle {
    pub plan: Plan,
    pub hands: Hands,
    /// Number of the event that made the step pass, unless a later attempt did not.
    pub passed: BTreeMap<usize, usize>,
    broken_at: usize,
    /// When the supply's neutral was last parted.
    parted_at: usize,
    /// The place before the last answer.
    before: Hands,
    /// Nothing but the end follows, unless the run goes on after a break.
    is_made_safe: bool,
    /// The length of the cable, as it was stated and corrected.
    length: Length,
}

/// What is kept of the length of the cable: nothing of the fold's own.
struct Length {
    /// What the job states, in metres, where it states any.
    stated: Option<Decimal>,
    /// What is in force.
    now: Decimal,
    /// What stood when something was read against it first.
    at_first_reading: Option<Decimal>,
    /// How far it moved since.
    moved: Decimal,
}

impl Length {
    fn new(plan: &Plan) -> Length {
        let stated = plan.job.length.as_ref().map(|length| length.in_force().value());
        Length {
            stated,
            now: stated.unwrap_or_default(),
            at_first_reading: None,
            moved: Decimal::ZERO,
        }
    }

    /// Whether a step's window comes from the length, as its own sources say.
    fn rests_on(&self, step: &Step) -> bool {
        let Some(stated) = &self.stated else { return false };
        let named = [format!("length {stated} m"), format!("{stated} m of the cable")];
        let Kind::Measure(measure) = &step.kind else {
            return false;
        };
        let WindowRule::Fixed(window) = &measure.window else {
            return false;
        };
        let names = |what: &str| named.iter().any(|name| what.contains(name));
        window.basis.iter().any(|basis| names(&basis.what))
    }

    /// A correction; what it must not be.
    fn correct(&mut self, to: Decimal, because: Option<&String>) -> Vec<String> {
        let moved = (to - self.now).abs();
        self.now = to;
        let Some(first) = self.at_first_reading else {
            return Vec::new();
        };
        self.moved += moved;
        let least = self.stated.map_or(first, |stated| stated.min(first));
        let mut breaches = Vec::new();
        if because.is_none_or(|because| because.trim().is_empty()) {
            breaches.push("the length corrected after a reading, and nothing says why".to_owned());
        }
        if least < self.moved * Decimal::from(4) {
            breaches.push("the length moved by more than a quarter".to_owned());
        }
        breaches
    }
}

impl Oracle {
    pub fn new(plan: &Plan) -> Oracle {
        Oracle {
            plan: plan.clone(),
            hands: Hands::new(plan),
            passed: BTreeMap::new(),
            broken_at: 0,
            parted_at: 0,
            before: Hands::new(plan),
            is_made_safe: false,
            length: Length::new(plan),
        }
    }

    pub fn hear(&mut self, number: usize, event: &Event) -> Vec<String> {
        let was_known_off = self.hands.neutral_known_off;
        let mut breaches = Vec::new();
        let by_itself = |step: &str, answer: &Answer| {
            *answer == Answer::NotNeeded || self.plan.steps[self.plan.index(step).unwrap()].kind == Kind::Gate
        };
        match event {
            Event::Judged { .. } | Event::TakenBack { .. } | Event::LengthCorrected { .. } => {}
            Event::Answered { step, answer } if by_itself(step, answer) => {}
            _ => self.before = self.hands.clone(),
        }
        match event {
            Event::Answered { step, answer } => {
                if matches!(answer, Answer::Done | Answer::For(_)) {
                    let step = self.plan.index(step).unwrap();
                    for act in self.plan.steps[step].acts.clone() {
                        self.hands.act(&act);
                    }
                }
            }
            Event::Judged { step, verdict } => {
                let step = self.plan.index(step).unwrap();
                if verdict.outcome == Outcome::Pass {
                    self.passed.insert(step, number);
                } else {
                    self.passed.remove(&step);
                }
            }
            Event::Arranged {
                links,
                joined,
                rest,
                earthed,
                terminals,
                neutral_off,
                earths_off,
                ..
            } => {
                self.hands.arrange(links, *joined, rest.as_ref(), *earthed);
                self.hands.terminals = *terminals;
                self.hands.act(if *neutral_off {
                    &Act::PartNeutral
                } else {
                    &Act::RestoreNeutral
                });
                self.hands.earths_off = earths_off.iter().copied().collect();
            }
            Event::Taken { step, .. } => {
                let step = &self.plan.steps[self.plan.index(step).unwrap()];
                if self.length.rests_on(step) {
                    self.length.at_first_reading.get_or_insert(self.length.now);
                }
            }
            Event::LengthCorrected { length, because } => {
                let is_ours = self
                    .passed
                    .keys()
                    .any(|&i| self.plan.steps[i].acts.contains(&Act::SwitchOff));
                if self.hands.supply_on && is_ours {
                    breaches.push("the length corrected while the supply is on".into());
                }
                breaches.extend(self.length.correct(length.value(), because.as_ref()));
            }
            // nobody knows whether hands did what was taken back: here they did not every other time
            Event::TakenBack { step } => {
                self.passed.remove(&self.plan.index(step).unwrap());
                if number.is_multiple_of(2) {
                    self.hands = self.before.clone();
                }
            }
            Event::WasLit { step } => {
                self.passed.remove(&self.plan.index(step).unwrap());
                self.broken_at = number;
            }
            Event::Resumed { .. } | Event::LiveSeen { .. } => {
                self.broken_at = number;
                self.is_made_safe = false;
                self.hands.neutral_known_off &= !matches!(event, Event::Resumed { .. });
            }
            Event::Repaired { step, .. } if self.is_survey(step) && !self.claims_dead() => {
                breaches.push(format!("hands at `{step}`, found by eye, before dead is proved"));
            }
            Event::Repaired { .. } if self.hands.supply_on => self.broken_at = number,
            Event::MadeSafe { .. } => {
                self.hands.supply_on = false;
                self.is_made_safe = true;
            }
            Event::Closed { ending } => {
                // a supply that was never switched off in this run is not this run's to make safe
                let is_ours = self
                    .passed
                    .keys()
                    .any(|&i| self.plan.steps[i].acts.contains(&Act::SwitchOff));
                if matches!(ending, Ending::Abandoned(_)) && self.hands.supply_on && is_ours {
                    breaches.push("abandoned with the supply on, and nothing was made safe".into());
                }
            }
            _ => {}
        }
        if self.hands.neutral_known_off && !was_known_off {
            self.parted_at = number;
        }
        breaches
    }

    /// Whether the terminal that the supply's neutral has left was shown dark since, to earth and to line, and the indicator proved after.
    fn is_parted_dark(&self) -> bool {
        let tried = |prefix: &str| {
            let all = (0..self.plan.steps.len()).filter(|i| self.plan.steps[*i].id.starts_with(prefix));
            all.map(|i| self.passed.get(&i).copied()).collect::<Vec<_>>()
        };
        let (dark, after) = (tried("parted-supply/"), tried("indicator-fourth"));
        let since = |at: &Option<usize>| at.is_some_and(|at| self.parted_at < at);
        dark.len() == 2 && dark.iter().all(since) && after.iter().all(|at| dark.iter().all(|dark| dark < at))
    }

    fn is_survey(&self, step: &str) -> bool {
        self.plan
            .index(step)
            .is_some_and(|i| self.plan.steps[i].stage == Stage::Survey)
    }

    /// Whether every step of isolation passed since the last break, in its order.
    fn is_proved(&self) -> bool {
        let isolate: Vec<_> = (0..self.plan.steps.len())
            .filter(|&i| self.plan.steps[i].stage == Stage::Isolate)
            .map(|i| self.passed.get(&i).copied())
            .collect();
        isolate.iter().all(|at| at.is_some_and(|at| self.broken_at < at))
            && isolate.windows(2).all(|pair| pair[0] < pair[1])
    }

    /// Whether hands are where everything was proved dead.
    pub fn claims_dead(&self) -> bool {
        self.is_proved() && !self.hands.supply_on && !self.is_made_safe
    }

    /// Whether this step may be asked for in the place as it is.
    pub fn breaches(&self, id: &str) -> Vec<String> {
        let Some(index) = self.plan.index(id) else {
            return Vec::new();
        };
        let step = &self.plan.steps[index];
        let mut found = Vec::new();
        let mut must = |holds: bool, what: &str| {
            if !holds {
                found.push(format!("{what}, at `{id}`"));
            }
        };
        let proved = self.is_proved();
        let dead = (Stage::Disconnect..=Stage::Connect).contains(&step.stage);
        must(
            !dead || proved,
            "isolation is not proved since the last break, in its order",
        );
        must(!dead || !self.hands.supply_on, "the supply is on");
        let linked: Vec<_> = self.hands.linked.iter().map(String::as_str).collect();
        let is_test = step.stage == Stage::Test && matches!(step.kind, Kind::Measure(_));
        must(
            !is_test || self.hands.in_terminals.is_empty(),
            "cores are in terminals during a dead test",
        );
        let is_turn = |turn: &str| turn.split('+').collect::<BTreeSet<_>>() == linked.iter().copied().collect();
        let name = id.split('/').collect::<Vec<_>>();
        match name.as_slice() {
            ["continuity", core, turn @ ..] => {
                // a core that is read in a second turn names the others of it
                let others = turn.first().and_then(|turn| turn.strip_prefix("with "));
                must(linked.contains(core), "the core is not linked");
                must(
                    others.is_none_or(|others| is_turn(&format!("{others}+{core}"))),
                    "the link is not on the cores of its turn alone",
                );
                must(!self.hands.joined, "live cores are joined");
            }
            ["others-open", of, _] => {
                must(
                    of.strip_suffix("-linked").is_some_and(is_turn),
                    "the link is not on the named cores alone",
                );
                must(!self.hands.joined, "live cores are joined");
            }
            ["all-open", _] => must(linked.is_empty() && !self.hands.joined, "a link or a joint is on"),
            ["insulation", core] => {
                must(
                    linked.is_empty() && self.hands.rest.as_deref() == Some(*core),
                    "the others are not joined, or a link is on",
                );
                must(self.hands.clipped, "the earth core floats");
            }
            ["insulation-alone", ..] => {
                let parted = !self.hands.joined && self.hands.rest.is_none();
                must(
                    linked.is_empty() && parted && self.hands.clipped,
                    "a link or a joint is on, or no clip",
                );
            }
            ["clip-bites" | "clip-still-bites"] => must(self.hands.clipped, "there is no clip to read through"),
            _ => {}
        }
        match name.as_slice() {
            ["connected"] => {
                must(
                    self.hands.is_clear() && self.hands.terminals && self.hands.neutral_off,
                    "the terminals are not joined, or the neutral is not parted",
                );
                must(self.is_parted_dark(), "the parted neutral is not shown dark");
            }
            ["terminals-joined"] => {
                must(self.hands.is_clear(), "a link, a joint or a clip is on");
                must(self.is_parted_dark(), "the parted neutral is not shown dark");
            }
            ["parted-supply", _] | ["indicator-fourth"] => must(
                self.hands.is_clear() && !self.hands.terminals && self.hands.neutral_off,
                "terminals are joined, or the neutral is not parted",
            ),
            ["terminals-parted" | "neutral-back"] => {
                must(self.hands.is_clear(), "a link, a joint or a clip is on");
            }
            [name @ ("earth-alone-near" | "earth-back-near" | "earth-alone-far" | "earth-back-far")] => {
                let end = if name.ends_with("near") { End::Near } else { End::Far };
                let off = BTreeSet::from([end]);
                must(
                    self.hands.is_clear() && self.hands.earths_off == off,
                    "the earth conductor is in its terminal, or another is off",
                );
            }
            _ if step.stage == Stage::Connect => must(self.hands.is_bare(), "a link, a joint or a clip is on"),
            _ => {}
        }
        if step.stage == Stage::Live {
            must(
                (0..index).all(|i| self.passed.contains_key(&i)),
                "a live step before everything in front of it passed",
            );
            must(
                proved || self.hands.supply_on,
                "energising without isolation proved since the last break",
            );
            must(self.hands.is_bare(), "a link, a joint or a clip is on a live cable");
            must(
                self.hands.in_terminals.len() == 2 * self.plan.job.cores.len(),
                "energising with a core off its terminal",
            );
        }
        found
    }
}
