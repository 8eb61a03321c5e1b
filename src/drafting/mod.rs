//! A job written by asking: what is asked of a base job, and the job that the answers make of it.

mod question;
mod draft;

pub use draft::{Draft, Unfit, page, slug, written};
pub use question::{Answers, Question, questions};
