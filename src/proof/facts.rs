//! The facts that the proof follows: what is known of the supply, the indicator, each conductor and each dead test.
//!
//! The rule inside: a fact is about the job, not about steps, so their number does not grow with the sequence.

use std::collections::BTreeMap;

use super::dark::{dark_pairs, parted_pairs};
use super::fact::Fact;
use super::said::{earth_words, live_words};
use crate::job::{Core, End, Job, Purpose, Separation};
use crate::plan::{Isolating, Kind, Neutral, Plan, Point, Probes, Reason, Stage, has_earth_core_at_far_end};

/// The facts of one job, numbered.
#[derive(Debug, Clone)]
pub struct Facts {
    all: Vec<Fact>,
    numbers: BTreeMap<Fact, usize>,
    cores: BTreeMap<String, usize>,
    tested: Vec<usize>,
    back: usize,
    /// Pairs of points that must be shown dark before hands go near.
    pairs: Vec<(Point, Point)>,
    /// Pairs of points that must be dark once a neutral is parted, each with that neutral.
    parted: Vec<(Neutral, Point, Point)>,
    /// Whether each end is proved dead against the long lead, and not against an earth terminal of its own.
    by_lead: [bool; 2],
    names: Vec<String>,
}

impl Facts {
    /// The facts of a plan: each end is proved dead against the earth that its steps choose.
    pub fn of(plan: &Plan) -> Facts {
        let by_lead = End::BOTH.map(|end| {
            plan.steps.iter().any(|step| match &step.kind {
                Kind::Indicator { probes, lit: false } if step.stage == Stage::Isolate => {
                    matches!(probes.first, Point::LongLead { .. }) && probes.second.end() == Some(end)
                }
                _ => false,
            })
        });
        let is_parted = |of: &Neutral| plan.steps.iter().any(|step| step.acts.contains(&of.parting()));
        let parts: Vec<Neutral> = Neutral::ALL.into_iter().filter(is_parted).collect();
        Facts::against(&plan.job, by_lead, &parts)
    }

    /// The most facts that a plan of this job can have.
    pub fn most(job: &Job) -> usize {
        Facts::against(job, [true; 2], &Neutral::ALL).count()
    }

    /// The facts of a job whose ends are proved dead against the long lead or their own earth terminal, and whose neutrals of these are parted.
    fn against(job: &Job, by_lead: [bool; 2], parts: &[Neutral]) -> Facts {
        let has_earth = |end: End| job.end(end).terminal_for(Purpose::Earth).is_some();
        let by_lead = End::BOTH.map(|end| by_lead[end as usize] || !has_earth(end));
        let names: Vec<String> = job.cores.iter().map(|core| core.name.clone()).collect();
        let earth = job.cores.iter().position(|core| core.carries == Purpose::Earth);
        // what every other core is tested against: the earth core, else the first
        let back = earth.unwrap_or(0);
        let tested: Vec<usize> = (0..names.len()).filter(|core| *core != back).collect();
        let through = names.get(back).map(String::as_str);
        let pairs: Vec<_> = End::BOTH
            .into_iter()
            .flat_map(|end| dark_pairs(job, end, through, by_lead[end as usize]))
            .collect();
        let parted: Vec<_> = parts
            .iter()
            .flat_map(|of| parted_pairs(job, *of, by_lead[of.end() as usize]))
            .collect();
        let all = listed(job, &tested, &pairs, parted.len());
        Facts {
            numbers: all.iter().enumerate().map(|(i, fact)| (*fact, i)).collect(),
            cores: names.iter().enumerate().map(|(i, name)| (name.clone(), i)).collect(),
            all,
            tested,
            back,
            pairs,
            parted,
            by_lead,
            names,
        }
    }

    /// How many there are.
    pub fn count(&self) -> usize {
        self.all.len()
    }

    /// Every fact, in the order of their numbers.
    pub fn all(&self) -> &[Fact] {
        &self.all
    }

