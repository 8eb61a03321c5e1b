//! Predicted readings against an independent circuit simulator: ngspice, installed by `.ci/run`.
//!
//! The netlists are written from the branches alone. A resistance is the voltage that 1 A puts across the pair with every
//! source shorted; a voltage is that across the meter's resistance. ngspice needs every point tied to ground; 1 TΩ does that.

use std::fmt::Write;
use std::process::Command;

use coreproof::pure::installation::element::{Part, Supply};
use coreproof::pure::installation::model::Installation;
use coreproof::pure::installation::network::Network;
use coreproof::pure::job::{self, Job};
use coreproof::pure::located::Text;
use coreproof::pure::plan::{Act, Kind};
use coreproof::pure::sequence;

/// One thing to measure: between two points, with a meter's input resistance for volts, without for ohms.
struct Asked {
    pair: [String; 2],
    input: Option<f64>,
}

/// The generator of `tests/sim.rs`, for networks that come out the same each time.
struct Dice(u64);

impl Dice {
    fn below(&mut self, n: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % n
    }

    /// A value even over the decades.
    fn decades(&mut self, from: f64, to: f64) -> f64 {
        let share = self.below(1_000_000) as f64 / 1e6;
        10f64.powf(from + (to - from) * share)
    }
}

/// The number of a point in one copy of the circuit.
type Names = std::collections::BTreeMap<(usize, String), usize>;

fn node(names: &mut Names, copy: usize, name: &str) -> String {
    let next = names.len();
    format!("n{}", names.entry((copy, name.to_owned())).or_insert(next))
}

/// A netlist with one circuit for each question: ngspice reads one circuit a file, so each has points of its own.
fn netlist(network: &Network, asked: &[Asked]) -> String {
    let mut out = String::from("* wiring\n.options pivtol=1e-20\n");
    let mut names = Names::new();
    for (copy, Asked { pair, input }) in asked.iter().enumerate() {
        let dead = input.is_none();
        for (number, (_, [a, b], part)) in network.elements().enumerate() {
            let (a, b) = (node(&mut names, copy, a), node(&mut names, copy, b));
            if a == b {
                continue;
            }
            match part {
                Part::Ohms(ohms) => writeln!(out, "R{copy}_{number} {a} {b} {ohms:e}"),
                Part::Farads(farads) if !dead && 0.0 < farads => writeln!(out, "C{copy}_{number} {a} {b} {farads:e}"),
                Part::Source { ohms, .. } if dead => writeln!(out, "R{copy}_{number} {a} {b} {ohms:e}"),
                Part::Source { volts, ohms } => writeln!(
                    out,
                    "R{copy}_{number} {a} s{copy}_{number} {ohms:e}\nV{copy}_{number} s{copy}_{number} {b} DC 0 AC {volts:e}"
                ),
                Part::Farads(_) | Part::Open => Ok(()),
            }
            .unwrap();
        }
        let [a, b] = [0, 1].map(|probe| node(&mut names, copy, &pair[probe]));
        match input {
            Some(ohms) => writeln!(out, "Rmeter{copy} {a} {b} {ohms:e}"),
            None => writeln!(out, "Imeter{copy} {b} {a} DC 0 AC 1"),
        }
        .unwrap();
    }
    for number in 0..names.len() {
        writeln!(out, "Rtie{number} n{number} 0 1e12").unwrap();
    }
    out.push_str(".control\nset numdgt=12\nac lin 1 50 50\n");
    for (copy, Asked { pair, .. }) in asked.iter().enumerate() {
        let [a, b] = [0, 1].map(|probe| node(&mut names, copy, &pair[probe]));
        writeln!(out, "let seen{copy} = mag(v({a})-v({b}))\nprint seen{copy}").unwrap();
    }
    out.push_str("quit\n.endc\n.end\n");
    out
}

/// What ngspice says to each question.
fn simulated(folder: &std::path::Path, network: &Network, asked: &[Asked]) -> Vec<f64> {
    let path = folder.join("wiring.cir");
    std::fs::write(&path, netlist(network, asked)).unwrap();
    let output = Command::new("ngspice")
        .arg("-b")
        .arg(&path)
        .output()
        .expect("ngspice is installed");
    let shown = String::from_utf8_lossy(&output.stdout).into_owned();
    let value = |copy: usize| -> f64 {
        let label = format!("seen{copy} = ");
        let line = shown.lines().find_map(|line| line.strip_prefix(label.as_str()));
        let line = line.unwrap_or_else(|| panic!("{shown}{}", String::from_utf8_lossy(&output.stderr)));
        line.trim().parse().unwrap()
    };
    (0..asked.len()).map(value).collect()
}

