//! The network itself: named points, and named elements between two points, which a fault or a link lead can change.
//!
//! Rule: a refused change changes nothing. Floats here make predictions and never decide a verdict. A point stays when
//! its last element is taken off: the end of a cut core is still a place for a probe.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::element::{
    CAPACITANCE_MAX_FARADS, CONTACT_OHMS, Current, Element, FREQUENCY_RANGE_HERTZ, Kind, Part, Supply,
    VOLTAGE_MAX_VOLTS, checked_ohms, in_range,
};
use super::error::NetworkError;

/// Wiring as points and elements: cores, loads and leakage (resistors), coupling (capacitors), supplies, contacts.
///
/// A point comes into being when an element or [`node`](Self::node) first names it. Probes, links and moved ends go
/// only to points that exist, so that a slip in a name is refused and does not read as an open circuit.
///
/// ```
/// use coreproof::model::{element::{LINK_LEAD_OHMS, Supply}, network::Network};
/// # fn main() -> Result<(), coreproof::model::error::NetworkError> {
/// // 22 m of 2.5/1.5 mm² flat cable: 7.41 and 12.10 mΩ/m at 20 °C (IEC 60228).
/// let mut wiring = Network::new(Supply::Ac { hz: 50.0 })?;
/// wiring.resistor("line", "board.l", "spur.l", 22.0 * 7.41e-3)?;
/// wiring.resistor("cpc", "board.e", "spur.e", 22.0 * 12.10e-3)?;
/// assert!(wiring.resistance("board.l", "board.e")?.is_infinite());
/// wiring.link("link", "spur.l", "spur.e", LINK_LEAD_OHMS)?;
/// assert!((wiring.resistance("board.l", "board.e")? - 0.434).abs() < 0.0005);
/// # Ok(()) }
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Network {
    pub(super) supply: Supply,
    // a network is copied for every fault and state that is tried, and the copies share what does not change: points and names
    pub(super) nodes: Arc<BTreeMap<String, usize>>,
    pub(super) elements: BTreeMap<Arc<str>, Element>,
}

impl Network {
    /// An empty network.
    ///
    /// # Errors
    /// [`NetworkError::OutOfRange`] for a frequency outside [`FREQUENCY_RANGE_HERTZ`].
    ///
    /// ```
    /// use coreproof::model::{element::Supply, network::Network};
    /// assert!(Network::new(Supply::Ac { hz: 50.0 }).is_ok());
    /// assert!(Network::new(Supply::Ac { hz: f64::NAN }).is_err());
    /// ```
    pub fn new(supply: Supply) -> Result<Self, NetworkError> {
        if let Supply::Ac { hz } = supply {
            in_range("frequency", hz, FREQUENCY_RANGE_HERTZ, "Hz")?;
        }
        Ok(Self {
            supply,
            nodes: Arc::default(),
            elements: BTreeMap::new(),
        })
    }

    /// Makes sure that a point exists, such as the loose end of a core. A point that exists already stays as it is.
    ///
    /// ```
    /// use coreproof::model::{element::Supply, network::Network};
    /// let mut wiring = Network::new(Supply::Dc)?;
    /// wiring.node("loose end");
    /// wiring.node("terminal 3");
    /// assert!(wiring.resistance("loose end", "terminal 3")?.is_infinite());
    /// # Ok::<(), coreproof::model::error::NetworkError>(())
    /// ```
    pub fn node(&mut self, name: &str) {
        self.intern(name);
    }

    /// Adds a resistance: a core, a load, a leakage through insulation.
    ///
    /// `ohms` from 0 to [`RESISTANCE_MAX_OHMS`]; below `RESISTANCE_FLOOR_OHMS` (0.1 mΩ) that floor is taken.
    ///
    /// [`RESISTANCE_MAX_OHMS`]: super::element::RESISTANCE_MAX_OHMS
    ///
    /// # Errors
    /// [`NetworkError::OutOfRange`], [`NetworkError::ElementExists`].
    ///
    /// ```
    /// use coreproof::model::{element::Supply, network::Network};
    /// let mut wiring = Network::new(Supply::Dc)?;
    /// wiring.resistor("valve motor", "n", "sl", 9600.0)?;
    /// assert!((wiring.resistance("n", "sl")? - 9600.0).abs() < 1e-6);
    /// # Ok::<(), coreproof::model::error::NetworkError>(())
    /// ```
    pub fn resistor(&mut self, name: &str, a: &str, b: &str, ohms: f64) -> Result<(), NetworkError> {
        let ohms = checked_ohms(ohms)?;
        self.add(name, a, b, Kind::Resistor { ohms })
    }