    /// What a run that ends with the supply on has read live: line against neutral and against earth, each end where the cable carries
    /// the line, and the poles of an isolated pair.
    pub(super) fn fed(&self) -> Vec<Fact> {
        let is_read = |fact: &&Fact| matches!(fact, Fact::Fed(..) | Fact::PairFed | Fact::PoleClear(_));
        self.all.iter().filter(is_read).copied().collect()
    }

    /// The name of a core.
    pub(super) fn name(&self, core: usize) -> &str {
        &self.names[core]
    }

    /// The number of a fact.
    ///
    /// # Panics
    /// When the fact is not one of this job.
    pub fn number(&self, fact: Fact) -> usize {
        *self
            .numbers
            .get(&fact)
            .unwrap_or_else(|| panic!("{fact:?} is no fact of this job"))
    }

    pub(super) fn core(&self, name: &str) -> Option<usize> {
        self.cores.get(name).copied()
    }

    pub(super) fn cores(&self) -> usize {
        self.names.len()
    }

    /// Every core that is tested against the return core.
    pub(super) fn tested(&self) -> &[usize] {
        &self.tested
    }

    /// The return core: the earth core, else the first.
    pub(super) fn back(&self) -> usize {
        self.back
    }

    /// Whether a core carries earth: no insulation is asked of it.
    fn is_earth(&self, core: usize) -> bool {
        !self.numbers.contains_key(&Fact::ToBuilding(core))
    }

