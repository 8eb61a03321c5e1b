//! What each step makes of the facts, by its acts, its probes and what is linked and joined where it stands.
//!
//! The rule inside: what a measurement shows follows from where its probes are and what hands have put on the cores, never
//! from its name.

use super::fact::Fact;
use super::facts::Facts;
use rust_decimal::Decimal;

use crate::job::{At, ControlPair, End, Job, Purpose};
use crate::plan::{
    Act, Isolating, Kind, Leads, Look, Measure, Neutral, Point, Probes, SetUp, Stage, Step, Subject, WindowRule,
    dead_measure, proves_earth, proves_indicator, shows_parted, tables,
};
use crate::value::quantity::Amount;
use crate::value::reading::{Function, Multiple};

/// What a step makes true and false, by how it ends.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Shown {
    /// True once it has passed.
    pub(super) shows: Vec<Fact>,
    /// No longer true when it did not pass.
    pub(super) fails: Vec<Fact>,
    /// True however it ends.
    pub(super) always: Vec<Fact>,
    /// No longer true however it ends.
    pub(super) ends: Vec<Fact>,
}

/// The place where a step stands in the plan, from the acts before it.
#[derive(Debug, Clone, Default)]
pub(super) struct Place {
    /// Links and joints, which the run makes to be exactly these before each measurement.
    pub(super) set_up: SetUp,
    /// Whether the contact of the control pair calls, where a step has set it.
    pub(super) calls: Option<bool>,
    /// Whether the cores are off their terminals at each end.
    apart: [bool; 2],
}

impl Place {
    /// Goes past a step.
    pub(super) fn pass(&mut self, step: &Step, job: &Job) {
        // what may not be needed leaves the contact as nobody knows
        let always = step.only_if.is_empty();
        let of_pair = |control: &String| job.control_pair.as_ref().is_some_and(|pair| pair.control == *control);
        for act in &step.acts {
            self.set_up.act(act);
            match act {
                Act::Disconnect(end) => self.apart[*end as usize] = always,
                Act::Connect { end, .. } => self.apart[*end as usize] = false,
                Act::Call(control) if of_pair(control) => self.calls = always.then_some(true),
                Act::Satisfy(control) if of_pair(control) => self.calls = always.then_some(false),
                Act::EveryCallOff => self.calls = always.then_some(false),
                _ => {}
            }
        }
    }
}

/// What a step shows at its place.
pub(super) fn shown(step: &Step, place: &Place, job: &Job, facts: &Facts) -> Shown {
    let mut shown = Shown::default();
    let mut own = place.clone();
    own.pass(step, job);
    step.acts
        .iter()
        .for_each(|act| of_act(act, &own.set_up, job, facts, &mut shown));
    match &step.kind {
        Kind::Indicator { probes, lit } => of_indicator(step, (probes, *lit), place, job, facts, &mut shown),
        Kind::Connect { core, end, .. } => {
            if let Some(core) = facts.core(core) {
                shown.shows.push(Fact::Read(core, *end));
                shown.fails.push(Fact::Read(core, *end));
            }
            shown.ends.push(Fact::Apart(*end));
        }
        // whoever tightens a clamp may loosen another
        Kind::Look(look) if let Subject::Tug { end, .. } = look.subject => {
            shown.ends.extend(tugged(end, job, facts));
        }
        Kind::Look(look) if step.stage == Stage::Survey => of_plate(look, &mut shown),
        Kind::Measure(measure) if measure.is_null => {
            let whole = (measure.probes.leads() == Leads::Long).then_some(Fact::LeadRead);
            shown.shows.extend(whole);
            shown.fails.extend(whole);
        }
        Kind::Measure(measure) => of_measure(step, measure, &own, job, facts, &mut shown),
        Kind::Note {
            reason: Some(reason), ..
        } => {
            shown.shows.push(Fact::Reason(*reason));
            shown.fails.push(Fact::Reason(*reason));
        }
        Kind::Look(_) | Kind::Note { .. } | Kind::Do | Kind::Gate => {}
    }
    shown
}

