//! Faults that nobody drew for this program: each is put into a circuit of its own, written here by hand for the demonstration's wiring
//! from what the fault is, and ngspice reads it beside the model.
//!
//! The rule inside: nothing of the circuit is taken from the model, neither its elements nor the sizes; only the demonstration's figures are
//! the same. `spice.rs` compares the solver, this the faults.

use std::fmt::Write;

use coreproof::job::{self, End, Job};
use coreproof::located::Text;
use coreproof::model::fault::Size;
use coreproof::model::installation::Installation;
use coreproof::model::library;
use coreproof::plan::{Act, Point, Probes};
use coreproof::value::reading::Function;

use crate::spice::ngspice;
use crate::world::repo;

/// A low-impedance voltmeter, in ohms.
const INPUT: f64 = 10e3;
/// 18 m of 1.0 mm2 at 15 degC by IEC 60228 (18.1 mohm/m), 3 % below the table, with the clamps at both ends.
const CORE: f64 = 18.0 * 18.1e-3 * 0.98 * 0.97;
const CLAMPS: f64 = 0.004;
/// 9 m of 1.5 mm2 (12.1 mohm/m) and a clamp.
const UPSTREAM: f64 = 9.0 * 12.1e-3 * 0.98 * 0.97 + 0.002;
/// 6 W at 230 V.
const VALVE: f64 = 230.0 * 230.0 / 6.0;
/// 18 m of flat cable at 100 pF/m.
const COUPLING: f64 = 18.0 * 100e-12;

/// What is done before it is read.
#[derive(Clone, Copy, PartialEq)]
enum State {
    Off,
    Satisfied,
    Calling,
}

/// A fault at its sizes: its name, what is done, between which points it is read, and what it is to the circuit.
struct Foreign {
    fault: &'static str,
    sizes: [f64; 3],
    state: State,
    between: [Point; 2],
    circuit: fn(&mut Circuit, f64),
}

/// The demonstration's wiring: `near1` to `nearE` are the near terminals, `fL` to `fE` the far ones, `0` the main earth. ngspice tells no capitals apart, and takes `ne` for an operator.
struct Circuit {
    branches: Vec<(char, String, String, f64)>,
    volts: f64,
}

impl Circuit {
    fn of(state: State) -> Circuit {
        let mut circuit = Circuit {
            branches: Vec::new(),
            volts: 230.0,
        };
        circuit.ohms("mains", "line", 0.3);
        circuit.ohms("neutral", "0", 0.05);
        circuit.ohms("known", "kl", 0.3);
        circuit.ohms("kn", "0", 0.05);
        if state != State::Off {
            circuit.ohms("line", "near1", 0.012);
            circuit.ohms("neutral", "feed", 0.01);
        }
        // what comes to the near end: neutral from the isolator, earth from the main earth
        circuit.ohms("feed", "near2", 0.002);
        circuit.ohms("0", "nearE", UPSTREAM);
        for (near, far) in [("near1", "fL"), ("near2", "fN"), ("near3", "fSL"), ("nearE", "fE")] {
            circuit.ohms(near, far, CORE + CLAMPS);
        }
        for (one, other) in [("near1", "near2"), ("near2", "near3"), ("near3", "nearE")] {
            circuit.farads(one, other, COUPLING);
        }
        if state == State::Calling {
            circuit.ohms("fL", "fSL", 0.01);
        }
        circuit.ohms("near3", "near2", VALVE);
        circuit.ohms("near4", "near2", 47e3);
        circuit
    }

    fn ohms(&mut self, one: &str, other: &str, ohms: f64) {
        self.branches.push(('R', one.to_owned(), other.to_owned(), ohms));
    }

    fn farads(&mut self, one: &str, other: &str, farads: f64) {
        self.branches.push(('C', one.to_owned(), other.to_owned(), farads));
    }

    /// Takes the branch between two points out.
    fn part(&mut self, one: &str, other: &str) {
        let before = self.branches.len();
        self.branches
            .retain(|(_, a, b, _)| (a.as_str(), b.as_str()) != (one, other));
        assert_eq!(self.branches.len() + 1, before, "{one} to {other}");
    }