    /// The ends whose earth conductor is read to its terminal, since metal touches that.
    pub(super) fn gripped(&self) -> impl Iterator<Item = Fact> + '_ {
        let gripped = End::BOTH.map(Fact::EarthGripped).into_iter();
        gripped.filter(move |fact| self.numbers.contains_key(fact))
    }

    /// Every core that must be insulated from the earth of the building.
    pub(super) fn live(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.names.len()).filter(|&core| !self.is_earth(core))
    }

    /// The earths that an end is proved dead against, which must be lit first.
    pub(super) fn earths(&self, end: End, job: &Job) -> Vec<Fact> {
        match self.by_lead[end as usize] {
            false => vec![Fact::EarthLit(end)],
            true => Facts::lead(job),
        }
    }

    /// What must be lit first where the long lead is the earth: the lead, and the near end's earth where that is under its clip.
    pub(super) fn lead(job: &Job) -> Vec<Fact> {
        let clipped = matches!(Point::long_lead(job), Point::LongLead { clipped: Some(_) });
        let under = clipped.then_some(Fact::EarthLit(End::Near));
        under.into_iter().chain([Fact::LeadLit]).collect()
    }

    /// Everything that is done at the point of isolation of each further supply.
    pub(super) fn further(&self) -> impl Iterator<Item = Fact> + '_ {
        self.all
            .iter()
            .copied()
            .filter(|fact| matches!(fact, Fact::Further(..)))
    }

    /// Insulation to the mains in the box of an end, of each core that shares it.
    pub(super) fn to_mains(&self, end: End) -> impl Iterator<Item = Fact> + '_ {
        let at_end = move |fact: &Fact| matches!(fact, Fact::ToMains(_, at) if *at == end);
        self.all.iter().copied().filter(at_end)
    }

    /// What must be dark once neutrals are parted.
    pub(super) fn neutrals(&self) -> impl Iterator<Item = Fact> {
        (0..self.parted.len()).map(Fact::NeutralDark)
    }

    /// What must be dark once one neutral is parted.
    pub fn neutrals_of(&self, of: Neutral) -> impl Iterator<Item = Fact> + '_ {
        self.neutrals()
            .filter(move |fact| matches!(fact, Fact::NeutralDark(i) if self.parted[*i].0 == of))
    }

    /// What an indicator between two points says of a parted neutral.
    pub fn neutral_between(&self, of: Neutral, probes: &Probes) -> Option<Fact> {
        let is = |(there, a, b): &(Neutral, Point, Point)| *there == of && *a == probes.first && *b == probes.second;
        self.parted.iter().position(is).map(Fact::NeutralDark)
    }

    /// What solving each core shows, where the job asks for it.
    pub(super) fn solved(&self) -> Option<Fact> {
        self.numbers.contains_key(&Fact::Solved).then_some(Fact::Solved)
    }

    pub(super) fn darks(&self) -> impl Iterator<Item = Fact> {
        (0..self.pairs.len()).map(Fact::Dark)
    }

    /// What a meter must show where extra-low voltage may be.
    pub(super) fn quiets(&self) -> impl Iterator<Item = Fact> + '_ {
        self.all.iter().copied().filter(|fact| matches!(fact, Fact::Quiet(..)))
    }

    /// The pair that an indicator between two points speaks of.
    pub fn dark_between(&self, probes: &Probes) -> Option<Fact> {
        let is = |(a, b): &(Point, Point)| {
            (*a == probes.first && *b == probes.second) || (*a == probes.second && *b == probes.first)
        };
        self.pairs.iter().position(is).map(Fact::Dark)
    }

    /// What a meter between two points speaks of, where extra-low voltage may be.
    pub fn quiet_between(&self, probes: &Probes, direct: bool) -> Option<Fact> {
        let Some(Fact::Dark(pair)) = self.dark_between(probes) else {
            return None;
        };
        Some(Fact::Quiet(pair, direct)).filter(|fact| self.numbers.contains_key(fact))
    }

    /// Each core told from the return core, where anything can tell them.
    pub(super) fn told_from_back(&self) -> impl Iterator<Item = Fact> + '_ {
        self.all
            .iter()
            .copied()
            .filter(|fact| matches!(fact, Fact::ToldApart(a, b) if *a == self.back || *b == self.back))
    }

    /// The dead tests that show something of a core, and what shows that it is in its terminals.
    pub(super) fn about(&self, core: usize) -> impl Iterator<Item = Fact> + '_ {
        self.all.iter().copied().filter(move |fact| match *fact {
            Fact::Continuous(c) | Fact::ToEarth(c) => c == core || core == self.back,
            // told apart and continuous are measured through the return core
            Fact::ToldApart(a, b) => a == core || b == core || core == self.back,
            Fact::Between(a, b) => a == core || b == core,
            Fact::ToBuilding(c) => c == core || self.is_earth(core),
            Fact::ToMains(c, _) => c == core,
            Fact::Earthed(_) | Fact::EarthGripped(_) => self.is_earth(core),
            Fact::Read(c, _) => c == core,
            // the other cores are like these two by their own readings
            Fact::Solved => core == self.back || self.tested.iter().take(2).any(|linked| *linked == core),
            _ => false,
        })
    }

    /// What a fact about isolation and proving dead says.
    fn dead_words(&self, fact: Fact, job: &Job) -> String {
        let end = |end: End| job.end(end).name.as_str();
        match fact {
            Fact::SwitchedOff => "the supply is switched off".into(),
            Fact::LockedOff => "the supply is locked off".into(),
            Fact::KeyKept => "the key is in the worker's pocket".into(),
            Fact::NoticePosted => "a notice is posted".into(),
            Fact::Further(i, act) => {
                let (from, name) = (&job.supply.further[i].from, &job.supply.further[i].name);
                format!("for {name}: {}", act.words(from))
            }
            Fact::EarthLit(e) => format!("the earth at the {} is lit to line before switching off", end(e)),
            Fact::LeadLit => format!(
                "{} is lit to line at the {} before switching off",
                Point::long_lead(job).words(job),
                end(End::Near)
            ),
            Fact::ProvedBefore(e) => {
                format!(
                    "the indicator is proved on a known source before it is used at the {}",
                    end(e)
                )
            }
            Fact::ProvedAfter => "the indicator is proved again after it was used".into(),
            Fact::Dark(i) => {
                let (first, second) = &self.pairs[i];
                let (first, second) = (first.words(job), second.words(job));
                format!("the indicator is dark between {first} and {second}")
            }
            Fact::NeutralDark(i) => {
                let (of, first, second) = &self.parted[i];
                let (first, second) = (first.words(job), second.words(job));
                match of {
                    Neutral::OfCable(_) => {
                        format!("with the neutral parted the indicator is dark between {first} and {second}")
                    }
                    Neutral::OfSupply => format!(
                        "with the supply's neutral parted the indicator is dark between {first} and {second}: `ProveParted` of that end after `PartNeutral`"
                    ),
                }
            }
            Fact::ProvedSince(at) => format!("the indicator is proved again after the parted neutral was tested at the {}", end(at)),
            Fact::ProvedAnew => "the indicator is proved on a known source, once all is connected, before the supply's neutral is tested: `ProveIndicator` of the stage `Connect`".into(),
            Fact::ProvedAsLeft => "the indicator is proved again after the supply's neutral was tested: `ProveIndicator` of the stage `Connect`".into(),
            Fact::Quiet(i, direct) => {
                let kind = if direct { "direct" } else { "alternating" };
                let (first, second) = &self.pairs[i];
                let (first, second) = (first.words(job), second.words(job));
                format!("a meter shows no {kind} voltage between {first} and {second}")
            }
            other => unreachable!("{other:?} is told elsewhere"),
        }
    }

    /// What a fact about insulation says.
    fn insulated_words(&self, fact: Fact, job: &Job) -> String {
        let core = |i: usize| self.names[i].as_str();
        match fact {
            Fact::ToEarth(c) => {
                let (core, back) = (core(c), core(self.back));
                format!("core `{core}` has passed insulation to core `{back}`")
            }
            Fact::Between(a, b) => {
                let (a, b) = (core(a), core(b));
                format!("cores `{a}` and `{b}` have passed insulation between them")
            }
            Fact::ToBuilding(c) => format!("core `{}` has passed insulation to the earth of the building", core(c)),
            Fact::ToMains(c, end) => {
                let (core, end) = (core(c), &job.end(end).name);
                format!("core `{core}` has passed insulation to the mains in the same box at the {end}")
            }
            other => unreachable!("{other:?} is told elsewhere"),
        }
    }

    /// What a fact says, to follow "not shown: ".
    pub fn words(&self, fact: Fact, job: &Job) -> String {
        let end = |end: End| job.end(end).name.as_str();
        let core = |i: usize| self.names[i].as_str();
        let back = self.names.get(self.back).map_or("", String::as_str);
        match fact {
            Fact::Reason(reason) => reason.words().into(),
            Fact::Plate(e) => format!("the plate of the control pair is read at the {}", end(e)),
            Fact::ReadOpen => "the control pair is read as found, its contact open".into(),
            Fact::ReadClosed => "the control pair is read as found, its contact closed".into(),
            Fact::SwitchedOff
            | Fact::LockedOff
            | Fact::KeyKept
            | Fact::NoticePosted
            | Fact::Further(..)
            | Fact::EarthLit(_)
            | Fact::LeadLit
            | Fact::ProvedBefore(_)
            | Fact::ProvedAfter
            | Fact::ProvedSince(_)
            | Fact::ProvedAnew
            | Fact::ProvedAsLeft
            | Fact::Dark(_)
            | Fact::NeutralDark(_)
            | Fact::Quiet(..) => self.dead_words(fact, job),
            Fact::DeviceOn => "the residual-current device is on again".into(),
            Fact::Apart(e) => format!("the cores are off their terminals at the {}", end(e)),
            Fact::ElectronicsOut => "nothing electronic is on the cores".into(),
            Fact::FarEndGuarded => format!("the {} is guarded", end(End::Far)),
            Fact::LinkOff(c) => format!("the link on core `{}` is off", core(c)),
            Fact::Parted => "no cores and no terminals are joined".into(),
            Fact::FarEndCovered => format!("the {} is covered and nobody is at it", end(End::Far)),
            Fact::NeutralBack => "the supply's neutral is in its terminal".into(),
            Fact::EarthsBack | Fact::IncomingEarth | Fact::Earthed(_) | Fact::EarthGripped(_) => earth_words(fact, job),
            Fact::ClipOff => "no clip is on the earth core".into(),
            Fact::ClipRead => "the earth core reads through to the earth that it is clipped to".into(),
            Fact::ClipReadAfter => "it reads through once more after the last insulation reading".into(),
            Fact::LeadRead => "the long lead is read from end to end".into(),
            Fact::Discharged => "the cores are discharged".into(),
            Fact::Measured(c) => format!("the continuity of core `{}` was measured", core(c)),
            Fact::Continuous(c) => format!("core `{}` has passed continuity, linked to core `{back}`", core(c)),
            Fact::Solved => format!(
                "each core is solved by a reading that core `{back}` has no part in, since the length is not known"
            ),
            Fact::ToldApart(a, b) if [a, b].contains(&self.back) => format!(
                "core `{}` is told apart from core `{back}`, by a link on another core alone or by the earth read at the far end before anything is energised",
                core(if a == self.back { b } else { a })
            ),
            Fact::ToldApart(a, b) => format!(
                "cores `{}` and `{}` are told apart by a link on one of them",
                core(a),
                core(b)
            ),
            Fact::ToEarth(_) | Fact::Between(..) | Fact::ToBuilding(_) | Fact::ToMains(..) => {
                self.insulated_words(fact, job)
            }
            Fact::Read(c, e) => {
                let (core, end) = (core(c), end(e));
                format!("core `{core}` is in its terminal at the {end}, whose purpose was read")
            }
            Fact::Energised | Fact::Fed(..) | Fact::PairFed | Fact::PoleClear(_) | Fact::Driven(_) => {
                live_words(fact, job)
            }
            Fact::AllPassed => "every step has passed".into(),
            Fact::NothingLeftOn => "what the run switched on is off again".into(),
        }
    }
}

