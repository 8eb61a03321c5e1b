//! The two ends of the cable, and what their terminals are for.
//!
//! The rule inside: a terminal is for one purpose, by its marking or its maker's sheet.

use serde::{Deserialize, Serialize};

use super::purpose::Purpose;

/// One end of the cable.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum End {
    /// Where the supply is, usually the wiring centre.
    Near,
    /// Where the thermostat is.
    Far,
}

impl End {
    /// Both ends, near first.
    pub const BOTH: [End; 2] = [End::Near, End::Far];
}

/// A terminal and what it is for by its marking or its maker's sheet.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Terminal {
    /// As it is marked: `3`, `SL`.
    pub name: String,
    /// What may go into it.
    pub takes: Purpose,
    /// A core of the cable goes into it; terminals of other cables may stand in the same box.
    #[serde(skip)]
    pub has_core: bool,
}

/// One end: its name and terminals.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct EndOfCable {
    /// What prompts call this end: `wiring centre`.
    pub name: String,
    /// Those that cores or equipment of the job go into.
    pub terminals: Vec<Terminal>,
    /// Metal that touches the earth terminal here and is bonded to the main earthing terminal, in the job's words: `copper pipe to the
    /// boiler`. It is in parallel with the earth conductor. `None` where there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub metalwork: Option<String>,
}

impl EndOfCable {
    /// The first terminal with a purpose that a core of the cable goes into, else the first.
    pub fn terminal_for(&self, purpose: Purpose) -> Option<&Terminal> {
        let of = || self.terminals.iter().filter(|t| t.takes == purpose);
        of().find(|terminal| terminal.has_core).or_else(|| of().next())
    }
}
