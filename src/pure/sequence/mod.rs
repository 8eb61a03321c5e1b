//! Sequences: raw shape, checked sequence, and binding to a job, which gives the plan.

mod bind;
mod check;
mod hands;
mod measures;
mod raw;
mod say;
mod windows;

pub use bind::bind;
pub use check::{FORMAT, Sequence, read};
pub use windows::insulation_row;
