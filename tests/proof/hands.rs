//! A world of hands: the place and what was shown about it, from what was done and read, with the worst taken after a break.
//!
//! The rule inside: it knows acts, probes and touches, nothing of steps that stand or are void; it is the second opinion on the
//! tables of order, written apart from them.

use std::collections::{BTreeMap, BTreeSet};

use coreproof::job::{At, End, Purpose};
use coreproof::judge::window::Outcome;
use coreproof::plan::{Act, Isolating, Kind, Measure, Neutral, Plan, Point, Probes, Stage, Subject, WindowRule};
use coreproof::proof::{Fact, Facts};
use coreproof::run::event::{Answer, Event, Touched};
use coreproof::value::reading::{Function, Multiple};
use rust_decimal::Decimal;

/// What one passed dead test shows.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum Test {
    Continuous(String),
    Apart(BTreeSet<String>),
    ToEarth(String),
    Between(BTreeSet<String>),
    Solved,
    ToBuilding(String),
    ToMains(String),
}

/// The installation as hands left it, and what was shown about it.
#[derive(Debug, Default, Clone)]
pub struct Hands {
    /// As they were before the last answer.
    before: Option<Box<Hands>>,
    pub on: bool,
    /// This run has switched something off or on.
    pub switched: bool,
    /// Whether the thermostat calls, where somebody has set it since the last break.
    pub calls: Option<bool>,
    known_off: bool,
    locked: bool,
    key: bool,
    /// What was done at further supplies.
    further: BTreeSet<(String, Isolating)>,
    notice: bool,
    /// The ends where the indicator may be used as it was proved.
    proved_before: BTreeSet<End>,
    /// Earths that were lit to line and that no hands were at since.
    earths: BTreeSet<Fact>,
    proved_after: bool,
    electronics_out: bool,
    guarded: bool,
    dark: BTreeSet<Fact>,
    /// Points of a parted neutral that were dark since the cores were last taken off there, as they were then.
    neutral_dark: BTreeSet<(End, Fact)>,
    /// The indicator lit since the parted neutral of an end was first tried, near and far.
    proved_since: [bool; 2],
    /// Pairs between which a meter shows nothing.
    quiet: BTreeSet<Fact>,
    /// The residual-current device is on: it was seen to be, and no test that trips it was made since.
    device_on: bool,
    connected: BTreeSet<(String, End)>,
    read: BTreeSet<(String, End)>,
    links: BTreeSet<String>,
    joined: bool,
    /// All others are joined but this core.
    rest: Option<String>,
    /// The earth core is clipped to the building's earth.
    clipped: bool,
    /// The live terminals are joined; the supply's neutral is off.
    terminals: bool,
    covered: bool,
    neutral_off: bool,
    /// Nobody may have put the neutral back since it was parted.
    neutral_known_off: bool,
    /// Points of the supply's neutral that were dark since it was last parted.
    supply_dark: BTreeSet<Fact>,
    /// The indicator lit since a core was last connected; and since the supply's neutral was last tested.
    proved_anew: bool,
    proved_as_left: bool,
    /// Ends whose earth conductor is off its terminal.
    earths_off: BTreeSet<End>,
    clip_read: bool,
    /// Insulation was measured through the clip and it was not read since.
    clip_unread: bool,
    /// Insulation read to the building since the clip was last shown to bite.
    owed_a_clip: BTreeSet<String>,
    /// Steps that showed the earth that comes in, and the long lead whole.
    incoming: BTreeSet<String>,
    long_lead: BTreeSet<String>,
    /// Ends whose earth was read to the main earthing terminal since anything was connected, by the step that read it.
    earthed: BTreeMap<String, End>,
    /// Ends whose earth conductor was read to its terminal since it was last put in, by the step that read it.
    gripped: BTreeMap<String, End>,
    charged: bool,
    /// The step of which was just said that it is not needed.
    not_needed: Option<String>,
    measured: BTreeSet<String>,
    /// Tests by the step that showed them and has not failed since, and that nobody has touched since.
    passed: BTreeMap<String, BTreeSet<Test>>,
    /// Survey steps that have passed.
    found: BTreeSet<String>,
    /// Whether the thermostat called while the control pair was read, by the survey steps that read it and have passed.
    pair_read: BTreeMap<String, bool>,
}

fn pair(a: &str, b: &str) -> BTreeSet<String> {
    BTreeSet::from([a.to_owned(), b.to_owned()])
}

