//! Sequences: raw shape, checked sequence, and binding to a job, which gives the plan.

mod bind;
mod check;
mod classify;
mod expression;
mod hands;
mod live;
mod live_windows;
mod looks;
mod measures;
mod raw;
mod say;
mod windows;

pub use bind::bind;
pub use check::{FORMAT, STEPS_MAX, Sequence, included, read};
pub use raw::{KINDS, KindWords};
pub use windows::insulation_row;
