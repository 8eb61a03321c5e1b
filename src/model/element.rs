//! What stands between two points: a resistance, a capacitance, a source or a contact, and the range of each value.
//!
//! Rule: a value is refused unless it is a number within its range, so that the solver has nothing left to refuse.

use super::error::NetworkError;

/// Least resistance of any element, in ohms. A smaller one, down to 0, becomes this one: a tenth of a milliohm is below
/// what a low-resistance ohmmeter resolves (10 mΩ; common practice). Our own choice.
pub const RESISTANCE_FLOOR_OHMS: f64 = 1e-4;
/// Greatest resistance of an element, in ohms; an element above it should be left out. Our own choice.
pub const RESISTANCE_MAX_OHMS: f64 = 1e15;
/// Greatest capacitance of an element, in farads. Our own choice: wiring is counted in nanofarads.
pub const CAPACITANCE_MAX_FARADS: f64 = 1.0;
/// Greatest source voltage, in volts rms. Our own choice, far above low voltage (1000 V AC, 1500 V DC).
pub const VOLTAGE_MAX_VOLTS: f64 = 1e6;
/// Lowest and highest supply frequency, in hertz. Our own choice around 50 and 60 Hz.
pub const FREQUENCY_RANGE_HERTZ: (f64, f64) = (1.0, 1e6);
/// Resistance of a closed contact, in ohms, until `Network::set_ohms` says otherwise. Our own choice: a sound contact.
pub const CONTACT_OHMS: f64 = 0.01;
/// Resistance of a short link lead with its clips, in ohms, for `Network::link`. Our own choice.
pub const LINK_LEAD_OHMS: f64 = 0.005;

/// What the supply of a network delivers; its alternating sources are all in phase. Direct sources may stand beside them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Supply {
    /// Alternating current at this frequency in hertz.
    Ac {
        /// Frequency in hertz, within [`FREQUENCY_RANGE_HERTZ`].
        hz: f64,
    },
    /// Direct current: capacitors are open.
    Dc,
}

/// Which kind of current a source delivers and a meter measures: a range of one kind sees nothing of the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Current {
    /// Of the mains' frequency.
    Alternating,
    /// Of one direction.
    Direct,
}

impl Supply {
    /// The kind of current that it delivers.
    pub fn current(self) -> Current {
        match self {
            Supply::Ac { .. } => Current::Alternating,
            Supply::Dc => Current::Direct,
        }
    }
}

/// What an element is. All values were checked on the way in.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Kind {
    Resistor {
        ohms: f64,
    },
    Capacitor {
        farads: f64,
    },
    Source {
        volts_rms: f64,
        series_ohms: f64,
        current: Current,
    },
    Contact {
        closed_ohms: f64,
        closed: bool,
    },
}

/// An element as it stands, to be read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Part {
    /// A resistance, in ohms: a resistor, a link, a closed contact.
    Ohms(f64),
    /// A capacitance, in farads.
    Farads(f64),
    /// A source, in volts rms, with its series resistance in ohms; its first point is the line or positive end.
    Source {
        /// Without a load, in volts rms.
        volts: f64,
        /// In series with it, in ohms.
        ohms: f64,
        /// Which kind of current it delivers.
        current: Current,
    },
    /// An open contact.
    Open,
}

/// One element between two points. With both ends on one point it carries nothing to any other.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Element {
    pub(super) ends: [usize; 2],
    pub(super) kind: Kind,
}

impl Element {
    /// Whether it joins its two points for any kind of current: all but an open contact may.
    pub(super) fn can_conduct(&self) -> bool {
        !matches!(self.kind, Kind::Contact { closed: false, .. })
    }
}

/// A resistance within range, raised to the floor.
pub(super) fn checked_ohms(ohms: f64) -> Result<f64, NetworkError> {
    in_range("resistance", ohms, (0.0, RESISTANCE_MAX_OHMS), "Ω")?;
    Ok(ohms.max(RESISTANCE_FLOOR_OHMS))
}

/// Refuses a value outside the range, edges included, and one that is not a number.
pub(super) fn in_range(
    quantity: &'static str,
    value: f64,
    (low, high): (f64, f64),
    unit: &'static str,
) -> Result<(), NetworkError> {
    // Not a number fails both comparisons, infinity the second.
    if low <= value && value <= high {
        return Ok(());
    }
    Err(NetworkError::OutOfRange {
        quantity,
        value,
        unit,
        low,
        high,
    })
}