    /// The netlist for a voltage between two points, or for the resistance with everything dead.
    fn netlist(&self, [a, b]: [&str; 2], live: bool) -> String {
        let mut out = String::from("* wiring by hand\n.options pivtol=1e-20\n");
        let volts = |there: f64| if live { there } else { 0.0 };
        writeln!(out, "V1 mains neutral AC {}\nV2 known kn AC 230", volts(self.volts)).unwrap();
        for (number, (kind, a, b, value)) in self.branches.iter().enumerate() {
            if *kind == 'R' || live {
                writeln!(out, "{kind}{number} {a} {b} {value:e}").unwrap();
            }
        }
        if live {
            writeln!(out, "Rmeter {a} {b} {INPUT:e}").unwrap();
        } else {
            out = out.replace("V2 known kn AC 230", "V2 known kn AC 0");
            writeln!(out, "Imeter {b} {a} AC 1").unwrap();
        }
        for (number, point) in ["line", "near1", "near2", "near3", "near4", "nearE", "feed", "kl"]
            .iter()
            .enumerate()
        {
            writeln!(out, "Rtie{number} {point} 0 1e12").unwrap();
        }
        let probe = |point: &str| {
            if point == "0" {
                "0".to_owned()
            } else {
                format!("v({point})")
            }
        };
        let (a, b) = (probe(a), probe(b));
        out + &format!(
            ".control\nset numdgt=12\nac lin 1 50 50\nlet seen = mag({a}-{b})\nprint seen\nquit\n.endc\n.end\n"
        )
    }
}

fn simulated(folder: &std::path::Path, netlist: &str) -> f64 {
    let shown = ngspice(folder, netlist);
    let seen = shown.lines().find_map(|line| line.strip_prefix("seen = "));
    seen.unwrap_or_else(|| panic!("{netlist}{shown}"))
        .trim()
        .parse()
        .unwrap()
}

fn near(terminal: &str) -> Point {
    Point::Terminal {
        terminal: terminal.into(),
        end: End::Near,
    }
}

/// The name of a point in the circuit by hand.
fn named(point: &Point) -> String {
    match point {
        Point::Terminal { terminal, .. } => format!("near{terminal}"),
        Point::Core { .. } => "cut".into(),
        _ => "0".into(),
    }
}

fn of(
    fault: &'static str,
    sizes: [f64; 3],
    state: State,
    between: [Point; 2],
    circuit: fn(&mut Circuit, f64),
) -> Foreign {
    Foreign {
        fault,
        sizes,
        state,
        between,
        circuit,
    }
}

fn to_earth(terminal: &str) -> [Point; 2] {
    [near(terminal), near("E")]
}

/// Those that show with the supply off.
fn dead() -> Vec<Foreign> {
    let core = Point::Core {
        core: "black".into(),
        end: End::Near,
    };
    let clamp: fn(&mut Circuit, f64) = |circuit, size| {
        circuit.part("near3", "fSL");
        circuit.ohms("cut", "fSL", CORE + CLAMPS / 2.0);
        circuit.ohms("near3", "cut", size);
    };
    let changed_over: fn(&mut Circuit, f64) = |circuit, _| {
        circuit.part("feed", "near2");
        circuit.part("0", "nearE");
        circuit.ohms("feed", "nearE", 0.002);
        circuit.ohms("0", "near2", UPSTREAM);
    };
    let borrowed: fn(&mut Circuit, f64) = |circuit, size| circuit.ohms("kl", "near2", size);
    let far: fn(&mut Circuit, f64) = |circuit, size| circuit.ohms("fN", "fE", size);
    let line: fn(&mut Circuit, f64) = |circuit, size| circuit.ohms("near1", "nearE", size);
    let damp: fn(&mut Circuit, f64) = |circuit, size| {
        let next = [("fL", "fN"), ("fN", "fSL"), ("fSL", "fE")];
        next.iter().for_each(|(one, other)| circuit.ohms(one, other, size));
    };
    let to_building = [near("2"), Point::KnownEarth];
    let off = State::Off;
    vec![
        of(
            "high-resistance-clamp:black@near",
            [0.1, 3.0, 20.0],
            off,
            [core, near("3")],
            clamp,
        ),
        of("neutral-earth-changed-over", [0.0; 3], off, to_building, changed_over),
        of(
            "borrowed-neutral:2@near",
            [20.0, 530.0, 10e3],
            off,
            to_earth("2"),
            borrowed,
        ),
        of("neutral-earth-joined:N@far", [0.1, 0.5, 100.0], off, to_earth("2"), far),
        of("neutral-leaking:N@far", [100.0, 20e3, 100e3], off, to_earth("2"), far),
        of("line-leaking:1@near", [1e3, 0.2e6, 0.9e6], off, to_earth("1"), line),
        of("moisture:far", [5e3, 0.1e6, 0.9e6], off, to_earth("1"), damp),
    ]
}

