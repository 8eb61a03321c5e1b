//! What each step shows, tried on the model: a fact is shown only by a step that would not have passed had the fact been false.
//!
//! The rule inside: for each fact that a step claims by its probes, each opposite (`model/opposites.ron`) is put into the wiring as it
//! stands there and the reading predicted; where that would pass, the step does not give the fact, and what slipped through is kept for
//! the person who has to mend the sequence.

use std::collections::{BTreeMap, BTreeSet};

use super::effects::Shown;
use super::fact::Fact;
use super::facts::Facts;
use crate::job::{Breaks, End, Purpose, Terminal};
use crate::judge::window::{Edge, Outcome};
use crate::model::installation::Installation;
use crate::model::opposite::{About, Opposed, opposites};
use crate::model::probes::points;
use crate::model::walked::{Seen, World};
use crate::model::wiring::terminal_point;
use crate::plan::{Act, Kind, Plan, Point, Probes, SetUp, Stage, Step, Subject, WindowRule};

/// Steps that are named where none shows a fact.
const SLIPS_MAX: usize = 3;

/// An opposite with which a step would pass all the same.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Slip {
    /// The step.
    pub step: usize,
    /// What it does not show for that.
    pub fact: Option<Fact>,
    /// What would be wrong: `core brown broken`.
    pub with: String,
    /// What would be read: `0.66 ohm`.
    pub reads: String,
    /// What would catch it.
    pub caught: String,
}

/// What the model says of every step of a plan.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Evidence {
    /// Opposites that slip through, in the order of steps.
    pub slips: Vec<Slip>,
    /// Steps that sound wiring would not pass, with what it reads.
    pub unsound: Vec<(usize, String)>,
    /// Steps that find no voltage though none was read before on the same points or on the source that it would come from.
    pub unproved: Vec<usize>,
    /// Readings that would pass more than they should: a window beyond the published figures, a clamp with no core in it; and how.
    pub lax: Vec<(usize, String)>,
    /// Why the job has no model, where it has none.
    pub no_model: Option<String>,
}

/// Tries every step of a plan; what slips through is taken off what it shows, and what only the model can tell is added.
pub(super) fn tried(plan: &Plan, facts: &Facts, shown: &mut [Shown]) -> Evidence {
    match Installation::of(&plan.job) {
        Ok(installation) => Trial::new(plan, facts).run(World::new(plan, installation), shown),
        Err(error) => Evidence {
            no_model: Some(error.to_string()),
            ..Evidence::default()
        },
    }
}

pub(super) struct Trial<'a> {
    pub(super) plan: &'a Plan,
    pub(super) facts: &'a Facts,
    pub(super) found: Evidence,
    /// Controls that call.
    pub(super) calling: BTreeSet<&'a str>,
    /// The world before each call, and the step that begins it.
    pub(super) before_call: BTreeMap<&'a str, (usize, World<'a>)>,
    /// Facts that a step which is always done has shown already.
    pub(super) shown: BTreeSet<Fact>,
    /// What came of a dead test at one core, for the others that are tested alike.
    alike: BTreeMap<Tried, Vec<Option<String>>>,
    /// Cores that are off their terminals.
    off: BTreeSet<(&'a str, End)>,
    sound: BTreeMap<Alike, Seen>,
}

/// What tells dead tests of cores that are apart from each other: a line of the sequence, the window, the sizes of the cores under the
/// probes and of those that are linked, and what is joined. Two that agree in all of it read the same, whichever cores they are about.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Alike {
    line: (usize, usize),
    window: [Option<String>; 2],
    sizes: Vec<String>,
    linked: [bool; 2],
    /// The live cores are joined; the earth core is clipped to the earth of the building.
    joined: [bool; 2],
    /// Whether each probe is on the one core that is out of the joint, where all but one are joined.
    out: Option<[bool; 2]>,
}