/// Whether probes are across the clamp of an end's earth conductor, where metal is in parallel with it.
fn is_grip(probes: &Probes, end: End, plan: &Plan) -> bool {
    let (earth, conductor) = (Point::earth_at(&plan.job, end), Point::earth_conductor(&plan.job, end));
    plan.job.metal_beside_earth(end).is_some() && probes.first == earth && probes.second == conductor
}

/// Whether both probes are on the terminals of the control pair.
fn is_across_the_pair(probes: &Probes, plan: &Plan) -> bool {
    let Some(pair) = &plan.job.control_pair else {
        return false;
    };
    let at = |point: &Point| match point {
        Point::Terminal {
            terminal,
            end: End::Near,
        } => Some(At::Near(terminal.clone())),
        Point::Terminal {
            terminal,
            end: End::Far,
        } => Some(At::Far(terminal.clone())),
        _ => None,
    };
    let (first, second) = (at(&probes.first), at(&probes.second));
    let (one, other) = (Some(pair.between.0.clone()), Some(pair.between.1.clone()));
    (first == one && second == other) || (first == other && second == one)
}

impl Hands {
    /// As found: on, everything connected.
    pub fn new(plan: &Plan) -> Hands {
        let mut hands = Hands {
            on: true,
            proved_since: [true; 2],
            proved_as_left: true,
            ..Hands::default()
        };
        hands.connect_all(plan);
        hands
    }

    fn connect_all(&mut self, plan: &Plan) {
        for core in &plan.job.cores {
            self.connected.extend(End::BOTH.map(|end| (core.name.clone(), end)));
        }
    }

    fn switch(&mut self, on: bool) {
        self.on = on;
        self.known_off = !on;
        self.switched = true;
    }

    pub fn act(&mut self, act: &Act) {
        match act {
            Act::SwitchOff | Act::MakeSafe => {
                self.switch(false);
                (self.locked, self.key, self.notice) = (false, false, false);
            }
            Act::LockOff => self.locked = true,
            Act::KeepKey => self.key = true,
            Act::PostNotice => self.notice = true,
            Act::TakeOutElectronics => self.electronics_out = true,
            Act::GuardFarEnd => self.guarded = true,
            Act::Disconnect(end) => {
                self.covered &= *end == End::Near;
                self.earth_touched();
                self.connected.retain(|(_, e)| e != end);
                self.read.retain(|(_, e)| e != end);
                self.neutral_dark.retain(|(e, _)| e != end);
            }
            Act::LinkToEarth(core) => drop(self.links.insert(core.clone())),
            Act::RemoveLink(core) => drop(self.links.remove(core)),
            Act::RemoveEveryLink => self.links.clear(),
            Act::JoinLiveCores => self.joined = true,
            Act::PartLiveCores => {
                self.joined = false;
                self.charged = false;
            }
            Act::JoinRest(core) => self.rest = Some(core.clone()),
            Act::PartRest => {
                self.rest = None;
                self.charged = false;
            }
            Act::JoinTerminals => self.terminals = true,
            Act::PartTerminals => {
                self.terminals = false;
                self.charged = false;
            }
            Act::CoverFarEnd => self.covered = true,
            Act::PartNeutral => {
                self.supply_dark.clear();
                (self.neutral_off, self.neutral_known_off) = (true, true);
            }
            Act::RestoreNeutral => (self.neutral_off, self.neutral_known_off) = (false, false),
            Act::EarthOff(end) => self.earth_off(*end, true),
            Act::EarthBack(end) => self.earth_off(*end, false),
            Act::JoinEarth => self.clip(true),
            Act::PartEarth => self.clip(false),
            Act::Discharge => self.charged = false,
            Act::Connect { core, end } => {
                self.covered &= *end == End::Near;
                self.earth_touched();
                self.proved_anew = false;
                self.connected.insert((core.clone(), *end));
            }
            // what is off a contact is no core of the cable
            Act::TakeLeadOff(_) | Act::PutLeadOn(_) => {}
            Act::Energise => {
                self.switch(true);
                (self.locked, self.key, self.notice) = (false, false, false);
                self.further.clear();
                self.proved_before.clear();
                self.proved_after = false;
                self.earths.clear();
                self.dark.clear();
                self.quiet.clear();
                self.device_on = true;
            }
            Act::Call(_) => self.calls = Some(true),
            Act::Satisfy(_) | Act::EveryCallOff => self.calls = Some(false),
            Act::ResetDevice => self.device_on = true,
            Act::Further { supply, act } => {
                if *act == Isolating::SwitchOff {
                    self.further.retain(|(there, _)| there != supply);
                }
                self.further.insert((supply.clone(), *act));
            }
        }
    }