    /// Adds a capacitance: the coupling between two cores that lie side by side, or from a core to earth.
    ///
    /// `farads` from 0 to [`CAPACITANCE_MAX_FARADS`].
    ///
    /// # Errors
    /// [`NetworkError::OutOfRange`], [`NetworkError::ElementExists`].
    ///
    /// ```
    /// use coreproof::model::{element::Supply, network::Network};
    /// let mut wiring = Network::new(Supply::Ac { hz: 50.0 })?;
    /// wiring.capacitor("coupling", "core 1", "core 2", 1e-9)?;
    /// // A resistance test is a direct-current test: the capacitor is open to it.
    /// assert!(wiring.resistance("core 1", "core 2")?.is_infinite());
    /// # Ok::<(), coreproof::model::error::NetworkError>(())
    /// ```
    pub fn capacitor(&mut self, name: &str, a: &str, b: &str, farads: f64) -> Result<(), NetworkError> {
        in_range("capacitance", farads, (0.0, CAPACITANCE_MAX_FARADS), "F")?;
        self.add(name, a, b, Kind::Capacitor { farads })
    }

    /// Adds a source with a resistance in series; `a` is its line (or positive) end.
    ///
    /// `volts_rms` from 0 to [`VOLTAGE_MAX_VOLTS`] (for DC the plain value); `series_ohms` as for a resistor. It delivers
    /// the kind of current of the network's supply. All alternating sources are in phase; a source turned round takes its
    /// ends the other way.
    ///
    /// # Errors
    /// [`NetworkError::OutOfRange`], [`NetworkError::ElementExists`].
    ///
    /// ```
    /// use coreproof::model::{element::Supply, network::Network};
    /// let mut wiring = Network::new(Supply::Ac { hz: 50.0 })?;
    /// wiring.source("supply", "l", "n", 230.0, 0.3)?;
    /// assert!((wiring.voltage("l", "n", 10e6)? - 230.0).abs() < 0.001);
    /// # Ok::<(), coreproof::model::error::NetworkError>(())
    /// ```
    pub fn source(
        &mut self,
        name: &str,
        a: &str,
        b: &str,
        volts_rms: f64,
        series_ohms: f64,
    ) -> Result<(), NetworkError> {
        self.source_of(self.supply.current(), name, [a, b], volts_rms, series_ohms)
    }

    /// Adds a source of a kind of current that may be another than the supply's, as [`source`](Self::source) does.
    ///
    /// # Errors
    /// [`NetworkError::OutOfRange`], [`NetworkError::ElementExists`].
    ///
    /// ```
    /// use coreproof::model::{element::{Current, Supply}, network::Network};
    /// let mut wiring = Network::new(Supply::Ac { hz: 50.0 })?;
    /// wiring.source_of(Current::Direct, "call", ["a", "b"], 24.0, 1000.0)?;
    /// assert!((wiring.voltage_of(Current::Direct, "a", "b", 10e6)? - 24.0).abs() < 0.01);
    /// assert_eq!(wiring.voltage_of(Current::Alternating, "a", "b", 10e6)?, 0.0);
    /// # Ok::<(), coreproof::model::error::NetworkError>(())
    /// ```
    pub fn source_of(
        &mut self,
        current: Current,
        name: &str,
        [a, b]: [&str; 2],
        volts_rms: f64,
        series_ohms: f64,
    ) -> Result<(), NetworkError> {
        in_range("voltage", volts_rms, (0.0, VOLTAGE_MAX_VOLTS), "V")?;
        let kind = Kind::Source {
            volts_rms,
            series_ohms: checked_ohms(series_ohms)?,
            current,
        };
        self.add(name, a, b, kind)
    }

