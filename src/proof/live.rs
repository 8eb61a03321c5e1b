//! What a live step shows, tried on the model: a voltage that is there, one that is not, and what a control drives.
//!
//! The rule inside: which of these a reading claims is told by sound wiring (there or not), not by the window's edges; a window that
//! would take both shows neither.

use rust_decimal::Decimal;

use super::effects::Shown;
use super::evidence::{Trial, passes_with};
use super::fact::Fact;
use crate::job::{At, ControlPair, End, Job, MovedBy, Purpose};
use crate::judge::window::{Outcome, Window};
use crate::limits::Table;
use crate::model::fault::Fault;
use crate::model::opposite::{About, Opposed, opposites};
use crate::model::probes::points;
use crate::model::walked::World;
use crate::plan::{Act, Kind, Measure, Plan, Point, Step, Subject, WindowRule};
use crate::value::quantity::{Amount, Unit};
use crate::value::reading::{Function, Multiple};

/// The drop from the supply to a load, as a share of the nominal voltage (BS 7671 table 4Ab, other uses; from published summaries).
const DROP_SHARE: Decimal = Decimal::from_parts(5, 0, 0, false, 2);

/// Where a voltage comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Source {
    /// The supply of the job.
    Mains,
    /// What stands on the control pair by itself.
    Pair,
}

impl<'a> Trial<'a> {
    /// Follows which controls call.
    pub(super) fn calls(&mut self, i: usize, step: &'a Step, before: &World<'a>) {
        for act in &step.acts {
            match act {
                Act::Call(control) => {
                    self.before_call.insert(control, (i, before.clone()));
                    self.calling.insert(control);
                }
                Act::Satisfy(control) => drop(self.calling.remove(control.as_str())),
                Act::EveryCallOff | Act::MakeSafe => self.calling.clear(),
                _ => {}
            }
        }
    }

    /// What a step of the live stage claims and shows.
    pub(super) fn try_live(&mut self, i: usize, shown: &mut Shown, here: &World<'_>) {
        self.try_volts(i, shown, here);
        self.of_protection(i, here);
        self.driven(i, shown, here);
    }

    /// A voltage that sound wiring has there, or has not.
    pub(super) fn try_volts(&mut self, i: usize, shown: &mut Shown, here: &World<'_>) {
        let Some(measure) = volts(&self.plan.steps[i]) else {
            return;
        };
        if self.is_there(measure, here) {
            self.fed(i, measure, shown, here);
        } else {
            self.not_fed(i, measure, shown, here);
        }
    }

    /// A loop test or a trip test.
    fn of_protection(&mut self, i: usize, here: &World<'_>) {
        let step = &self.plan.steps[i];
        let Kind::Measure(measure) = &step.kind else { return };
        // where a residual-current device disconnects, the loop may have hundreds of ohms
        let beside_metal = End::BOTH
            .iter()
            .any(|end| self.plan.job.metal_beside_earth(*end).is_some());
        let is_tt = self.plan.job.supply.earthing.trim().starts_with("TT");
        let of = match measure.used.function {
            Function::Loop if !is_tt && beside_metal => "loop, metal beside it",
            Function::Loop if !is_tt => "loop",
            Function::ResidualTrip(Multiple::Half) => "does not trip",
            Function::ResidualTrip(_) => "trips",
            _ => return,
        };
        for opposed in opposites(of, &About::default(), &self.plan.job) {
            if let Some(reads) = passes_with(here, step, &opposed) {
                self.slipped(i, None, &opposed, reads);
            }
        }
    }

    /// Whether sound wiring has a voltage there.
    fn is_there(&self, measure: &Measure, here: &World<'_>) -> bool {
        let absent = self.plan.job.limits.row(Table::Practice, "voltage absent");
        let bound = absent.map_or(Decimal::ZERO, |row| row.value.value());
        let volts = here.installation.at_terminals(measure);
        Decimal::from_f64_retain(volts).is_some_and(|volts| bound < volts)
    }