/// What the indicator shows, lit or dark.
fn of_indicator(
    step: &Step,
    (probes, lit): (&Probes, bool),
    place: &Place,
    job: &Job,
    facts: &Facts,
    shown: &mut Shown,
) {
    match lit {
        _ if proves_indicator(step) => {
            let [near, far] = End::BOTH.map(Fact::ProvedBefore);
            let of_isolation = [near, far, Fact::ProvedAfter, Fact::ProvedAsLeft];
            let since = End::BOTH.map(Fact::ProvedSince);
            // among parted neutrals it belongs to their bracket and no other
            match step.stage {
                Stage::Disconnect => {
                    let parted = since.into_iter().zip(place.apart);
                    shown
                        .shows
                        .extend(parted.filter_map(|(fact, parted)| parted.then_some(fact)));
                }
                Stage::Connect => shown.shows.extend([Fact::ProvedAsLeft, Fact::ProvedAnew]),
                _ => shown.shows.extend(of_isolation),
            }
            let fails = of_isolation.into_iter().chain(since);
            shown.fails.extend(fails.chain([Fact::ProvedAnew]));
        }
        _ if proves_earth(step) => {
            let lit = earth_between(probes, job);
            // what lights is joined to the source somehow: enough for a test voltage, and no figure for a joint. With metal at the far end it
            // may be so through the cable alone, which is off by then
            let by_cable = job.metal_beside_earth(End::Far).is_some();
            let comes_in = (!by_cable && lit.contains(&Fact::EarthLit(End::Near))).then_some(Fact::IncomingEarth);
            shown.shows.extend(lit.iter().copied().chain(comes_in));
            shown.fails.extend(lit.into_iter().chain(comes_in));
        }
        false if shows_parted(step) => {
            let of = probes.second.end().map(|end| place.set_up.neutral_at(end));
            let dark = of
                .and_then(|of| facts.neutral_between(of, probes))
                .filter(|_| match of {
                    Some(Neutral::OfCable(end)) => place.apart[end as usize],
                    _ => true,
                });
            shown.shows.extend(dark);
            shown.fails.extend(dark);
            shown.ends.extend(of.map(|of| match of {
                Neutral::OfSupply => Fact::ProvedAsLeft,
                Neutral::OfCable(end) => Fact::ProvedSince(end),
            }));
        }
        false if proves_dead(step) => {
            let dark = facts.dark_between(probes);
            shown.shows.extend(dark);
            shown.fails.extend(dark);
            shown.ends.push(Fact::ProvedAfter);
            // one bracket a position: for the other one the indicator is proved anew
            let elsewhere = |end: &End| probes.second.end() != Some(*end);
            shown
                .ends
                .extend(End::BOTH.into_iter().filter(elsewhere).map(Fact::ProvedBefore));
        }
        _ => {}
    }
}

/// Whether a step proves two points dead; in the survey and in the live stage nothing is.
pub(super) fn proves_dead(step: &Step) -> bool {
    let dead = (Stage::Isolate..=Stage::Connect).contains(&step.stage);
    dead && matches!(step.kind, Kind::Indicator { lit: false, .. })
}

/// The earths that an indicator between two points shows, where it lights: that of an end to its own permanent live, the long lead's to
/// the near end's; to the known source that of the lead, and of the near end too where the lead is clipped to it, whose own it is where the lead
/// that counts is clipped elsewhere.
fn earth_between(probes: &Probes, job: &Job) -> Vec<Fact> {
    let takes = |point: &Point| match point {
        Point::Terminal { terminal, end } => {
            let there = job.end(*end).terminals.iter().find(|there| there.name == *terminal);
            there.map(|there| (*end, there.takes))
        }
        _ => None,
    };
    let (first, second) = (&probes.first, &probes.second);
    match (first, takes(first), takes(second)) {
        (Point::LongLead { clipped }, _, _) if *second == Point::KnownSource => {
            let under = clipped.as_ref().map(|_| Fact::EarthLit(End::Near));
            let counts = (*first == Point::long_lead(job)).then_some(Fact::LeadLit);
            under.into_iter().chain(counts).collect()
        }
        (Point::LongLead { .. }, _, Some((End::Near, Purpose::PermanentLive))) => vec![Fact::LeadLit],
        (_, Some((earth, Purpose::Earth)), Some((line, Purpose::PermanentLive))) if earth == line => {
            vec![Fact::EarthLit(earth)]
        }
        _ => Vec::new(),
    }
}

