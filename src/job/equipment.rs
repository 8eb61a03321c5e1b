//! What hangs on the terminals of a job: contacts, motors, loads, supplies, and the zones that they make up.
//!
//! The rule inside: everything is wired between two named places, and whatever moves says what moves it. A contact that needs
//! two things is two contacts in series, with a place inside the equipment between them.

use serde::{Deserialize, Serialize};

use super::end::End;
use crate::value::quantity::Amount;

/// Where something is wired to: a terminal of an end, a place inside the equipment that no probe reaches, or the job's
/// supply behind its point of isolation.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum At {
    /// A terminal of the near end, by its name.
    Near(String),
    /// A terminal of the far end, by its name.
    Far(String),
    /// A place that no probe reaches; equal names are one place.
    Inside(String),
    /// The line of the job's supply.
    Line,
    /// The neutral of the job's supply.
    Neutral,
    /// The earth of the job's supply.
    Earth,
}

impl At {
    /// The place in words.
    pub fn words(&self, job_end: impl Fn(End) -> String) -> String {
        match self {
            At::Near(terminal) => format!("terminal `{terminal}` at the {}", job_end(End::Near)),
            At::Far(terminal) => format!("terminal `{terminal}` at the {}", job_end(End::Far)),
            At::Inside(place) => format!("`{place}` inside the equipment"),
            At::Line => "the line of the supply".into(),
            At::Neutral => "the neutral of the supply".into(),
            At::Earth => "the earth of the supply".into(),
        }
    }
}

/// What moves a contact.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub enum MovedBy {
    /// A control that a person sets, by its name: it calls or it does not. A safety thermostat calls when it has tripped.
    Control(String),
    /// A motor, by its equipment's name: the contact changes when the motor has arrived where voltage takes it, and back
    /// when it has arrived where it rests.
    Motor(String),
}

/// A contact of a control, a relay or an end switch.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Contact {
    /// What it joins when it is made.
    pub between: (At, At),
    /// What makes and opens it.
    pub moved_by: MovedBy,
    /// It opens, not closes, when it is moved.
    pub opens: bool,
}

/// A valve's motor, the wax of an actuator, or the coil of a relay.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Motor {
    /// Where it gets its voltage.
    pub between: (At, At),
    /// What it takes at that voltage, in watts.
    pub power: Amount,
    /// The voltage it is made for; the nominal voltage of the job where it is left out.
    pub volts: Option<Amount>,
    /// From shut until it has arrived at open.
    pub opens: Amount,
    /// From open until it has arrived at shut.
    pub closes: Amount,
    /// It is open without voltage, and voltage shuts it.
    pub rests_open: bool,
    /// It moves by warming wax, which takes minutes.
    pub wax: bool,
}

/// Something that runs on voltage: a boiler's input, a pump, a lamp.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Load {
    /// Where it gets its voltage.
    pub between: (At, At),
    /// Its resistance while it runs.
    pub ohms: Amount,
    /// The voltage it is made for; the nominal voltage of the job where it is left out.
    pub volts: Option<Amount>,
}

/// A supply of its own, behind the job's point of isolation: what a boiler puts on its call terminals, a transformer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct OwnSupply {
    /// The line, or the positive end, first.
    pub between: (At, At),
    /// What it delivers without a load.
    pub volts: Amount,
    /// Direct voltage.
    pub direct: bool,
    /// What stands in series with it inside; a call input's usual resistance where it is left out.
    pub ohms: Option<Amount>,
    /// The further supply that it belongs to and is switched off with; that of the cable where it is left out.
    pub of: Option<String>,
}

/// What a piece of equipment is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub enum Is {
    /// Closes or opens a path.
    Contact(Contact),
    /// Moves contacts or lets water through while it has voltage.
    Motor(Motor),
    /// Runs while it has voltage.
    Load(Load),
    /// Delivers voltage by itself.
    Supply(OwnSupply),
}

impl Is {
    /// The two places where it is wired.
    pub fn between(&self) -> &(At, At) {
        match self {
            Is::Contact(contact) => &contact.between,
            Is::Motor(motor) => &motor.between,
            Is::Load(load) => &load.between,
            Is::Supply(supply) => &supply.between,
        }
    }
}

/// One piece of equipment.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Equipment {
    /// By which steps and other equipment call it.
    pub name: String,
    /// What it is and where it is wired to.
    pub is: Is,
}

/// A zone: the control that calls for it and what must move when it does.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Zone {
    /// By which steps and prompts call it.
    pub name: String,
    /// The control that calls for it, by its name.
    pub control: String,
    /// Motors, by their equipment's names.
    pub actuators: Vec<String>,
    /// Flow meters, each named with the motor that lets water through it.
    pub meters: Vec<(String, String)>,
}

/// What an end of a control pair is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Nature {
    /// The nominal voltage of the job.
    Mains,
    /// At most 50 V alternating or 120 V direct.
    ExtraLowVoltage,
    /// A contact that switches whatever the other end puts on it.
    VoltFree,
}

impl Nature {
    /// Every nature, in the order prompts list them.
    pub const ALL: [Nature; 3] = [Nature::Mains, Nature::ExtraLowVoltage, Nature::VoltFree];

    /// The words of prompts and answers.
    pub fn words(self) -> &'static str {
        match self {
            Nature::Mains => "mains",
            Nature::ExtraLowVoltage => "extra-low voltage",
            Nature::VoltFree => "volt-free",
        }
    }
}

/// A pair of conductors that carries a call, and what its two ends are by their makers' plates.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ControlPair {
    /// Where it is read: two terminals of one end.
    pub between: (At, At),
    /// The control that opens and closes it, itself or through a motor.
    pub control: String,
    /// By the plate at the near end.
    pub near: Nature,
    /// By the plate at the far end.
    pub far: Nature,
    /// What stands across it while its contact is open.
    pub volts: Amount,
    /// That voltage is direct.
    pub direct: bool,
}

impl ControlPair {
    /// What an end is by its maker's plate.
    pub fn nature(&self, end: End) -> Nature {
        match end {
            End::Near => self.near,
            End::Far => self.far,
        }
    }
}