    fn fed(&mut self, i: usize, measure: &Measure, shown: &mut Shown, here: &World<'_>) {
        let step = &self.plan.steps[i];
        let mut slips = false;
        for opposed in opposites("fed", &About::default(), &self.plan.job) {
            if let Some(reads) = passes_with(here, step, &opposed) {
                self.slipped(i, None, &opposed, reads);
                slips = true;
            }
        }
        if source(self.plan, measure) == Source::Pair {
            let supplies: Vec<_> = (self.plan.job.own_supplies())
                .map(|(name, supply)| (name.to_owned(), supply.volts.value()))
                .collect();
            for (name, _) in supplies
                .iter()
                .filter(|(_, volts)| *volts <= self.plan.job.extra_low_upper().value())
            {
                let about = About {
                    e: name.clone(),
                    ..About::default()
                };
                for opposed in opposites("pair fed", &about, &self.plan.job) {
                    if let Some(reads) = passes_with(here, step, &opposed) {
                        self.slipped(i, None, &opposed, reads);
                        slips = true;
                    }
                }
            }
        }
        if let Some(how) = too_lax(self.plan, measure) {
            self.found.lax.push((i, how));
            slips = true;
        }
        if slips {
            return;
        }
        if poles(&self.plan.job, measure).is_some_and(|poles| poles.iter().all(Option::is_some)) {
            show(shown, Fact::PairFed);
        }
        for fact in self.facts.fed() {
            if let Some((of, about)) = self.place_of(fact, measure)
                && opposites(of, &about, &self.plan.job).all(|opposed| passes_with(here, step, &opposed).is_none())
            {
                show(shown, fact);
            }
        }
    }

    /// The opposites of line to neutral or line to earth at an end, where one probe is on a terminal for the same purpose: the model
    /// tells whether it would be seen from there.
    fn place_of(&self, fact: Fact, measure: &Measure) -> Option<(&'static str, About)> {
        let Fact::Fed(end, purpose) = fact else { return None };
        let job = &self.plan.job;
        let is_for = |point: &Point| match point {
            Point::Terminal { terminal, end } => {
                let there = job.end(*end).terminal_for(purpose);
                there.is_some_and(|there| there.name == *terminal)
            }
            _ => false,
        };
        if !is_for(&measure.probes.first) && !is_for(&measure.probes.second) {
            return None;
        }
        let core_for = |purpose| {
            let terminal = job.end(end).terminal_for(purpose);
            let core = terminal.and_then(|terminal| job.cores.iter().find(|core| core.terminal(end) == terminal.name));
            core.map_or(String::new(), |core| core.name.clone())
        };
        let about = About {
            a: core_for(purpose),
            b: core_for(Purpose::PermanentLive),
            ..About::default()
        };
        Some((
            match (end, purpose) {
                (End::Near, Purpose::Neutral) => "line to neutral at the near end",
                (End::Near, _) => "line to earth at the near end",
                (End::Far, Purpose::Neutral) => "line to neutral at the far end",
                (End::Far, _) => "line to earth at the far end",
            },
            about,
        ))
    }

    fn not_fed(&mut self, i: usize, measure: &Measure, shown: &mut Shown, here: &World<'_>) {
        let (plan, step) = (self.plan, &self.plan.steps[i]);
        let mut slips = false;
        if !was_there(plan, i, measure) {
            self.found.unproved.push(i);
            slips = true;
        }
        if let Some(how) = too_much(plan, measure) {
            self.found.lax.push((i, how));
            slips = true;
        }
        let Some([first, second]) = points(&measure.probes) else {
            return;
        };
        let about = |e: &str| About {
            point: second.clone(),
            other: first.clone(),
            e: e.to_owned(),
            ..About::default()
        };
        let to_earth = pole_to_earth(&plan.job, measure);
        if to_earth.is_some() || source(plan, measure) == Source::Mains {
            for opposed in opposites("not fed", &about(""), &plan.job) {
                if let Some(reads) = passes_with(here, step, &opposed) {
                    self.slipped(i, None, &opposed, reads);
                    slips = true;
                }
            }
            if let (false, Some(pole)) = (slips, to_earth) {
                show(shown, Fact::PoleClear(pole));
            }
            return;
        }
        // between the poles a contact holds both together; a pole to earth has nothing in between
        let contacts = plan.job.contacts().map(|(name, _)| name);
        let held: Vec<Opposed> = contacts
            .flat_map(|e| opposites("pair held together", &about(e), &plan.job).collect::<Vec<_>>())
            .collect();
        let fed = opposites("pair not fed", &about(""), &plan.job).collect::<Vec<_>>();
        let tells = |opposed: &Opposed| passes_with(here, step, opposed).is_none();
        if !held.iter().any(tells)
            && !fed.iter().any(tells)
            && let Some(opposed) = fed.first().or(held.first())
        {
            let reads = here.seen(step).reads;
            self.slipped(i, None, opposed, reads);
        }
    }

    /// Controls that the step shows to drive what is looked at.
    fn driven(&mut self, i: usize, shown: &mut Shown, here: &World<'_>) {
        let step = &self.plan.steps[i];
        let sees = match &step.kind {
            Kind::Measure(measure) => measure.used.function.unit() == Unit::Volt,
            Kind::Look(look) => matches!(
                look.subject,
                Subject::Lever(_) | Subject::Pin(_) | Subject::Load(_) | Subject::Warmth(_) | Subject::Moved
            ),
            _ => false,
        };
        if !sees || here.seen(step).outcome != Some(Outcome::Pass) {
            return;
        }
        let controls = self.plan.job.controls();
        let calling: Vec<(usize, &str)> = controls
            .iter()
            .copied()
            .enumerate()
            .filter(|(_, control)| self.calling.contains(control))
            .collect();
        for (number, control) in calling {
            let fact = Fact::Driven(number);
            if self.shown.contains(&fact) || !self.only(control, &controls, i) {
                continue;
            }
            show(shown, fact);
            if step.only_if.is_empty() {
                self.shown.insert(fact);
            }
        }
    }