    /// Hands were at clamps: what was read of the earth as it is left is no longer so.
    fn earth_touched(&mut self) {
        self.earthed.clear();
        self.gripped.clear();
    }

    fn earth_off(&mut self, end: End, off: bool) {
        self.gripped.retain(|_, there| *there != end);
        match off {
            true => drop(self.earths_off.insert(end)),
            false => drop(self.earths_off.remove(&end)),
        }
    }

    fn clip(&mut self, on: bool) {
        self.clip_read &= on && self.clipped;
        self.clipped = on;
    }

    /// Takes in what was recorded.
    pub fn hear(&mut self, event: &Event, plan: &Plan, facts: &Facts) {
        let by_itself = |step: &str, answer: &Answer| {
            *answer == Answer::NotNeeded || plan.steps[plan.index(step).unwrap()].kind == Kind::Gate
        };
        match event {
            Event::Judged { .. } | Event::TakenBack { .. } => {}
            Event::Answered { step, answer } if by_itself(step, answer) => {}
            _ => {
                self.before = None;
                self.before = Some(Box::new(self.clone()));
            }
        }
        match event {
            Event::Answered { step, answer } if !matches!(answer, Answer::NotDone(_) | Answer::NotNeeded) => {
                let step = &plan.steps[plan.index(step).unwrap()];
                step.acts.iter().for_each(|act| self.act(act));
            }
            Event::Taken { step, .. } => {
                let step = &plan.steps[plan.index(step).unwrap()];
                step.acts.iter().for_each(|act| self.act(act));
            }
            // what is not needed is not done: nothing is shown and nothing charged
            Event::Answered { step, answer } if *answer == Answer::NotNeeded => self.not_needed = Some(step.clone()),
            Event::Judged { step, .. } if self.not_needed.take().as_ref() == Some(step) => {}
            Event::Judged { step, verdict } => self.judged(step, verdict.outcome, plan, facts),
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
                for end in End::BOTH {
                    let off = earths_off.contains(&end);
                    if off || self.earths_off.contains(&end) {
                        self.earth_off(end, off);
                    }
                }
                self.terminals = *terminals;
                match (neutral_off, self.neutral_known_off) {
                    (true, true) => {}
                    // parted anew
                    (true, false) => self.act(&Act::PartNeutral),
                    (false, _) => self.act(&Act::RestoreNeutral),
                }
                self.links = links.iter().cloned().collect();
                self.joined = *joined;
                self.rest.clone_from(rest);
                self.clip(*earthed);
                self.charged = false;
            }
            // what was answered before was not so: nothing of it was done, and nothing shown
            Event::TakenBack { .. } => {
                if let Some(before) = self.before.take() {
                    *self = *before;
                }
            }
            Event::LiveSeen { .. } | Event::WasLit { .. } => {
                self.dark.clear();
                self.quiet.clear();
            }
            Event::Repaired { step, touched, .. } => {
                let found = plan.steps[plan.index(step).unwrap()].stage == Stage::Survey;
                let dead = self.known_off
                    && self.locked
                    && self.proved_after
                    && facts
                        .all()
                        .iter()
                        .all(|fact| !matches!(fact, Fact::Dark(_)) || self.dark.contains(fact));
                assert!(!found || dead, "hands at `{step}`, which is not proved dead: {self:#?}");
                self.touched(touched, plan);
            }
            Event::Resumed { touched, .. } => {
                self.touched(touched, plan);
                // nobody knows what happened: somebody may have unlocked, linked, joined, connected
                (self.known_off, self.locked, self.key, self.notice) = (false, false, false, false);
                self.further.clear();
                self.proved_before.clear();
                self.proved_after = false;
                (self.electronics_out, self.guarded) = (false, false);
                (self.calls, self.device_on) = (None, false);
                self.dark.clear();
                self.quiet.clear();
                self.connect_all(plan);
                self.links = plan.job.cores.iter().map(|core| core.name.clone()).collect();
                self.joined = true;
                (self.clipped, self.clip_read) = (true, false);
                self.neutral_known_off = false;
                self.long_lead.clear();
            }
            Event::LeadsChanged => self.long_lead.clear(),
            Event::MadeSafe { .. } => self.act(&Act::MakeSafe),
            _ => {}
        }
    }

    fn touched(&mut self, touched: &Touched, plan: &Plan) {
        let through = plan.job.return_core();
        let hit = |core: &String| match touched {
            Touched::Nothing => false,
            Touched::Everything => true,
            Touched::Cores(cores) => cores.contains(core),
        };
        let through_hit = hit(&through.name);
        for tests in self.passed.values_mut() {
            tests.retain(|test| match test {
                Test::Continuous(core) | Test::ToEarth(core) => !hit(core) && !through_hit,
                Test::Apart(pair) => !pair.iter().any(hit) && !through_hit,
                Test::Between(pair) => !pair.iter().any(hit),
                Test::ToMains(core) => !hit(core),
                Test::Solved => {
                    let pair = plan.job.linked_pair();
                    !pair.into_iter().flatten().any(|core| hit(&core.name)) && !through_hit
                }
                Test::ToBuilding(core) => !(hit(core) || through_hit && through.carries == Purpose::Earth),
            });
        }
        if through_hit && through.carries == Purpose::Earth {
            self.earth_touched();
        }
        self.read.retain(|(core, _)| !hit(core));
    }

    fn judged(&mut self, id: &str, outcome: Outcome, plan: &Plan, facts: &Facts) {
        let step = &plan.steps[plan.index(id).unwrap()];
        let passed = outcome == Outcome::Pass;
        match &step.kind {
            Kind::Indicator { lit: true, probes } if probes.first == Point::KnownSource => {
                self.proved_before = End::BOTH.into_iter().filter(|_| passed).collect();
                (self.proved_after, self.proved_since) = (passed, [passed; 2]);
                (self.proved_anew, self.proved_as_left) = (passed, passed);
                if outcome == Outcome::Fail {
                    self.supply_dark.clear();
                    self.neutral_dark.clear();
                    self.dark.clear();
                }
            }
            Kind::Indicator { lit: true, probes } => {
                let fact = match (&probes.first, &probes.second) {
                    _ if step.stage != Stage::Survey => None,
                    (Point::LongLead { .. }, _) => Some(Fact::LeadLit),
                    (_, point) => point.end().map(Fact::EarthLit),
                };
                self.earths.retain(|there| Some(*there) != fact);
                self.earths.extend(fact.filter(|_| passed));
                if fact == Some(Fact::EarthLit(End::Near)) {
                    self.incoming.remove(id);
                    self.incoming.extend(passed.then_some(id.to_owned()));
                }
                self.found.remove(id);
                self.found.extend(passed.then_some(id.to_owned()));
            }
            Kind::Indicator { lit: false, probes } if step.stage == Stage::Disconnect => {
                let end = probes.second.end().unwrap();
                if let Some(fact) = facts.neutral_between(Neutral::OfCable(end), probes) {
                    // tried once more it takes nothing from what was proved before
                    self.proved_since[end as usize] &= self.neutral_dark.contains(&(end, fact));
                    self.neutral_dark.remove(&(end, fact));
                    self.neutral_dark.extend(passed.then_some((end, fact)));
                }
            }
            Kind::Indicator { lit: false, probes } if step.stage == Stage::Connect => {
                self.proved_as_left = false;
                if let Some(fact) = facts.neutral_between(Neutral::OfSupply, probes) {
                    self.supply_dark.remove(&fact);
                    self.supply_dark.extend(passed.then_some(fact));
                }
            }
            Kind::Indicator { lit: false, probes } => {
                self.proved_after = false;
                self.proved_before.retain(|end| probes.second.end() == Some(*end));
                if let Some(dark) = facts.dark_between(probes) {
                    self.dark.remove(&dark);
                    self.dark.extend(passed.then_some(dark));
                }
            }
            Kind::Connect { core, end, .. } => {
                let at = (core.clone(), *end);
                self.read.remove(&at);
                self.read.extend(passed.then_some(at));
            }
            Kind::Measure(m) if matches!(m.used.function, Function::ResidualTrip(_)) => {
                // half of the rated current must not trip it, and has not where that passed
                self.device_on &= passed && m.used.function == Function::ResidualTrip(Multiple::Half);
            }
            Kind::Measure(m) if step.stage == Stage::Isolate => {
                let direct = m.used.function == Function::VoltageDc;
                if let Some(quiet) = facts.quiet_between(&m.probes, direct) {
                    self.quiet.remove(&quiet);
                    self.quiet.extend(passed.then_some(quiet));
                }
            }
            Kind::Measure(m) if m.is_null && m.probes.second == Point::LongTip => {
                self.long_lead.remove(id);
                self.long_lead.extend(passed.then_some(id.to_owned()));
            }
            Kind::Measure(m)
                if step.stage == Stage::Connect && End::BOTH.iter().any(|end| is_grip(&m.probes, *end, plan)) =>
            {
                let end = m.probes.second.end();
                self.gripped.remove(id);
                self.gripped
                    .extend(end.filter(|_| passed).map(|end| (id.to_owned(), end)));
            }
            Kind::Measure(m)
                if m.used.function == Function::Continuity
                    && m.probes.first == Point::KnownEarth
                    && !matches!(m.probes.second, Point::Terminal { .. }) =>
            {
                // the conductor itself: what it reads is what comes in, by whichever end
                let end = m.probes.second.end().expect("a conductor is at an end");
                self.earthed.remove(id);
                self.earthed.remove(&format!("{id}, near"));
                if passed && self.earths_off.contains(&end) {
                    self.earthed.insert(id.to_owned(), end);
                    if plan.job.metal_beside_earth(End::Near).is_none() {
                        self.earthed.insert(format!("{id}, near"), End::Near);
                    }
                }
                self.earth_core_told(id, passed && end == End::Far && self.earths_off.contains(&end), plan);
            }
            Kind::Measure(m) if m.used.function == Function::Continuity && m.probes.first == Point::KnownEarth => {
                if let Point::Terminal { end, .. } = &m.probes.second {
                    match step.stage {
                        Stage::Test => {
                            self.incoming.remove(id);
                            self.incoming.extend(passed.then_some(id.to_owned()));
                        }
                        _ if passed => drop(self.earthed.insert(id.to_owned(), *end)),
                        _ => drop(self.earthed.remove(id)),
                    }
                    let alone = *end == End::Far && plan.job.metal_beside_earth(*end).is_none();
                    self.earth_core_told(id, passed && alone && step.stage == Stage::Connect, plan);
                }
            }
            Kind::Measure(m) if m.used.function == Function::Loop => {
                let high = match &m.window {
                    WindowRule::Fixed(window) => window.high.as_ref(),
                    WindowRule::Like { .. } | WindowRule::Solved(_) => None,
                };
                // 2 ohm more than the job's own loop must not fit in
                let room = plan
                    .job
                    .supply
                    .ze
                    .as_ref()
                    .map_or(Decimal::TWO, |ze| ze.value() + Decimal::TWO);
                if let (Point::Terminal { end, .. }, true) =
                    (&m.probes.first, high.is_some_and(|high| high.amount.value() < room))
                {
                    self.earthed.remove(id);
                    self.earthed.extend(passed.then_some((id.to_owned(), *end)));
                }
            }
            Kind::Measure(m) if m.is_join => {
                self.clip_read = passed && self.clipped;
                self.clip_unread = !self.clip_read;
                // what was read with a clip that bit before and after stands, whatever the clip does once it is put on again
                if outcome == Outcome::Fail {
                    for id in std::mem::take(&mut self.owed_a_clip) {
                        let tests = self.passed.entry(id).or_default();
                        tests.retain(|test| !matches!(test, Test::ToBuilding(_)));
                    }
                } else if self.clip_read {
                    self.owed_a_clip.clear();
                }
            }
            Kind::Look(look) if let Subject::Tug { end, .. } = look.subject => {
                // a conductor that was read off its terminal is what it was; at the near end the cable's own is clamped beside it
                let by_itself = plan.job.metal_beside_earth(end).is_some();
                self.gripped.retain(|_, at| *at != end);
                self.earthed
                    .retain(|_, at| by_itself && (end == End::Far || *at == End::Near));
            }
            Kind::Measure(m) if step.stage == Stage::Test && !m.is_null => {
                self.clip_unread |= self.clipped && matches!(m.used.function, Function::Insulation(_));
                self.charged |= matches!(m.used.function, Function::Insulation(_));
                let tests = self.shows(m, plan);
                self.measured.extend(tests.iter().filter_map(|test| match test {
                    Test::Continuous(core) => Some(core.clone()),
                    _ => None,
                }));
                self.passed.remove(id);
                if passed {
                    if self.clipped && matches!(m.used.function, Function::Insulation(_)) {
                        self.owed_a_clip.insert(id.to_owned());
                    }
                    self.passed.insert(id.to_owned(), tests);
                }
            }
            kind if step.stage <= Stage::FaultFinding => {
                self.pair_read.remove(id);
                if let Kind::Measure(m) = kind
                    && passed
                    && step.stage == Stage::Survey
                    && is_across_the_pair(&m.probes, plan)
                {
                    self.pair_read.extend(self.calls.map(|calls| (id.to_owned(), calls)));
                }
                self.found.remove(id);
                self.found.extend(passed.then_some(id.to_owned()));
            }
            _ => {}
        }
    }

    /// Read at the far end, an earth core is no other core.
    fn earth_core_told(&mut self, id: &str, is_told: bool, plan: &Plan) {
        self.passed.remove(id);
        if let (true, Some(earth)) = (is_told, plan.job.core_for(Purpose::Earth)) {
            let others = plan.job.test_cores();
            let told = others.map(|other| Test::Apart(pair(&earth.name, &other.name)));
            self.passed.insert(id.to_owned(), told.collect());
        }
    }

    /// What a dead test shows by its probes, with the links and joints that are on now.
    fn shows(&self, measure: &Measure, plan: &Plan) -> BTreeSet<Test> {
        let earth = &plan.job.return_core().name;
        let core = |point: &Point| match point {
            Point::Core { core, .. } => Some(core.clone()),
            _ => None,
        };
        let (first, second) = (&measure.probes.first, &measure.probes.second);
        let linked: Vec<&String> = self.links.iter().collect();
        let open = matches!(&measure.window, WindowRule::Fixed(window) if window.high.is_none());
        let insulates = matches!(measure.used.function, Function::Insulation(_));
        let parted = !self.joined && self.rest.is_none();
        let has_earth = plan.job.return_core().carries == Purpose::Earth;
        let mut shown = match (core(first), core(second), linked.as_slice()) {
            (Some(a), Some(b), [_, ..]) if a == *earth && b != *earth && parted => match linked.contains(&&b) {
                true if !open && !insulates => {
                    // crossed with one that is not linked, either of the two would be open
                    let others = plan.job.test_cores().filter(|other| !linked.contains(&&other.name));
                    let apart = others.flat_map(|other| [&a, &b].map(|end| Test::Apart(pair(end, &other.name))));
                    apart.chain([Test::Continuous(b.clone())]).collect()
                }
                false if open => linked.iter().map(|on| Test::Apart(pair(on, &b))).collect(),
                _ => BTreeSet::new(),
            },
            (Some(a), Some(b), [_, _])
                if self.links == BTreeSet::from([a.clone(), b.clone()])
                    && matches!(measure.window, WindowRule::Solved(_))
                    && !self.joined =>
            {
                BTreeSet::from([Test::Solved])
            }
            (Some(a), Some(b), []) if a == *earth && b != *earth && insulates && parted => {
                BTreeSet::from([Test::ToEarth(b)])
            }
            (Some(a), Some(b), []) if a != *earth && b != *earth && insulates && parted => {
                BTreeSet::from([Test::Between(pair(&a, &b))])
            }
            (Some(a), None, []) if a == *earth && *second == Point::JoinedCores && insulates && self.joined => {
                plan.job.test_cores().map(|c| Test::ToEarth(c.name.clone())).collect()
            }
            (None, Some(a), []) if *first == Point::JoinedCores && insulates && self.rest.as_ref() == Some(&a) => {
                let others = plan.job.test_cores().filter(|other| other.name != a);
                let between = others.map(|other| Test::Between(pair(&a, &other.name)));
                between.chain([Test::ToEarth(a.clone())]).collect()
            }
            _ => BTreeSet::new(),
        };
        if self.clipped && has_earth && insulates {
            let to_building = shown.iter().filter_map(|test| match test {
                Test::ToEarth(core) => Some(Test::ToBuilding(core.clone())),
                _ => None,
            });
            shown.extend(to_building.collect::<Vec<_>>());
        }
        if let (true, Some(core), true, true) = (
            *first == Point::building_earth(&plan.job),
            core(second),
            insulates,
            linked.is_empty(),
        ) {
            shown.insert(Test::ToBuilding(core));
        }
        if let (Point::JoinedTerminals, Some(core), true, true) =
            (first, core(second), insulates && self.terminals, linked.is_empty())
        {
            shown.insert(Test::ToMains(core));
        }
        shown
    }

    fn has(&self, test: &Test) -> bool {
        self.passed.values().any(|tests| tests.contains(test))
    }

    fn found(&self, plan: &Plan, wanted: impl Fn(&Kind) -> bool) -> bool {
        let mut found = self.found.iter();
        found.any(|id| wanted(&plan.steps[plan.index(id).unwrap()].kind))
    }

    /// Whether a fact of the proof holds in this world; `None` for what only the run knows.
    pub fn holds(&self, fact: Fact, plan: &Plan) -> Option<bool> {
        let core = |i: usize| plan.job.cores[i].name.clone();
        Some(match fact {
            Fact::Reason(reason) => {
                let of = |kind: &Kind| matches!(kind, Kind::Note { reason: Some(there), .. } if *there == reason);
                self.found(plan, of)
            }
            Fact::SwitchedOff => self.known_off,
            Fact::LockedOff => self.locked,
            Fact::Further(i, act) => self.further.contains(&(plan.job.supply.further[i].name.clone(), act)),
            Fact::KeyKept => self.key,
            Fact::NoticePosted => self.notice,
            Fact::EarthLit(_) | Fact::LeadLit => self.earths.contains(&fact),
            Fact::ProvedBefore(end) => self.proved_before.contains(&end),
            Fact::ProvedAfter => self.proved_after,
            Fact::NeutralDark(_) => {
                self.supply_dark.contains(&fact) || self.neutral_dark.iter().any(|(_, there)| *there == fact)
            }
            Fact::ProvedSince(end) => self.proved_since[end as usize],
            Fact::ProvedAnew => self.proved_anew,
            Fact::ProvedAsLeft => self.proved_as_left,
            Fact::Dark(_) => self.dark.contains(&fact),
            Fact::ElectronicsOut => self.electronics_out,
            Fact::FarEndGuarded => self.guarded,
            Fact::Apart(end) => !self.connected.iter().any(|(_, e)| *e == end),
            Fact::LinkOff(c) => !self.links.contains(&core(c)),
            Fact::Parted => !self.joined && self.rest.is_none() && !self.terminals,
            Fact::FarEndCovered => self.covered,
            Fact::NeutralBack => !self.neutral_off,
            Fact::EarthsBack => self.earths_off.is_empty(),
            Fact::EarthGripped(end) => self.gripped.values().any(|there| *there == end),
            Fact::ClipOff => !self.clipped,
            Fact::ClipRead => self.clip_read,
            Fact::ClipReadAfter => !self.clip_unread,
            Fact::IncomingEarth => !self.incoming.is_empty(),
            Fact::LeadRead => !self.long_lead.is_empty(),
            Fact::ToBuilding(c) => self.has(&Test::ToBuilding(core(c))),
            Fact::ToMains(c, _) => self.has(&Test::ToMains(core(c))),
            Fact::Earthed(end) => self.earthed.values().any(|there| *there == end),
            Fact::Discharged => !self.charged,
            Fact::Measured(c) => self.measured.contains(&core(c)),
            Fact::Continuous(c) => self.has(&Test::Continuous(core(c))),
            Fact::ToEarth(c) => self.has(&Test::ToEarth(core(c))),
            Fact::Solved => self.has(&Test::Solved),
            Fact::ToldApart(a, b) => self.has(&Test::Apart(pair(&core(a), &core(b)))),
            Fact::Between(a, b) => self.has(&Test::Between(pair(&core(a), &core(b)))),
            Fact::Read(c, end) => self.read.contains(&(core(c), end)),
            Fact::Energised => self.switched && self.on,
            Fact::NothingLeftOn => !(self.switched && self.on),
            Fact::Plate(end) => self.found(
                plan,
                |kind| matches!(kind, Kind::Look(look) if look.subject == Subject::Plate(end)),
            ),
            Fact::ReadOpen => self.pair_read.values().any(|calls| !calls),
            Fact::ReadClosed => self.pair_read.values().any(|calls| *calls),
            Fact::Quiet(..) => self.quiet.contains(&fact),
            Fact::DeviceOn => self.device_on,
            // what the model alone can tell of a live reading
            Fact::AllPassed | Fact::Fed(..) | Fact::PairFed | Fact::PoleClear(_) | Fact::Driven(_) => return None,
        })
    }
}