/// A dead test, a kind of fact, and the sizes of the cores that the fact is about.
type Tried = (Alike, &'static str, [Option<String>; 2]);

impl<'a> Trial<'a> {
    fn new(plan: &'a Plan, facts: &'a Facts) -> Trial<'a> {
        Trial {
            plan,
            facts,
            found: Evidence::default(),
            calling: BTreeSet::new(),
            before_call: BTreeMap::new(),
            shown: BTreeSet::new(),
            alike: BTreeMap::new(),
            off: BTreeSet::new(),
            sound: BTreeMap::new(),
        }
    }

    /// What tells a dead test from others, where it is one between two cores.
    fn alike(&self, step: &Step, set_up: &SetUp) -> Option<Alike> {
        let (Stage::Test, Kind::Measure(measure)) = (step.stage, &step.kind) else {
            return None;
        };
        let job = &self.plan.job;
        let out = set_up.rest.as_deref();
        let core = |point: &Point| match point {
            Point::Core { core, .. } => job.core(core).map(Some),
            // of a joint only what it is made of tells, and that is every core but one
            Point::JoinedCores if out.is_some() => Some(None),
            _ => None,
        };
        let probed = [core(&measure.probes.first)?, core(&measure.probes.second)?];
        let is = |names: &dyn Fn(&str) -> bool| probed.map(|core| core.is_some_and(|core| names(&core.name)));
        let linked = set_up.links.iter().filter_map(|name| job.core(name));
        let edge = |edge: &Option<Edge>| edge.as_ref().map(|edge| edge.amount.to_string());
        Some(Alike {
            line: (step.text, step.line),
            window: match &measure.window {
                WindowRule::Fixed(window) => [edge(&window.low), edge(&window.high)],
                WindowRule::Like { within, .. } => [None, Some(within.to_string())],
                WindowRule::Solved(solved) => [Some(solved.within.to_string()), Some(solved.most.to_string())],
            },
            sizes: probed
                .into_iter()
                .flatten()
                .chain(linked)
                .map(|core| core.size.to_string())
                .collect(),
            linked: is(&|name| set_up.links.contains(name)),
            joined: [set_up.joined, set_up.earthed],
            out: out.map(|out| is(&|name| name == out)),
        })
    }

    fn run(mut self, mut sound: World<'a>, shown: &mut [Shown]) -> Evidence {
        let is_conditional = |step: &Step| !step.only_if.is_empty();
        // the same with every conditional step done as well
        let mut every = self.plan.steps.iter().any(is_conditional).then(|| sound.clone());
        let mut set_up = SetUp::default();
        for (i, shown) in shown.iter_mut().enumerate() {
            let step = &self.plan.steps[i];
            self.calls(i, step, &sound);
            self.at_terminal(i, step);
            step.acts.iter().for_each(|act| set_up.act(act));
            if let Some(every) = &mut every {
                every.come_to(i);
            }
            let needed = sound.is_needed(step);
            if needed {
                sound.come_to(i);
            }
            let here = every.as_ref().filter(|_| !needed).unwrap_or(&sound);
            let alike = self.alike(step, &set_up);
            if !is_conditional(step) {
                self.look_at_sound(i, alike.as_ref(), here);
            }
            self.try_facts(i, shown, alike.as_ref(), here);
            self.try_as_left(i, here);
            match step.stage {
                Stage::Live => self.try_live(i, shown, here),
                // a test that cannot fail finds no fault either; it shows nothing all the same
                Stage::FaultFinding => self.try_volts(i, &mut Shown::default(), here),
                _ => {}
            }
        }
        self.found
    }

    fn look_at_sound(&mut self, i: usize, alike: Option<&Alike>, here: &World<'_>) {
        let step = &self.plan.steps[i];
        let seen = match alike {
            Some(alike) => self.sound.entry(alike.clone()).or_insert_with(|| here.seen(step)),
            None => &here.seen(step),
        };
        if seen.outcome == Some(Outcome::Fail) {
            self.found.unsound.push((i, seen.reads.clone()));
        }
    }

    /// What is looked at in a terminal shows nothing while the core is not in it.
    fn at_terminal(&mut self, i: usize, step: &'a Step) {
        let job = &self.plan.job;
        for act in &step.acts {
            match act {
                Act::Disconnect(end) => self.off.extend(job.cores.iter().map(|core| (core.name.as_str(), *end))),
                Act::Connect { core, end } => drop(self.off.remove(&(core.as_str(), *end))),
                _ => {}
            }
        }
        let Kind::Look(look) = &step.kind else { return };
        if let Subject::Tug { core, end } | Subject::Polarity { core, end } = &look.subject
            && self.off.contains(&(core.as_str(), *end))
        {
            let how = format!("core {core} is in no terminal at the {} yet", job.end(*end).name);
            self.found.lax.push((i, how));
        }
    }

    /// Every opposite of every fact that the step claims.
    fn try_facts(&mut self, i: usize, shown: &mut Shown, alike: Option<&Alike>, here: &World<'_>) {
        let step = &self.plan.steps[i];
        let claimed: Vec<Fact> = shown.shows.clone();
        for fact in claimed {
            let Some((of, places)) = self.of_fact(fact, step) else {
                continue;
            };
            let at = |about| opposites(of, about, &self.plan.job);
            let opposed: Vec<Opposed> = places.iter().flat_map(at).collect();
            let tried = || {
                opposed
                    .iter()
                    .map(|opposed| passes_with(here, step, opposed))
                    .collect::<Vec<_>>()
            };
            let size = |core: &str| self.plan.job.core(core).map(|core| core.size.to_string());
            let sizes = places
                .first()
                .map_or([None, None], |about| [size(&about.a), size(&about.b)]);
            let came = match alike {
                Some(alike) => self
                    .alike
                    .entry((alike.clone(), of, sizes))
                    .or_insert_with(tried)
                    .clone(),
                None => tried(),
            };
            for (opposed, reads) in opposed.iter().zip(came) {
                let Some(reads) = reads else { continue };
                shown.shows.retain(|there| *there != fact);
                shown.fails.retain(|there| *there != fact);
                self.slipped(i, Some(fact), opposed, reads);
            }
        }
    }

    pub(super) fn slipped(&mut self, step: usize, fact: Option<Fact>, opposed: &Opposed, reads: String) {
        // the first few tell it; a cable of many cores would say the same of each pair
        let of_fact = self
            .found
            .slips
            .iter()
            .filter(|slip| slip.fact == fact && fact.is_some());
        if SLIPS_MAX <= of_fact.count() {
            return;
        }
        self.found.slips.push(Slip {
            step,
            fact,
            with: opposed.fault.words.clone(),
            reads,
            caught: opposed.caught.clone(),
        });
    }

    /// The kind of thing that a fact is among the opposites, and where, each place by itself; `None` where no wiring can make it false: what
    /// hands say is done, what a plate says.
    fn of_fact(&self, fact: Fact, step: &Step) -> Option<(&'static str, Vec<About>)> {
        let name = |core: usize| self.facts.name(core).to_owned();
        let cores = |a: usize, b: usize| About {
            a: name(a),
            b: name(b),
            ..About::default()
        };
        // against earth whatever the point's other pole; against anything else only a source between the two
        let to_earth = probes(step).is_some_and(|probes| self.is_earth(&probes.first));
        let points = || {
            let [other, point] = probes(step).and_then(points).unwrap_or_default();
            About {
                a: name(self.facts.back()),
                point,
                other,
                ..About::default()
            }
        };
        let (of, about) = match fact {
            Fact::LeadLit if Point::long_lead(&self.plan.job) == (Point::LongLead { clipped: None }) => {
                ("lead lit on the main earthing terminal", About::default())
            }
            Fact::EarthLit(_) | Fact::LeadLit => ("earth lit", About::default()),
            Fact::NeutralDark(_) | Fact::Dark(_) => (self.dark(fact, step, to_earth), points()),
            Fact::Quiet(_, false) if to_earth => ("no alternating voltage", points()),
            Fact::Quiet(_, false) => ("no alternating voltage between", points()),
            Fact::Quiet(_, true) if to_earth => ("no direct voltage", points()),
            Fact::Quiet(_, true) => ("no direct voltage between", points()),
            Fact::Continuous(a) => ("continuous", cores(a, self.facts.back())),
            Fact::Solved => ("solved", cores(self.facts.tested()[0], self.facts.back())),
            // two that touch are found by insulation, where it is measured between them
            Fact::ToldApart(a, b) if self.plan.job.stays_connected.is_none() || [a, b].contains(&self.facts.back()) => {
                ("told apart", cores(a, b))
            }
            Fact::ToldApart(a, b) => ("told apart and not touching", cores(a, b)),
            Fact::ToEarth(a) => ("insulated to earth", cores(a, self.facts.back())),
            Fact::Between(a, b) => ("insulated from each other", cores(a, b)),
            Fact::ToBuilding(a) => ("insulated from the building", cores(a, self.facts.back())),
            Fact::IncomingEarth => ("earth that comes in", About::default()),
            Fact::ClipReadAfter => ("clip on the earth core", About::default()),
            Fact::Earthed(end) => (self.earthed(end), cores(self.facts.back(), self.facts.back())),
            Fact::EarthGripped(End::Near) => ("earth gripped at the near end", About::default()),
            Fact::EarthGripped(End::Far) => (
                "earth gripped at the far end",
                cores(self.facts.back(), self.facts.back()),
            ),
            Fact::ToMains(a, end) => {
                let at = |terminal: &Terminal| About {
                    a: name(a),
                    point: terminal_point(&terminal.name, end),
                    ..About::default()
                };
                return Some(("insulated from mains", self.plan.job.mains_at(end).map(at).collect()));
            }
            _ => return None,
        };
        Some((of, vec![about]))
    }
}

