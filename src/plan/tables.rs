//! The tables of order: what must have passed before a step, what becomes void with what, and what closing asks for.
//!
//! The rule inside: these rows are read twice, by the run ([`crate::run::fold`]) while it is walked and by the proof before it
//! is walked; neither has an order of its own, so what was proved is what runs.

use super::{Act, Kind, Leads, Measure, Plan, Stage, Step, Subject, Then};
use crate::value::reading::Function;

/// The kind of step that a row of [`NEEDS`] speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Of {
    /// Every step of this stage but its gates.
    Stage(Stage),
    /// A gate.
    Gate,
}

/// Earlier steps that must have passed, of those that stand before a step in the plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Earlier {
    /// Every step of this stage.
    Stage(Stage),
    /// What hands set for a reading of the place as it was found.
    Set,
    /// The answers to why work is done live, and what controls were set to for what is read so.
    Reasons,
    /// Plates and readings of the place as it was found, which cannot be had again once it is dead.
    Found,
    /// Everything that hands do and say is done, but for what they do before isolation.
    Hands,
    /// The measurement of the leads, where the step rests on it.
    LeadNull,
    /// What shows the earth that insulation is measured to, where the step puts a test voltage on: the earth lit before switching off
    /// or read dead, the long lead, the clip on the earth core.
    Earth,
    /// Every step whatever it is, but for live fault-finding, on which nothing rests.
    Everything,
}

impl Earlier {
    /// Whether a step is one of these, given what the step that asks rests on.
    pub fn holds(self, there: &Step, rests: Rests) -> bool {
        match self {
            Earlier::Stage(stage) => there.stage == stage,
            Earlier::Set => there.kind == Kind::Do && there.stage == Stage::Survey,
            Earlier::Reasons => there.stage == Stage::FaultFinding && (there.kind == Kind::Do || answers_why(there)),
            Earlier::Found => finds(there),
            Earlier::Hands => there.kind == Kind::Do && !done_as_found(there),
            Earlier::LeadNull => rests.subtracts.is_some() && null_of(there) == rests.subtracts,
            Earlier::Earth => rests.charges && shows_earth(there),
            Earlier::Everything => there.stage != Stage::FaultFinding,
        }
    }
}

/// What a step rests on beside its stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Rests {
    /// The leads whose own resistance it takes off.
    pub subtracts: Option<Leads>,
    /// It puts a test voltage on the cores.
    pub charges: bool,
}

impl Rests {
    /// What a step rests on.
    pub fn of(step: &Step) -> Rests {
        Rests {
            subtracts: subtracts(step),
            charges: charges(step),
        }
    }

    /// Everything that a step can rest on, in a fixed order.
    pub const ALL: [Rests; 6] = {
        const fn rests(subtracts: Option<Leads>, charges: bool) -> Rests {
            Rests { subtracts, charges }
        }
        [
            rests(None, false),
            rests(None, true),
            rests(Some(Leads::Own), false),
            rests(Some(Leads::Own), true),
            rests(Some(Leads::Long), false),
            rests(Some(Leads::Long), true),
        ]
    };
}

/// What must have passed before a step is reached, and why.
#[derive(Debug, Clone, Copy)]
pub struct Need {
    /// Which steps need it.
    pub of: Of,
    /// What must have passed.
    pub earlier: &'static [Earlier],
    /// The reason that is told where it has not.
    pub why: &'static str,
}

use Stage::{Connect, Disconnect, FaultFinding, HandOver, Isolate, Live, Survey, Test};

