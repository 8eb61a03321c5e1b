//! A job written by asking: what is asked of a base job, and the job that the answers make of it.

mod piece;
mod lists;
mod question;
mod draft;

pub use draft::{Draft, page, slug, so_far, told_once, written};
pub use lists::Of;
pub use piece::Unfit;
pub use question::{Answers, Question, questions};
