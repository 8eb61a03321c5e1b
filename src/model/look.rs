//! What eyes and fingers find at an installation, in the words of the step that looks.
//!
//! The rule inside: it is answered from the wiring as it stands, faults and all; what the step expects is looked at only where the
//! thing is none of the wiring and no fault names it.

use super::installation::Installation;
use super::wiring;
use crate::job::{End, Is};
use crate::plan::{Look, Subject};

/// What is typed for what was seen: a word of the step, for what moved all of them or `none`, else `found` and what it was.
pub fn typed(look: &Look, seen: &[String]) -> String {
    let known = seen.iter().all(|word| look.words.contains(word));
    match (seen, &look.subject) {
        ([], Subject::Moved) => "none".into(),
        ([], _) => "found nothing".into(),
        (several, Subject::Moved) if known => several.join(", "),
        ([one], _) if known => one.clone(),
        (other, _) => format!("found {}", other.join(", ")),
    }
}

/// Below this a core is the one that is linked at the other end, in ohms: an open core has more (common practice).
const LINKED_OHMS: f64 = 1000.0;

impl Installation {
    /// What is seen where a step looks: one word, or for [`Subject::Moved`] and [`Subject::Identity`] all the names that are.
    ///
    /// # Panics
    /// When the look names a core or a piece of equipment that the job lacks, which no bound plan does.
    pub fn sees(&self, look: &Look) -> Vec<String> {
        let either = |first: bool, yes: &str, no: &str| vec![if first { yes } else { no }.to_owned()];
        match &look.subject {
            Subject::Tug { core, end } => either(self.loose.contains(&wiring::clamp(core, *end)), "moves", "holds"),
            Subject::Identity { .. } => self.linked_cores(),
            Subject::Polarity { core, end } => vec![self.marking(core, *end)],
            Subject::Plate(end) => self
                .plate(*end)
                .map_or_else(|| look.expected.clone(), |word| vec![word]),
            Subject::Lever(motor) => either(self.is_open(motor), "slack", "firm"),
            Subject::Pin(motor) => either(self.is_open(motor), "up", "down"),
            Subject::Warmth(motor) => either(self.is_open(motor), "warm", "cold"),
            Subject::Load(load) => either(self.load_runs(load), "runs", "still"),
            Subject::Moved => self.moved(),
            Subject::Thing(thing) => self
                .things
                .get(thing)
                .map_or_else(|| look.expected.clone(), |word| vec![word.clone()]),
        }
    }

    /// Near ends of cores that are joined to the near end of the return core, as a link at the far end joins them.
    fn linked_cores(&self) -> Vec<String> {
        let back = wiring::core_point(&self.job.return_core().name, End::Near);
        let linked = |core: &str| {
            let ohms = self.network.resistance(&wiring::core_point(core, End::Near), &back);
            ohms.expect("both are cores of the job") < LINKED_OHMS
        };
        let cores = self.job.test_cores().map(|core| core.name.clone());
        cores.filter(|core| linked(core)).collect()
    }

    /// What is marked at the terminal into which a core really goes.
    fn marking(&self, core: &str, end: End) -> String {
        let into = self.terminal_of(core, end);
        let marked = self.job.end(end).terminals.iter().find(|there| there.name == into);
        marked
            .expect("cores go to terminals of the job")
            .takes
            .words()
            .to_owned()
    }

    fn plate(&self, end: End) -> Option<String> {
        let by_job = self.job.control_pair.as_ref().map(|pair| pair.nature(end));
        let nature = self.plates.get(&end).copied().or(by_job);
        nature.map(|nature| nature.words().to_owned())
    }

    /// Whether a motor's valve has arrived at open.
    ///
    /// # Panics
    /// When the job has no such motor.
    pub fn is_open(&self, motor: &str) -> bool {
        let found = self.movers.iter().find(|(name, _)| name == motor);
        found.expect("a bound plan names motors of the job").1.is_open()
    }

    fn load_runs(&self, load: &str) -> bool {
        let there = self
            .job
            .equipment_called(load)
            .expect("a bound plan names equipment of the job");
        match &there.is {
            Is::Load(is) => self.runs(&wiring::load_of(load), is.volts.as_ref()),
            Is::Motor(is) => self.runs(&wiring::motor_of(load), is.volts.as_ref()),
            Is::Contact(_) | Is::Supply(_) => panic!("a bound plan looks whether loads and motors run"),
        }
    }

    /// Actuators and flow meters of the zones that are open, in the job's order; without zones, the motors.
    fn moved(&self) -> Vec<String> {
        if self.job.zones.is_empty() {
            let motors = self.job.motors().map(|(name, _)| name.to_owned());
            return motors.filter(|motor| self.is_open(motor)).collect();
        }
        let mut found = Vec::new();
        for zone in &self.job.zones {
            found.extend(zone.actuators.iter().filter(|motor| self.is_open(motor)).cloned());
            let flows = zone.meters.iter().filter(|(_, motor)| self.is_open(motor));
            found.extend(flows.map(|(meter, _)| meter.clone()));
        }
        found
    }
}
