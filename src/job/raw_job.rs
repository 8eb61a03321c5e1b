//! A job as it is written, and how it is read: with every error of meaning at once.
//!
//! The rule inside: a job is made only where nothing was found wrong.

use std::collections::BTreeMap;

use rust_decimal::Decimal;
use serde::Deserialize;

use super::cable::{RawCable, RawCore};
use super::cable_length::{self, CableLength};
use super::check::{Check, check_format};
use super::document::RawDocument;
use super::end::{EndOfCable, Terminal};
use super::instrument::{Ability, Instrument};
use super::model::{Core, Job, NEEDED, Place};
use super::purpose::Purpose;
use super::raw_equipment::{RawControlPair, RawEquipment, RawFittings, RawZone};
use super::supply::RawSupply;
use crate::judge::resistance;
use crate::judge::window::Decision;
use crate::limits::{self, Limits, Set};
use crate::located::{self, Located, Problem, Problems, Text};
use crate::value::quantity::{Amount, Unit};

/// The version of the job format that this program writes and reads.
pub const FORMAT: &str = "1.1";

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "Job")]
pub(super) struct RawJob {
    format: Located<String>,
    place: Place,
    engineer: Located<String>,
    edition: Located<String>,
    /// Sets of limits of the job's own, in the shape of the shipped ones.
    #[serde(default)]
    pub(super) limits: Vec<Located<Set>>,
    #[serde(default)]
    decision: Decision,
    pub(super) supply: RawSupply,
    pub(super) cable: RawCable,
    /// The other cables of the file that it was cut out of, by their names.
    #[serde(default)]
    pub(super) beside: Vec<Located<String>>,
    pub(super) near: RawEnd,
    pub(super) far: RawEnd,
    #[serde(default)]
    stays_connected: Option<Located<String>>,
    #[serde(default)]
    no_earth: Option<Located<String>>,
    #[serde(default)]
    pub(super) equipment: Vec<RawEquipment>,
    #[serde(default)]
    pub(super) zones: Vec<RawZone>,
    #[serde(default)]
    control_pair: Option<RawControlPair>,
    #[serde(default)]
    pub(super) parameters: BTreeMap<String, Located<Amount>>,
    pub(super) instruments: Located<Vec<RawInstrument>>,
    #[serde(default)]
    document: RawDocument,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "End")]
pub(super) struct RawEnd {
    name: Located<String>,
    pub(super) terminals: Located<Vec<RawTerminal>>,
    /// Metal that touches the earth terminal, in a few words.
    #[serde(default)]
    metalwork: Option<Located<String>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "Terminal")]
pub(super) struct RawTerminal {
    pub(super) name: Located<String>,
    takes: Purpose,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename = "Instrument")]
pub(super) struct RawInstrument {
    pub(super) name: Located<String>,
    kind: String,
    serial: Located<String>,
    calibrated: Located<String>,
    due: Located<String>,
    #[serde(default)]
    profile: Option<String>,
    category: String,
    #[serde(default)]
    nulls: Option<Located<bool>>,
    pub(super) can: Vec<Located<Ability>>,
}