/// One row for each kind of step.
pub const NEEDS: &[Need] = &[
    Need {
        of: Of::Stage(Survey),
        earlier: &[Earlier::Set],
        why: "a reading as found means something only with the contact set as it says",
    },
    Need {
        of: Of::Stage(FaultFinding),
        earlier: &[Earlier::Reasons],
        why: "nothing is read live as found before it is written down why, and with the controls set as it says",
    },
    Need {
        of: Of::Stage(Isolate),
        earlier: &[Earlier::Stage(Isolate), Earlier::Found],
        why: "isolation is proved in one order, and what stood on a pair cannot be read once it is dead",
    },
    Need {
        of: Of::Stage(Disconnect),
        earlier: &[Earlier::Stage(Isolate), Earlier::Found, Earlier::Stage(Disconnect)],
        why: "nothing is touched before it is proved dead",
    },
    Need {
        of: Of::Stage(Test),
        earlier: &[
            Earlier::Stage(Isolate),
            Earlier::Stage(Disconnect),
            Earlier::Hands,
            Earlier::LeadNull,
            Earlier::Earth,
        ],
        why: "a dead test means something only on cores that are dead, apart, and linked or joined as it expects",
    },
    Need {
        of: Of::Stage(Connect),
        earlier: &[
            Earlier::Stage(Survey),
            Earlier::Stage(Isolate),
            Earlier::Stage(Disconnect),
            Earlier::Stage(Connect),
            Earlier::Hands,
            Earlier::LeadNull,
            Earlier::Earth,
        ],
        why: "nothing goes into a terminal of which nobody knows what stands on it, nor beside a core in a wrong one",
    },
    Need {
        of: Of::Gate,
        earlier: &[Earlier::Everything],
        why: "a gate says that everything before it has passed",
    },
    Need {
        of: Of::Stage(Live),
        earlier: &[Earlier::Everything],
        why: "nothing is energised or tested live before every earlier step has passed",
    },
    Need {
        of: Of::Stage(HandOver),
        earlier: &[Earlier::Everything],
        why: "only what has passed is handed over",
    },
];

/// What must have passed before a run may be closed as completed while the supply is on.
pub const CLOSING_LIVE: &[Earlier] = &[Earlier::Everything];

/// Whether a step must have passed before a run may be closed as completed.
pub fn closing_needs(step: &Step, supply_on: bool) -> bool {
    let isolates = step.acts.iter().any(|act| {
        matches!(
            act,
            Act::SwitchOff | Act::LockOff | Act::KeepKey | Act::PostNotice | Act::Further { .. }
        )
    });
    isolates || (supply_on && CLOSING_LIVE.iter().any(|earlier| earlier.holds(step, Rests::default())))
}

/// The kind of a step.
pub fn of(step: &Step) -> Of {
    if step.kind == Kind::Gate {
        Of::Gate
    } else {
        Of::Stage(step.stage)
    }
}

/// The row for a step.
pub fn need(step: &Step) -> &'static Need {
    let of = of(step);
    NEEDS.iter().find(|need| need.of == of).expect("every stage has a row")
}

/// The leads whose measurement a step rests on: it takes their resistance off, is read through leads that the tester has nulled, or
/// shows open what an open lead would show as well.
pub fn subtracts(step: &Step) -> Option<Leads> {
    match &step.kind {
        Kind::Measure(m) if m.is_of_cable() || m.leads_seen => Some(m.probes.leads()),
        _ => None,
    }
}

/// The leads that a step measures, where it measures leads.
pub fn null_of(step: &Step) -> Option<Leads> {
    match &step.kind {
        Kind::Measure(m) if m.is_null => Some(m.probes.leads()),
        _ => None,
    }
}

/// Whether a step reads through the clip that joins the earth core to the earth of the building, whatever came before it.
pub fn is_join(step: &Step) -> bool {
    step.only_if.is_empty() && matches!(&step.kind, Kind::Measure(m) if m.is_join)
}

/// Whether a step shows the earth that insulation is measured to, before switching off or dead, or the long lead that reaches it.
fn shows_earth(step: &Step) -> bool {
    let long = |m: &Measure| m.used.function == Function::Continuity && m.probes.leads() == Leads::Long;
    is_join(step) || proves_earth(step) || (step.stage == Test && matches!(&step.kind, Kind::Measure(m) if long(m)))
}

