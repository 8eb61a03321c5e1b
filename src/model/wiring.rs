//! The wiring as a network, made from the job alone: points, cores, supply, equipment, leakage, coupling.
//!
//! The rule inside: every element and point has one name, made by the functions here, so that the world and the faults
//! speak of the same thing. Floats predict what a display will show; they never judge.

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use super::element::{Current, Supply};
use super::error::{InstallationError, NetworkError};
use super::network::Network;
use crate::job::{At, Core, End, Is, Job, Purpose};
use crate::limits::Table;
use crate::value::quantity::Amount;

/// Real conductors lie a few per cent below the greatest resistances of the tables (common practice).
pub const SHARE_OF_MAXIMUM: f64 = 0.97;
/// How far one core may differ from another, as a share. Our own choice.
pub(crate) const CORE_SPREAD: f64 = 0.003;
/// The length of a cable whose length the job does not know, in metres. Our own choice.
const UNKNOWN_LENGTH_METRES: f64 = 15.0;
/// Insulation between two cores, in ohm metres: hundreds of gigohms for a metre of sound cable (common practice).
const INSULATION_OHM_METRES: f64 = 200e9;
/// Coupling between neighbouring cores, in farads a metre: the upper end of what flat cable has (from memory).
const COUPLING_FARADS_PER_METRE: f64 = 100e-12;
/// A sound clamp or terminal bar, in ohms. Our own choice.
pub(super) const CLAMP_OHMS: f64 = 0.002;
/// Metal that touches an end, through its bonding to the main earthing terminal, in ohms: a bonding conductor is taken for good up to
/// 0.05 ohm (common practice), and the pipe's own joints have as much. Our own choice.
const METALWORK_OHMS: f64 = 0.1;
/// Series resistance of the supply, in ohms: a usual loop at a socket. Our own choice.
const SUPPLY_OHMS: f64 = 0.3;
/// From neutral to earth at the origin of a TN-C-S supply, in ohms. Our own choice.
const NEUTRAL_TO_EARTH_OHMS: f64 = 0.05;
/// Mains where the job's own supply is extra-low voltage, in volts: what the isolator and the known source carry. Our own choice.
const MAINS_VOLTS: f64 = 230.0;
/// What stands in series with a supply of the equipment's own where the job does not say, in ohms: a call input. Our own choice.
const OWN_SUPPLY_OHMS: f64 = 1000.0;
/// How far the supply may stand from its nominal voltage, as a share. Our own choice, well inside the supply window.
const SUPPLY_SPREAD: f64 = 0.02;

/// Line and neutral where the supply comes in, before the isolator.
pub(super) const ORIGIN: [&str; 2] = ["origin line", "origin neutral"];
/// The earth where the supply comes in.
pub(super) const EARTH: &str = "origin earth";
/// The end of the earth conductor that comes to the near end.
const UPSTREAM: &str = "upstream earth at the near end";
/// The same conductor where it goes into its terminal.
pub(super) const EARTH_COMING_IN: &str = "earth conductor at the near end";
/// That conductor in its terminal, as an element.
pub(super) const EARTH_CLAMP: &str = "clamp of the earth that comes in";
/// Line and neutral of the source that stays live.
pub(super) const KNOWN: [&str; 2] = ["known line", "known neutral"];
/// Where the live cores are joined.
pub(super) const JOINT: &str = "joint";
/// Where the live terminals are joined.
pub(super) const TERMINALS: &str = "terminals joined";
/// The far end of the clip lead that joins the earth core to the earth of the building.
pub(super) const CLIP: &str = "earth clip";
/// The call of another zone, which is off.
pub(super) const OTHER_ZONE: &str = "call of another zone";
/// The poles of the isolator; a fused connection unit switches both.
pub(super) const ISOLATOR: [&str; 2] = ["isolator line", "isolator neutral"];
/// From the isolator and the main earth to the terminals at the near end.
pub(super) const LINE_FEED: &str = "line feed";
pub(super) const NEUTRAL_FEED: &str = "neutral feed";
pub(super) const EARTH_FEED: &str = "earth feed";

