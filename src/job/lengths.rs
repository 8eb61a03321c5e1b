//! How long the lists of a job may be.
//!
//! The rule inside: lengths are looked at before anything else is, because what is worked out of a list grows with its square.

use std::ops::Range;

use super::check::Check;
use super::instrument::Ability;
use super::raw_equipment::{RawEquipment, RawZone};
use super::raw_job::{RawInstrument, RawJob, RawTerminal};
use super::supply::RawFurther;
use crate::located::{Located, Problem};

/// Most entries of one list of a job; no place has more.
const ENTRIES_MAX: usize = 200;
/// Most supplies beside that of the cable: each adds facts that a plan is proved by.
const FURTHER_MAX: usize = 12;
/// Most rows of a set of limits; the shipped ones have some hundred.
const ROWS_MAX: usize = 5000;

impl Check {
    /// Whether every list has a length that a job has.
    pub(super) fn lengths(&mut self, raw: &RawJob) -> bool {
        let before = self.problems.total();
        self.at_most(&raw.cable.cores, "cores", ENTRIES_MAX, |core| core.name.span.clone());
        self.at_most(&raw.beside, "cables", ENTRIES_MAX, |name| name.span.clone());
        for end in [&raw.near, &raw.far] {
            let place = |terminal: &RawTerminal| terminal.name.span.clone();
            self.at_most(&end.terminals, "terminals at one end", ENTRIES_MAX, place);
        }
        let place = |further: &RawFurther| further.name.span.clone();
        self.at_most(&raw.supply.further, "further supplies", FURTHER_MAX, place);
        self.at_most(&raw.equipment, "pieces of equipment", ENTRIES_MAX, RawEquipment::place);
        self.at_most(&raw.zones, "zones", ENTRIES_MAX, RawZone::place);
        for zone in &raw.zones {
            let place = |(meter, _): &(Located<String>, _)| meter.span.clone();
            self.at_most(zone.meters(), "flow meters of a zone", ENTRIES_MAX, place);
            let place = |actuator: &Located<String>| actuator.span.clone();
            self.at_most(zone.actuators(), "actuators of a zone", ENTRIES_MAX, place);
        }
        let place = |instrument: &RawInstrument| instrument.name.span.clone();
        self.at_most(&raw.instruments, "instruments", ENTRIES_MAX, place);
        for instrument in raw.instruments.iter() {
            let place = |can: &Located<Ability>| can.span.clone();
            self.at_most(&instrument.can, "abilities of an instrument", ENTRIES_MAX, place);
        }
        let parameters: Vec<_> = raw.parameters.values().collect();
        self.at_most(&parameters, "parameters", ENTRIES_MAX, |amount| amount.span.clone());
        self.at_most(&raw.limits, "sets of limits", ENTRIES_MAX, |set| set.span.clone());
        for set in &raw.limits {
            self.at_most(&set.rows, "rows of a set of limits", ROWS_MAX, |_| set.span.clone());
            let place = |_: &_| set.span.clone();
            self.at_most(&set.editions, "editions of a set of limits", ENTRIES_MAX, place);
        }
        self.problems.total() == before
    }

    /// A list of the file is of a length that a job has; the place is that of the first too many.
    fn at_most<T>(&mut self, all: &[T], of: &str, most: usize, place: impl Fn(&T) -> Range<usize>) {
        if let Some(beyond) = all.get(most) {
            let what = format!("the job lists {} {of}, at most {most} are read", all.len());
            self.say(Problem::new(&place(beyond), what).hint("write a job for each part of the place"));
        }
    }
}