    /// Adds an open contact; closed, it has [`CONTACT_OHMS`].
    ///
    /// # Errors
    /// [`NetworkError::ElementExists`].
    ///
    /// ```
    /// use coreproof::model::{element::{CONTACT_OHMS, Supply}, network::Network};
    /// let mut wiring = Network::new(Supply::Dc)?;
    /// wiring.contact("thermostat", "l", "call")?;
    /// assert!(wiring.resistance("l", "call")?.is_infinite());
    /// wiring.set_contact("thermostat", true)?;
    /// assert!((wiring.resistance("l", "call")? - CONTACT_OHMS).abs() < 1e-9);
    /// # Ok::<(), coreproof::model::error::NetworkError>(())
    /// ```
    pub fn contact(&mut self, name: &str, a: &str, b: &str) -> Result<(), NetworkError> {
        let kind = Kind::Contact {
            closed_ohms: CONTACT_OHMS,
            closed: false,
        };
        self.add(name, a, b, kind)
    }

    /// Clips a link lead between two points that exist; [`remove`](Self::remove) takes it off. `ohms` as for a resistor,
    /// usually [`LINK_LEAD_OHMS`](super::element::LINK_LEAD_OHMS).
    ///
    /// # Errors
    /// [`NetworkError::OutOfRange`], [`NetworkError::ElementExists`], [`NetworkError::UnknownNode`].
    ///
    /// ```
    /// use coreproof::model::{element::{LINK_LEAD_OHMS, Supply}, network::Network};
    /// let mut wiring = Network::new(Supply::Dc)?;
    /// wiring.node("l");
    /// assert!(wiring.link("link", "l", "earht", LINK_LEAD_OHMS).is_err());
    /// # Ok::<(), coreproof::model::error::NetworkError>(())
    /// ```
    pub fn link(&mut self, name: &str, a: &str, b: &str, ohms: f64) -> Result<(), NetworkError> {
        self.index(a)?;
        self.index(b)?;
        self.resistor(name, a, b, ohms)
    }

    /// Closes (`true`) or opens (`false`) a contact.
    ///
    /// # Errors
    /// [`NetworkError::UnknownElement`], [`NetworkError::NotAContact`].
    ///
    /// ```
    /// use coreproof::model::{element::Supply, network::Network};
    /// let mut wiring = Network::new(Supply::Ac { hz: 50.0 })?;
    /// wiring.source("supply", "l", "n", 230.0, 0.3)?;
    /// wiring.contact("end switch", "l", "boiler")?;
    /// assert_eq!(wiring.voltage("boiler", "n", 10e6)?, 0.0);
    /// wiring.set_contact("end switch", true)?;
    /// assert!((wiring.voltage("boiler", "n", 10e6)? - 230.0).abs() < 0.01);
    /// # Ok::<(), coreproof::model::error::NetworkError>(())
    /// ```
    pub fn set_contact(&mut self, name: &str, closed: bool) -> Result<(), NetworkError> {
        match &mut self.element(name)?.kind {
            Kind::Contact { closed: state, .. } => *state = closed,
            _ => {
                return Err(NetworkError::NotAContact {
                    element: name.to_owned(),
                });
            }
        }
        Ok(())
    }

    /// Sets the resistance of a resistor or link, the closed resistance of a contact, the series resistance of a source.
    ///
    /// # Errors
    /// [`NetworkError::UnknownElement`], [`NetworkError::OutOfRange`], [`NetworkError::NoResistance`] for a capacitor.
    ///
    /// ```
    /// use coreproof::model::{element::Supply, network::Network};
    /// let mut wiring = Network::new(Supply::Dc)?;
    /// wiring.resistor("insulation", "l", "e", 500e6)?;
    /// wiring.set_ohms("insulation", 0.2e6)?;
    /// assert!((wiring.resistance("l", "e")? - 0.2e6).abs() < 1.0);
    /// # Ok::<(), coreproof::model::error::NetworkError>(())
    /// ```
    pub fn set_ohms(&mut self, name: &str, ohms: f64) -> Result<(), NetworkError> {
        let element = self.element(name)?;
        let ohms = checked_ohms(ohms)?;
        match &mut element.kind {
            Kind::Resistor { ohms: old }
            | Kind::Contact { closed_ohms: old, .. }
            | Kind::Source { series_ohms: old, .. } => *old = ohms,
            Kind::Capacitor { .. } => {
                return Err(NetworkError::NoResistance {
                    element: name.to_owned(),
                });
            }
        }
        Ok(())
    }

