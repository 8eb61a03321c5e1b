//! What hangs on the terminals of a job: contacts, motors, loads, supplies, and the zones that they make up.
//!
//! The rule inside: everything is wired between two named places, and whatever moves says what moves it.

use serde::{Deserialize, Serialize};

use crate::pure::quantity::Amount;

/// Where something is wired to: a terminal of an end, or a place inside the equipment that no probe reaches.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum At {
    Near(String),
    Far(String),
    Inside(String),
}

/// What moves a contact.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub enum MovedBy {
    /// A control that a person sets, by its name: it calls or it does not.
    Control(String),
    /// A motor, by its equipment's name: the contact changes when the motor has arrived at open, and back at shut.
    Motor(String),
}

/// What a piece of equipment is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Is {
    Contact {
        between: (At, At),
        moved_by: MovedBy,
        /// It opens, not closes, when it is moved.
        #[serde(default)]
        opens: bool,
    },
    /// A valve's motor, or the wax of an actuator.
    Motor {
        between: (At, At),
        power: Amount,
        /// From voltage on it until it has arrived at open.
        opens: Amount,
        /// From voltage off it until it has arrived at shut.
        closes: Amount,
    },
    Load {
        between: (At, At),
        ohms: Amount,
    },
    /// A supply of its own, behind the same point of isolation: what a boiler puts on its call terminals.
    Supply {
        between: (At, At),
        volts: Amount,
        /// Direct voltage.
        #[serde(default)]
        direct: bool,
    },
}

/// One piece of equipment.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Equipment {
    pub name: String,
    pub is: Is,
}

/// A zone: the control that calls for it and what must move when it does.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Zone {
    pub name: String,
    pub control: String,
    /// Motors, by their equipment's names.
    pub actuators: Vec<String>,
    /// Flow meters, each named with the motor that lets water through it.
    #[serde(default)]
    pub meters: Vec<(String, String)>,
}

/// What an end of a control pair is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Nature {
    Mains,
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
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ControlPair {
    /// Where it is read: two terminals of one end.
    pub between: (At, At),
    /// The control or the motor that opens and closes it is set by this control.
    pub control: String,
    pub near: Nature,
    pub far: Nature,
    /// What stands across it while its contact is open.
    pub volts: Amount,
    #[serde(default)]
    pub direct: bool,
}
