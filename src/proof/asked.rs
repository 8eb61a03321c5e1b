//! What the rules ask of each step, by what is done there.
//!
//! The rule inside: a step is asked by what its acts, probes and eyes do to the world, whatever its name and its stage.

use super::effects::proves_dead;
use super::fact::Fact;
use super::facts::Facts;
use super::rules::{self, Rule};
use crate::job::{End, Job, Purpose};
use crate::plan::{
    Act, Kind, Leads, Measure, Neutral, Plan, Point, Reason, SetUp, Stage, Step, Subject, WindowRule, answers_why,
    charges, dead_measure, done_as_found, is_null, reads_as_left, reads_live_as_found, switches, touches,
};
use crate::value::reading::Function;

/// What is done at a step, as far as a rule asks for facts there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Doing {
    /// A point is shown dark at the near end.
    ProvingNear,
    /// A point is shown dark at the far end.
    ProvingFar,
    /// Hands or a dead tester's probes are on the conductors.
    Touching,
    /// The same, where the cores were taken off at the near end before.
    AfterPartingNear,
    /// The same, where the cores were taken off at the far end before.
    AfterPartingFar,
    /// The same, with the supply's neutral off.
    AfterPartingSupply,
    /// The supply's neutral, parted, is shown dark.
    ProvingSupply,
    /// A point is shown dark against the long lead.
    ProvingByLead,
    DeadTest,
    Insulating,
    /// The same with everything connected and the live terminals joined.
    InsulatingAsLeft,
    /// Insulation is measured to the earth that comes in.
    ToEarth,
    /// The same by the clip on the earth core.
    ThroughClip,
    Connecting,
    Energising,
    LiveTest,
    /// Read on a supply that is on as it was found.
    FaultFinding,
    /// The residual-current device is switched on.
    Resetting,
    /// What was energised is handed over.
    HandingOver,
}

const DOINGS: [Doing; 19] = [
    Doing::ProvingNear,
    Doing::ProvingFar,
    Doing::Touching,
    Doing::AfterPartingNear,
    Doing::AfterPartingFar,
    Doing::AfterPartingSupply,
    Doing::ProvingSupply,
    Doing::ProvingByLead,
    Doing::DeadTest,
    Doing::Insulating,
    Doing::InsulatingAsLeft,
    Doing::ToEarth,
    Doing::ThroughClip,
    Doing::Connecting,
    Doing::Energising,
    Doing::LiveTest,
    Doing::FaultFinding,
    Doing::Resetting,
    Doing::HandingOver,
];

/// The facts that each thing done asks for.
pub(super) struct Asks {
    facts: [Vec<(Rule, Fact)>; DOINGS.len()],
}

impl Asks {
    pub(super) fn of(plan: &Plan, facts: &Facts) -> Asks {
        Asks {
            facts: DOINGS.map(|doing| asked(doing, plan, facts)),
        }
    }

    pub(super) fn at(&self, doing: Doing) -> &[(Rule, Fact)] {
        &self.facts[doing as usize]
    }
}