    /// Sets what a source delivers, in volts rms.
    ///
    /// # Errors
    /// [`NetworkError::UnknownElement`] where there is no such source, [`NetworkError::OutOfRange`].
    ///
    /// ```
    /// use coreproof::model::{element::Supply, network::Network};
    /// let mut wiring = Network::new(Supply::Ac { hz: 50.0 })?;
    /// wiring.source("supply", "l", "n", 230.0, 0.3)?;
    /// wiring.set_volts("supply", 24.0)?;
    /// assert!((wiring.voltage("l", "n", 10e6)? - 24.0).abs() < 0.001);
    /// # Ok::<(), coreproof::model::error::NetworkError>(())
    /// ```
    pub fn set_volts(&mut self, name: &str, volts: f64) -> Result<(), NetworkError> {
        in_range("voltage", volts, (0.0, VOLTAGE_MAX_VOLTS), "V")?;
        match &mut self.element(name)?.kind {
            Kind::Source { volts_rms, .. } => *volts_rms = volts,
            _ => {
                return Err(NetworkError::UnknownElement {
                    element: name.to_owned(),
                });
            }
        }
        Ok(())
    }

    /// Sets which kind of current a source delivers.
    ///
    /// # Errors
    /// [`NetworkError::UnknownElement`] where there is no such source.
    ///
    /// ```
    /// use coreproof::model::{element::{Current, Supply}, network::Network};
    /// let mut wiring = Network::new(Supply::Ac { hz: 50.0 })?;
    /// wiring.source("supply", "l", "n", 230.0, 0.3)?;
    /// wiring.set_current("supply", Current::Direct)?;
    /// assert_eq!(wiring.voltage("l", "n", 10e6)?, 0.0);
    /// # Ok::<(), coreproof::model::error::NetworkError>(())
    /// ```
    pub fn set_current(&mut self, name: &str, to: Current) -> Result<(), NetworkError> {
        match &mut self.element(name)?.kind {
            Kind::Source { current, .. } => *current = to,
            _ => {
                return Err(NetworkError::UnknownElement {
                    element: name.to_owned(),
                });
            }
        }
        Ok(())
    }

    /// The resistance of an element as it stands, in ohms; `None` where there is no such element, or it has none.
    pub fn ohms(&self, name: &str) -> Option<f64> {
        match self.elements.get(name)?.kind {
            Kind::Resistor { ohms } => Some(ohms),
            Kind::Contact { closed_ohms, .. } => Some(closed_ohms),
            Kind::Source { series_ohms, .. } => Some(series_ohms),
            Kind::Capacitor { .. } => None,
        }
    }

    /// Every element with the points it joins, for whoever solves the network another way.
    ///
    /// ```
    /// use coreproof::model::{element::{Part, Supply}, network::Network};
    /// let mut wiring = Network::new(Supply::Dc)?;
    /// wiring.resistor("core", "a", "b", 0.4)?;
    /// let found: Vec<_> = wiring.elements().collect();
    /// assert_eq!(found, [("core", ["a", "b"], Part::Ohms(0.4))]);
    /// # Ok::<(), coreproof::model::error::NetworkError>(())
    /// ```
    pub fn elements(&self) -> impl Iterator<Item = (&str, [&str; 2], Part)> {
        let names: BTreeMap<usize, &str> = self
            .nodes
            .iter()
            .map(|(name, number)| (*number, name.as_str()))
            .collect();
        self.elements.iter().map(move |(name, element)| {
            let part = match element.kind {
                Kind::Resistor { ohms } => Part::Ohms(ohms),
                Kind::Capacitor { farads } => Part::Farads(farads),
                Kind::Source {
                    volts_rms,
                    series_ohms,
                    current,
                } => Part::Source {
                    volts: volts_rms,
                    ohms: series_ohms,
                    current,
                },
                Kind::Contact {
                    closed_ohms,
                    closed: true,
                } => Part::Ohms(closed_ohms),
                Kind::Contact { closed: false, .. } => Part::Open,
            };
            (name.as_ref(), element.ends.map(|end| names[&end]), part)
        })
    }

    /// Whether a point exists.
    pub fn has_node(&self, node: &str) -> bool {
        self.nodes.contains_key(node)
    }

