//! The sequences that come with the program, with a job each to rehearse on.
//!
//! The rule inside: everything in the folder `sequences` is here, and everything here is in that folder; a test compares them.

use super::with_parts;
use crate::located::Text;

/// A sequence by its name, with the job that it is rehearsed on.
#[derive(Debug, Clone, Copy)]
pub struct Shipped {
    /// By which the command line calls it.
    pub name: &'static str,
    text: &'static str,
    /// The shipped job that it is rehearsed on, by its name.
    pub job: &'static str,
}

macro_rules! shipped {
    (sequences: $($sequence:literal on $job:literal,)* parts: $($part:literal,)*) => {
        /// Every sequence, in the order of a job.
        pub const SEQUENCES: &[Shipped] = &[$(Shipped {
            name: $sequence,
            text: include_str!(concat!("../../sequences/", $sequence, ".ron")),
            job: $job,
        }),*];
        /// What sequences include, by the name under which they do.
        const PARTS: &[(&str, &str)] = &[$((
            concat!("parts/", $part, ".ron"),
            include_str!(concat!("../../sequences/parts/", $part, ".ron")),
        )),*];
        const JOBS: &[(&str, &str)] = &[$((
            $job,
            include_str!(concat!("../../fixtures/", $job, ".ron")),
        )),*];
    };
}

shipped! {
    sequences:
        "stat-cable" on "saltmarsh",
        "stat-needs-neutral" on "committee-room-stat",
        "stat-switched-live" on "chart-room-stat",
        "stat-volt-free" on "bosuns-store-stat",
        "zone-valve" on "boathouse-valve",
        "two-zone-valves" on "clubhouse-two-valves",
        "mid-position-valve" on "clubhouse-mid-position",
        "cylinder-thermostat" on "galley-cylinder",
        "cylinder-cut-out" on "shower-cylinder",
        "cylinder-cut-out-restored" on "shower-cylinder",
        "programmer-and-thermostat" on "galley-programmer",
        "no-heat" on "race-office-heating",
        "boiler-call-volt-free" on "boiler-room-pair",
        "boiler-call-live" on "boiler-room-call",
        "extra-low-pair" on "changing-rooms-pair",
        "underfloor-zones" on "loft-underfloor",
        "boiler-interlock" on "clubhouse-interlock",
        "fused-spur" on "workshop-spur",
        "hand-over" on "saltmarsh",
    parts:
        "as-found", "boiler-casing", "connect", "dead-tests", "as-left", "energise", "filled", "isolate", "leave",
}

fn text(folder: &str, name: &str, text: &str) -> Text {
    Text {
        name: format!("{folder}/{name}.ron"),
        text: text.into(),
    }
}

/// A shipped sequence by its name.
pub fn sequence(name: &str) -> Option<Text> {
    let found = SEQUENCES.iter().find(|there| there.name == name)?;
    Some(text("sequences", found.name, found.text))
}

/// A shipped sequence with every part that it includes, as [`super::read`] takes them.
pub fn texts(name: &str) -> Option<Vec<Text>> {
    with_parts(sequence(name)?, |name| Ok(part(name))).ok()
}

/// The same as a record carries it: the sequence, then its parts.
pub fn carried(name: &str) -> Option<(Text, Vec<Text>)> {
    let carried = |text: Text| Text {
        name: text.name.trim_start_matches("sequences/").into(),
        text: text.text,
    };
    let mut all = texts(name)?.into_iter().map(carried);
    Some((all.next()?, all.collect()))
}

/// A shipped job by its name.
pub fn job(name: &str) -> Option<Text> {
    let (name, found) = JOBS.iter().find(|(there, _)| *there == name)?;
    Some(text("fixtures", name, found))
}

/// A shipped part by the name under which sequences include it.
pub fn part(name: &str) -> Option<Text> {
    let (name, found) = PARTS.iter().find(|(there, _)| *there == name)?;
    Some(Text {
        name: (*name).into(),
        text: (*found).into(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn files(folder: &str) -> Vec<String> {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
        let mut names: Vec<String> = std::fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .filter_map(|name| name.strip_suffix(".ron").map(str::to_owned))
            .collect();
        names.sort();
        names
    }

    #[test]
    fn every_file_of_the_folders_is_shipped() {
        let mut sequences: Vec<_> = SEQUENCES.iter().map(|there| there.name.to_owned()).collect();
        sequences.sort();
        assert_eq!(sequences, files("sequences"));
        let bare = |name: &str| name.trim_start_matches("parts/").trim_end_matches(".ron").to_owned();
        let mut parts: Vec<_> = PARTS.iter().map(|(name, _)| bare(name)).collect();
        parts.sort();
        assert_eq!(parts, files("sequences/parts"));
    }
}