fn asked(doing: Doing, plan: &Plan, facts: &Facts) -> Vec<(Rule, Fact)> {
    let job = &plan.job;
    let mut asked = Vec::new();
    let mut ask = |rule: Rule, wanted: &[Fact]| asked.extend(wanted.iter().map(|fact| (rule, *fact)));
    let clear = clear(facts);
    // the main earthing terminal itself is known
    let comes_in = Point::building_earth(job) != Point::KnownEarth;
    let classified = classified(job);
    match doing {
        Doing::ProvingNear
        | Doing::ProvingFar
        | Doing::Touching
        | Doing::AfterPartingNear
        | Doing::AfterPartingFar
        | Doing::AfterPartingSupply
        | Doing::ProvingSupply
        | Doing::ProvingByLead
        | Doing::DeadTest => return asked_dead(doing, job, facts),
        Doing::Insulating => {
            let measured: Vec<_> = facts.tested().iter().map(|&c| Fact::Measured(c)).collect();
            // where nothing but insulation is tested, the record says that continuity is not shown
            if energises(plan) || plan.steps.iter().any(measures_continuity) {
                ask(rules::CONTINUITY_FIRST, &measured);
            }
            ask(rules::GUARDED, &[Fact::FarEndGuarded]);
            if job.stays_connected.is_none() {
                ask(rules::GUARDED, &[Fact::ElectronicsOut]);
            }
        }
        // what hangs on joined terminals has no test voltage across it
        Doing::InsulatingAsLeft => ask(rules::GUARDED, &[Fact::FarEndCovered]),
        Doing::ToEarth if comes_in => ask(rules::BUILDING, &[Fact::IncomingEarth]),
        Doing::ToEarth => ask(rules::BUILDING, &[Fact::LeadRead]),
        Doing::ThroughClip => ask(rules::BUILDING, &[Fact::ClipRead]),
        Doing::Connecting => {
            ask(rules::CLEAR, &clear);
            ask(rules::CLASSIFIED, &classified);
        }
        Doing::Energising => {
            ask(rules::CLEAR, &clear);
            ask(rules::CLASSIFIED, &classified);
            ask(rules::TESTED, &required_tests(job, facts));
            ask(rules::CLIP_AFTER, &[Fact::ClipReadAfter]);
            for core in 0..facts.cores() {
                ask(rules::READ, &End::BOTH.map(|end| Fact::Read(core, end)));
            }
        }
        Doing::LiveTest => {
            ask(rules::LIVE, &[Fact::Energised]);
            ask(rules::DEVICE, &[Fact::DeviceOn]);
        }
        Doing::FaultFinding => ask(rules::REASONS, &Reason::ALL.map(Fact::Reason)),
        // it puts voltage on what it feeds
        Doing::Resetting => ask(rules::LIVE, &[Fact::Energised]),
        Doing::HandingOver => {
            if job.supply.residual.is_some() {
                ask(rules::DEVICE, &[Fact::DeviceOn]);
            }
        }
    }
    asked
}

/// What is known of a control pair before anything is put on it.
fn classified(job: &Job) -> Vec<Fact> {
    match job.control_pair {
        Some(_) => vec![
            Fact::Plate(End::Near),
            Fact::Plate(End::Far),
            Fact::ReadOpen,
            Fact::ReadClosed,
        ],
        None => Vec::new(),
    }
}

/// Whether a plan switches the supply on.
pub(super) fn energises(plan: &Plan) -> bool {
    plan.steps.iter().any(|step| step.acts.contains(&Act::Energise))
}

fn measures_continuity(step: &Step) -> bool {
    // the clip on the earth core and the long lead are read for the insulation's own sake
    let of_cable =
        |m: &Measure| m.used.function == Function::Continuity && !m.is_join && m.probes.leads() == Leads::Own;
    dead_measure(step).is_some_and(of_cable)
}

/// No link, no joint and no charge on any core.
pub(super) fn clear(facts: &Facts) -> Vec<Fact> {
    let links = facts.tested().iter().map(|&core| Fact::LinkOff(core));
    links
        .chain([
            Fact::Parted,
            Fact::ClipOff,
            Fact::NeutralBack,
            Fact::EarthsBack,
            Fact::Discharged,
        ])
        .collect()
}

