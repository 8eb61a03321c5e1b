//! What can be wrong with a request to the wiring network. A refused request changes nothing in the network.

use thiserror::Error;

use crate::explain::Explain;

/// Why a request to a [`Network`](super::network::Network) was refused.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum NetworkError {
    /// A probe, a link or a moved end names a point that the network does not have.
    #[error("no point `{node}` in the installation")]
    UnknownNode {
        /// The name asked for.
        node: String,
    },
    /// A change names an element that the network does not have.
    #[error("no element `{element}` in the installation")]
    UnknownElement {
        /// The name asked for.
        element: String,
    },
    /// An element is added under a name that is taken.
    #[error("element `{element}` is already in the installation")]
    ElementExists {
        /// The name that is taken.
        element: String,
    },
    /// An end is moved away from a point that the element does not touch.
    #[error("element `{element}` has no end at point `{node}`")]
    NotAnEnd {
        /// The element whose end was to move.
        element: String,
        /// The point it does not touch.
        node: String,
    },
    /// Something other than a contact is opened or closed.
    #[error("element `{element}` is not a contact")]
    NotAContact {
        /// The element that cannot be opened or closed.
        element: String,
    },
    /// The resistance of a capacitor is set.
    #[error("element `{element}` has no resistance to set")]
    NoResistance {
        /// The element without resistance.
        element: String,
    },
    /// A value is not a number, or lies outside the range the network works in.
    #[error("{quantity} `{value:?}` {unit} is outside {low:?} to {high:?} {unit}")]
    OutOfRange {
        /// What the value stands for: resistance, capacitance, voltage, frequency.
        quantity: &'static str,
        /// The value that was refused.
        value: f64,
        /// The unit of the value and of both edges.
        unit: &'static str,
        /// The lowest value that is taken.
        low: f64,
        /// The highest value that is taken.
        high: f64,
    },
}

impl Explain for NetworkError {
    fn hint(&self) -> Option<String> {
        match self {
            Self::UnknownNode { node } => Some(format!(
                "look on the drawing for the terminal that `{node}` stands for and use its name from the job"
            )),
            Self::UnknownElement { element } => Some(format!(
                "look in the job for the core, contact or load that `{element}` stands for and use its name"
            )),
            Self::ElementExists { element } => Some(format!(
                "give the second `{element}` another name, or take the first one off"
            )),
            Self::NotAnEnd { element, .. } => Some(format!(
                "look on the drawing for the terminals `{element}` ends at and name one of them"
            )),
            Self::NotAContact { .. } => {
                Some("name a switch, relay or thermostat contact; take any other element off to open it".to_owned())
            }
            Self::NoResistance { .. } => None,
            Self::OutOfRange { unit, .. } => Some(format!(
                "check the value and its prefix against the cable or appliance data; it is given in {unit}"
            )),
        }
    }
}

/// Why an installation cannot be made of a job, or a fault cannot be put into it.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum InstallationError {
    /// The figures of the job make no wiring that can be solved.
    #[error("the wiring of the job cannot be simulated: {why}")]
    Wiring {
        /// What is wrong with it.
        why: String,
    },
    /// Line and neutral meet as drawn, without any fault.
    #[error("the supply is shorted by the wiring as drawn: {milliohms} mohm between line and neutral at the {near}")]
    SupplyShorted {
        /// Where.
        near: String,
        /// What is left between them, in milliohms.
        milliohms: u64,
    },
    /// A contact needs two terminals and has one.
    #[error("the contact at the {end} has one end: its only volt-free terminal is `{terminal}`")]
    ContactWithOneEnd {
        /// The end of the cable.
        end: String,
        /// The terminal there is.
        terminal: String,
    },
    /// A fault name that is not known.
    #[error("no fault is called `{name}`")]
    UnknownFault {
        /// The name asked for.
        name: String,
    },
    /// The job has nothing that the fault could befall.
    #[error("the fault `{fault}` does not fit the job: {why}")]
    FaultDoesNotFit {
        /// The fault asked for.
        fault: String,
        /// What it lacks.
        why: String,
    },
    /// Two faults of one part cannot stand together.
    #[error("`{first}` and `{second}` cannot stand together: both are faults of {part}")]
    OnePart {
        /// One fault.
        first: String,
        /// The other.
        second: String,
        /// The part that both befall.
        part: String,
    },
}

