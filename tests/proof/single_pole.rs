//! A point of isolation that breaks the line alone, as a fuse or a breaker does: the neutral stays connected, and is proved dead all the same.

use coreproof::diagnosis::coverage::Coverage;
use coreproof::job::{self, Breaks, Job};
use coreproof::located::Text;
use coreproof::sequence::{self, shipped};

fn behind_a_breaker(name: &str) -> Job {
    let text = shipped::job(name).unwrap().text.to_string();
    assert!(text.contains("        nominal:") && !text.contains("breaks:"), "{name}");
    let text = text.replace("        nominal:", "        breaks: Line,\n        nominal:");
    let job = job::read(&Text::new(name, text)).unwrap();
    assert_eq!(job.supply.breaks, Breaks::Line);
    job
}

#[test]
fn every_shipped_sequence_is_proved_behind_it() {
    for there in shipped::SEQUENCES {
        let sequence = sequence::read(&shipped::texts(there.name).unwrap()).unwrap();
        let bound = sequence::bind(&sequence, &behind_a_breaker(there.job));
        if let Err(findings) = bound {
            let what: Vec<_> = findings.iter().map(|finding| finding.problem.what.clone()).collect();
            panic!("{}: {what:#?}", there.name);
        }
    }
}

/// Neutral and earth of the supply that have changed places have nearly the same ohms to the main earthing terminal where both are joined at the
/// origin; it takes an open neutral pole to tell them.
#[test]
fn what_the_thermostat_cable_promises_it_keeps_behind_it_but_for_a_neutral_in_the_place_of_the_earth() {
    let sequence = sequence::read(&shipped::texts("stat-cable").unwrap()).unwrap();
    let plan = sequence::bind(&sequence, &behind_a_breaker("saltmarsh")).unwrap();
    let coverage = Coverage::of(&plan, false).unwrap();
    let broken: Vec<_> = coverage.broken_promises().map(|row| row.fault.clone()).collect();
    assert_eq!(broken, ["neutral-earth-changed-over"]);
}