/// The end of a core.
pub(super) fn core_point(core: &str, end: End) -> String {
    format!("core {core} {end:?}")
}

/// The middle of a core: leakage and coupling sit here, and faults.
pub(super) fn middle(core: &str) -> String {
    format!("core {core} middle")
}

/// Half a core, as an element between an end and the middle.
pub(super) fn half(core: &str, end: End) -> String {
    format!("half of {core} {end:?}")
}

/// A terminal.
pub(crate) fn terminal_point(terminal: &str, end: End) -> String {
    format!("terminal {terminal} {end:?}")
}

/// A place where equipment is wired.
pub(super) fn place(at: &At) -> String {
    match at {
        At::Near(terminal) => terminal_point(terminal, End::Near),
        At::Far(terminal) => terminal_point(terminal, End::Far),
        At::Inside(place) => format!("inside {place}"),
        At::Line => fed(0),
        At::Neutral => fed(1),
        At::Earth => EARTH.to_owned(),
    }
}

/// The point inside a contact, a motor or a supply, behind its lead or before its isolator.
pub(super) fn within(equipment: &str) -> String {
    format!("within {equipment}")
}

/// The lead of a contact or a motor, from the first place where it is wired.
pub(super) fn lead_of(equipment: &str) -> String {
    format!("lead of {equipment}")
}

/// The contact of a piece of equipment, as an element.
pub(super) fn contact_of(equipment: &str) -> String {
    format!("contact of {equipment}")
}

/// A motor's winding or an actuator's heater, as an element.
pub(super) fn motor_of(equipment: &str) -> String {
    format!("motor of {equipment}")
}

/// A load, as an element.
pub(super) fn load_of(equipment: &str) -> String {
    format!("load of {equipment}")
}

/// A supply of the equipment's own, as an element.
pub(super) fn supply_of(equipment: &str) -> String {
    format!("supply of {equipment}")
}

/// What the point of isolation switches of a supply of the equipment's own.
pub(super) fn isolator_of(equipment: &str) -> String {
    format!("isolator of {equipment}")
}

/// A core in its terminal, as an element.
pub(super) fn clamp(core: &str, end: End) -> String {
    format!("clamp of {core} {end:?}")
}

/// Metal from the earth terminal of an end to the main earthing terminal, as an element.
pub(super) fn metalwork(end: End) -> String {
    format!("metalwork {end:?}")
}

/// The point of the terminal with a purpose, where the end has one.
pub(super) fn purpose_point(job: &Job, purpose: Purpose, end: End) -> Option<String> {
    job.end(end)
        .terminal_for(purpose)
        .map(|terminal| terminal_point(&terminal.name, end))
}

/// Puts a core into a terminal, whose clamp has so many ohms.
pub(super) fn fit_core(
    network: &mut Network,
    core: &Core,
    terminal: &str,
    end: End,
    ohms: f64,
) -> Result<(), NetworkError> {
    let terminal = terminal_point(terminal, end);
    network.link(&clamp(&core.name, end), &core_point(&core.name, end), &terminal, ohms)
}

/// A figure of the job as a float.
pub fn float(value: Decimal) -> f64 {
    value.to_f64().expect("every decimal has a nearest float")
}

