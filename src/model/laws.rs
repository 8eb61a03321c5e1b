//! What holds for every network, tried on random ones: laws of circuits, and oracles that work another way.
//!
//! Rule: nothing here calls the solver's own steps; an oracle builds its answer from its own list of branches.

use std::f64::consts::PI;

use nalgebra::{Complex, DMatrix, DVector};
use proptest::prelude::*;

use super::element::Supply;
use super::network::Network;

/// The series resistance of every source here, in ohms.
const SOURCE_OHMS: f64 = 2.0;

/// A resistance from 1 mΩ to 1 GΩ, even over the decades.
fn ohms() -> impl Strategy<Value = f64> {
    (-3.0..9.0).prop_map(|decade: f64| 10f64.powf(decade))
}

/// Branches between up to seven points, not always connected.
fn branches() -> impl Strategy<Value = Vec<(usize, usize, f64)>> {
    prop::collection::vec((0..7usize, 0..7usize, ohms()), 1..14)
}

fn network_of(branches: &[(usize, usize, f64)]) -> Network {
    let mut network = Network::new(Supply::Dc).unwrap();
    (0..7).for_each(|point: usize| network.node(&point.to_string()));
    for (number, (a, b, ohms)) in branches.iter().enumerate() {
        let name = format!("r{number}");
        network.resistor(&name, &a.to_string(), &b.to_string(), *ohms).unwrap();
    }
    network
}

/// Resistors in series and in parallel, to any depth.
#[derive(Debug, Clone)]
enum Tree {
    Leaf(f64),
    Series(Box<Tree>, Box<Tree>),
    Parallel(Box<Tree>, Box<Tree>),
}

impl Tree {
    fn any() -> impl Strategy<Value = Tree> {
        ohms().prop_map(Tree::Leaf).prop_recursive(5, 32, 2, |inner| {
            (any::<bool>(), inner.clone(), inner).prop_map(|(series, one, other)| {
                let (one, other) = (Box::new(one), Box::new(other));
                if series {
                    Tree::Series(one, other)
                } else {
                    Tree::Parallel(one, other)
                }
            })
        })
    }

    fn ohms(&self) -> f64 {
        match self {
            Tree::Leaf(ohms) => *ohms,
            Tree::Series(one, other) => one.ohms() + other.ohms(),
            Tree::Parallel(one, other) => {
                let (one, other) = (one.ohms(), other.ohms());
                one * other / (one + other)
            }
        }
    }

    fn build(&self, network: &mut Network, a: &str, b: &str) {
        // A running number names the leaves and the points between; both lists only grow.
        let number = network.elements.len() + network.nodes.len();
        match self {
            Tree::Leaf(ohms) => network.resistor(&format!("r{number}"), a, b, *ohms).unwrap(),
            Tree::Series(one, other) => {
                let middle = format!("m{number}");
                network.node(&middle);
                one.build(network, a, &middle);
                other.build(network, &middle, b);
            }
            Tree::Parallel(one, other) => {
                one.build(network, a, b);
                other.build(network, a, b);
            }
        }
    }
}

/// One branch of a well-conditioned network: ohms, or farads with the flag.
type Branch = (usize, usize, bool, f64);

/// Every point's voltage against point 0, the usual way: nodal matrix, Norton sources, LU.
fn lu_voltages(size: usize, branches: &[Branch], sources: &[(usize, usize, f64)]) -> Vec<Complex<f64>> {
    let mut matrix = DMatrix::<Complex<f64>>::zeros(size, size);
    let mut currents = DVector::<Complex<f64>>::zeros(size);
    let mut stamp = |a: usize, b: usize, admittance: Complex<f64>| {
        if a != b {
            matrix[(a, a)] += admittance;
            matrix[(b, b)] += admittance;
            matrix[(a, b)] -= admittance;
            matrix[(b, a)] -= admittance;
        }
    };
    for &(a, b, capacitor, value) in branches {
        let admittance = if capacitor {
            Complex::new(0.0, 2.0 * PI * 50.0 * value)
        } else {
            Complex::new(1.0 / value, 0.0)
        };
        stamp(a, b, admittance);
    }
    for &(a, b, volts) in sources {
        stamp(a, b, Complex::new(1.0 / SOURCE_OHMS, 0.0));
        if a != b {
            currents[a] += Complex::new(volts / SOURCE_OHMS, 0.0);
            currents[b] -= Complex::new(volts / SOURCE_OHMS, 0.0);
        }
    }
    let inner = matrix.view((1, 1), (size - 1, size - 1)).into_owned();
    let solved = inner.lu().solve(&currents.rows(1, size - 1).into_owned()).unwrap();
    std::iter::once(Complex::new(0.0, 0.0))
        .chain(solved.iter().copied())
        .collect()
}