    /// Moves the end of an element from one point to another that exists. Two moves swap two cores. Of an element with
    /// both ends at `from_node` one end moves.
    ///
    /// # Errors
    /// [`NetworkError::UnknownElement`], [`NetworkError::UnknownNode`], [`NetworkError::NotAnEnd`].
    ///
    /// ```
    /// use coreproof::model::{element::Supply, network::Network};
    /// let mut wiring = Network::new(Supply::Dc)?;
    /// wiring.resistor("brown", "board.1", "spur.1", 0.4)?;
    /// wiring.resistor("black", "board.2", "spur.2", 0.4)?;
    /// wiring.move_end("brown", "spur.1", "spur.2")?;
    /// wiring.move_end("black", "spur.2", "spur.1")?;
    /// assert!(wiring.resistance("board.1", "spur.1")?.is_infinite());
    /// assert!((wiring.resistance("board.1", "spur.2")? - 0.4).abs() < 1e-9);
    /// # Ok::<(), coreproof::model::error::NetworkError>(())
    /// ```
    pub fn move_end(&mut self, name: &str, from_node: &str, to_node: &str) -> Result<(), NetworkError> {
        let (from, to) = (self.index(from_node)?, self.index(to_node)?);
        let ends = &mut self.element(name)?.ends;
        match ends.iter_mut().find(|end| **end == from) {
            Some(end) => *end = to,
            None => {
                return Err(NetworkError::NotAnEnd {
                    element: name.to_owned(),
                    node: from_node.to_owned(),
                });
            }
        }
        Ok(())
    }

    /// Takes an element off: a cut core, a lost neutral, a link lead put away. Its points stay.
    ///
    /// # Errors
    /// [`NetworkError::UnknownElement`].
    ///
    /// ```
    /// use coreproof::model::{element::Supply, network::Network};
    /// let mut wiring = Network::new(Supply::Dc)?;
    /// wiring.resistor("core 3", "board.3", "spur.3", 0.4)?;
    /// wiring.remove("core 3")?;
    /// assert!(wiring.resistance("board.3", "spur.3")?.is_infinite());
    /// # Ok::<(), coreproof::model::error::NetworkError>(())
    /// ```
    pub fn remove(&mut self, name: &str) -> Result<(), NetworkError> {
        match self.elements.remove(name) {
            Some(_) => Ok(()),
            None => Err(NetworkError::UnknownElement {
                element: name.to_owned(),
            }),
        }
    }

    /// The number of a point that exists.
    pub(super) fn index(&self, node: &str) -> Result<usize, NetworkError> {
        let unknown = || NetworkError::UnknownNode { node: node.to_owned() };
        self.nodes.get(node).copied().ok_or_else(unknown)
    }

    fn intern(&mut self, node: &str) -> usize {
        if let Some(number) = self.nodes.get(node) {
            return *number;
        }
        let next = self.nodes.len();
        Arc::make_mut(&mut self.nodes).insert(node.to_owned(), next);
        next
    }

    fn element(&mut self, name: &str) -> Result<&mut Element, NetworkError> {
        let unknown = || NetworkError::UnknownElement {
            element: name.to_owned(),
        };
        self.elements.get_mut(name).ok_or_else(unknown)
    }