/// What is asked for where points are proved dead, and where hands or probes are on what was.
fn asked_dead(doing: Doing, job: &Job, facts: &Facts) -> Vec<(Rule, Fact)> {
    let mut asked = Vec::new();
    let mut ask = |rule: Rule, wanted: &[Fact]| asked.extend(wanted.iter().map(|fact| (rule, *fact)));
    let parted = |of| facts.neutrals_of(of).collect::<Vec<_>>();
    match doing {
        Doing::ProvingNear | Doing::ProvingFar => {
            let end = if doing == Doing::ProvingNear {
                End::Near
            } else {
                End::Far
            };
            let locked = [Fact::SwitchedOff, Fact::LockedOff, Fact::KeyKept, Fact::NoticePosted];
            ask(rules::LOCKED, &locked);
            ask(rules::LOCKED, &facts.further().collect::<Vec<_>>());
            ask(rules::INDICATOR_FIRST, &[Fact::ProvedBefore(end)]);
            ask(rules::EARTH_FIRST, &facts.earths(end, job));
        }
        Doing::Touching => {
            ask(rules::DEAD, &[Fact::SwitchedOff, Fact::LockedOff]);
            ask(rules::DEAD, &facts.further().collect::<Vec<_>>());
            ask(rules::DEAD, &facts.darks().collect::<Vec<_>>());
            ask(rules::METERED, &facts.quiets().collect::<Vec<_>>());
            ask(rules::INDICATOR_AFTER, &[Fact::ProvedAfter]);
        }
        Doing::AfterPartingNear | Doing::AfterPartingFar => {
            let end = match doing {
                Doing::AfterPartingNear => End::Near,
                _ => End::Far,
            };
            let parted = parted(Neutral::OfCable(end));
            ask(rules::PARTED, &parted);
            // hands go to these cores next: an indicator that failed meanwhile showed nothing
            if !parted.is_empty() {
                ask(rules::INDICATOR_AFTER, &[Fact::ProvedSince(end)]);
            }
        }
        Doing::AfterPartingSupply => {
            ask(rules::PARTED, &parted(Neutral::OfSupply));
            ask(rules::INDICATOR_AFTER, &[Fact::ProvedAsLeft]);
        }
        Doing::ProvingSupply => ask(rules::INDICATOR_FIRST, &[Fact::ProvedAnew]),
        Doing::ProvingByLead => ask(rules::EARTH_FIRST, &Facts::lead(job)),
        Doing::DeadTest => ask(rules::APART, &End::BOTH.map(Fact::Apart)),
        other => unreachable!("{other:?} is asked elsewhere"),
    }
    asked
}

/// Every dead test that the cores must have passed.
pub(super) fn required_tests(job: &Job, facts: &Facts) -> Vec<Fact> {
    let tested = facts.tested();
    let mut wanted: Vec<Fact> = facts.live().map(Fact::ToBuilding).collect();
    for (i, &a) in tested.iter().enumerate() {
        wanted.push(Fact::Continuous(a));
        if job.stays_connected.is_none() || job.core_for(Purpose::Earth).is_some() {
            wanted.push(Fact::ToEarth(a));
        }
        for &b in &tested[i + 1..] {
            wanted.push(Fact::ToldApart(a, b));
            // between cores would put the test voltage across what stays connected
            if job.stays_connected.is_none() {
                wanted.push(Fact::Between(a, b));
            }
        }
    }
    wanted.extend(facts.told_from_back());
    wanted.extend(facts.solved());
    // at the voltage of the mains nothing may stay connected
    if job.stays_connected.is_none() {
        wanted.extend(facts.to_mains(End::Near));
    }
    wanted
}

/// A voltage measured in the wiring, or something that moves, runs or warms only while the supply is on.
fn is_live_test(step: &Step) -> bool {
    match &step.kind {
        Kind::Measure(_) => !is_null(step) && dead_measure(step).is_none(),
        Kind::Look(look) => matches!(look.subject, Subject::Load(_) | Subject::Warmth(_) | Subject::Moved),
        _ => false,
    }
}

/// Whether a test passes only where there is no voltage, or nothing runs.
fn shows_absence(step: &Step) -> bool {
    match &step.kind {
        Kind::Measure(m) => matches!(&m.window, WindowRule::Fixed(window) if window.low.is_none()),
        Kind::Look(_) => true,
        _ => false,
    }
}