fn of_plate(look: &Look, shown: &mut Shown) {
    if let Subject::Plate(end) = look.subject {
        shown.shows.push(Fact::Plate(end));
        shown.fails.push(Fact::Plate(end));
    }
}

fn of_act(act: &Act, left: &SetUp, job: &Job, facts: &Facts, shown: &mut Shown) {
    let Shown { shows, ends, fails, .. } = shown;
    let every_link = || facts.tested().iter().map(|&core| Fact::LinkOff(core));
    let link = |name: &String| facts.core(name).filter(|core| *core != facts.back()).map(Fact::LinkOff);
    match act {
        Act::SwitchOff | Act::MakeSafe => {
            shows.extend([Fact::SwitchedOff, Fact::NothingLeftOn]);
            // a lock, a key and a notice count only after it, each time
            ends.extend([Fact::Energised, Fact::LockedOff, Fact::KeyKept, Fact::NoticePosted]);
        }
        Act::Further { supply, act } => {
            let place = job.supply.further.iter().position(|there| there.name == *supply);
            shows.extend(place.map(|place| Fact::Further(place, *act)));
            if let (Some(place), Isolating::SwitchOff) = (place, act) {
                ends.extend(Isolating::ALL[1..].iter().map(|act| Fact::Further(place, *act)));
            }
        }
        Act::LockOff => shows.push(Fact::LockedOff),
        Act::KeepKey => shows.push(Fact::KeyKept),
        Act::PostNotice => shows.push(Fact::NoticePosted),
        Act::Disconnect(end) => {
            shows.push(Fact::Apart(*end));

            ends.extend((0..facts.cores()).map(|core| Fact::Read(core, *end)));
            ends.extend(as_left(facts));
            ends.extend(facts.neutrals_of(Neutral::OfCable(*end)));
        }
        Act::TakeOutElectronics => shows.push(Fact::ElectronicsOut),
        Act::GuardFarEnd => shows.push(Fact::FarEndGuarded),
        Act::LinkToEarth(core) => ends.extend(link(core)),
        Act::RemoveLink(core) => shows.extend(link(core)),
        Act::RemoveEveryLink => shows.extend(every_link()),
        Act::Discharge => shows.push(Fact::Discharged),
        Act::Energise => {
            shows.extend([Fact::Energised, Fact::DeviceOn]);
            fails.push(Fact::Energised);
            ends.extend([
                Fact::SwitchedOff,
                Fact::LockedOff,
                Fact::KeyKept,
                Fact::NoticePosted,
                Fact::EarthLit(End::Near),
                Fact::EarthLit(End::Far),
                Fact::LeadLit,
                Fact::ProvedBefore(End::Near),
                Fact::ProvedBefore(End::Far),
                Fact::ProvedAfter,
                Fact::NothingLeftOn,
            ]);
            // whoever switches on takes every lock away
            ends.extend(facts.further());
            ends.extend(facts.darks());
            ends.extend(facts.quiets());
        }
        Act::Connect { end, .. } => {
            ends.extend([Fact::Apart(*end), Fact::ProvedAnew]);
            ends.extend(as_left(facts));
        }
        Act::ResetDevice => shows.push(Fact::DeviceOn),
        Act::Call(_) | Act::Satisfy(_) | Act::EveryCallOff | Act::TakeLeadOff(_) | Act::PutLeadOn(_) => {}
        set_up => of_set_up(set_up, left, facts, shown),
    }
}

