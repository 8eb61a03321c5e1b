//! What bears on a reading: every element that hangs together with the points under its probes.
//!
//! The rule inside: where the same elements hang together with the same points, a meter shows the same to the last bit, since the solver
//! is given the same in the same order.

use super::element::Element;
use super::network::Network;
use super::solve::Joined;

/// The elements that hang together with either of two points.
#[derive(Debug, Clone, PartialEq)]
pub struct Bearing {
    pair: [usize; 2],
    elements: Vec<Element>,
}

impl Network {
    /// What bears on what a meter shows between two points.
    ///
    /// # Panics
    /// When the network lacks one of them.
    ///
    /// ```
    /// use coreproof::model::{element::Supply, network::Network};
    /// let mut wiring = Network::new(Supply::Dc)?;
    /// wiring.resistor("core", "a", "b", 0.4)?;
    /// wiring.resistor("another", "c", "d", 0.4)?;
    /// let bearing = wiring.bearing(&["a".into(), "b".into()]);
    /// wiring.set_ohms("another", 40.0)?;
    /// assert!(wiring.has_bearing(&bearing));
    /// wiring.set_ohms("core", 40.0)?;
    /// assert!(!wiring.has_bearing(&bearing));
    /// # Ok::<(), coreproof::model::error::NetworkError>(())
    /// ```
    pub fn bearing(&self, pair: &[String; 2]) -> Bearing {
        let pair = pair.each_ref().map(|point| self.nodes[point]);
        Bearing {
            pair,
            elements: self.hanging_on(pair).cloned().collect(),
        }
    }

    /// Whether the same bears on the same two points here.
    pub fn has_bearing(&self, bearing: &Bearing) -> bool {
        self.hanging_on(bearing.pair).eq(&bearing.elements)
    }

    /// The elements that hang together with either of two points, in the order of their names.
    fn hanging_on(&self, [a, b]: [usize; 2]) -> impl Iterator<Item = &Element> {
        let conducting = || self.elements.values().filter(|element| element.can_conduct());
        let mut joined = Joined::new(self.nodes.len());
        conducting().for_each(|element| joined.join(element.ends));
        let ours = [joined.of(a), joined.of(b)];
        conducting().filter(move |element| ours.contains(&joined.of(element.ends[0])))
    }
}
