//! The wiring as a network, made from the job alone: points, cores, supply, thermostat, valve, boiler, leakage, coupling.
//!
//! The rule inside: every element and point has one name, made by the functions here, so that the world and the faults
//! speak of the same thing. Floats predict what a display will show; they never judge.

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use super::element::Supply;
use super::error::{InstallationError, NetworkError};
use super::network::Network;
use crate::pure::job::{Core, End, Job, Purpose};

/// Real conductors lie a few per cent below the greatest resistances of the tables (common practice).
pub const SHARE_OF_MAXIMUM: f64 = 0.97;
/// How far one core may differ from another, as a share. Our own choice.
const CORE_SPREAD: f64 = 0.003;
/// The length of a cable whose length the job does not know, in metres. Our own choice.
const UNKNOWN_LENGTH_METRES: f64 = 15.0;
/// Insulation between two cores, in ohm metres: hundreds of gigohms for a metre of sound cable (common practice).
const INSULATION_OHM_METRES: f64 = 200e9;
/// Coupling between neighbouring cores, in farads a metre: the upper end of what flat cable has (from memory).
const COUPLING_FARADS_PER_METRE: f64 = 100e-12;
/// A sound clamp or terminal bar, in ohms. Our own choice.
const CLAMP_OHMS: f64 = 0.002;
/// Series resistance of the supply, in ohms: a usual loop at a socket. Our own choice.
const SUPPLY_OHMS: f64 = 0.3;
/// From neutral to earth at the origin of a TN-C-S supply, in ohms. Our own choice.
const NEUTRAL_TO_EARTH_OHMS: f64 = 0.05;
/// How far the supply may stand from its nominal voltage, as a share. Our own choice, well inside the supply window.
const SUPPLY_SPREAD: f64 = 0.02;

/// Line and neutral where the supply comes in, before the isolator.
pub(super) const ORIGIN: [&str; 2] = ["origin line", "origin neutral"];
/// The earth where the supply comes in.
pub(super) const EARTH: &str = "origin earth";
/// Line and neutral of the source that stays live.
pub(super) const KNOWN: [&str; 2] = ["known line", "known neutral"];
/// Where the live cores are joined.
pub(super) const JOINT: &str = "joint";
/// The call of another zone, which is off.
pub(super) const OTHER_ZONE: &str = "call of another zone";
/// The poles of the isolator; a fused connection unit switches both.
pub(super) const ISOLATOR: [&str; 2] = ["isolator line", "isolator neutral"];
/// From the isolator to the neutral terminal at the near end.
pub(super) const NEUTRAL_FEED: &str = "neutral feed";
/// From the isolator to the line terminal at the near end.
pub(super) const LINE_FEED: &str = "line feed";
/// The thermostat's contact, with the lead inside it that leads there.
pub(super) const THERMOSTAT: &str = "thermostat contact";
pub(super) const THERMOSTAT_LEAD: &str = "thermostat lead";
/// The valve's motor and end switch, with the lead that leads to the switch.
pub(super) const MOTOR: &str = "valve motor";
pub(super) const END_SWITCH: &str = "end switch contact";
pub(super) const END_SWITCH_LEAD: &str = "end switch lead";
/// Behind those leads.
const INSIDE_THERMOSTAT: &str = "inside the thermostat";
const INSIDE_VALVE: &str = "inside the valve";

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
pub(super) fn terminal_point(terminal: &str, end: End) -> String {
    format!("terminal {terminal} {end:?}")
}

/// A core in its terminal, as an element.
pub(super) fn clamp(core: &str, end: End) -> String {
    format!("clamp of {core} {end:?}")
}

/// The point of the terminal with a purpose, where the end has one.
pub(super) fn purpose_point(job: &Job, purpose: Purpose, end: End) -> Option<String> {
    job.end(end)
        .terminal_for(purpose)
        .map(|terminal| terminal_point(&terminal.name, end))
}

