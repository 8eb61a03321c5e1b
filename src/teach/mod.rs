//! Learning a meter that no profile describes: from its bytes, and from what the engineer says its display shows.
//!
//! The rule inside: nothing is guessed; a family is learnt from displays that the learner asks for, in the functions, units
//! and ranges that were shown, and everything else is refused until it is shown as well. Every display that was typed counts,
//! and the last two must have been read right before anything was learnt from them.
//!
//! Learnable: text in lines with any end or between STX and ETX (words with signs, blanks or nothing between them, a comma for
//! the point, a sign apart from its digits, times, counters, bars and other figures beside the value, headers), seven-segment
//! digits with index numbers or marks, packed decimal digits, integers of 8 to 32 bits with a range code, floats of 32 and 64
//! bits, all with any cyclic check of 8 or 16 bits. Text may carry numbers with an exponent in plain units.
//! A meter that has to be asked is learnt where its answers are text that names the function.
//! Not learnable: set-up that must be sent before a question, counts with a step that is no power of ten, functions and ranges
//! told by more than 16 bits, readings that take two lines which nothing marks, binary frames of varying length, letters in the
//! place of the point.

pub mod display;
pub mod bitmap;
pub mod guard;
pub mod cut;
mod hypothesis;
mod lex;
mod text;
mod template;
mod bits;
mod numbers;
mod segments;
pub mod listen;
pub mod question;
pub mod wish;
mod error;
mod explanations;
mod examination;
pub mod learner;

#[cfg(test)]
mod families;