/// For each step of a plan that stands while the earth core is clipped to the earth of the building, the step that clipped it.
pub fn clipped_by(plan: &Plan) -> Vec<Option<usize>> {
    let mut clipped = None;
    let one = |(i, step): (usize, &Step)| {
        for act in &step.acts {
            match act {
                Act::JoinEarth => clipped = clipped.or(Some(i)),
                Act::PartEarth => clipped = None,
                _ => {}
            }
        }
        clipped
    };
    plan.steps.iter().enumerate().map(one).collect()
}

/// The last reading through the clip before a step that puts a test voltage on while it is on, where there is one: what was read
/// with a clip that does not bite is the insulation of the cable alone.
pub fn join_before(plan: &Plan, clipped: &[Option<usize>], step: usize) -> Option<usize> {
    let clip = clipped[step].filter(|_| charges(&plan.steps[step]))?;
    (clip..step).rev().find(|&i| is_join(&plan.steps[i]))
}

/// The readings through the clip after a step that puts a test voltage on while it is on.
pub fn joins_after(plan: &Plan, clipped: &[Option<usize>], step: usize) -> Vec<usize> {
    if clipped[step].is_none() || !charges(&plan.steps[step]) {
        return Vec::new();
    }
    let after = step + 1..plan.steps.len();
    let same = after.take_while(|&i| clipped[i] == clipped[step]);
    same.filter(|&i| is_join(&plan.steps[i])).collect()
}

/// The steps that put a test voltage on while the clip was on and that a reading through it vouches for: those before it.
pub fn read_through(plan: &Plan, clipped: &[Option<usize>], join: usize) -> Vec<usize> {
    let Some(clip) = clipped[join].filter(|_| is_join(&plan.steps[join])) else {
        return Vec::new();
    };
    (clip..join).filter(|&i| charges(&plan.steps[i])).collect()
}

/// Whether a step measures the leads themselves, which does not touch the wiring.
pub fn is_null(step: &Step) -> bool {
    matches!(&step.kind, Kind::Measure(m) if m.is_null)
}

/// Whether a step finds out what stood on the place as it was found.
pub fn finds(step: &Step) -> bool {
    let plate = |kind: &Kind| matches!(kind, Kind::Look(look) if matches!(look.subject, Subject::Plate(_)));
    step.stage == Survey && (plate(&step.kind) || matches!(step.kind, Kind::Measure(_) | Kind::Indicator { .. }))
}

/// Whether a step looks at the place as it was found, before anything is switched, and at nothing that has to be read there again: what a
/// maker's plate says is no fault to be repaired, since the readings of the pair rest on it.
pub fn looks_as_found(step: &Step) -> bool {
    let thing = |kind: &Kind| matches!(kind, Kind::Look(look) if matches!(look.subject, Subject::Thing(_)));
    step.stage == Survey && thing(&step.kind)
}

/// Whether a step is done on the place as it was found, before anything is switched: once something was, it is not done again.
pub fn done_as_found(step: &Step) -> bool {
    step.stage <= Stage::FaultFinding
}

/// Whether a step answers why work is done live.
pub fn answers_why(step: &Step) -> bool {
    matches!(step.kind, Kind::Note { reason: Some(_), .. })
}

/// Whether a step reads, live and as it was found, where a fault must be.
pub fn reads_live_as_found(step: &Step) -> bool {
    step.stage == Stage::FaultFinding && matches!(step.kind, Kind::Measure(_) | Kind::Look(_))
}

/// Whether a step proves the two-pole indicator on the source that stays live.
pub fn proves_indicator(step: &Step) -> bool {
    matches!(&step.kind, Kind::Indicator { probes, lit: true } if probes.first == super::Point::KnownSource)
}

/// Whether a step shows an earth, against which points are proved dead later, lit to line while the supply is on.
pub fn proves_earth(step: &Step) -> bool {
    step.stage == Survey && matches!(step.kind, Kind::Indicator { lit: true, .. }) && !proves_indicator(step)
}

/// Whether a step shows two points dark.
pub fn shows_dark(step: &Step) -> bool {
    matches!(step.kind, Kind::Indicator { lit: false, .. })
}

/// Whether a step shows something of a neutral that was parted, or the indicator that showed it.
pub fn shows_parted(step: &Step) -> bool {
    matches!(step.stage, Disconnect | Connect) && matches!(step.kind, Kind::Indicator { .. })
}

