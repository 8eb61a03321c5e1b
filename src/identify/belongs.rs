//! What an actuator turned out to be.
//!
//! The rule inside: whatever did not do exactly what one zone asks for belongs to none.

use serde::{Deserialize, Serialize};

/// What an actuator turned out to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Belongs {
    /// To this zone, from 1.
    Zone(usize),
    /// It stayed shut at every look, though each zone has called.
    NeverOpens,
    /// It stood open before any zone called.
    StandsOpen,
    /// The looks fit no zone.
    NoZone,
}

impl Belongs {
    /// The words of the list.
    pub fn words(self) -> String {
        match self {
            Belongs::Zone(zone) => format!("zone {zone}"),
            Belongs::NeverOpens => {
                "NEVER OPENED: held shut, not wired, or a zone whose call does not come through".into()
            }
            Belongs::StandsOpen => "OPEN BEFORE ANY CALL: held open, wired to a permanent feed, or still warm".into(),
            Belongs::NoZone => "FITS NO ZONE: slow, sticking, wired to two zones, or mistyped; look at it again".into(),
        }
    }
}
