//! How far away a broken core broke, or two touch: what to read at both ends, and the command that works it out.
//!
//! The rule inside: offered for a core that is broken between its ends and for two that touch; the two readings are taken dead,
//! with every core off at both ends.

use serde::Serialize;

use crate::job::instrument::choose;
use crate::job::{End, Job};
use crate::model::fault::Fault;
use crate::value::reading::Function;

/// What tells the distance to a fault.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FarAway {
    /// As `rehearse --fault` takes it.
    pub fault: String,
    /// What is to be measured, and where, in words.
    pub words: String,
    /// The command with a blank for each reading.
    pub command: String,
}

/// What tells the distance to one of these faults, the first that has one.
pub(super) fn far_away<'a>(job: &Job, faults: impl Iterator<Item = &'a Fault>) -> Option<FarAway> {
    faults.filter_map(|fault| of(job, fault)).next()
}

fn of(job: &Job, fault: &Fault) -> Option<FarAway> {
    let (kind, cores) = fault.name.split_once(':')?;
    let [near, far] = End::BOTH.map(|end| job.end(end).name.as_str());
    let length = job.length.as_ref().map(|length| length.in_force().to_string());
    let length = length.unwrap_or_else(|| "METRES m".to_owned());
    let dead = "Switched off, locked off, proved dead, every core off and apart at both ends and let discharge";
    let (words, command) = match kind {
        "core-open" => {
            let others: Vec<&str> = job
                .cores
                .iter()
                .map(|core| core.name.as_str())
                .filter(|name| *name != cores)
                .collect();
            (
                format!(
                    "{dead}: the capacitance from core {cores} to {}, at the {near} and then at the {far}",
                    match others.as_slice() {
                        [one] => format!("core {one}"),
                        several => format!("the cores {} held together", several.join(", ")),
                    }
                ),
                format!("coreproof distance --near \"NEAR nF\" --far \"FAR nF\" --length \"{length}\""),
            )
        }
        "cores-touching" => {
            let (a, b) = cores.split_once('/')?;
            let used = choose(&job.instruments, Function::Continuity, &job.limits);
            let percent = used.map_or(String::new(), |used| {
                let accuracy = &used.known.accuracy;
                let digits = match accuracy.digits {
                    0 => String::new(),
                    digits => format!(" --meter-digits {digits}"),
                };
                format!(" --meter-percent {}{digits}", accuracy.percent.text())
            });
            (
                format!(
                    "{dead}: the resistance from core {a} to core {b}, at the {near} and then at the {far}, and the loop of two \
                     sound cores of the same size linked at the {far}"
                ),
                format!(
                    "coreproof distance --near \"NEAR ohm\" --far \"FAR ohm\" --loop \"LOOP ohm\" --length \"{length}\"{percent}"
                ),
            )
        }
        _ => return None,
    };
    Some(FarAway {
        fault: fault.name.clone(),
        words,
        command,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::library;
    use crate::model::sample::{job, job_with};

    fn told(job: &Job, fault: &str) -> Option<(String, String)> {
        let faults = library::find(job, fault).unwrap();
        far_away(job, faults.iter()).map(|far| (far.words, far.command))
    }

    #[test]
    fn a_broken_core_is_read_by_its_capacitance() {
        let (words, command) = told(&job(), "core-open:grey").unwrap();
        assert!(
            words.ends_with(
                "the capacitance from core grey to the cores brown, black, green-yellow held together, at the wiring centre and then at the sail loft thermostat"
            ),
            "{words}"
        );
        assert_eq!(
            command,
            "coreproof distance --near \"NEAR nF\" --far \"FAR nF\" --length \"18 m\""
        );
        let unknown = job_with("        length: \"18 m\",\n", "");
        assert!(
            told(&unknown, "core-open:grey")
                .unwrap()
                .1
                .ends_with("--length \"METRES m\"")
        );
    }

    #[test]
    fn two_that_touch_are_read_by_their_loops() {
        let (words, command) = told(&job(), "cores-touching:brown/grey").unwrap();
        assert!(words.contains("the resistance from core brown to core grey"), "{words}");
        assert_eq!(
            command,
            "coreproof distance --near \"NEAR ohm\" --far \"FAR ohm\" --loop \"LOOP ohm\" --length \"18 m\" --meter-percent 2 --meter-digits 2"
        );
    }

    #[test]
    fn what_has_no_place_along_the_cable_has_no_distance() {
        assert_eq!(told(&job(), "valve-stuck"), None);
        assert_eq!(told(&job(), "insulation-low:brown/grey"), None);
    }
}