/// What a tug at an end leaves unknown of the earth: a conductor that was read by itself is what it was, its clamp is not.
fn tugged(end: End, job: &Job, facts: &Facts) -> Vec<Fact> {
    let by_itself = job.metal_beside_earth(end).is_some();
    let stays = |fact: &Fact| match fact {
        Fact::EarthGripped(at) => *at != end,
        // by the clamps of the near end goes the far end's earth as well
        Fact::Earthed(at) => by_itself && (*at == End::Near || end == End::Far),
        _ => true,
    };
    as_left(facts).filter(|fact| !stays(fact)).collect()
}

/// What is shown of the earth of both ends as they are left.
fn as_left(facts: &Facts) -> impl Iterator<Item = Fact> {
    End::BOTH.map(Fact::Earthed).into_iter().chain(facts.gripped())
}

/// What is joined, clipped, parted and covered for a test.
fn of_set_up(act: &Act, left: &SetUp, facts: &Facts, shown: &mut Shown) {
    let Shown { shows, ends, .. } = shown;
    match act {
        Act::JoinLiveCores | Act::JoinRest(_) | Act::JoinTerminals => ends.push(Fact::Parted),
        // the cores are parted only after the tester has let go of their charge
        Act::PartLiveCores | Act::PartRest | Act::PartTerminals => {
            shows.extend(left.is_parted().then_some(Fact::Parted));
            shows.push(Fact::Discharged);
        }
        Act::CoverFarEnd => shows.push(Fact::FarEndCovered),
        Act::PartNeutral => {
            ends.push(Fact::NeutralBack);
            ends.extend(facts.neutrals_of(Neutral::OfSupply));
        }
        Act::RestoreNeutral => shows.push(Fact::NeutralBack),
        Act::EarthOff(end) => {
            ends.push(Fact::EarthsBack);
            ends.extend(facts.gripped().filter(|fact| *fact == Fact::EarthGripped(*end)));
        }
        Act::EarthBack(end) => {
            shows.extend(left.earths_off.is_empty().then_some(Fact::EarthsBack));
            ends.extend(facts.gripped().filter(|fact| *fact == Fact::EarthGripped(*end)));
        }
        Act::JoinEarth => ends.push(Fact::ClipOff),
        Act::PartEarth => shows.push(Fact::ClipOff),
        other => unreachable!("{other:?} is no set-up"),
    }
}

fn of_measure(step: &Step, measure: &Measure, place: &Place, job: &Job, facts: &Facts, shown: &mut Shown) {
    if tables::charges(step) {
        shown.ends.push(Fact::Discharged);
        shown.ends.extend(place.set_up.earthed.then_some(Fact::ClipReadAfter));
    }
    match measure.used.function {
        Function::ResidualTrip(Multiple::Once | Multiple::FiveTimes) => shown.ends.push(Fact::DeviceOn),
        // a device that trips where it must not is off all the same
        Function::ResidualTrip(Multiple::Half) => shown.fails.push(Fact::DeviceOn),
        Function::Loop if matches!(job.loop_test_may_trip(), Ok(Some(_))) => shown.ends.push(Fact::DeviceOn),
        _ => {}
    }
    if let (Stage::Isolate, Some(quiet)) = (step.stage, quiet(measure, facts)) {
        shown.shows.push(quiet);
        shown.fails.push(quiet);
    }
    // off its terminal a conductor is read before its clamp is
    let off = &place.set_up.earths_off;
    let off = |fact: &Fact| matches!(fact, Fact::EarthGripped(end) if off.contains(end));
    shown.ends.extend(facts.gripped().filter(off));
    if dead_measure(step).is_some() {
        let (always, mut shows) = dead_test(measure, &place.set_up, facts);
        shows.extend(to_building(measure, &place.set_up, job, facts));
        shows.extend(of_earth(step, measure, &place.set_up, job, facts));
        shows.extend(to_mains(measure, &place.set_up, facts));
        shown.always.extend(always);
        shown.fails.extend(shows.iter().copied());
        shown.shows.extend(shows);
    } else if measure.used.function == Function::Loop {
        let earthed: Vec<Fact> = End::BOTH
            .into_iter()
            .filter(|end| loops(measure, *end, job))
            .map(Fact::Earthed)
            .collect();
        shown.fails.extend(earthed.iter().copied());
        shown.shows.extend(earthed);
    } else if let (Stage::Survey, Some(pair), Some(calls)) = (step.stage, &job.control_pair, place.calls)
        && is_of_pair(&measure.probes, pair, job)
    {
        let fact = if calls { Fact::ReadClosed } else { Fact::ReadOpen };
        shown.shows.push(fact);
        shown.fails.push(fact);
    }
}