impl Explain for InstallationError {
    fn hint(&self) -> Option<String> {
        Some(match self {
            Self::Wiring { .. } => "check the figures of the cable and the equipment in the job".into(),
            Self::SupplyShorted { .. } => {
                "check the loads and motors in the equipment of the job and which terminals its cores join".into()
            }
            Self::ContactWithOneEnd { .. } => "list the contact's other terminal in the job".into(),
            Self::UnknownFault { .. } => {
                "name one that `coreproof rehearse --fault list` shows; two at once with `+` between them".into()
            }
            Self::FaultDoesNotFit { .. } => "take another fault, or another job".into(),
            Self::OnePart { .. } => "take one of them, or a fault of another part".into(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(error: NetworkError, text: &str, hint: Option<&str>) {
        assert_eq!(error.to_string(), text);
        assert_eq!(error.hint().as_deref(), hint);
    }

    #[test]
    fn every_kind_has_its_text_and_hint() {
        let (element, node) = (|| "core 3".to_owned(), || "spur.l".to_owned());
        check(
            NetworkError::UnknownNode { node: node() },
            "no point `spur.l` in the installation",
            Some("look on the drawing for the terminal that `spur.l` stands for and use its name from the job"),
        );
        check(
            NetworkError::UnknownElement { element: element() },
            "no element `core 3` in the installation",
            Some("look in the job for the core, contact or load that `core 3` stands for and use its name"),
        );
        check(
            NetworkError::ElementExists { element: element() },
            "element `core 3` is already in the installation",
            Some("give the second `core 3` another name, or take the first one off"),
        );
        check(
            NetworkError::NotAnEnd {
                element: element(),
                node: node(),
            },
            "element `core 3` has no end at point `spur.l`",
            Some("look on the drawing for the terminals `core 3` ends at and name one of them"),
        );
        check(
            NetworkError::NotAContact { element: element() },
            "element `core 3` is not a contact",
            Some("name a switch, relay or thermostat contact; take any other element off to open it"),
        );
        check(
            NetworkError::NoResistance { element: element() },
            "element `core 3` has no resistance to set",
            None,
        );
        check(
            NetworkError::OutOfRange {
                quantity: "resistance",
                value: -1.0,
                unit: "Ω",
                low: 0.0,
                high: 1e15,
            },
            "resistance `-1.0` Ω is outside 0.0 to 1000000000000000.0 Ω",
            Some("check the value and its prefix against the cable or appliance data; it is given in Ω"),
        );
    }

    #[test]
    fn every_kind_of_an_installation_has_its_text_and_hint() {
        let check = |error: InstallationError, text: &str, hint: &str| {
            assert_eq!(error.to_string(), text);
            assert_eq!(error.hint().as_deref(), Some(hint));
        };
        check(
            InstallationError::Wiring { why: "no row".into() },
            "the wiring of the job cannot be simulated: no row",
            "check the figures of the cable and the equipment in the job",
        );
        check(
            InstallationError::SupplyShorted {
                near: "wiring centre".into(),
                milliohms: 20,
            },
            "the supply is shorted by the wiring as drawn: 20 mohm between line and neutral at the wiring centre",
            "check the loads and motors in the equipment of the job and which terminals its cores join",
        );
        check(
            InstallationError::ContactWithOneEnd {
                end: "sail loft".into(),
                terminal: "COM".into(),
            },
            "the contact at the sail loft has one end: its only volt-free terminal is `COM`",
            "list the contact's other terminal in the job",
        );
        check(
            InstallationError::UnknownFault { name: "gremlin".into() },
            "no fault is called `gremlin`",
            "name one that `coreproof rehearse --fault list` shows; two at once with `+` between them",
        );
        check(
            InstallationError::FaultDoesNotFit {
                fault: "core-open".into(),
                why: "it has no core for switched live".into(),
            },
            "the fault `core-open` does not fit the job: it has no core for switched live",
            "take another fault, or another job",
        );
        check(
            InstallationError::OnePart {
                first: "core-open:grey".into(),
                second: "high-resistance-joint:grey".into(),
                part: "core grey".into(),
            },
            "`core-open:grey` and `high-resistance-joint:grey` cannot stand together: both are faults of core grey",
            "take one of them, or a fault of another part",
        );
    }
}
