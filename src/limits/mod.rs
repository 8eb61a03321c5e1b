//! Limit tables as data: every figure that judges a reading, with its edition, clause, source and confidence.

mod table;
mod row;
mod edition;
mod set;
mod find;
mod shipped;

pub use edition::Limits;
pub use find::{Compared, Entry, compare, entries, find};
pub use row::{Basis, Confidence, Row, Saying};
pub use set::{Edition, Set, resolve};
pub use shipped::{edition, sets, shipped, with};
pub use table::Table;