/// What a voltage that may not be there shows between two points: extra-low voltage lights no indicator.
fn quiet(measure: &Measure, facts: &Facts) -> Option<Fact> {
    let direct = match measure.used.function {
        Function::VoltageAc => false,
        Function::VoltageDc => true,
        _ => return None,
    };
    let absent = matches!(&measure.window, WindowRule::Fixed(window) if window.low.is_none() && window.high.is_some());
    facts.quiet_between(&measure.probes, direct).filter(|_| absent)
}

/// Whether two probes are on the two conductors of the control pair, at its terminals or on the cores in them.
fn is_of_pair(probes: &Probes, pair: &ControlPair, job: &Job) -> bool {
    let place = |point: &Point| match point {
        Point::Terminal { terminal, end } => Some((*end, terminal.clone())),
        Point::Core { core, end } => job.core(core).map(|core| (*end, core.terminal(*end).to_owned())),
        _ => None,
    };
    let of = |at: &At| match at {
        At::Near(terminal) => Some((End::Near, terminal.clone())),
        At::Far(terminal) => Some((End::Far, terminal.clone())),
        _ => None,
    };
    let mut read = [place(&probes.first), place(&probes.second)];
    let mut wanted = [of(&pair.between.0), of(&pair.between.1)];
    read.sort();
    wanted.sort();
    read == wanted && read.iter().all(Option::is_some)
}

/// Whether all cores but this one are joined.
fn is_rest(on: &SetUp, core: usize, facts: &Facts) -> bool {
    let but = on.rest.as_deref().and_then(|name| facts.core(name));
    but == Some(core) && !on.joined
}

/// Ohms in the earth of an end that a test of it must show: the least joint that the library of faults puts there.
const EARTH_FAULT_OHMS: Decimal = Decimal::TWO;

/// Whether a window has no room for a bad joint in the earth above so many ohms of sound wiring.
fn has_no_room(measure: &Measure, sound: Decimal) -> bool {
    let high = match &measure.window {
        WindowRule::Fixed(window) => window.high.as_ref(),
        WindowRule::Like { .. } | WindowRule::Solved(_) => None,
    };
    high.is_some_and(|high| high.amount.value() < sound + EARTH_FAULT_OHMS)
}

/// Whether a loop test goes through the earth terminal of an end, against a window that a bad joint in the earth does not fit into.
fn loops(measure: &Measure, end: End, job: &Job) -> bool {
    let earth = Point::earth_at(job, end);
    let probes = [&measure.probes.first, &measure.probes.second];
    let line = |point: &&Point| matches!(point, Point::Terminal { end: at, .. } if *at == end) && **point != earth;
    let ze = job.supply.ze.as_ref().map_or(Decimal::ZERO, Amount::value);
    earth != Point::KnownEarth && probes.contains(&&earth) && probes.iter().any(line) && has_no_room(measure, ze)
}

