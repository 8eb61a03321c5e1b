//! Cables from a room to the far side of a site: what is proved of a short one is proved of a long one, and an open earth shows at every length.

use coreproof::diagnosis::coverage::Coverage;
use coreproof::job::{self, End, Job};
use coreproof::located::Text;
use coreproof::model::fault::Size;
use coreproof::model::installation::Installation;
use coreproof::model::library;
use coreproof::plan::{Point, Probes};
use coreproof::sequence::{self, shipped};

fn long(metres: u32, size: &str) -> Job {
    let text = shipped::job("saltmarsh").unwrap().text.to_string();
    let length = "        length: \"18 m\",\n";
    assert!(text.contains(length));
    let text = text
        .replace(length, &format!("        length: \"{metres} m\",\n"))
        .replace("size: \"1.0 mm2\"", &format!("size: \"{size}\""));
    job::read(&Text::new("saltmarsh", text)).unwrap()
}

fn bound(job: &Job) -> coreproof::plan::Plan {
    let sequence = sequence::read(&shipped::texts("stat-cable").unwrap()).unwrap();
    sequence::bind(&sequence, job).unwrap_or_else(|findings| {
        let what: Vec<_> = findings.iter().map(|finding| finding.problem.what.clone()).collect();
        panic!("{:?}: {what:#?}", job.length)
    })
}

#[test]
fn a_cable_of_any_length_and_size_is_proved_and_an_open_earth_lights_no_lamp_for_the_mains() {
    for metres in [10, 60, 100, 200, 300] {
        for size in ["0.75 mm2", "1.0 mm2", "1.5 mm2", "2.5 mm2"] {
            let job = long(metres, size);
            bound(&job);
            let mut there = Installation::of(&job).unwrap();
            let terminal = |name: &str| Point::Terminal {
                terminal: name.into(),
                end: End::Near,
            };
            let probes = Probes {
                first: terminal("E"),
                second: terminal("1"),
            };
            assert!(there.answers_lit(&probes, true), "{metres} m of {size}");
            for fault in library::find(&job, "earth-missing").unwrap() {
                there.put_sized(&fault, Size::Usual).unwrap();
            }
            assert!(!there.answers_lit(&probes, true), "{metres} m of {size}, open");
        }
    }
}

#[test]
fn the_longest_keeps_every_promise() {
    let broken = |metres| {
        let coverage = Coverage::of(&bound(&long(metres, "1.5 mm2")), false).unwrap();
        let broken = coverage.broken_promises().map(|row| row.fault.clone());
        broken.collect::<Vec<_>>()
    };
    assert_eq!(broken(300), [""; 0]);
}