/// The wiring as it was found: connected, switched on, satisfied, sound. `even` gives numbers from -1 to 1, by which cores
/// and supplies differ from their middle values.
pub(super) fn network(job: &Job, mut even: impl FnMut() -> f64) -> Result<Network, InstallationError> {
    let wiring = |error: NetworkError| InstallationError::Wiring { why: error.to_string() };
    let hz = float(job.supply.frequency.value());
    let mut network = Network::new(Supply::Ac { hz }).map_err(wiring)?;
    for end in End::BOTH {
        for terminal in &job.end(end).terminals {
            network.node(&terminal_point(&terminal.name, end));
        }
    }
    network.node(JOINT);
    network.node(TERMINALS);
    network.node(OTHER_ZONE);
    // the clip bites the earth of the building; whether the earth core is on it is for hands
    let building = purpose_point(job, Purpose::Earth, End::Near).unwrap_or_else(|| EARTH.to_owned());
    network
        .resistor("grip of the earth clip", &building, CLIP, CLAMP_OHMS)
        .map_err(wiring)?;
    add_cable(&mut network, job, &mut even)?;
    add_supply(&mut network, job, &mut even).map_err(wiring)?;
    add_equipment(&mut network, job, &mut even).map_err(wiring)?;
    Ok(network)
}

/// The length of the cable in metres, which the world knows even where the job does not.
pub(super) fn metres(job: &Job) -> f64 {
    job.length
        .as_ref()
        .map_or(UNKNOWN_LENGTH_METRES, |length| float(length.in_force().value()))
}

fn add_cable(network: &mut Network, job: &Job, even: &mut impl FnMut() -> f64) -> Result<(), InstallationError> {
    let no_row = |why: String| InstallationError::Wiring { why };
    let wiring = |error: NetworkError| InstallationError::Wiring { why: error.to_string() };
    let metres = metres(job);
    let (factor, _) = job.temperature_factor().map_err(no_row)?;
    for core in &job.cores {
        let maximum = float(job.conductor_row(core).map_err(no_row)?.value.value() * factor) * metres;
        let ohms = maximum * SHARE_OF_MAXIMUM * (1.0 + CORE_SPREAD * even());
        for end in End::BOTH {
            let (from, to) = (core_point(&core.name, end), middle(&core.name));
            network
                .resistor(&half(&core.name, end), &from, &to, ohms / 2.0)
                .map_err(wiring)?;
            fit_core(network, core, core.terminal(end), end, CLAMP_OHMS).map_err(wiring)?;
        }
    }
    for (i, a) in job.cores.iter().enumerate() {
        for (j, b) in job.cores.iter().enumerate().skip(i + 1) {
            let (name, from, to) = (format!("{} to {}", a.name, b.name), middle(&a.name), middle(&b.name));
            let ohms = INSULATION_OHM_METRES / metres;
            network
                .resistor(&format!("insulation {name}"), &from, &to, ohms)
                .map_err(wiring)?;
            if j == i + 1 {
                let farads = COUPLING_FARADS_PER_METRE * metres;
                network
                    .capacitor(&format!("coupling {name}"), &from, &to, farads)
                    .map_err(wiring)?;
            }
        }
    }
    Ok(())
}

fn add_supply(network: &mut Network, job: &Job, even: &mut impl FnMut() -> f64) -> Result<(), NetworkError> {
    let nominal = float(job.supply.nominal.value());
    let mut volts = |middle: f64| middle * (1.0 + SUPPLY_SPREAD * even());
    network.source("supply", ORIGIN[0], ORIGIN[1], volts(nominal), SUPPLY_OHMS)?;
    network.source("known source", KNOWN[0], KNOWN[1], volts(mains(job)), SUPPLY_OHMS)?;
    network.resistor("earthing", ORIGIN[1], EARTH, NEUTRAL_TO_EARTH_OHMS)?;
    network.resistor("earthing of the known source", KNOWN[1], EARTH, NEUTRAL_TO_EARTH_OHMS)?;
    for pole in 0..2 {
        network.contact(ISOLATOR[pole], ORIGIN[pole], &fed(pole))?;
        network.set_contact(ISOLATOR[pole], true)?;
    }
    network.resistor("upstream earth", EARTH, UPSTREAM, upstream_ohms(job))?;
    let feeds = [
        (LINE_FEED, Purpose::PermanentLive, fed(0)),
        (NEUTRAL_FEED, Purpose::Neutral, fed(1)),
        (EARTH_FEED, Purpose::Earth, UPSTREAM.to_owned()),
    ];
    for (name, purpose, from) in feeds {
        // terminals of one purpose are one strip, fed at its first
        let mut strip = job.near.terminals.iter().filter(|terminal| terminal.takes == purpose);
        let Some(first) = strip.next() else { continue };
        let first = terminal_point(&first.name, End::Near);
        if purpose == Purpose::Earth {
            network.resistor(name, &from, EARTH_COMING_IN, CLAMP_OHMS)?;
            network.resistor(EARTH_CLAMP, EARTH_COMING_IN, &first, 0.0)?;
        } else {
            network.resistor(name, &from, &first, CLAMP_OHMS)?;
        }
        for next in strip {
            let to = terminal_point(&next.name, End::Near);
            network.resistor(&format!("strip to {}", next.name), &first, &to, CLAMP_OHMS)?;
        }
    }
    for end in End::BOTH {
        if let (Some(earth), Some(_)) = (purpose_point(job, Purpose::Earth, end), &job.end(end).metalwork) {
            network.resistor(&metalwork(end), &earth, EARTH, METALWORK_OHMS)?;
        }
    }
    Ok(())
}