    fn add(&mut self, name: &str, a: &str, b: &str, kind: Kind) -> Result<(), NetworkError> {
        if self.elements.contains_key(name) {
            return Err(NetworkError::ElementExists {
                element: name.to_owned(),
            });
        }
        let ends = [self.intern(a), self.intern(b)];
        self.elements.insert(name.into(), Element { ends, kind });
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::element::RESISTANCE_FLOOR_OHMS;

    type Change = fn(&mut Network) -> Result<(), NetworkError>;

    /// One element of each kind.
    fn network() -> Network {
        let mut network = Network::new(Supply::Ac { hz: 50.0 }).unwrap();
        network.resistor("core", "a", "b", 1.0).unwrap();
        network.capacitor("coupling", "a", "c", 1e-9).unwrap();
        network.source("supply", "a", "c", 230.0, 0.3).unwrap();
        network.contact("switch", "b", "c").unwrap();
        network
    }

    fn check_refused(change: Change, expected: &str) {
        let mut changed = network();
        let error = change(&mut changed).unwrap_err();
        assert_eq!(error.to_string(), expected);
        assert_eq!(changed, network(), "a refused change changes nothing");
    }

    #[test]
    fn values_out_of_range_are_refused() {
        let ohms = |value: &str| format!("resistance `{value}` Ω is outside 0.0 to 1000000000000000.0 Ω");
        check_refused(|n| n.resistor("x", "p", "q", -0.1), &ohms("-0.1"));
        check_refused(|n| n.resistor("x", "p", "q", f64::NAN), &ohms("NaN"));
        check_refused(|n| n.resistor("x", "p", "q", f64::INFINITY), &ohms("inf"));
        check_refused(|n| n.source("x", "p", "q", 230.0, -1.0), &ohms("-1.0"));
        check_refused(|n| n.link("x", "a", "b", -1.0), &ohms("-1.0"));
        check_refused(|n| n.set_ohms("core", f64::NAN), &ohms("NaN"));
        check_refused(
            |n| n.capacitor("x", "p", "q", -1e-9),
            "capacitance `-1e-9` F is outside 0.0 to 1.0 F",
        );
        check_refused(
            |n| n.source("x", "p", "q", f64::NEG_INFINITY, 1.0),
            "voltage `-inf` V is outside 0.0 to 1000000.0 V",
        );
        let error = Network::new(Supply::Ac { hz: 0.0 }).unwrap_err();
        assert_eq!(error.to_string(), "frequency `0.0` Hz is outside 1.0 to 1000000.0 Hz");
    }

    #[test]
    fn names_that_do_not_fit_are_refused() {
        let taken = "element `core` is already in the installation";
        check_refused(|n| n.resistor("core", "p", "q", 1.0), taken);
        check_refused(|n| n.contact("core", "p", "q"), taken);
        let unknown = "no element `x` in the installation";
        check_refused(|n| n.remove("x"), unknown);
        check_refused(|n| n.set_ohms("x", 1.0), unknown);
        check_refused(|n| n.set_contact("x", true), unknown);
        check_refused(|n| n.move_end("x", "a", "b"), unknown);
        let nowhere = "no point `p` in the installation";
        check_refused(|n| n.link("link", "p", "a", 0.0), nowhere);
        check_refused(|n| n.link("link", "a", "p", 0.0), nowhere);
        check_refused(|n| n.move_end("core", "p", "a"), nowhere);
        check_refused(|n| n.move_end("core", "a", "p"), nowhere);
        check_refused(
            |n| n.move_end("core", "c", "a"),
            "element `core` has no end at point `c`",
        );
        check_refused(|n| n.set_volts("core", 24.0), "no element `core` in the installation");
        check_refused(
            |n| n.set_current("core", Current::Direct),
            "no element `core` in the installation",
        );
        check_refused(|n| n.set_contact("core", true), "element `core` is not a contact");
        check_refused(
            |n| n.set_ohms("coupling", 1.0),
            "element `coupling` has no resistance to set",
        );
    }

    #[test]
    fn a_zero_resistance_becomes_the_floor() {
        let mut network = network();
        network.resistor("bus bar", "p", "q", 0.0).unwrap();
        let expected = Kind::Resistor {
            ohms: RESISTANCE_FLOOR_OHMS,
        };
        assert_eq!(network.elements["bus bar"].kind, expected);
    }

    #[test]
    fn resistance_is_set_where_each_kind_has_it() {
        let mut network = network();
        for name in ["core", "supply", "switch"] {
            network.set_ohms(name, 7.0).unwrap();
        }
        assert_eq!(network.elements["core"].kind, Kind::Resistor { ohms: 7.0 });
        let source = Kind::Source {
            volts_rms: 230.0,
            series_ohms: 7.0,
            current: Current::Alternating,
        };
        assert_eq!(network.elements["supply"].kind, source);
        let contact = Kind::Contact {
            closed_ohms: 7.0,
            closed: false,
        };
        assert_eq!(network.elements["switch"].kind, contact);
    }

    #[test]
    fn one_end_of_an_element_on_a_single_point_moves() {
        let mut network = network();
        network.resistor("loop", "a", "a", 1.0).unwrap();
        network.move_end("loop", "a", "b").unwrap();
        assert_eq!(network.elements["loop"].ends, [1, 0]);
    }

    #[test]
    fn a_point_stays_when_its_last_element_is_taken_off() {
        let mut network = network();
        network.resistor("tail", "a", "z", 1.0).unwrap();
        network.remove("tail").unwrap();
        assert!(network.index("z").is_ok());
        assert!(network.resistor("tail", "a", "z", 1.0).is_ok(), "the name is free");
    }
}