/// Puts a core into a terminal.
pub(super) fn fit_core(network: &mut Network, core: &Core, terminal: &str, end: End) -> Result<(), NetworkError> {
    let terminal = terminal_point(terminal, end);
    network.link(
        &clamp(&core.name, end),
        &core_point(&core.name, end),
        &terminal,
        CLAMP_OHMS,
    )
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
    network.node(OTHER_ZONE);
    add_cable(&mut network, job, &mut even)?;
    add_supply(&mut network, job, &mut even).map_err(wiring)?;
    add_loads(&mut network, job).map_err(wiring)?;
    Ok(network)
}

/// The length of the cable in metres, which the world knows even where the job does not.
pub(super) fn metres(job: &Job) -> f64 {
    job.length
        .as_ref()
        .map_or(UNKNOWN_LENGTH_METRES, |length| float(length.value()))
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
            fit_core(network, core, core.terminal(end), end).map_err(wiring)?;
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
    let mut volts = || nominal * (1.0 + SUPPLY_SPREAD * even());
    network.source("supply", ORIGIN[0], ORIGIN[1], volts(), SUPPLY_OHMS)?;
    network.source("known source", KNOWN[0], KNOWN[1], volts(), SUPPLY_OHMS)?;
    network.resistor("earthing", ORIGIN[1], EARTH, NEUTRAL_TO_EARTH_OHMS)?;
    network.resistor("earthing of the known source", KNOWN[1], EARTH, NEUTRAL_TO_EARTH_OHMS)?;
    for pole in 0..2 {
        network.contact(ISOLATOR[pole], ORIGIN[pole], &fed(pole))?;
        network.set_contact(ISOLATOR[pole], true)?;
    }
    let feeds = [
        (LINE_FEED, Purpose::PermanentLive, fed(0)),
        (NEUTRAL_FEED, Purpose::Neutral, fed(1)),
        ("earth feed", Purpose::Earth, EARTH.to_owned()),
    ];
    for (name, purpose, from) in feeds {
        if let Some(terminal) = purpose_point(job, purpose, End::Near) {
            network.resistor(name, &from, &terminal, CLAMP_OHMS)?;
        }
    }
    Ok(())
}

/// Behind a pole of the isolator.
fn fed(pole: usize) -> String {
    format!("behind {}", ISOLATOR[pole])
}

/// Between what the thermostat's contact lies: the permanent and the switched live, or the two volt-free terminals.
pub(super) fn thermostat(job: &Job) -> Option<[String; 2]> {
    let point = |purpose| purpose_point(job, purpose, End::Far);
    if let (Some(live), Some(call)) = (point(Purpose::PermanentLive), point(Purpose::SwitchedLive)) {
        return Some([live, call]);
    }
    let volt_free: Vec<_> = (job.far.terminals.iter())
        .filter(|terminal| terminal.takes == Purpose::VoltFree)
        .map(|terminal| terminal_point(&terminal.name, End::Far))
        .collect();
    <[String; 2]>::try_from(volt_free).ok()
}

/// Whatever hangs on the terminals, as far as the two ends have terminals for it.
fn add_loads(network: &mut Network, job: &Job) -> Result<(), NetworkError> {
    let point = |purpose, end| purpose_point(job, purpose, end);
    let (live, switched) = (Purpose::PermanentLive, Purpose::SwitchedLive);
    if let Some([from, to]) = thermostat(job) {
        network.resistor(THERMOSTAT_LEAD, &from, INSIDE_THERMOSTAT, 0.0)?;
        network.contact(THERMOSTAT, INSIDE_THERMOSTAT, &to)?;
    }
    let Some(neutral) = point(Purpose::Neutral, End::Near) else {
        return Ok(());
    };
    if let Some(call) = point(switched, End::Near) {
        let volts = float(job.supply.nominal.value());
        let ohms = volts * volts / float(job.circuit.valve_motor.value());
        network.resistor(MOTOR, &call, &neutral, ohms)?;
    }
    if let (Some(live), Some(boiler)) = (point(live, End::Near), point(Purpose::EndSwitch, End::Near)) {
        network.resistor(END_SWITCH_LEAD, &live, INSIDE_VALVE, 0.0)?;
        network.contact(END_SWITCH, INSIDE_VALVE, &boiler)?;
        network.resistor(
            "boiler input",
            &boiler,
            &neutral,
            float(job.circuit.boiler_input.value()),
        )?;
    }
    Ok(())
}
