//! Findings over records: signature, chain, order, every reading decoded again, every verdict judged again. Prints nothing.

mod examine;

pub use examine::{Concern, Examined, Remark, examine};
