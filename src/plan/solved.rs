//! A window over one pair of cores in which each core is solved.
//!
//! The rule inside: it is worked out from what the two cores read against the return core, so it is known only once both were read.

use rust_decimal::Decimal;
use serde::Serialize;

use crate::judge::solved::alike;
use crate::judge::window::Window;
use crate::limits::Basis;
use crate::value::quantity::{Amount, Unit};

/// What two cores linked at the far end may read against each other where the length of their cable is not known.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Solved {
    /// The first core, the second and the return core, by name.
    pub cores: [String; 3],
    /// The steps that read each of the two against the return core.
    pub with_return: [String; 2],
    /// The areas of the three, in square millimetres.
    pub areas: [Amount; 3],
    /// How far the solved cores may be from each other, by size, in ohms.
    pub within: Amount,
    /// The most that a pair may have, whatever its length, in ohms.
    pub most: Amount,
    /// Where both come from.
    pub basis: Vec<Basis>,
}

impl Solved {
    /// The window, given what the two read against the return core, in ohms.
    pub fn window(&self, with_return: [Decimal; 2]) -> Window {
        let areas = [0, 1, 2].map(|core| self.areas[core].value());
        let (low, high) = alike(with_return, areas, self.within.value());
        let high = high.min(self.most.value()).max(Decimal::ZERO);
        // what is not alike already has no reading that would make it so
        let low = low.max(Decimal::ZERO).min(high);
        let edge = |ohms: Decimal| Some(Amount::new(ohms.round_dp(3).normalize(), Unit::Ohm));
        let mut basis = self.basis.clone();
        if let Some(first) = basis.first_mut() {
            let [a, b] = &self.with_return;
            first.what = format!("each core solved with `{a}` and `{b}`; {}", first.what);
        }
        Window::new(edge(low), edge(high), Unit::Ohm, basis)
    }
}