/// The copper of the earth conductor from the main earthing terminal to the near end, in ohms; none where the job gives none.
fn upstream_ohms(job: &Job) -> f64 {
    let copper = job.supply.upstream.as_ref().and_then(|upstream| {
        let row = job
            .limits
            .row(Table::ConductorClass1And2, &upstream.earth.to_string())
            .ok()?;
        let (factor, _) = job.temperature_factor().ok()?;
        Some(float(row.value.value() * upstream.length.value() * factor) * SHARE_OF_MAXIMUM)
    });
    copper.unwrap_or(0.0)
}

/// Mains at the place, in volts: the nominal voltage of the job, or where that is extra-low, what such a place has.
pub(super) fn mains(job: &Job) -> f64 {
    if job.supply_is_extra_low() {
        MAINS_VOLTS
    } else {
        float(job.supply.nominal.value())
    }
}

/// Behind a pole of the isolator.
fn fed(pole: usize) -> String {
    format!("behind {}", ISOLATOR[pole])
}

/// Whatever hangs on the terminals, in the job's order.
fn add_equipment(network: &mut Network, job: &Job, even: &mut impl FnMut() -> f64) -> Result<(), NetworkError> {
    for there in &job.equipment {
        let (a, b) = there.is.between();
        let (name, a, b) = (&there.name, place(a), place(b));
        match &there.is {
            Is::Contact(contact) => {
                network.resistor(&lead_of(name), &a, &within(name), 0.0)?;
                network.contact(&contact_of(name), &within(name), &b)?;
                network.set_contact(&contact_of(name), contact.opens)?;
            }
            Is::Motor(motor) => {
                let volts = rated(job, motor.volts.as_ref());
                network.resistor(&lead_of(name), &a, &within(name), 0.0)?;
                let ohms = volts * volts / float(motor.power.value());
                network.resistor(&motor_of(name), &within(name), &b, ohms)?;
            }
            Is::Load(load) => network.resistor(&load_of(name), &a, &b, float(load.ohms.value()))?,
            Is::Supply(supply) => {
                let volts = float(supply.volts.value()) * (1.0 + SUPPLY_SPREAD * even());
                let ohms = supply.ohms.as_ref().map_or(OWN_SUPPLY_OHMS, |ohms| float(ohms.value()));
                let current = if supply.direct {
                    Current::Direct
                } else {
                    Current::Alternating
                };
                network.source_of(current, &supply_of(name), [&within(name), &b], volts, ohms)?;
                network.contact(&isolator_of(name), &within(name), &a)?;
                network.set_contact(&isolator_of(name), true)?;
            }
        }
    }
    Ok(())
}

/// The voltage that something is made for, in volts.
pub(super) fn rated(job: &Job, volts: Option<&Amount>) -> f64 {
    float(volts.unwrap_or(&job.supply.nominal).value())
}