/// What is done at each step of a plan, in the order of steps.
pub(super) fn doings(plan: &Plan) -> Vec<Vec<Doing>> {
    // on purpose, after it was on: absence then shows what else feeds the place
    let mut off_again = None;
    let mut set_up = SetUp::default();
    let mut parted = [false; 2];
    let one = |step: &Step| {
        for on in step.acts.iter().filter_map(switches) {
            off_again = if on { Some(false) } else { off_again.map(|_| true) };
        }
        let neutral_off = set_up.neutral_off;
        step.acts.iter().for_each(|act| set_up.act(act));
        let mut done = Vec::new();
        let mut add = |holds: bool, doing: Doing| {
            if holds {
                done.push(doing);
            }
        };
        let proving = Some(&step.kind).filter(|_| proves_dead(step));
        let at = |end| match proving {
            Some(Kind::Indicator { probes, .. }) => probes.second.end().or(probes.first.end()) == Some(end),
            _ => false,
        };
        add(at(End::Near), Doing::ProvingNear);
        add(at(End::Far), Doing::ProvingFar);
        add(neutral_off && at(End::Near), Doing::ProvingSupply);
        let by_lead = |kind: &Kind| match kind {
            Kind::Indicator { probes, .. } => matches!(probes.first, Point::LongLead { .. }),
            _ => false,
        };
        add(proving.is_some_and(by_lead), Doing::ProvingByLead);
        add(touches(step), Doing::Touching);
        add(neutral_off && touches(step), Doing::AfterPartingSupply);
        for (end, doing) in [(End::Near, Doing::AfterPartingNear), (End::Far, Doing::AfterPartingFar)] {
            let parts = step.acts.contains(&Act::Disconnect(end));
            add(parted[end as usize] && touches(step) && !parts, doing);
            parted[end as usize] |= parts;
        }
        add(dead_measure(step).is_some() && !reads_as_left(step), Doing::DeadTest);
        let as_left = charges(step) && reads_as_left(step);
        add(charges(step) && !as_left, Doing::Insulating);
        add(as_left, Doing::InsulatingAsLeft);
        let earth = Point::building_earth(&plan.job);
        let to_earth = |m: &Measure| [&m.probes.first, &m.probes.second].contains(&&earth);
        let at_earth = matches!(&step.kind, Kind::Measure(m) if to_earth(m));
        add(charges(step) && (set_up.earthed || at_earth), Doing::ToEarth);
        add(charges(step) && set_up.earthed, Doing::ThroughClip);
        let connects = step.acts.iter().any(|act| matches!(act, Act::Connect { .. }));
        add(connects || matches!(step.kind, Kind::Connect { .. }), Doing::Connecting);
        add(step.acts.contains(&Act::Energise), Doing::Energising);
        add(step.acts.contains(&Act::ResetDevice), Doing::Resetting);
        let absence = off_again == Some(true) && shows_absence(step);
        // as found, and where no voltage may be, a voltmeter is no live test
        let looks = done_as_found(step) || (step.stage == Stage::Isolate && shows_absence(step));
        add(is_live_test(step) && !looks && !absence, Doing::LiveTest);
        add(reads_live_as_found(step), Doing::FaultFinding);
        add(
            step.stage == Stage::HandOver && off_again == Some(false),
            Doing::HandingOver,
        );
        done
    };
    plan.steps.iter().map(one).collect()
}

/// Whether a step does no more than live fault-finding may: volts, a look at what nothing is opened for, a line of text, a control set.
fn only_reads(step: &Step) -> bool {
    let sets = |act: &Act| matches!(act, Act::Call(_) | Act::Satisfy(_) | Act::EveryCallOff);
    let reads = match &step.kind {
        Kind::Measure(m) => matches!(m.used.function, Function::VoltageAc | Function::VoltageDc),
        Kind::Look(look) => matches!(look.subject, Subject::Thing(_)),
        Kind::Note { .. } | Kind::Do => true,
        Kind::Indicator { .. } | Kind::Connect { .. } | Kind::Gate => false,
    };
    reads && step.acts.iter().all(sets)
}

/// Whether a step stands in a stage that its work does not belong to.
pub(super) fn misplaced(step: &Step) -> bool {
    let energises = step
        .acts
        .iter()
        .any(|act| matches!(act, Act::Energise | Act::ResetDevice));
    let switches_off = step.acts.iter().any(|act| {
        matches!(
            act,
            Act::SwitchOff
                | Act::LockOff
                | Act::KeepKey
                | Act::PostNotice
                | Act::Further { .. }
                | Act::MakeSafe
                | Act::GuardFarEnd
        )
    });
    // the leads are measured once it is dead, and again after a break
    if is_null(step) && step.stage != Stage::Test {
        return true;
    }
    match step.stage {
        Stage::Survey => energises || switches_off || touches(step) || answers_why(step),
        Stage::FaultFinding => !only_reads(step),
        Stage::Isolate => energises || touches(step) || (is_live_test(step) && !shows_absence(step)),
        Stage::Disconnect | Stage::Test | Stage::Connect => energises || is_live_test(step),
        Stage::Live => touches(step),
        Stage::HandOver => energises || switches_off || touches(step) || is_live_test(step),
    }
}