/// What a reading of an earth shows: the one that comes in, the one of an end as it is left, or the clip on the earth core.
fn of_earth(step: &Step, measure: &Measure, on: &SetUp, job: &Job, facts: &Facts) -> Vec<Fact> {
    let mut shows = Vec::new();
    // its window is the job's own copper and joints, and the model tries a bad joint against it
    let judges = matches!(&measure.window, WindowRule::Fixed(window) if window.high.is_some());
    if measure.used.function != Function::Continuity || !judges || !on.links.is_empty() {
        return shows;
    }
    for end in End::BOTH {
        let (earth, conductor) = (Point::earth_at(job, end), Point::earth_conductor(job, end));
        let beside_metal = job.metal_beside_earth(end).is_some();
        if earth != Point::KnownEarth && measure.probes.are_on(&earth, &Point::KnownEarth) {
            let comes_in = end == End::Near && step.stage == Stage::Test;
            shows.extend(comes_in.then_some(Fact::IncomingEarth));
            shows.extend((step.stage == Stage::Connect).then_some(Fact::Earthed(end)));
            let is_left = step.stage == Stage::Connect && !beside_metal;
            shows.extend(facts.told_from_back().filter(|_| is_left && end == End::Far));
        }
        if beside_metal && step.stage == Stage::Connect && measure.probes.are_on(&conductor, &Point::KnownEarth) {
            // by the earth core of the cable the way goes over the near end, whose own metal would be in parallel again
            let over_near = end == End::Far && job.metal_beside_earth(End::Near).is_none();
            shows.extend(over_near.then_some(Fact::Earthed(End::Near)));
            shows.push(Fact::Earthed(end));
            shows.extend(facts.told_from_back().filter(|_| end == End::Far));
        }
        if beside_metal && measure.probes.are_on(&conductor, &earth) {
            shows.push(Fact::EarthGripped(end));
        }
    }
    let through = job.core_for(Purpose::Earth).map(|core| Point::Core {
        core: core.name.clone(),
        end: End::Near,
    });
    if let Some(core) = through
        && on.earthed
        && measure.is_join
        && measure.probes.are_on(&Point::building_earth(job), &core)
    {
        shows.extend([Fact::ClipRead, Fact::ClipReadAfter]);
    }
    shows
}

/// The cores that an insulation reading shows insulated from the earth of the building: those on one side of it, where that earth is
/// on the other, by itself or by the clip on the earth core.
fn to_building(measure: &Measure, on: &SetUp, job: &Job, facts: &Facts) -> Vec<Fact> {
    let is_lower = matches!(&measure.window, WindowRule::Fixed(window) if window.low.is_some());
    if !matches!(measure.used.function, Function::Insulation(_)) || !is_lower || !on.links.is_empty() {
        return Vec::new();
    }
    let earth = job.core_for(Purpose::Earth).and_then(|core| facts.core(&core.name));
    let is_earth = |point: &Point| match point {
        Point::Core { core, .. } => on.earthed && earth.is_some() && facts.core(core) == earth,
        // every core but one, the earth core among them
        Point::JoinedCores => on.earthed && earth.is_some() && on.rest.is_some(),
        Point::KnownEarth => true,
        other => *other == Point::building_earth(job),
    };
    let cores = |point: &Point| match point {
        Point::Core { core, .. } => facts.core(core).into_iter().collect(),
        Point::JoinedCores if on.joined && on.rest.is_none() => facts.tested().to_vec(),
        _ => Vec::new(),
    };
    let (first, second) = (&measure.probes.first, &measure.probes.second);
    let shown = match (is_earth(first), is_earth(second)) {
        (true, false) => cores(second),
        (false, true) => cores(first),
        _ => Vec::new(),
    };
    let all_others = [first, second].contains(&&Point::JoinedCores) && on.rest.is_some();
    // with others joined to it a core is measured with them, which only lowers the reading
    let shown = shown
        .into_iter()
        .filter(|core| !all_others || is_rest(on, *core, facts));
    shown.map(Fact::ToBuilding).collect()
}