/// What shows something of the supply's neutral, where that is off when a step is come to: steps between the act that parted it and this one.
/// Whoever parts it anew tries it anew.
pub fn tried_since_parted(plan: &Plan, step: usize) -> Vec<usize> {
    let parts = |act: &Act| match act {
        Act::PartNeutral => Some(true),
        Act::RestoreNeutral => Some(false),
        _ => None,
    };
    let last = |i: &usize| plan.steps[*i].acts.iter().filter_map(parts).next_back();
    let parted = (0..step)
        .rev()
        .find(|i| last(i).is_some())
        .filter(|i| last(i) == Some(true));
    let since = parted.map_or(step, |parted| parted + 1)..step;
    since.filter(|i| shows_parted(&plan.steps[*i])).collect()
}

/// Whether a step reads the place as it was found with a control set as the last [`Earlier::Set`] before it says: it is done again
/// from there, since the control may have been set otherwise meanwhile.
pub fn reads_as_set(step: &Step) -> bool {
    step.stage == Survey && matches!(step.kind, Kind::Measure(_) | Kind::Indicator { .. })
}

/// Whether `there`, which stands earlier in the plan, must have passed before `here` is reached.
pub fn needs(here: &Step, there: &Step) -> bool {
    let rests = Rests::of(here);
    need(here).earlier.iter().any(|earlier| earlier.holds(there, rests))
}

/// Steps that become void together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Class {
    /// Every step of this stage.
    Stage(Stage),
    /// Every gate.
    Gates,
    /// Every reading of the place as it is left, the covers that it is read with, and the neutral that is parted for it.
    ReadAsLeft,
    /// Every earth shown lit to line before switching off.
    EarthsLit,
    /// What the indicator showed of neutrals that were parted.
    Parted,
}

impl Class {
    /// Whether a step belongs to the class.
    pub fn holds(self, step: &Step) -> bool {
        match self {
            Class::Stage(stage) => step.stage == stage,
            Class::Gates => step.kind == Kind::Gate,
            Class::ReadAsLeft => {
                let tries_neutral = step.stage == Connect && shows_parted(step);
                reads_as_left(step) || tries_neutral || step.acts.contains(&Act::CoverFarEnd)
            }
            Class::EarthsLit => proves_earth(step),
            Class::Parted => shows_parted(step),
        }
    }
}

/// When a step of one of these stages is void, so are these classes, and why.
#[derive(Debug, Clone, Copy)]
pub struct Spread {
    /// The stages it begins in.
    pub hit: &'static [Stage],
    /// Only while the run has the supply switched on.
    pub supply_on: bool,
    /// A gate of one of these stages counts as well.
    pub gates: bool,
    /// What becomes void with them.
    pub also: &'static [Class],
    /// The reason that is told.
    pub why: &'static str,
}

/// How void spreads; the rows are applied until nothing is added.
pub const SPREADS: &[Spread] = &[
    Spread {
        hit: &[Disconnect, Test, Connect],
        supply_on: true,
        gates: true,
        also: &[Class::Stage(Isolate)],
        why: "nothing is touched while it may be live",
    },
    Spread {
        hit: &[Isolate],
        supply_on: false,
        gates: true,
        also: &[Class::Stage(Isolate)],
        why: "the proof of isolation is one proof",
    },
    Spread {
        hit: &[Isolate],
        supply_on: true,
        gates: true,
        also: &[Class::EarthsLit],
        why: "hands were at the earth since it was shown, and it can be shown again while the supply is on",
    },
    Spread {
        hit: &[Disconnect],
        supply_on: false,
        gates: true,
        also: &[Class::Parted],
        why: "a neutral that is parted again is tried again",
    },
    Spread {
        hit: &[Disconnect],
        supply_on: false,
        gates: true,
        also: &[Class::Stage(Connect)],
        why: "a core that is taken off is put back, and its terminal read, again",
    },
    Spread {
        hit: &[Connect],
        supply_on: false,
        gates: false,
        also: &[Class::ReadAsLeft],
        why: "clamps and earths are shown as they are left: whoever has hands in a clamp may have pulled at another",
    },
    Spread {
        hit: &[Isolate, Disconnect, Test, Connect],
        supply_on: false,
        gates: true,
        also: &[Class::Stage(Live), Class::Stage(HandOver), Class::Gates],
        why: "what was energised rested on everything before it",
    },
];

