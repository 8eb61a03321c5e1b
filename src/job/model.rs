//! What a checked job holds.
//!
//! The rule inside: every name a core or step refers to exists, every amount has the unit of its quantity.

use std::collections::BTreeMap;
use std::sync::Arc;

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::cable_length::CableLength;
use super::document::ForDocument;
use super::end::{End, EndOfCable, Terminal};
use super::equipment::{At, Contact, ControlPair, Equipment, Is, Motor, MovedBy, OwnSupply, Zone};
use super::instrument::Instrument;
use super::purpose::Purpose;
use crate::judge::earth_loop::{Device, Disconnection};
use crate::judge::resistance;
use crate::judge::window::Decision;
use crate::limits::{Limits, Row, Set, Table};
use crate::located::Text;
use crate::value::quantity::Amount;

/// Where the work is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Place {
    /// The site, as the record is headed.
    pub name: String,
    /// The part of it that the cable belongs to.
    pub part: String,
    /// Who the work is done for.
    pub client: String,
}

/// How an extra-low-voltage circuit is separated; a functional one is tested as the mains it hangs on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Separation {
    /// Separated from mains and from earth.
    Selv,
    /// Separated from mains, and earthed.
    Pelv,
    /// Extra-low only because it works so: not safely separated from mains.
    Felv,
}

/// Another supply that reaches a place of work, with a point of isolation of its own: a frost thermostat, an immersion heater, another
/// board.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FurtherSupply {
    /// What it feeds or comes from, by which steps call it.
    pub name: String,
    /// Its point of isolation.
    pub from: String,
}

/// Which conductors the point of isolation breaks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum Breaks {
    /// A double-pole switch: line and neutral.
    #[default]
    LineAndNeutral,
    /// A single-pole device, a circuit-breaker or a fuse: the neutral stays joined to the supply's.
    Line,
}

/// What feeds the cable.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Supply {
    /// The point of isolation.
    pub from: String,
    /// What it breaks.
    pub breaks: Breaks,
    /// Volts to neutral.
    pub nominal: Amount,
    /// In hertz.
    pub frequency: Amount,
    /// The system of earthing, as written in the job: `TN-C-S`.
    pub earthing: String,
    /// The protective device in words.
    pub device: String,
    /// The overcurrent device as the tables name it.
    pub protection: Option<Device>,
    /// Residual operating current of a residual-current device.
    pub residual: Option<Amount>,
    /// The time in which its device must disconnect.
    pub disconnection: Disconnection,
    /// Earth fault loop impedance up to the near end of the cable: Ze where the cable begins at the origin.
    pub ze: Option<Amount>,
    /// The earth conductor between the main earthing terminal and the near end, where it is known.
    pub upstream: Option<Upstream>,
    /// How the extra-low voltage of the cable is separated; `None` for mains.
    pub separation: Option<Separation>,
    /// Every other supply that reaches a place of work.
    pub further: Vec<FurtherSupply>,
    /// A supply that stays live, on which the indicator is proved.
    pub known_source: String,
}

/// The part of the installation between its origin and the near end of the cable.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Upstream {
    /// How far it is from the main earthing terminal, along the cable, in metres.
    pub length: Amount,
    /// The cross-section of its earth conductor, in square millimetres.
    pub earth: Amount,
}

/// How the conductors are made, which sets their resistance table (IEC 60228).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Conductors {
    /// Class 1.
    Solid,
    /// Class 2.
    Stranded,
    /// Class 5.
    Flexible,
}

impl Conductors {
    /// The table of greatest resistances.
    pub fn table(self) -> Table {
        match self {
            Conductors::Solid | Conductors::Stranded => Table::ConductorClass1And2,
            Conductors::Flexible => Table::ConductorClass5,
        }
    }
}

/// One core of the cable.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Core {
    /// Its colour or number, by which steps call it.
    pub name: String,
    /// The colour of a sleeve that says otherwise than its insulation.
    pub sleeve: Option<String>,
    /// Its cross-section, in square millimetres.
    pub size: Amount,
    /// What it carries once it is connected.
    pub carries: Purpose,
    /// The terminals it belongs to, at the near and at the far end.
    pub near: String,
    /// See `near`.
    pub far: String,
}

impl Core {
    /// The terminal at an end.
    pub fn terminal(&self, end: End) -> &str {
        match end {
            End::Near => &self.near,
            End::Far => &self.far,
        }
    }
}