    /// Whether a step that passes would not pass with the control's contacts not making, nor with them crossed with another's.
    fn only(&self, control: &str, controls: &[&str], i: usize) -> bool {
        let contacts = |control: &str| -> Vec<&str> {
            let moved = |by: &MovedBy| matches!(by, MovedBy::Control(name) if name == control);
            let all = self.plan.job.contacts();
            all.filter(|(_, contact)| moved(&contact.moved_by))
                .map(|(name, _)| name)
                .collect()
        };
        let own = contacts(control);
        let of = |kind: &'static str, e: &str, f: &str| {
            let about = About {
                e: e.to_owned(),
                f: f.to_owned(),
                ..About::default()
            };
            opposites(kind, &about, &self.plan.job)
                .map(|opposed| opposed.fault)
                .collect::<Vec<_>>()
        };
        let open: Vec<Fault> = own.iter().flat_map(|e| of("driven", e, "")).collect();
        if self.passes_from_call(control, &open, i) {
            return false;
        }
        // which zone is whose is asked of zones alone: other controls share what they drive on purpose
        let of_zone = |control: &str| self.plan.job.zones.iter().any(|zone| zone.control == control);
        let mut others = controls
            .iter()
            .filter(|other| **other != control && of_zone(control) && of_zone(other));
        let resting = others.find(|other| !self.calling.contains(**other));
        let other = resting.map(|other| contacts(other)).unwrap_or_default();
        match (own.first(), other.first()) {
            (Some(e), Some(f)) => !self.passes_from_call(control, &of("driven by no other", e, f), i),
            _ => true,
        }
    }

    /// Whether a step passes where faults are in since before the call of a control.
    fn passes_from_call(&self, control: &str, faults: &[Fault], i: usize) -> bool {
        let Some((from, world)) = self.before_call.get(control) else {
            return true;
        };
        let mut world = world.clone();
        if faults.iter().any(|fault| world.installation.put(fault).is_err()) {
            return false;
        }
        for at in *from..=i {
            if world.is_needed(&self.plan.steps[at]) {
                world.come_to(at);
            }
        }
        world.seen(&self.plan.steps[i]).passes()
    }
}

fn show(shown: &mut Shown, fact: Fact) {
    shown.shows.push(fact);
    shown.fails.push(fact);
}

fn volts(step: &Step) -> Option<&Measure> {
    match &step.kind {
        Kind::Measure(measure) if measure.used.function.unit() == Unit::Volt => Some(measure),
        _ => None,
    }
}

/// How the window of a voltage that is there passes more than the published figures allow: of mains at a load at most 5 % below what
/// the supply itself may have, of a control pair what one that is classified may read.
fn too_lax(plan: &Plan, measure: &Measure) -> Option<String> {
    let (job, window) = (&plan.job, fixed(measure)?);
    let (least, most, whose) = if source(plan, measure) == Source::Pair {
        let pair = job.control_pair.as_ref()?;
        let share = |of: &str| Some(job.limits.row(Table::Practice, of).ok()?.value.value() * Decimal::new(1, 2));
        let volts = pair.volts.value();
        // from one pole to anything else less may stand
        let across =
            [&measure.probes.first, &measure.probes.second].map(|point| pole(job, pair, point).is_some()) == [true; 2];
        let least = across.then_some(volts * share("control pair reads at least")?);
        (least, volts * share("control pair reads at most")?, "the pair")
    } else {
        if job.is_extra_low_voltage() || measure.used.function != Function::VoltageAc {
            return None;
        }
        let nominal = Amount::new(job.supply.nominal.value().normalize(), Unit::Volt);
        let row = |which: &str| {
            job.limits
                .row(Table::SupplyVoltage, &format!("{nominal}, {which}"))
                .ok()
        };
        let least = row("lower")?.value.value() - nominal.value() * DROP_SHARE;
        (Some(least), row("upper")?.value.value(), "the supply")
    };
    let low = window.low.as_ref().map(|edge| edge.amount.value());
    let high = window.high.as_ref().map(|edge| edge.amount.value());
    match (low, high) {
        (Some(low), _) if least.is_some_and(|least| low < least) => Some(format!(
            "the window passes from {low} V, and {whose} may have {} V at least, what is lost on the way taken off",
            least.unwrap_or_default().normalize()
        )),
        (_, Some(high)) if most < high => Some(format!(
            "the window passes up to {high} V, and {whose} may have at most {} V",
            most.normalize()
        )),
        (None, _) | (_, None) => Some("the window of a voltage that is there has both edges".into()),
        _ => None,
    }
}

