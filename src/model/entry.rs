//! An entry of the fault library: what can go wrong, over what it is spread, and in which jobs it can be.
//!
//! The rule inside: an entry is data; it names no job.

use serde::Deserialize;

use super::fault::Change;

/// Over what a fault is spread.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
pub(super) enum Over {
    Once,
    Core,
    /// A core that does not carry earth.
    LiveCore,
    /// The earth core of the cable, once.
    EarthCore,
    /// A core that is not for mains, and a terminal for mains in the same box.
    CoreBesideMains,
    /// Two cores, in either order.
    Pair,
    CoreAtEnd,
    PairAtEnd,
    /// A terminal that is neither for neutral nor for earth.
    LiveTerminal,
    NeutralTerminal,
    /// Two terminals of one end for different things, of which not both are of the supply: those would blow its fuse, or are neutral and
    /// earth.
    PairOfTerminals,
    EachEnd,
    /// A contact of a control through which this cable is fed; where there is none, a controller that nobody knows of.
    Feeder,
    /// A contact that a control moves and that feeds nothing else, and any contact that a control moves.
    ControlContact,
    EveryControlContact,
    /// Whatever moves it.
    Contact,
    /// A contact that a motor moves.
    EndSwitch,
    Motor,
    /// A motor of a job with one zone or none.
    LoneMotor,
    /// Two motors of two zones, and the contacts of two zones' controls.
    MotorsOfZones,
    ContactsOfZones,
    /// A supply of the equipment's own.
    OwnSupply,
    /// An end of the control pair.
    PlateAtEnd,
}

impl Over {
    /// What a job lacks that has no such place.
    pub(super) fn words(self) -> &'static str {
        match self {
            Over::Once => "place for it",
            Over::Core | Over::CoreAtEnd => "core",
            Over::LiveCore => "live core",
            Over::CoreBesideMains => "core that is not for mains beside a terminal that is",
            Over::EarthCore => "earth core",
            Over::Pair | Over::PairAtEnd => "two cores",
            Over::LiveTerminal => "live terminal",
            Over::NeutralTerminal => "neutral terminal",
            Over::PairOfTerminals => "two terminals for different things",
            Over::EachEnd => "end",
            Over::Feeder => "line that a controller could feed",
            Over::ControlContact | Over::EveryControlContact => "contact of a control",
            Over::Contact => "contact",
            Over::EndSwitch => "contact that a motor moves",
            Over::Motor => "motor",
            Over::LoneMotor => "motor without zones beside it",
            Over::MotorsOfZones => "motors of two zones",
            Over::ContactsOfZones => "controls of two zones",
            Over::OwnSupply => "supply of the equipment's own",
            Over::PlateAtEnd => "control pair",
        }
    }

    /// Whether the first place is meant where none is named.
    pub(super) fn has_usual(self) -> bool {
        !matches!(
            self,
            Over::Core
                | Over::LiveCore
                | Over::CoreAtEnd
                | Over::Pair
                | Over::PairAtEnd
                | Over::LiveTerminal
                | Over::PairOfTerminals
        )
    }
}

/// In which jobs a fault can be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
pub(super) enum Only {
    Any,
    /// Of the job's supply.
    Mains,
    ExtraLow,
    /// Mains whose neutral is earthed by the supplier, and the place's earth through it or beside it: TN.
    EarthedMains,
    /// Of a supply of the equipment's own.
    OwnMains,
    OwnExtraLow,
}

fn any() -> Only {
    Only::Any
}

/// An entry of the library.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, rename = "Fault")]
pub(super) struct Entry {
    pub(super) name: String,
    pub(super) over: Over,
    #[serde(default = "any")]
    pub(super) only: Only,
    pub(super) part: String,
    pub(super) weight: u32,
    /// The place that is meant where none is named.
    #[serde(default)]
    pub(super) usual: Option<String>,
    /// Names of their own for certain places.
    #[serde(default)]
    pub(super) also: Vec<(String, String)>,
    pub(super) does: Vec<Change>,
    pub(super) words: String,
    pub(super) look: String,
}