/// What the poles of an isolated pair show live: their own voltage between them, and each no mains to earth.
fn of_pair(job: &Job) -> Vec<Fact> {
    let Some(pair) = job.isolated_pair() else {
        return Vec::new();
    };
    let mut facts = vec![Fact::PairFed];
    // one pole of an alternating pair that is earthed somewhere stands against earth on purpose
    if pair.direct || job.supply.separation != Some(Separation::Pelv) {
        facts.extend([Fact::PoleClear(0), Fact::PoleClear(1)]);
    }
    facts
}

/// Line against neutral and against earth at an end, each where the end has both: at the far end where cores of the cable go to them, at
/// the near end, where the supply comes in, always.
fn fed_at(job: &Job, end: End) -> Vec<Fact> {
    let has_core = |name: &str| end == End::Near || job.cores.iter().any(|core| core.terminal(end) == name);
    let there = |purpose| {
        job.end(end)
            .terminal_for(purpose)
            .is_some_and(|terminal| has_core(&terminal.name))
    };
    let against = [Purpose::Neutral, Purpose::Earth];
    let lit = against
        .into_iter()
        .filter(|purpose| there(Purpose::PermanentLive) && there(*purpose));
    lit.map(|purpose| Fact::Fed(end, purpose)).collect()
}

/// The cores that do not carry earth.
fn live(job: &Job) -> impl Iterator<Item = usize> + '_ {
    (0..job.cores.len()).filter(|core| job.cores[*core].carries != Purpose::Earth)
}