impl Trial<'_> {
    /// What an end that is earthed is among the opposites: with metal in parallel each part of the way is shown by itself.
    fn earthed(&self, end: End) -> &'static str {
        let metal = End::BOTH.map(|end| self.plan.job.metal_beside_earth(end).is_some());
        match (end, metal) {
            (End::Near, [false, false]) => "earthed at the near end",
            (End::Near, _) => "earthed at the near end, metal beside it",
            (End::Far, [_, true]) => "earthed at the far end, metal beside it",
            (End::Far, [true, false]) => "earthed at the far end, metal at the near end",
            (End::Far, [false, false]) => "earthed at the far end",
        }
    }

    /// Whether what a step tries is an earth that comes through the cable.
    fn through_cable(&self, step: &Step) -> bool {
        let job = &self.plan.job;
        let is_earth = |point: &Point| match point {
            Point::Core { core, .. } => job.core(core).is_some_and(|core| core.carries == Purpose::Earth),
            point => self.is_earth(point),
        };
        let far = |probes: &Probes| probes.second.end() == Some(End::Far) && is_earth(&probes.second);
        job.core_for(Purpose::Earth).is_some() && probes(step).is_some_and(far)
    }

    /// What makes a point that the indicator showed dark live.
    fn dark(&self, fact: Fact, step: &Step, to_earth: bool) -> &'static str {
        let is_parted = matches!(fact, Fact::NeutralDark(_));
        match (is_parted, to_earth, self.is_on_unswitched_neutral(step)) {
            (true, true, true) => "neutral dark where it stays connected",
            (true, true, false) => "neutral dark",
            // mains on an earth that is whole blows its fuse: it stands where the earth is broken as well
            (false, true, _) if self.through_cable(step) => "dark on earth",
            (false, true, true) => "dark on a neutral that stays connected",
            (false, false, true) => "dark against a neutral that stays connected",
            (false, true, false) => "dark",
            (_, false, _) => "dark between",
        }
    }

    /// Whether a probe is on a neutral that the point of isolation leaves connected: mains on it blows the fuse, as long as it is
    /// whole on the way to the source, and it is live where it is not.
    fn is_on_unswitched_neutral(&self, step: &Step) -> bool {
        let job = &self.plan.job;
        let is_neutral = |point: &Point| match point {
            Point::Core { core, .. } => job.core(core).is_some_and(|core| core.carries == Purpose::Neutral),
            Point::Terminal { terminal, end } => {
                let mut all = job.end(*end).terminals.iter();
                all.any(|there| there.name == *terminal && there.takes == Purpose::Neutral)
            }
            _ => false,
        };
        let neutral = |probes: &Probes| is_neutral(&probes.first) || is_neutral(&probes.second);
        job.supply.breaks == Breaks::Line && probes(step).is_some_and(neutral)
    }

    /// Whether a point is an earth that a voltage would show against.
    fn is_earth(&self, point: &Point) -> bool {
        match point {
            Point::KnownEarth | Point::LongLead { .. } => true,
            Point::Terminal { terminal, end } => {
                let earth = self.plan.job.end(*end).terminal_for(Purpose::Earth);
                earth.is_some_and(|earth| earth.name == *terminal)
            }
            _ => false,
        }
    }
}

/// Where the probes of a step go.
pub(super) fn probes(step: &Step) -> Option<&Probes> {
    match &step.kind {
        Kind::Measure(measure) => Some(&measure.probes),
        Kind::Indicator { probes, .. } => Some(probes),
        _ => None,
    }
}

/// What a step would read with an opposite in the wiring as it stands, where that would pass. An opposite that has no place there is none.
pub(super) fn passes_with(here: &World<'_>, step: &Step, opposed: &Opposed) -> Option<String> {
    let mut world = here.clone();
    world.installation.put(&opposed.fault).ok()?;
    let seen = world.seen(step);
    seen.passes().then_some(seen.reads)
}