const EXTRA_LOW_UPPER: (Table, &str) = (Table::ExtraLowVoltage, "a.c. upper");
const LEFT_AFTER: (Table, &str) = (Table::Practice, "work left for");
/// Rows that every walk needs, whatever its sequence measures: limits without one of them judge no job.
pub(super) const NEEDED: [(Table, &str); 2] = [EXTRA_LOW_UPPER, LEFT_AFTER];

/// A checked job.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// The file it was read from, which the record carries whole.
    pub text: Text,
    /// Where the work is.
    pub place: Place,
    /// Who does it, as the record and its signature name them.
    pub engineer: String,
    /// The edition that judges.
    pub limits: Arc<Limits>,
    /// Sets of limits that the job brings itself.
    pub own_limits: Vec<Set>,
    /// Which rule makes an outcome of a value near an edge.
    pub decision: Decision,
    /// What feeds the cable.
    pub supply: Supply,
    /// What the cable is called.
    pub cable: String,
    /// The other cables of the place that the file was of, by their names; empty where it was of this one.
    pub beside: Vec<String>,
    /// What it is made as, in words.
    pub cable_kind: String,
    /// How its conductors are made, which chooses their table of resistances.
    pub conductors: Conductors,
    /// `None` where the length is not known; cores are then compared with each other.
    pub length: Option<CableLength>,
    /// Of the copper while it is measured, in degrees Celsius.
    pub temperature: Amount,
    /// Every core of the cable, spare ones too.
    pub cores: Vec<Core>,
    /// The end where the work begins.
    pub near: EndOfCable,
    /// The other end.
    pub far: EndOfCable,
    /// What could be damaged by the insulation test and must stay connected.
    pub stays_connected: Option<String>,
    /// Why a cable that carries mains has no protective conductor.
    pub no_earth: Option<String>,
    /// What hangs on the cable's terminals, for what steps speak of and for the model of the wiring.
    pub equipment: Vec<Equipment>,
    /// Zones that are called one by one; empty where the job has none.
    pub zones: Vec<Zone>,
    /// The pair that is classified before anything is put on it.
    pub control_pair: Option<ControlPair>,
    /// Figures that a sequence asks for by name.
    pub parameters: BTreeMap<String, Amount>,
    /// Every instrument at hand.
    pub instruments: Vec<Instrument>,
    /// What the document of its record says beside what was measured.
    pub document: ForDocument,
}

impl Job {
    /// The end of the cable.
    pub fn end(&self, end: End) -> &EndOfCable {
        match end {
            End::Near => &self.near,
            End::Far => &self.far,
        }
    }

    /// Whether a conductor earths an end: at the near end the one that comes in, at the far end the earth core of the cable in the earth
    /// terminal.
    pub fn has_earth_conductor(&self, end: End) -> bool {
        let earth = self.end(end).terminal_for(Purpose::Earth);
        let core = self.core_for(Purpose::Earth);
        earth.is_some_and(|earth| end == End::Near || core.is_some_and(|core| core.far == earth.name))
    }

    /// The metal in parallel with the earth conductor of an end: a reading on the earth terminal there is one of the metal as well.
    pub fn metal_beside_earth(&self, end: End) -> Option<&str> {
        let metalwork = self.end(end).metalwork.as_deref();
        metalwork.filter(|_| self.has_earth_conductor(end))
    }

    /// A core by name.
    pub fn core(&self, name: &str) -> Option<&Core> {
        self.cores.iter().find(|core| core.name == name)
    }

    /// The core that carries a purpose.
    pub fn core_for(&self, purpose: Purpose) -> Option<&Core> {
        self.cores.iter().find(|core| core.carries == purpose)
    }

    /// The core against which the others are tested: the protective conductor, or where the cable has none, its first core.
    pub fn return_core(&self) -> &Core {
        let first = || self.cores.first().expect("a checked job has cores");
        self.core_for(Purpose::Earth).unwrap_or_else(first)
    }

    /// The return core in the words of a prompt: `the earth core`, else `core white`.
    pub fn return_words(&self) -> String {
        let back = self.return_core();
        match back.carries {
            Purpose::Earth => "the earth core".into(),
            _ => format!("core {}", back.name),
        }
    }

    /// Every core but the return core.
    pub fn test_cores(&self) -> impl Iterator<Item = &Core> {
        let back = self.return_core();
        self.cores.iter().filter(move |core| core.name != back.name)
    }

    /// The two cores that are read against each other, linked at the far end; `None` where there is but one beside the return core.
    pub fn linked_pair(&self) -> Option<[&Core; 2]> {
        let mut cores = self.test_cores();
        Some([cores.next()?, cores.next()?])
    }

