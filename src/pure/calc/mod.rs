//! Working things out: resistance of cables, earth fault loops, insulation in parallel, ghost voltages, uncertainty and risk.

pub mod accuracy;
pub mod earth_loop;
pub mod ghost;
pub mod insulation;
pub mod propagate;
pub mod resistance;
pub mod risk;
pub mod rounding;
pub mod worked;