/// Each core told from the return core: by a link where there are more of them, by the earth of the far end where the return core is in it.
fn told_from_back(job: &Job, tested: &[usize]) -> Vec<Fact> {
    let name = &job.return_core().name;
    let back = job.cores.iter().position(|core| core.name == *name);
    let can_be = 2 <= tested.len() || has_earth_core_at_far_end(job);
    let back = back.filter(|_| can_be);
    let of = |back: usize| {
        tested
            .iter()
            .map(move |&core| Fact::ToldApart(core.min(back), core.max(back)))
    };
    back.into_iter().flat_map(of).collect()
}

/// What is followed at an end.
fn at_end(job: &Job, end: End) -> Vec<Fact> {
    let mut all = fed_at(job, end);
    all.extend([
        Fact::Plate(end),
        Fact::Apart(end),
        Fact::EarthLit(end),
        Fact::ProvedBefore(end),
        Fact::Earthed(end),
    ]);
    all.extend((0..job.cores.len()).map(|core| Fact::Read(core, end)));
    all.extend(job.metal_beside_earth(end).map(|_| Fact::EarthGripped(end)));
    let place = |core: &Core| job.cores.iter().position(|there| there.name == core.name);
    let beside = job.beside_mains(end).filter_map(place);
    all.extend(beside.map(|core| Fact::ToMains(core, end)));
    all
}