    /// The resistance row of a core's size.
    pub fn conductor_row(&self, core: &Core) -> Result<&Row, String> {
        self.limits.row(self.conductors.table(), &core.size.to_string())
    }

    /// Factor from 20 °C to the cable's temperature, exact: 1 + 0.004 (t - 20).
    pub fn temperature_factor(&self) -> Result<(Decimal, &Row), String> {
        resistance::temperature_factor(&self.limits, &self.temperature)
    }

    /// Whether a voltage may stand on the cores that no indicator shows: the supply's, or that of a control pair.
    pub fn may_carry_extra_low_voltage(&self) -> bool {
        self.is_extra_low_voltage() || self.control_pair.is_some()
    }

    /// Whether the cable's circuit is extra-low voltage: its supply is, or the job says how it is separated from a supply that is mains.
    pub fn is_extra_low_voltage(&self) -> bool {
        self.supply.separation.is_some() || self.supply_is_extra_low()
    }

    /// Whether the supply itself is extra-low voltage, by its nominal voltage.
    pub fn supply_is_extra_low(&self) -> bool {
        self.supply.nominal.value() <= self.extra_low_upper().value()
    }

    /// The two cores of the control pair, where both of its places are terminals that cores go to.
    pub fn control_poles(&self) -> Option<[&str; 2]> {
        let pair = self.control_pair.as_ref()?;
        let core = |at: &At| {
            let is_in = |core: &&Core| match at {
                At::Near(terminal) => core.near == *terminal,
                At::Far(terminal) => core.far == *terminal,
                _ => false,
            };
            self.cores.iter().find(is_in).map(|core| core.name.as_str())
        };
        Some([core(&pair.between.0)?, core(&pair.between.1)?])
    }

    /// The greatest alternating voltage that is extra-low.
    pub fn extra_low_upper(&self) -> &Amount {
        self.needed(EXTRA_LOW_UPPER)
    }

    /// How long proved-dead work may rest before it counts as left, in seconds.
    pub fn left_after(&self) -> &Amount {
        self.needed(LEFT_AFTER)
    }

    fn needed(&self, (table, of): (Table, &str)) -> &Amount {
        &self.limits.row(table, of).expect("no job is read without it").value
    }

    /// A piece of equipment by name.
    pub fn equipment_called(&self, name: &str) -> Option<&Equipment> {
        self.equipment.iter().find(|there| there.name == name)
    }

    /// The contacts, in the job's order.
    pub fn contacts(&self) -> impl Iterator<Item = (&str, &Contact)> {
        self.equipment.iter().filter_map(|there| match &there.is {
            Is::Contact(contact) => Some((there.name.as_str(), contact)),
            _ => None,
        })
    }

    /// The motors, in the job's order.
    pub fn motors(&self) -> impl Iterator<Item = (&str, &Motor)> {
        self.equipment.iter().filter_map(|there| match &there.is {
            Is::Motor(motor) => Some((there.name.as_str(), motor)),
            _ => None,
        })
    }

    /// Supplies of the equipment's own, in the job's order.
    pub fn own_supplies(&self) -> impl Iterator<Item = (&str, &OwnSupply)> {
        self.equipment.iter().filter_map(|there| match &there.is {
            Is::Supply(supply) => Some((there.name.as_str(), supply)),
            _ => None,
        })
    }

    /// The live terminals for mains at an end; those of the near end can be joined while insulation is measured.
    pub fn mains_at(&self, end: End) -> impl Iterator<Item = &Terminal> {
        self.end(end)
            .terminals
            .iter()
            .filter(|terminal| terminal.takes.is_mains())
    }

    /// The cores that are not for mains and share the box of an end with mains.
    pub fn beside_mains(&self, end: End) -> impl Iterator<Item = &Core> {
        let mains = !self.supply_is_extra_low() && self.mains_at(end).next().is_some();
        let is_beside = move |core: &&Core| mains && core.carries != Purpose::Earth && !core.carries.is_mains();
        self.cores.iter().filter(is_beside)
    }

    /// The control pair, where a supply of its own feeds it and not the mains.
    pub fn isolated_pair(&self) -> Option<&ControlPair> {
        self.control_pair
            .as_ref()
            .filter(|_| self.own_supplies().next().is_some())
    }

    /// The controls that a person sets, each once, in the job's order.
    pub fn controls(&self) -> Vec<&str> {
        let mut found: Vec<&str> = Vec::new();
        for (_, contact) in self.contacts() {
            if let MovedBy::Control(control) = &contact.moved_by
                && !found.contains(&control.as_str())
            {
                found.push(control);
            }
        }
        found
    }
}