impl Check {
    fn end<'c>(&mut self, raw: &RawEnd, cores: impl Iterator<Item = &'c str> + Clone) -> EndOfCable {
        self.name(&raw.name, "an end");
        if raw.terminals.is_empty() {
            self.say(Problem::new(
                &raw.terminals.span,
                format!("the end `{}` has no terminals", raw.name.value),
            ));
        }
        for terminal in &raw.terminals.value {
            self.name(&terminal.name, "a terminal");
        }
        self.unique(raw.terminals.iter().map(|t| &t.name), "terminals of one end");
        if let Some(metalwork) = &raw.metalwork {
            self.name(metalwork, "metalwork");
            if !raw.terminals.iter().any(|terminal| terminal.takes == Purpose::Earth) {
                let what = format!(
                    "the {} has `metalwork` and no earth terminal that it could touch",
                    raw.name.value
                );
                self.say(Problem::new(&metalwork.span, what).hint("list its earth terminal, or take `metalwork` out"));
            }
        }
        EndOfCable {
            name: raw.name.value.clone(),
            terminals: raw
                .terminals
                .iter()
                .map(|t| Terminal {
                    name: t.name.value.clone(),
                    takes: t.takes,
                    has_core: cores.clone().any(|name| *name == t.name.value),
                })
                .collect(),
            metalwork: raw.metalwork.as_ref().map(|metalwork| metalwork.value.clone()),
        }
    }

    fn instruments(&mut self, raw: &Located<Vec<RawInstrument>>, limits: Option<&Limits>) -> Vec<Instrument> {
        self.unique(raw.iter().map(|i| &i.name), "instruments");
        if !raw.iter().any(|i| i.can.iter().any(|a| a.value == Ability::ProveDead)) {
            self.say(
                Problem::new(&raw.span, "no instrument can prove dead")
                    .hint("list a two-pole voltage indicator with `ProveDead`; a multimeter never proves dead"),
            );
        }
        raw.iter()
            .map(|instrument| self.instrument(instrument, limits))
            .collect()
    }

    pub(super) fn instrument(&mut self, raw: &RawInstrument, limits: Option<&Limits>) -> Instrument {
        self.name(&raw.name, "an instrument");
        self.name(&raw.serial, "a serial number");
        for ability in &raw.can {
            if let Some(limits) = limits {
                self.accuracy(&raw.name, ability, limits);
            }
            self.ability(ability);
        }
        let proves = raw.can.iter().find(|a| a.value == Ability::ProveDead);
        let ohms = raw.can.iter().any(|a| matches!(a.value, Ability::Resistance { .. }));
        if let (Some(proves), true) = (proves, ohms) {
            self.say(Problem::new(
                &proves.span,
                format!("`{}` is a multimeter, which never proves dead", raw.name.value),
            ));
        }
        let reads_leads =
            |a: &Located<Ability>| matches!(a.value, Ability::Continuity { .. } | Ability::Resistance { .. });
        if let Some(nulls) = &raw.nulls
            && !raw.can.iter().any(reads_leads)
        {
            let what = format!(
                "`{}` reads neither continuity nor ohms, so it has no leads to null",
                raw.name.value
            );
            self.say(Problem::new(&nulls.span, what).hint("take `nulls` out, or list its `Continuity`"));
        }
        let (calibrated, due) = (self.date(&raw.calibrated), self.date(&raw.due));
        // a text that is no date was told already
        if due < calibrated && due != jiff::civil::Date::default() {
            self.say(Problem::new(
                &raw.due.span,
                format!("`{due}` is before the calibration of `{calibrated}`"),
            ));
        }
        Instrument {
            name: raw.name.value.clone(),
            kind: raw.kind.clone(),
            serial: raw.serial.value.clone(),
            calibrated,
            due,
            profile: raw.profile.clone(),
            category: raw.category.clone(),
            nulls: raw.nulls.as_ref().is_some_and(|nulls| nulls.value),
            can: raw.can.iter().map(|a| a.value.clone()).collect(),
        }
    }

    /// The edition that judges, among the shipped ones and the job's own.
    fn limits(&mut self, raw: &RawJob, edition: Option<&str>) -> Option<std::sync::Arc<Limits>> {
        let sets: Vec<Set> = raw.limits.iter().map(|set| set.value.clone()).collect();
        let all = match limits::with(&sets) {
            Ok(all) => all,
            Err(what) => {
                let span = raw.limits.first().map_or(0..0, |set| set.span.clone());
                self.say(Problem::new(&span, what).hint("`coreproof limits` shows the sets there are"));
                return None;
            }
        };
        let named = edition.unwrap_or(&raw.edition);
        match limits::edition(&all, named) {
            Ok(limits) => {
                for what in NEEDED.iter().filter_map(|(table, of)| limits.row(*table, of).err()) {
                    let hint = "let its set build on one that has it: `builds_on: [\"IEC\", \"practice\"]`";
                    self.say(Problem::new(&raw.edition.span, what).hint(hint));
                }
                Some(limits)
            }
            Err(what) => {
                self.say(Problem::new(&raw.edition.span, what));
                None
            }
        }
    }

    fn temperature(&mut self, temperature: &Located<Amount>, limits: &Limits) {
        if temperature.unit != Unit::Celsius {
            return;
        }
        if let Err(what) = resistance::temperature_factor(limits, temperature) {
            self.say(
                Problem::new(&temperature.span, what).hint("give the temperature of the cable while it is tested"),
            );
        }
    }
}

/// Reads and checks a job; the error holds every problem found.
pub fn read(text: &Text) -> Result<Job, Problems> {
    read_by(text, None)
}

