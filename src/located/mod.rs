//! RON with the place of every value, texts with their names, and problems that point at them.

mod found;
mod problem;
mod text;
mod nesting;
mod nearest;
mod outline;
mod edits;
mod read;
mod mend;

pub use edits::Edited;
pub use found::{FOUND_MAX, Found};
pub use mend::read_all;
pub use nearest::nearest;
pub use outline::{end_of_list, entries, field, last_sign, top_field, value_at};
pub use problem::{Problem, Problems, listed};
pub use read::{Located, TEXT_BYTES_MAX, read};
pub use text::{Finding, Findings, Lines, Text, is_never_in_a_name, is_unseen};