/// What an insulation reading of a core to the joined terminals for mains shows: at which ends it reaches the mains, the model tells.
fn to_mains(measure: &Measure, on: &SetUp, facts: &Facts) -> Vec<Fact> {
    let is_lower = matches!(&measure.window, WindowRule::Fixed(window) if window.low.is_some());
    let insulates = matches!(measure.used.function, Function::Insulation(_));
    let core = match (&measure.probes.first, &measure.probes.second) {
        (Point::JoinedTerminals, Point::Core { core, .. }) | (Point::Core { core, .. }, Point::JoinedTerminals) => core,
        _ => return Vec::new(),
    };
    if !is_lower || !insulates || !on.terminals || !on.links.is_empty() {
        return Vec::new();
    }
    let of_core = |fact: &Fact| matches!(fact, Fact::ToMains(there, _) if facts.core(core) == Some(*there));
    let both = End::BOTH.into_iter().flat_map(|end| facts.to_mains(end));
    both.filter(of_core).collect()
}

/// What a dead test makes true however it ends, and what it shows once it has passed.
fn dead_test(measure: &Measure, on: &SetUp, facts: &Facts) -> (Option<Fact>, Vec<Fact>) {
    let insulates = matches!(measure.used.function, Function::Insulation(_));
    let continuity = measure.used.function == Function::Continuity;
    // an upper edge shows a connection, a lower edge shows that there is none
    let (low, high) = match &measure.window {
        WindowRule::Fixed(window) => (window.low.is_some(), window.high.is_some()),
        WindowRule::Like { .. } | WindowRule::Solved(_) => (true, true),
    };
    let linked: Vec<usize> = on.links.iter().filter_map(|name| facts.core(name)).collect();
    let core = |point: &Point| match point {
        Point::Core { core, .. } => facts.core(core),
        _ => None,
    };
    let points = [&measure.probes.first, &measure.probes.second];
    let back = facts.back();
    let apart = |one: usize, other: usize| Fact::ToldApart(one.min(other), one.max(other));
    match (points.map(core), linked.as_slice()) {
        ([Some(a), Some(b)], linked) if (a == back) != (b == back) => {
            let other = if a == back { b } else { a };
            match linked {
                linked if linked.contains(&other) && high && !insulates && on.is_parted() => {
                    // crossed with one that is not linked it would be open, and so would the return core
                    let unlinked = facts.tested().iter().filter(|core| !linked.contains(core));
                    let mut shown = vec![Fact::Continuous(other)];
                    shown.extend(unlinked.flat_map(|core| [apart(other, *core), apart(back, *core)]));
                    (Some(Fact::Measured(other)), shown)
                }
                [_, ..] if !linked.contains(&other) && low && on.is_parted() => {
                    // crossed with one that is linked it would be closed
                    let linked = linked.iter().filter(|core| **core != back);
                    (None, linked.map(|core| apart(other, *core)).collect())
                }
                [] if low && on.is_parted() && insulates => (None, vec![Fact::ToEarth(other)]),
                _ => (None, Vec::new()),
            }
        }
        // the return core has no part in it
        ([Some(a), Some(b)], [x, y])
            if !on.joined
                && [a.min(b), a.max(b)] == [*x.min(y), *x.max(y)]
                && matches!(measure.window, WindowRule::Solved(_)) =>
        {
            (None, facts.solved().into_iter().collect())
        }
        // a low-voltage continuity tester says nothing of insulation
        ([Some(a), Some(b)], []) if a != b && low && !high && on.is_parted() && !continuity => {
            (None, vec![Fact::Between(a.min(b), a.max(b))])
        }
        ([Some(one), None] | [None, Some(one)], [])
            if one == back
                && low
                && on.joined
                && on.rest.is_none()
                && !continuity
                && points.contains(&&Point::JoinedCores) =>
        {
            (None, facts.tested().iter().map(|&core| Fact::ToEarth(core)).collect())
        }
        // one against all others together is that one against each
        ([Some(one), None] | [None, Some(one)], [])
            if one != back && low && insulates && is_rest(on, one, facts) && points.contains(&&Point::JoinedCores) =>
        {
            let others = facts.tested().iter().filter(|other| **other != one);
            let between = others.map(|&other| Fact::Between(one.min(other), one.max(other)));
            (None, between.chain([Fact::ToEarth(one)]).collect())
        }
        _ => (None, Vec::new()),
    }
}