/// Reads a job as if it had chosen another edition.
pub fn read_by(text: &Text, edition: Option<&str>) -> Result<Job, Problems> {
    located::read_all(&text.text, |raw: RawJob| checked(raw, text, edition))
}

fn checked(raw: RawJob, text: &Text, edition: Option<&str>) -> Result<Job, Problems> {
    let mut check = Check {
        problems: Problems::default(),
    };
    check_format(&raw.format, FORMAT, "job", &mut check.problems);
    if !check.lengths(&raw) {
        return Err(check.problems);
    }
    check.name(&raw.engineer, "the engineer");
    check.name(&raw.cable.name, "the cable");
    raw.beside.iter().for_each(|name| check.name(name, "the cable"));
    check.unique(std::iter::once(&raw.cable.name).chain(&raw.beside), "cables");
    if let Some(length) = &raw.cable.length {
        check.above_zero(length, Unit::Metre);
        let metres = length.value.value();
        if length.unit == Unit::Metre && Decimal::ZERO < metres && !cable_length::is_in_range(metres) {
            let what = format!("`{}` is outside 0.5 m to 1000 m", length.value);
            check.say(Problem::new(&length.span, what).hint("leave the length out where it is not known"));
        }
    }
    let cores = || raw.cable.cores.iter();
    let near = check.end(&raw.near, cores().map(|core| core.near.value.as_str()));
    let far = check.end(&raw.far, cores().map(|core| core.far.value.as_str()));
    check.cores(&raw.cable, &near, &far);
    check.earth(&raw.cable, raw.no_earth.as_ref());
    let fittings = RawFittings {
        equipment: &raw.equipment,
        zones: &raw.zones,
        control_pair: raw.control_pair.as_ref(),
        near: &near,
        far: &far,
        cores: raw.cable.cores.iter().map(|core| core.terminals()).collect(),
    };
    fittings.check(&mut check);
    for (name, amount) in &raw.parameters {
        let name = Located {
            value: name.clone(),
            span: amount.span.clone(),
        };
        check.name(&name, "a parameter");
    }
    let limits = check.limits(&raw, edition);
    if let Some(limits) = &limits {
        for core in raw.cable.cores.iter().filter(|c| c.size.unit == Unit::SquareMillimetre) {
            if let Err(what) = limits.row(raw.cable.conductors.table(), &core.size.value.to_string()) {
                check.say(Problem::new(&core.size.span, what));
            }
        }
        check.temperature(&raw.cable.temperature, limits);
    }
    raw.supply
        .check(&mut check, limits.as_deref(), (&raw.cable, &raw.equipment));
    let instruments = check.instruments(&raw.instruments, limits.as_deref());
    let document = raw.document.read(&mut check);
    let (Some(limits), true) = (limits, check.problems.is_empty()) else {
        check.problems.sort_by_key(|p| p.span.start);
        return Err(check.problems);
    };
    Ok(Job {
        text: text.clone(),
        place: raw.place,
        engineer: raw.engineer.value,
        limits,
        own_limits: raw.limits.into_iter().map(|set| set.value).collect(),
        decision: raw.decision,
        supply: raw.supply.supply(),
        cable: raw.cable.name.value,
        beside: raw.beside.into_iter().map(|name| name.value).collect(),
        cable_kind: raw.cable.kind,
        conductors: raw.cable.conductors,
        length: raw.cable.length.map(|length| CableLength::stated(length.value)),
        temperature: raw.cable.temperature.value,
        cores: raw.cable.cores.value.into_iter().map(core).collect(),
        near,
        far,
        stays_connected: raw.stays_connected.map(|s| s.value),
        no_earth: raw.no_earth.map(|s| s.value),
        equipment: raw.equipment.into_iter().map(RawEquipment::equipment).collect(),
        zones: raw.zones.into_iter().map(RawZone::zone).collect(),
        control_pair: raw.control_pair.map(RawControlPair::pair),
        parameters: raw
            .parameters
            .into_iter()
            .map(|(name, amount)| (name, amount.value))
            .collect(),
        instruments,
        document,
    })
}

fn core(raw: RawCore) -> Core {
    Core {
        name: raw.name.value,
        sleeve: raw.sleeve,
        size: raw.size.value,
        carries: raw.carries.value,
        near: raw.near.value,
        far: raw.far.value,
    }
}