/// Every fact of a job, in their order.
fn listed(job: &Job, tested: &[usize], pairs: &[(Point, Point)], parted: usize) -> Vec<Fact> {
    let mut all = vec![
        Fact::ReadOpen,
        Fact::ReadClosed,
        Fact::SwitchedOff,
        Fact::LockedOff,
        Fact::KeyKept,
        Fact::NoticePosted,
        Fact::LeadLit,
        Fact::ProvedAfter,
        Fact::ProvedAnew,
        Fact::ProvedAsLeft,
        Fact::ElectronicsOut,
        Fact::FarEndGuarded,
        Fact::Parted,
        Fact::ClipOff,
        Fact::NeutralBack,
        Fact::EarthsBack,
        Fact::FarEndCovered,
        Fact::ClipRead,
        Fact::ClipReadAfter,
        Fact::IncomingEarth,
        Fact::LeadRead,
        Fact::Discharged,
        Fact::Energised,
        Fact::DeviceOn,
        Fact::AllPassed,
        Fact::NothingLeftOn,
    ];
    all.extend(Reason::ALL.map(Fact::Reason));
    all.extend(of_pair(job));
    if job.may_carry_extra_low_voltage() {
        let of_core = |pair: &usize| matches!(pairs[*pair].1, Point::Core { .. });
        let quiet = |pair| [false, true].map(|direct| Fact::Quiet(pair, direct));
        all.extend((0..pairs.len()).filter(of_core).flat_map(quiet));
    }
    all.extend((0..pairs.len()).map(Fact::Dark));
    all.extend((0..parted).map(Fact::NeutralDark));
    all.extend(End::BOTH.map(Fact::ProvedSince));
    all.extend((0..job.controls().len()).map(Fact::Driven));
    for supply in 0..job.supply.further.len() {
        all.extend(Isolating::ALL.map(|act| Fact::Further(supply, act)));
    }
    all.extend(End::BOTH.into_iter().flat_map(|end| at_end(job, end)));
    all.extend(live(job).map(Fact::ToBuilding));
    all.extend(told_from_back(job, tested));
    for (i, &a) in tested.iter().enumerate() {
        all.extend([
            Fact::LinkOff(a),
            Fact::Measured(a),
            Fact::Continuous(a),
            Fact::ToEarth(a),
        ]);
        for &b in &tested[i + 1..] {
            all.extend([Fact::ToldApart(a, b), Fact::Between(a, b)]);
        }
    }
    if job.length.is_none() && 2 <= tested.len() {
        all.push(Fact::Solved);
    }
    all.sort();
    all
}
