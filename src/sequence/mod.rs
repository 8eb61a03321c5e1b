//! Sequences: raw shape, checked sequence, and binding to a job, which gives the plan.

mod as_strict;
mod bind;
mod binder;
mod check;
mod classify;
mod expression;
mod hands;
mod live;
mod live_windows;
mod looks;
mod measures;
mod moving;
mod raw;
mod reference;
mod say;
pub mod shipped;
mod terminals;
mod windows;
pub mod worked;

pub use bind::{bind, bind_unproved};
pub use check::{FORMAT, Sequence, read, with_parts};
pub use reference::reference;
pub use windows::insulation_row;
