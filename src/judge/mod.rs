//! Judging: pass windows and the verdict on a reading, and what is worked out for them.

pub mod rounding;
pub mod resistance;
pub mod solved;
pub mod earth_loop;
pub mod insulation;
pub mod ghost;
pub mod accuracy;
pub mod propagate;
pub mod risk;
pub mod window;