/// Before a dead test, while a core may be in a terminal, these stages are done again: the core comes out, and goes back after.
pub const TAKEN_OUT: &[Stage] = &[Disconnect, Connect];

/// Stages in which a repair waits until isolation is proved.
pub const ISOLATE_FIRST: &[Stage] = &[Live, HandOver];

/// Whether this may follow when a step did not pass; abandoning always may.
pub fn may_follow(step: &Step, then: &Then) -> bool {
    if *then == Then::Isolate {
        return shows_dark(step);
    }
    if answers_why(step) && !matches!(then, Then::Again | Then::Leave) {
        return false;
    }
    // hands do nothing in a place that is live as somebody else left it: what eyes find there waits until it is proved dead
    let repairs = matches!(then, Then::Repair(_));
    step.after_failure.contains(then) && !(repairs && done_as_found(step) && !looks_as_found(step))
}

/// The step to which a repair goes back, where the plan names one.
pub fn goes_back_to(step: &Step) -> Option<&str> {
    step.after_failure.iter().find_map(|then| match then {
        Then::Repair(back) => back.as_deref(),
        _ => None,
    })
}

/// Whether a touch of cores can make a step void: the leads are not touched with them.
pub fn touchable(step: &Step) -> bool {
    !is_null(step) && (Test..=Connect).contains(&step.stage)
}

/// Whether a step reads the place dead and connected, as it is left: clamps, insulation with the cores in, and each earth.
pub fn reads_as_left(step: &Step) -> bool {
    step.stage == Connect && matches!(step.kind, Kind::Measure(_))
}

/// Whether a step measures where everything is dead, so that a voltage there stops it.
pub fn is_dead_test(step: &Step) -> bool {
    matches!(step.kind, Kind::Measure(_)) && (Test..=Connect).contains(&step.stage)
}

/// Whether links and joints are made to be exactly the plan's before a step.
pub fn is_arranged(step: &Step) -> bool {
    !is_null(step) && (Test..=Live).contains(&step.stage)
}

/// Whether a step takes links or joints off and puts none on, so that it is done without knowing what is on.
pub fn takes_off(step: &Step) -> bool {
    let on = |act: &Act| matches!(act, Act::LinkToEarth(_) | Act::JoinRest(_));
    let off = |act: &Act| {
        matches!(
            act,
            Act::RemoveLink(_)
                | Act::RemoveEveryLink
                | Act::PartLiveCores
                | Act::PartRest
                | Act::PartEarth
                | Act::PartTerminals
                | Act::RestoreNeutral
                | Act::EarthBack(_)
        )
    };
    step.acts.iter().any(off) && !step.acts.iter().any(on)
}

/// Whether a step puts a test voltage on the cores, however it ends.
pub fn charges(step: &Step) -> bool {
    matches!(&step.kind, Kind::Measure(m) if matches!(m.used.function, Function::Insulation(_)))
}

/// Whether what the insulation test has charged is let go before a step: unless the step does it, or tests on.
pub fn waits_for_charge(step: &Step) -> bool {
    is_arranged(step) && !charges(step) && !step.acts.iter().any(Act::lets_go)
}

/// Whether an act switches the supply on (`true`) or off.
pub fn switches(act: &Act) -> Option<bool> {
    match act {
        Act::Energise => Some(true),
        Act::SwitchOff | Act::MakeSafe => Some(false),
        _ => None,
    }
}

/// Whether the plan leaves the supply on; `None` where it never has to do with it.
pub fn ends_on(plan: &Plan) -> Option<bool> {
    plan.steps
        .iter()
        .flat_map(|step| &step.acts)
        .filter_map(switches)
        .next_back()
}
