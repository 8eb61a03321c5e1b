//! The shape of a sequence file, before anything in it is believed.

use serde::Deserialize;

use crate::pure::job::End;
use crate::pure::located::Located;
use crate::pure::plan::Stage;
use crate::pure::quantity::Amount;
use crate::pure::reading::Multiple;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "Sequence")]
pub struct RawSequence {
    pub format: Located<String>,
    pub name: Located<String>,
    pub title: Located<String>,
    /// Kinds of fault of which the sequence lets none through.
    #[serde(default)]
    pub promises: Vec<Located<String>>,
    /// Promised faults that it lets through all the same.
    #[serde(default)]
    pub exceptions: Vec<RawException>,
    pub steps: Vec<Located<RawStep>>,
}

/// A fault of a promised kind that no step can show, and why.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "Exception")]
pub struct RawException {
    /// As `rehearse --fault` takes it; cores and terminals by what they carry, in braces.
    pub fault: Located<String>,
    pub reason: Located<String>,
}

/// What a step tells hands to do; the core of `LinkToEarth` and `RemoveLink` is that of the enclosing `EachCore`.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(rename = "Act")]
pub enum RawAct {
    SwitchOff,
    LockOff,
    KeepKey,
    PostNotice,
    DisconnectNear,
    DisconnectFar,
    TakeOutElectronics,
    GuardFarEnd,
    LinkToEarth,
    RemoveLink,
    RemoveEveryLink,
    JoinLiveCores,
    PartLiveCores,
    Discharge,
    Energise,
    /// A control of the job, by its name, is set so that it calls.
    Call(String),
    /// A control of the job is set so that it does not call.
    Satisfy(String),
    EveryCallOff,
    /// The residual-current device is switched on again after a test has tripped it.
    ResetDevice,
}

/// Where a window comes from.
#[derive(Debug, Deserialize)]
#[serde(rename = "Window")]
pub enum RawWindow {
    /// From the cable's size, length, class and temperature; cores are compared where the length is not known.
    Cable,
    OpenCore,
    LeadResistance,
    InsulationMinimum,
    SupplyVoltage,
    VoltageAbsent,
    /// The greatest earth fault loop impedance, measured cold, that the job's protective device allows.
    LoopMaximum,
    /// How soon the job's residual-current device has to trip; at half its rated current, that it does not.
    TripTime,
    /// Figures of the sequence's own, with their source.
    Stated(RawStated),
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "Stated")]
pub struct RawStated {
    #[serde(default)]
    pub low: Option<Located<Amount>>,
    #[serde(default)]
    pub high: Option<Located<Amount>>,
    pub source: Located<String>,
}

/// A time and where it comes from.
#[derive(Debug, Deserialize)]
#[serde(rename = "Time")]
pub enum RawTime {
    ValveOpens,
    ValveCloses,
    Stated {
        time: Located<Amount>,
        source: Located<String>,
    },
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
pub enum Between {
    JoinedAndEarth,
    EachPair,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(clippy::large_enum_variant)] // a few dozen steps a file, read once
#[serde(rename = "Step")]
pub enum RawStep {
    Do {
        id: Located<String>,
        stage: Stage,
        act: Located<RawAct>,
        say: Located<String>,
        #[serde(default)]
        caution: Option<Located<String>>,
    },
    ProveIndicator {
        id: Located<String>,
        say: Located<String>,
    },
    ProveDead {
        id: Located<String>,
        end: End,
        say: Located<String>,
    },
    LeadNull {
        id: Located<String>,
        window: Located<RawWindow>,
        say: Located<String>,
    },
    EachCore(Vec<Located<RawStep>>),
    Continuity {
        id: Located<String>,
        #[serde(default)]
        core: Option<Located<String>>,
        window: Located<RawWindow>,
        say: Located<String>,
    },
    /// With one core linked to earth, every other live core is open to earth.
    OthersOpen {
        id: Located<String>,
        window: Located<RawWindow>,
        say: Located<String>,
    },
    /// With every link off, every live core is open to earth.
    AllOpen {
        id: Located<String>,
        window: Located<RawWindow>,
        say: Located<String>,
    },
    Insulation {
        id: Located<String>,
        between: Between,
        window: Located<RawWindow>,
        say: Located<String>,
    },
    Connect {
        id: Located<String>,
        end: End,
        say: Located<String>,
    },
    Gate {
        id: Located<String>,
        say: Located<String>,
    },
    Voltage {
        id: Located<String>,
        end: End,
        between: (Located<String>, Located<String>),
        window: Located<RawWindow>,
        #[serde(default)]
        within: Option<Located<(Located<String>, RawTime)>>,
        #[serde(default)]
        after: Option<Located<(Located<String>, RawTime)>>,
        say: Located<String>,
    },
    /// Earth fault loop impedance between the terminal for `line` (the permanent live where it is left out) and earth.
    Loop {
        id: Located<String>,
        end: End,
        #[serde(default)]
        line: Option<Located<String>>,
        window: Located<RawWindow>,
        say: Located<String>,
    },
    /// The residual-current device tested at a multiple of its rated current, between the same points.
    ResidualTrip {
        id: Located<String>,
        end: End,
        #[serde(default)]
        line: Option<Located<String>>,
        times: Multiple,
        window: Located<RawWindow>,
        say: Located<String>,
    },
}

impl RawStep {
    /// The step's own name; a repetition has none.
    pub fn id(&self) -> Option<&Located<String>> {
        match self {
            RawStep::EachCore(_) => None,
            RawStep::Do { id, .. }
            | RawStep::ProveIndicator { id, .. }
            | RawStep::ProveDead { id, .. }
            | RawStep::LeadNull { id, .. }
            | RawStep::Continuity { id, .. }
            | RawStep::OthersOpen { id, .. }
            | RawStep::AllOpen { id, .. }
            | RawStep::Insulation { id, .. }
            | RawStep::Connect { id, .. }
            | RawStep::Gate { id, .. }
            | RawStep::Voltage { id, .. }
            | RawStep::Loop { id, .. }
            | RawStep::ResidualTrip { id, .. } => Some(id),
        }
    }

    /// The text that is shown, where the step has one.
    pub fn say(&self) -> Option<&Located<String>> {
        match self {
            RawStep::EachCore(_) => None,
            RawStep::Do { say, .. }
            | RawStep::ProveIndicator { say, .. }
            | RawStep::ProveDead { say, .. }
            | RawStep::LeadNull { say, .. }
            | RawStep::Continuity { say, .. }
            | RawStep::OthersOpen { say, .. }
            | RawStep::AllOpen { say, .. }
            | RawStep::Insulation { say, .. }
            | RawStep::Connect { say, .. }
            | RawStep::Gate { say, .. }
            | RawStep::Voltage { say, .. }
            | RawStep::Loop { say, .. }
            | RawStep::ResidualTrip { say, .. } => Some(say),
        }
    }

    /// The window of a measurement with the unit it must have.
    pub fn window(&self) -> Option<(&Located<RawWindow>, crate::pure::quantity::Unit)> {
        use crate::pure::quantity::Unit;
        match self {
            RawStep::LeadNull { window, .. }
            | RawStep::Continuity { window, .. }
            | RawStep::OthersOpen { window, .. }
            | RawStep::AllOpen { window, .. }
            | RawStep::Insulation { window, .. }
            | RawStep::Loop { window, .. } => Some((window, Unit::Ohm)),
            RawStep::ResidualTrip { window, .. } => Some((window, Unit::Second)),
            RawStep::Voltage { window, .. } => Some((window, Unit::Volt)),
            _ => None,
        }
    }
}
