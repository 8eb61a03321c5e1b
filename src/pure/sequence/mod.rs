//! Sequences: raw shape, checked sequence, and binding to a job, which gives the plan.

mod bind;
mod check;
mod hands;
mod live;
mod live_windows;
mod measures;
mod order;
mod raw;
mod say;
mod windows;

pub use bind::bind;
pub use check::{FORMAT, Sequence, read};
pub use windows::insulation_row;
