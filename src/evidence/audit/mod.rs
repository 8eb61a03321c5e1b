//! Findings over signed journals: signature, chain, order, every reading decoded again, every verdict judged again. Prints nothing.

mod remark;
mod source;
mod known;
mod choice;
mod examine;
mod identification;
mod when;
mod record;

pub use examine::{Examinable, Examined, examine, examine_known};
pub use identification::{carry, examine_carried, is_identification};
pub use known::Known;
pub use remark::{Concern, REMARKS_MAX, Remark, Remarks};
