//! Predicted readings against an independent circuit simulator: ngspice, installed by `.ci/run`.
//!
//! The netlists are written from the branches alone. A resistance is the voltage that 1 A puts across the pair with every
//! source shorted; a voltage is that across the meter's resistance. ngspice needs every point tied to ground; 1 TΩ does that.

use std::fmt::Write;
use std::process::Command;

use coreproof::job::{self, End, Job};
use coreproof::located::Text;
use coreproof::model::element::{Current, Part, Supply};
use coreproof::model::fault::Fault;
use coreproof::model::installation::Installation;
use coreproof::model::library;
use coreproof::model::network::Network;
use coreproof::plan::{Act, Point, Probes};

/// One thing to measure: between two points, with a meter's kind of current and input resistance for volts, without for ohms.
struct Asked {
    pair: [String; 2],
    input: Option<(Current, f64)>,
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
        // capacitors are open to direct current, and a source of the other kind is its resistance
        let measured = input.map(|(current, _)| current);
        for (number, (_, [a, b], part)) in network.elements().enumerate() {
            let (a, b) = (node(&mut names, copy, a), node(&mut names, copy, b));
            if a == b {
                continue;
            }
            match part {
                Part::Ohms(ohms) => writeln!(out, "R{copy}_{number} {a} {b} {ohms:e}"),
                Part::Farads(farads) if measured == Some(Current::Alternating) && 0.0 < farads => writeln!(out, "C{copy}_{number} {a} {b} {farads:e}"),
                Part::Source { ohms, current, .. } if measured != Some(current) => writeln!(out, "R{copy}_{number} {a} {b} {ohms:e}"),
                Part::Source { volts, ohms, .. } => writeln!(
                    out,
                    "R{copy}_{number} {a} s{copy}_{number} {ohms:e}\nV{copy}_{number} s{copy}_{number} {b} DC 0 AC {volts:e}"
                ),
                Part::Farads(_) | Part::Open => Ok(()),
            }
            .unwrap();
        }
        let [a, b] = [0, 1].map(|probe| node(&mut names, copy, &pair[probe]));
        match input {
            Some((_, ohms)) => writeln!(out, "Rmeter{copy} {a} {b} {ohms:e}"),
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

/// All that ngspice says of a circuit, with what it complains of behind.
pub fn ngspice(folder: &std::path::Path, netlist: &str) -> String {
    let path = folder.join("wiring.cir");
    std::fs::write(&path, netlist).unwrap();
    let output = Command::new("ngspice")
        .arg("-b")
        .arg(&path)
        .output()
        .expect("ngspice is installed");
    String::from_utf8_lossy(&[output.stdout, output.stderr].concat()).into_owned()
}

/// What ngspice says to each question.
fn simulated(folder: &std::path::Path, network: &Network, asked: &[Asked]) -> Vec<f64> {
    let shown = ngspice(folder, &netlist(network, asked));
    let value = |copy: usize| -> f64 {
        let label = format!("seen{copy} = ");
        let line = shown.lines().find_map(|line| line.strip_prefix(label.as_str()));
        let line = line.unwrap_or_else(|| panic!("{shown}"));
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
            Some((current, input)) => {
                let ours = network.voltage_of(current, a, b, input).unwrap();
                // a part that floats is held by a small conductance there, and by none here: hundredths of a volt
                assert!(
                    (ours - other).abs() <= 1e-4 * ours + 5e-2,
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
                    let current = [Current::Alternating, Current::Direct][usize::from(dice.below(4) == 0)];
                    let ohms = dice.decades(-1.0, 1.0);
                    network.source_of(current, &label, [&a, &b], volts, ohms).unwrap();
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
                    input: match question % 3 {
                        0 => Some((Current::Alternating, dice.decades(3.0, 7.0))),
                        1 => Some((Current::Direct, dice.decades(3.0, 7.0))),
                        _ => None,
                    },
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

/// Every job in fixtures, each cable where a file holds several.
fn shipped() -> Vec<Job> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures");
    let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let mut paths: Vec<_> = entries
        .filter(|path| path.extension().is_some_and(|ext| ext == "ron"))
        .collect();
    paths.sort();
    let read = |path: &std::path::PathBuf| {
        let text = Text {
            name: path.file_name().unwrap().to_string_lossy().into_owned(),
            text: std::fs::read_to_string(path).unwrap().into(),
        };
        let named = job::cables(&text.text);
        let cables: Vec<_> = match named.is_empty() {
            true => vec![None],
            false => named.iter().map(|name| Some(name.as_str())).collect(),
        };
        let read = |cable: &Option<&str>| job::read_cable(&text, *cable, None).unwrap();
        cables.iter().map(read).collect::<Vec<_>>()
    };
    paths.iter().flat_map(read).collect()
}

/// What can be measured between the places that a probe reaches at one end, and to earth.
fn asked_at(job: &Job, end: End, input: Option<(Current, f64)>) -> Vec<Asked> {
    let terminals = job.end(end).terminals.iter().map(|terminal| Point::Terminal {
        terminal: terminal.name.clone(),
        end,
    });
    let cores = job.cores.iter().map(|core| Point::Core {
        core: core.name.clone(),
        end,
    });
    let comes_in = (end == End::Near && job.has_earth_conductor(end)).then_some(Point::EarthComingIn);
    let earths = comes_in.into_iter().chain([Point::KnownEarth]);
    let points: Vec<Point> = terminals.chain(cores).chain(earths).collect();
    let mut found = Vec::new();
    for (at, first) in points.iter().enumerate() {
        for second in &points[at + 1..] {
            let probes = Probes {
                first: first.clone(),
                second: second.clone(),
            };
            let pair = coreproof::model::probes::points(&probes).unwrap();
            found.push(Asked { pair, input });
        }
    }
    found
}

/// The acts that lead from one state of a job to the next, with the longest time that anything moves in.
fn states(job: &Job) -> Vec<Vec<Act>> {
    let controls = job
        .controls()
        .into_iter()
        .map(|control| vec![Act::Call(control.to_owned())]);
    let first = job.test_cores().next().unwrap().name.clone();
    let metal = End::BOTH
        .into_iter()
        .filter(|end| job.metal_beside_earth(*end).is_some());
    let apart = metal.flat_map(|end| [vec![Act::EarthOff(end)], vec![Act::EarthBack(end)]]);
    let off = [vec![Act::EveryCallOff], vec![Act::SwitchOff]];
    let dead = [
        vec![Act::Disconnect(End::Near), Act::Disconnect(End::Far)],
        vec![Act::LinkToEarth(first)],
        vec![Act::RemoveEveryLink, Act::JoinLiveCores],
    ];
    let on = [Vec::new()].into_iter().chain(controls);
    on.chain(off).chain(apart).chain(dead).collect()
}

#[test]
fn every_state_of_every_shipped_job_reads_as_ngspice_says() {
    let folder = tempfile::tempdir().unwrap();
    let mut jobs = shipped();
    assert!(4 <= jobs.len());
    // one with metalwork at both ends as well
    let there = jobs.iter().find(|job| job.far.metalwork.is_some()).unwrap();
    let near = "near: (metalwork: \"copper pipe to the pump\",";
    let text = there.text.text.replace("near: (\n", near);
    let both = job::read(&Text::new("both.ron", text)).unwrap();
    assert!(End::BOTH.iter().all(|end| both.metal_beside_earth(*end).is_some()));
    jobs.push(both);
    for job in jobs {
        let mut installation = Installation::of(&job).unwrap();
        let mut telling = [0; 4];
        for (number, acts) in states(&job).into_iter().enumerate() {
            acts.iter().for_each(|act| installation.apply(act));
            installation.advance(900.0);
            // a low-impedance voltmeter and one of 10 Mohm, for what the coupling puts on loose cores
            let inputs = [
                Some((Current::Alternating, 10e3)),
                Some((Current::Alternating, 10e6)),
                Some((Current::Direct, 10e6)),
                None,
            ];
            for (kind, input) in inputs.into_iter().enumerate() {
                for end in End::BOTH {
                    let what = format!("{}, state {number}", job.text.name);
                    telling[kind] += compare(
                        folder.path(),
                        installation.network(),
                        &asked_at(&job, end, input),
                        &what,
                    );
                }
            }
        }
        let direct = job.own_supplies().any(|(_, supply)| supply.direct);
        assert!(
            10 <= telling[0] + telling[2] && 10 <= telling[1] + telling[2] && 20 <= telling[3],
            "{telling:?}"
        );
        assert_eq!(0 < telling[2], direct, "{}: {telling:?}", job.text.name);
    }
}

/// Every kind of fault that a job has a place for, at its first place there, or at its last.
fn one_of_each_kind(job: &Job, last: bool) -> Vec<Fault> {
    let faults = library::faults(job).unwrap();
    let one = |kind: &str| {
        let mut here = faults.iter().filter(|fault| fault.kind == kind);
        if last { here.next_back() } else { here.next() }.cloned()
    };
    library::kinds().filter_map(one).collect()
}

/// Called for, then switched off, then with every core off at the near end: a borrowed neutral shows in the last two alone.
fn states_with_a_fault(job: &Job) -> [Vec<Act>; 3] {
    let controls = job.controls().into_iter();
    [
        controls.map(|control| Act::Call(control.to_owned())).collect(),
        vec![Act::SwitchOff],
        vec![Act::Disconnect(End::Near)],
    ]
}

/// One pair in so many is compared in each state with each fault.
const EVERY: usize = 7;

#[test]
fn every_kind_of_fault_of_every_shipped_job_reads_as_ngspice_says() {
    let folder = tempfile::tempdir().unwrap();
    for (at, job) in shipped().into_iter().enumerate() {
        let sound = Installation::of(&job).unwrap();
        let mut telling = 0;
        for (place, fault) in one_of_each_kind(&job, at % 2 == 1).iter().enumerate() {
            let mut installation = sound.clone();
            installation.put(fault).unwrap();
            for (number, acts) in states_with_a_fault(&job).into_iter().enumerate() {
                acts.iter().for_each(|act| installation.apply(act));
                installation.advance(900.0);
                let input = [Some((Current::Alternating, 10e3)), None];
                let asked = input.map(|input| End::BOTH.map(|end| asked_at(&job, end, input)));
                // some of all pairs each time, so that all of them come round
                let asked = asked.into_iter().flatten().flatten();
                let asked: Vec<Asked> = asked.skip((place + number) % EVERY).step_by(EVERY).collect();
                let what = format!("{}, {}, state {number}", job.text.name, fault.name);
                telling += compare(folder.path(), installation.network(), &asked, &what);
            }
        }
        assert!(40 <= telling, "{}: {telling}", job.text.name);
    }
}
