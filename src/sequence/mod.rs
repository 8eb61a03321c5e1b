//! Sequences: raw shape, checked sequence, and binding to a job, which gives the plan.

mod copper;
mod expression;
mod live_windows;
mod moving;
mod parts;
mod raw;
mod say;
mod showable;
mod inside;
mod check;
mod names;
mod binder;
mod dead;
mod hands;
mod looks;
mod reference;
pub mod shipped;
mod terminals;
mod windows;
mod as_strict;
mod together;
mod any_order;
mod measures;
mod solved;
mod insulating;
mod classify;
mod across;
mod live;
mod bind;
pub mod worked;

pub use bind::{bind, bind_behind, bind_unproved, bind_unproved_behind, bound_to, problems};
pub use check::{FORMAT, Sequence, read};
pub use parts::with_parts;
pub use reference::reference;
pub use windows::insulation_row;