/// Compares and says how many comparisons were of a value that is neither open nor nothing.
fn compare(folder: &std::path::Path, network: &Network, asked: &[Asked], what: &str) -> usize {
    let simulated = simulated(folder, network, asked);
    let mut telling = 0;
    for (question, other) in asked.iter().zip(simulated) {
        let [a, b] = &question.pair;
        match question.input {
            Some(input) => {
                let ours = network.voltage(a, b, input).unwrap();
                assert!(
                    (ours - other).abs() <= 1e-4 * ours + 1e-2,
                    "{what}: {a} to {b}: {ours} V, ngspice {other} V"
                );
                telling += usize::from(0.1 < ours);
            }
            None => {
                let ours = network.resistance(a, b).unwrap();
                // beyond a gigohm the ties to ground are seen by ngspice as well
                let open = 1e9 < ours && 0.9e9 < other;
                assert!(
                    open || (ours - other).abs() <= 1e-4 * ours + 1e-9,
                    "{what}: {a} to {b}: {ours} Ω, ngspice {other} Ω"
                );
                telling += usize::from(!open);
            }
        }
    }
    telling
}

#[test]
fn random_networks_read_as_ngspice_says() {
    let folder = tempfile::tempdir().unwrap();
    let mut dice = Dice(20_261_125);
    let (mut networks, mut telling) = (0, 0);
    for _ in 0..240 {
        let points = 4 + dice.below(9);
        let mut network = Network::new(Supply::Ac { hz: 50.0 }).unwrap();
        let name = |point: u64| format!("p{point}");
        (0..points).for_each(|point| network.node(&name(point)));
        for number in 0..points * 2 {
            let (a, b) = (name(dice.below(points)), name(dice.below(points)));
            let label = format!("e{number}");
            match dice.below(8) {
                0 | 1 => network.capacitor(&label, &a, &b, dice.decades(-11.0, -7.0)).unwrap(),
                2 => {
                    network.contact(&label, &a, &b).unwrap();
                    network.set_contact(&label, dice.below(2) == 1).unwrap();
                }
                3 if number < points => {
                    let volts = dice.below(400) as f64;
                    network.source(&label, &a, &b, volts, dice.decades(-1.0, 1.0)).unwrap();
                }
                _ => network.resistor(&label, &a, &b, dice.decades(-2.0, 7.0)).unwrap(),
            }
        }
        let asked: Vec<Asked> = (0..6)
            .map(|question| {
                let first = dice.below(points);
                let second = (first + 1 + dice.below(points - 1)) % points;
                Asked {
                    pair: [name(first), name(second)],
                    input: (question % 2 == 0).then(|| dice.decades(3.0, 7.0)),
                }
            })
            .collect();
        telling += compare(folder.path(), &network, &asked, &format!("network {networks}"));
        networks += 1;
    }
    assert!(
        200 <= networks && 500 < telling,
        "{networks} networks, {telling} telling comparisons"
    );
}

fn shipped() -> Job {
    let text = Text {
        name: "saltmarsh.ron".into(),
        text: include_str!("../../fixtures/saltmarsh.ron").into(),
    };
    job::read(&text).unwrap()
}

#[test]
fn every_state_of_the_shipped_job_reads_as_ngspice_says() {
    let folder = tempfile::tempdir().unwrap();
    let text = Text {
        name: "stat-cable.ron".into(),
        text: include_str!("../../sequences/stat-cable.ron").into(),
    };
    let plan = sequence::bind(&sequence::read(&[text]).unwrap(), &shipped()).unwrap();
    let mut installation = Installation::of(&plan.job).unwrap();
    let mut telling = 0;
    for step in &plan.steps {
        step.acts.iter().for_each(|act| installation.apply(act));
        if step
            .acts
            .iter()
            .any(|act| matches!(act, Act::Call(_) | Act::Satisfy(_)))
        {
            installation.advance(30.0);
        }
        let (probes, input) = match &step.kind {
            Kind::Measure(m) => (&m.probes, m.used.input.as_ref().map(|_| 10e3)),
            Kind::Indicator { probes, .. } => (probes, Some(200e3)),
            _ => continue,
        };
        let Some(pair) = coreproof::pure::installation::model::points(probes) else {
            continue;
        };
        // a voltmeter of 10 MΩ as well, for what the coupling puts on loose cores
        let asked = [input, Some(10e6)].map(|input| Asked {
            pair: pair.clone(),
            input,
        });
        telling += compare(folder.path(), installation.network(), &asked, &step.id);
    }
    assert!(15 <= telling, "{telling} telling comparisons");
}