fn well_conditioned_branches() -> impl Strategy<Value = Vec<Branch>> {
    let resistor = |decade: f64| 10f64.powf(decade);
    let chain = prop::collection::vec((1.0..4.0).prop_map(resistor), 6);
    let value = (any::<bool>(), 0.0..3.0).prop_map(|(capacitor, decade): (bool, f64)| {
        let least = if capacitor { 1e-7 } else { 10.0 };
        (capacitor, least * 10f64.powf(decade))
    });
    let extra = prop::collection::vec((0..7usize, 0..7usize, value), 0..10);
    (chain, extra).prop_map(|(chain, extra)| {
        let chain = chain.into_iter().enumerate();
        chain
            .map(|(at, ohms)| (at, at + 1, false, ohms))
            .chain(
                extra
                    .into_iter()
                    .map(|(a, b, (capacitor, value))| (a, b, capacitor, value)),
            )
            .collect()
    })
}

proptest! {
    #[test]
    fn resistance_is_the_same_both_ways_and_no_detour_is_shorter(branches in branches()) {
        // Effective resistance is a metric (Klein and Randić, Resistance distance, 1993; from memory).
        let network = network_of(&branches);
        let read = |a: usize, b: usize| network.resistance(&a.to_string(), &b.to_string()).unwrap();
        for a in 0..7 {
            for b in 0..7 {
                let direct = read(a, b);
                let back = read(b, a);
                prop_assert!(direct == back || (direct / back - 1.0).abs() < 1e-12);
                prop_assert_eq!(direct == 0.0, a == b);
                for c in 0..7 {
                    prop_assert!(direct <= (read(a, c) + read(c, b)) * (1.0 + 1e-12));
                }
            }
        }
    }

    #[test]
    fn resistances_across_the_branches_sum_to_fosters_count(branches in branches()) {
        // Foster's theorem (1949; from memory): over all branches of a network, the sum of resistance across the
        // branch over its own ohms is points less parts.
        let network = network_of(&branches);
        let real = branches.iter().filter(|(a, b, _)| a != b);
        let sum: f64 = real
            .map(|(a, b, ohms)| network.resistance(&a.to_string(), &b.to_string()).unwrap() / ohms)
            .sum();
        let mut part: Vec<usize> = (0..7).collect();
        for &(a, b, _) in &branches {
            let (keep, fold) = (part[a], part[b]);
            part.iter_mut().filter(|part| **part == fold).for_each(|part| *part = keep);
        }
        part.sort_unstable();
        part.dedup();
        prop_assert!((sum - (7 - part.len()) as f64).abs() < 1e-10, "{}", sum);
    }

    #[test]
    fn series_parallel_trees_agree_with_their_reduction(tree in Tree::any()) {
        let mut network = Network::new(Supply::Dc).unwrap();
        tree.build(&mut network, "a", "b");
        let (shown, expected) = (network.resistance("a", "b").unwrap(), tree.ohms());
        prop_assert!((shown / expected - 1.0).abs() < 1e-12, "{} against {}", shown, expected);
    }

    #[test]
    fn voltages_agree_with_lu_of_the_nodal_matrix(
        branches in well_conditioned_branches(),
        sources in prop::collection::vec((0..7usize, 0..7usize, 1.0..400.0f64), 1..4),
        (a, b) in (0..7usize, 0..7usize),
        meter in (2.0..7.0f64).prop_map(|decade| 10f64.powf(decade)),
    ) {
        let mut network = Network::new(Supply::Ac { hz: 50.0 }).unwrap();
        for (number, (a, b, capacitor, value)) in branches.iter().enumerate() {
            let (name, a, b) = (format!("branch {number}"), a.to_string(), b.to_string());
            if *capacitor {
                network.capacitor(&name, &a, &b, *value).unwrap();
            } else {
                network.resistor(&name, &a, &b, *value).unwrap();
            }
        }
        for (number, (a, b, volts)) in sources.iter().enumerate() {
            let (name, a, b) = (format!("source {number}"), a.to_string(), b.to_string());
            network.source(&name, &a, &b, *volts, SOURCE_OHMS).unwrap();
        }
        let shown = network.voltage(&a.to_string(), &b.to_string(), meter).unwrap();
        let mut loaded = branches;
        loaded.push((a, b, false, meter));
        let expected = lu_voltages(7, &loaded, &sources);
        let expected = (expected[a] - expected[b]).norm();
        prop_assert!((shown - expected).abs() < 1e-8, "{} against {}", shown, expected);
    }
}
