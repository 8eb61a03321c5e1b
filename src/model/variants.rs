//! One network with many small changes to it, any few of them at once, solved over and over.
//!
//! The rule inside: what no change touches is eliminated once. A set of changes then costs one elimination of the few points
//! that are left, by the same star-mesh steps as in [`super::solve`], so the accuracy is the same.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use nalgebra::Complex;

use super::element::{Element, Kind};
use super::network::Network;
use super::solve::Mesh;

/// Which way a change can move a resistance, wherever it is measured (Rayleigh's monotonicity law).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// It changes nothing here.
    Inert,
    /// Resistances go up or stay.
    Raising,
    /// Resistances go down or stay.
    Lowering,
    /// Either.
    Mixed,
}

/// An element as seen by direct current: its two points and its conductance in siemens.
type Branch = (usize, usize, f64);

/// Elements that are other than in the sound network, or gone.
#[derive(Debug, Clone, PartialEq)]
pub struct Difference(Vec<(Arc<str>, Option<Element>)>);

#[derive(Debug, Clone)]
struct Variant {
    /// By name, for the slow way.
    elements: Vec<(Arc<str>, Option<Element>)>,
    /// By place among the changing branches.
    branches: Vec<(usize, Option<Branch>)>,
    direction: Direction,
    feeds: bool,
}

impl Difference {
    /// What is other in a network than in the sound one.
    ///
    /// # Panics
    /// When the two have different points.
    pub fn between(sound: &Network, changed: &Network) -> Difference {
        assert_eq!(
            sound.nodes.len(),
            changed.nodes.len(),
            "a change brings no points with it"
        );
        let mut elements = Vec::new();
        let mut sound = sound.elements.iter().peekable();
        for (name, element) in &changed.elements {
            while let Some((gone, _)) = sound.next_if(|(there, _)| *there < name) {
                elements.push((gone.clone(), None));
            }
            let was = sound.next_if(|(there, _)| *there == name);
            if was.map(|(_, was)| was) != Some(element) {
                elements.push((name.clone(), Some(element.clone())));
            }
        }
        elements.extend(sound.map(|(gone, _)| (gone.clone(), None)));
        Difference(elements)
    }

    /// The network that is other by this than the sound one.
    pub fn on(&self, sound: &Network) -> Network {
        let mut network = sound.clone();
        change(&mut network, &self.0);
        network
    }
}

/// A sound network and its variants.
#[derive(Debug, Clone)]
pub struct Variants {
    sound: Network,
    variants: Vec<Variant>,
    /// All that never changes, between the points that are left.
    mesh: Mesh,
    /// The branches that some variant changes, as they are when sound.
    branches: Vec<Option<Branch>>,
}

impl Variants {
    /// A sound network, changes to it, and the pairs of points that will be measured.
    ///
    /// # Panics
    /// When a pair names a point that the network lacks.
    pub fn new(sound: &Network, changes: Vec<Difference>, pairs: &[[String; 2]]) -> Variants {
        let mut numbers: BTreeMap<Arc<str>, usize> = BTreeMap::new();
        for Difference(elements) in &changes {
            for (name, _) in elements {
                let next = numbers.len();
                numbers.entry(name.clone()).or_insert(next);
            }
        }
        let branch = |element: Option<&Element>| element.and_then(branch);
        let mut branches = vec![None; numbers.len()];
        for (name, number) in &numbers {
            branches[*number] = branch(sound.elements.get(name));
        }
        let is_source = |element: Option<&Element>| element.is_some_and(|e| matches!(e.kind, Kind::Source { .. }));
        let variant = |Difference(elements): Difference| {
            let changed: Vec<_> = elements
                .iter()
                .map(|(name, element)| (numbers[name], branch(element.as_ref())))
                .collect();
            Variant {
                direction: direction(&branches, &changed),
                branches: changed,
                feeds: elements
                    .iter()
                    .any(|(name, element)| is_source(element.as_ref()) || is_source(sound.elements.get(name))),
                elements,
            }
        };
        let variants: Vec<Variant> = changes.into_iter().map(variant).collect();
        let ends = |branch: &Option<Branch>| branch.map_or(Vec::new(), |(a, b, _)| vec![a, b]);
        let mut kept: BTreeSet<usize> = branches.iter().flat_map(ends).collect();
        kept.extend(
            variants
                .iter()
                .flat_map(|v| v.branches.iter().flat_map(|(_, branch)| ends(branch))),
        );
        for pair in pairs {
            kept.extend(pair.iter().map(|point| sound.nodes[point]));
        }
        let fixed = sound.elements.iter().filter(|(name, _)| !numbers.contains_key(*name));
        let mut mesh = Mesh::bare(sound.nodes.len());
        for branch in fixed.filter_map(|(_, element)| branch(Some(element))) {
            join(&mut mesh, branch);
        }
        mesh.eliminate((0..sound.nodes.len()).filter(|point| !kept.contains(point)).collect());
        Variants {
            sound: sound.clone(),
            mesh,
            variants,
            branches,
        }
    }

    /// Which way a variant can move a resistance.
    pub fn direction(&self, variant: usize) -> Direction {
        self.variants[variant].direction
    }

    /// Whether a variant changes nothing at all here.
    pub fn is_inert(&self, variant: usize) -> bool {
        self.variants[variant].elements.is_empty()
    }

    /// Whether a variant brings in or changes a source.
    pub fn feeds(&self, variant: usize) -> bool {
        self.variants[variant].feeds
    }

