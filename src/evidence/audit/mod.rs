//! Findings over records: signature, chain, order, every reading decoded again, every verdict judged again. Prints nothing.

mod examine;
mod identified;

pub use examine::{Concern, Examined, Remark, examine};
pub use identified::{Identified, carry, examine_carried, examine_identification, is_identification};