/// How the window of a voltage that is not there passes more than counts as none.
fn too_much(plan: &Plan, measure: &Measure) -> Option<String> {
    let absent = plan.job.limits.row(Table::Practice, "voltage absent").ok()?;
    let (most, window) = (absent.value.value(), fixed(measure)?);
    let high = window.high.as_ref()?;
    // a window that asks for a voltage fails where there is none
    let asks = window.low.as_ref().is_some_and(|low| most < low.amount.value());
    (!asks && most < high.amount.value()).then(|| {
        format!(
            "the window passes up to {}, and at most {} counts as no voltage",
            high.amount, absent.value
        )
    })
}

fn fixed(measure: &Measure) -> Option<&Window> {
    match &measure.window {
        WindowRule::Fixed(window) => Some(window),
        WindowRule::Like { .. } | WindowRule::Solved(_) => None,
    }
}

/// Where a voltage between the probes would come from: alternating volts from a pole to earth from the mains, unless the pair's own
/// are alternating too.
fn source(plan: &Plan, measure: &Measure) -> Source {
    let job = &plan.job;
    let (Some(pair), Some(poles)) = (job.isolated_pair(), poles(job, measure)) else {
        return Source::Mains;
    };
    let of_mains = measure.used.function == Function::VoltageAc && pole_to_earth(job, measure).is_some() && pair.direct;
    if poles.iter().any(Option::is_some) && !of_mains {
        Source::Pair
    } else {
        Source::Mains
    }
}

/// Which pole of an isolated pair each probe is on.
fn poles(job: &Job, measure: &Measure) -> Option<[Option<usize>; 2]> {
    let pair = job.isolated_pair()?;
    Some([&measure.probes.first, &measure.probes.second].map(|point| pole(job, pair, point)))
}

/// The pole of an isolated pair that is read to earth in alternating volts.
fn pole_to_earth(job: &Job, measure: &Measure) -> Option<usize> {
    let is_earth = |point: &Point| {
        *point == Point::KnownEarth || End::BOTH.into_iter().any(|end| *point == Point::earth_at(job, end))
    };
    let [first, second] = poles(job, measure)?;
    let pole = match (is_earth(&measure.probes.first), is_earth(&measure.probes.second)) {
        (false, true) => first,
        (true, false) => second,
        _ => None,
    };
    pole.filter(|_| measure.used.function == Function::VoltageAc)
}

/// Which pole of the control pair a point is, at either end.
fn pole(job: &Job, pair: &ControlPair, point: &Point) -> Option<usize> {
    let (end, terminal) = match point {
        Point::Terminal { terminal, end } => (*end, terminal.as_str()),
        Point::Core { core, end } => (*end, job.core(core)?.terminal(*end)),
        _ => return None,
    };
    let at = |at: &At| match (at, end) {
        (At::Near(name), End::Near) | (At::Far(name), End::Far) => name == terminal,
        // the pair is named at one end, its cores lead to the other
        (At::Near(name), End::Far) => leads(job, End::Near, name, End::Far, terminal),
        (At::Far(name), End::Near) => leads(job, End::Far, name, End::Near, terminal),
        _ => false,
    };
    [&pair.between.0, &pair.between.1].into_iter().position(at)
}

fn leads(job: &Job, from: End, name: &str, to: End, terminal: &str) -> bool {
    let mut cores = job.cores.iter();
    cores.any(|core| core.terminal(from) == name && core.terminal(to) == terminal)
}

/// Whether a voltage was read before with the same instrument and range on the same points, or on the source that it would come from.
fn was_there(plan: &Plan, i: usize, measure: &Measure) -> bool {
    let points = |measure: &Measure| {
        let mut points = [measure.probes.first.clone(), measure.probes.second.clone()];
        points.sort();
        points
    };
    plan.steps[..i].iter().any(|step| {
        let Some(there) = volts(step)
            .filter(|_| step.only_if.is_empty() && step.stage == plan.steps[i].stage && step.any_order.is_none())
        else {
            return false;
        };
        let present = match &there.window {
            WindowRule::Fixed(window) => window
                .low
                .as_ref()
                .is_some_and(|low| Decimal::ZERO < low.amount.value()),
            WindowRule::Like { .. } | WindowRule::Solved(_) => false,
        };
        let alike = there.used.instrument == measure.used.instrument && there.used.function == measure.used.function;
        let same = points(there) == points(measure) || source(plan, there) == source(plan, measure);
        present && alike && same
    })
}