    /// The resistance between two points with some variants at once, in ohms, as [`Network::resistance`] gives it.
    ///
    /// # Panics
    /// When the pair was not named to [`Variants::new`].
    pub fn resistance(&self, set: &[usize], [a, b]: &[String; 2]) -> f64 {
        let mut mesh = self.mesh.clone();
        for (number, sound) in self.branches.iter().enumerate() {
            let changed = set.iter().find_map(|variant| {
                let branches = &self.variants[*variant].branches;
                branches.iter().find(|(there, _)| *there == number)
            });
            if let Some(branch) = changed.map_or(*sound, |(_, branch)| *branch) {
                join(&mut mesh, branch);
            }
        }
        let [a, b] = [a, b].map(|point| self.sound.nodes[point]);
        mesh.ohms(a, b)
    }

    /// The network with some variants at once. Where two change one element, the later one counts.
    pub fn network(&self, set: &[usize]) -> Network {
        let mut network = self.sound.clone();
        for variant in set {
            change(&mut network, &self.variants[*variant].elements);
        }
        network
    }
}

fn change(network: &mut Network, elements: &[(Arc<str>, Option<Element>)]) {
    for (name, element) in elements {
        match element {
            Some(element) => network.elements.insert(name.clone(), element.clone()),
            None => network.elements.remove(name),
        };
    }
}

/// What direct current sees of an element.
fn branch(element: &Element) -> Option<Branch> {
    let [a, b] = element.ends;
    let ohms = match element.kind {
        Kind::Resistor { ohms } => ohms,
        Kind::Source { series_ohms, .. } => series_ohms,
        Kind::Contact {
            closed_ohms,
            closed: true,
        } => closed_ohms,
        Kind::Contact { closed: false, .. } | Kind::Capacitor { .. } => return None,
    };
    Some((a, b, ohms.recip()))
}

fn direction(sound: &[Option<Branch>], changed: &[(usize, Option<Branch>)]) -> Direction {
    let (mut up, mut down) = (false, false);
    for (number, now) in changed {
        match (sound[*number], now) {
            (Some((a, b, was)), Some((c, d, is))) if (a, b) == (*c, *d) => {
                up |= *is < was;
                down |= was < *is;
            }
            (was, is) => {
                up |= was.is_some();
                down |= is.is_some();
            }
        }
    }
    match (up, down) {
        (false, false) => Direction::Inert,
        (true, false) => Direction::Raising,
        (false, true) => Direction::Lowering,
        (true, true) => Direction::Mixed,
    }
}

fn join(mesh: &mut Mesh, (a, b, siemens): Branch) {
    mesh.join(a, b, Complex::from(siemens));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::element::Supply;
    use proptest::prelude::*;

    fn network(branches: &[(usize, usize, f64)]) -> Network {
        let mut network = Network::new(Supply::Dc).unwrap();
        (0..6).for_each(|point: usize| network.node(&point.to_string()));
        for (number, (a, b, ohms)) in branches.iter().enumerate() {
            let (a, b) = (a.to_string(), b.to_string());
            network.resistor(&format!("r{number}"), &a, &b, *ohms).unwrap();
        }
        network
    }

    proptest! {
        #[test]
        fn a_set_of_changes_reads_as_the_network_that_has_them(
            branches in prop::collection::vec((0..6usize, 0..6usize, 0.001..1e9f64), 3..12),
            bridge in (0..6usize, 0..6usize, 0.001..1e6f64),
            (a, b) in (0..6usize, 0..6usize),
        ) {
            let sound = network(&branches);
            let (mut cut, mut raised, mut bridged) = (sound.clone(), sound.clone(), sound.clone());
            cut.remove("r0").unwrap();
            raised.set_ohms("r1", 1e9).unwrap();
            bridged.resistor("bridge", &bridge.0.to_string(), &bridge.1.to_string(), bridge.2).unwrap();
            let pair = [a.to_string(), b.to_string()];
            let changes = [&cut, &raised, &bridged].map(|changed| Difference::between(&sound, changed));
            let variants = Variants::new(&sound, changes.to_vec(), std::slice::from_ref(&pair));
            for set in [&[][..], &[0], &[1], &[2], &[0, 1], &[0, 2], &[1, 2], &[0, 1, 2]] {
                let (fast, slow) = (variants.resistance(set, &pair), variants.network(set).resistance(&pair[0], &pair[1]).unwrap());
                prop_assert!(fast == slow || (fast / slow - 1.0).abs() < 1e-9, "{:?}: {} against {}", set, fast, slow);
            }
            prop_assert!(variants.direction(2) == Direction::Lowering || bridge.0 == bridge.1);
        }
    }

    #[test]
    fn changes_have_a_direction() {
        let sound = network(&[(0, 1, 1.0), (1, 2, 1.0)]);
        let (mut cut, mut moved, mut fed) = (sound.clone(), sound.clone(), sound.clone());
        cut.remove("r0").unwrap();
        moved.move_end("r0", "1", "2").unwrap();
        fed.source("feed", "0", "2", 12.0, 1.0).unwrap();
        let changes = [&cut, &moved, &fed, &sound].map(|changed| Difference::between(&sound, changed));
        let variants = Variants::new(&sound, changes.to_vec(), &[]);
        let directions: Vec<_> = (0..4).map(|variant| variants.direction(variant)).collect();
        use Direction::{Inert, Lowering, Mixed, Raising};
        assert_eq!(directions, [Raising, Mixed, Lowering, Inert]);
        assert!(variants.feeds(2) && !variants.feeds(0) && variants.is_inert(3));
    }
}