/// Those that show with the supply on.
fn live() -> Vec<Foreign> {
    let bridge: fn(&mut Circuit, f64) = |circuit, size| circuit.ohms("near1", "near3", size);
    let contact: fn(&mut Circuit, f64) = |circuit, size| {
        circuit.part("fL", "fSL");
        circuit.ohms("fL", "fSL", size + 0.01);
    };
    let electronics: fn(&mut Circuit, f64) = |circuit, size| circuit.ohms("fL", "fSL", size);
    let snubber: fn(&mut Circuit, f64) = |circuit, size| circuit.farads("fL", "fSL", size);
    let low: fn(&mut Circuit, f64) = |circuit, size| circuit.volts *= size;
    let valve = || [near("3"), near("2")];
    let (calling, rests) = (State::Calling, State::Satisfied);
    vec![
        of("terminals-bridged:1/3@near", [1e-4, 0.02, 10.0], rests, valve(), bridge),
        of(
            "high-resistance-contact:thermostat",
            [200.0, 3e3, 47e3],
            calling,
            valve(),
            contact,
        ),
        of(
            "electronics-leaking:thermostat",
            [20e3, 100e3, 470e3],
            rests,
            valve(),
            electronics,
        ),
        of(
            "snubber-leaking:thermostat",
            [10e-9, 47e-9, 220e-9],
            rests,
            valve(),
            snubber,
        ),
        of("supply-low", [0.9, 0.8, 0.5], rests, [near("1"), near("2")], low),
    ]
}

/// What the model reads with the fault in.
fn modelled(job: &Job, there: &Foreign, size: Size) -> f64 {
    let mut installation = Installation::of(job).unwrap();
    let fault = &library::find(job, there.fault).unwrap()[0];
    installation.put_sized(fault, size).unwrap();
    match there.state {
        State::Off => installation.apply(&Act::SwitchOff),
        State::Satisfied => {}
        State::Calling => installation.apply(&Act::Call("thermostat".into())),
    }
    let [first, second] = there.between.clone();
    let function = if is_live(there) {
        Function::VoltageAc
    } else {
        Function::Continuity
    };
    installation.shows(&Probes { first, second }, function, INPUT)
}

fn is_live(there: &Foreign) -> bool {
    there.state != State::Off || there.fault.starts_with("borrowed-neutral")
}

#[test]
fn each_foreign_fault_reads_as_a_circuit_by_hand_does() {
    let folder = tempfile::tempdir().unwrap();
    let text = std::fs::read_to_string(repo("fixtures/saltmarsh.ron")).unwrap();
    let job = job::read(&Text::new("saltmarsh.ron", text)).unwrap();
    for there in dead().into_iter().chain(live()) {
        let [a, b] = there.between.each_ref().map(named);
        let read = |circuit: &Circuit| simulated(folder.path(), &circuit.netlist([&a, &b], is_live(&there)));
        let mut seen = Vec::new();
        for (size, model) in there.sizes.iter().zip([Size::LEAST, Size::Usual, Size::GREATEST]) {
            let mut circuit = Circuit::of(there.state);
            (there.circuit)(&mut circuit, *size);
            let (other, ours) = (read(&circuit), modelled(&job, &there, model));
            assert!(
                (ours - other).abs() <= 2e-3 * other + 1e-3,
                "{} at {size}: {ours}, ngspice {other}",
                there.fault
            );
            seen.push(other);
        }
        // and each shows: without it the same circuit reads something else
        if a != "cut" {
            let sound = read(&Circuit::of(there.state));
            assert!(
                (seen[1] - sound).abs() > 0.02 * sound.min(seen[1]),
                "{}: {seen:?}, sound {sound}",
                there.fault
            );
        }
    }
}
