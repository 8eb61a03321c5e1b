//! Learning a meter that no profile describes: from its bytes, and from what the engineer says its display shows.
//!
//! The rule inside: nothing is guessed; a family is learnt from at most five displays that the learner asks for, in the
//! functions, units and ranges that were shown, and everything else is refused until it is shown as well.
//!
//! Learnable: text in lines or between STX and ETX (columns are words with blanks between), seven-segment digits with
//! index numbers or marks, packed decimal digits, integers of 8 to 32 bits with a range code, floats of 32 and 64 bits.
//! Text may carry numbers with an exponent in plain units.
//! A meter that has to be asked is learnt where its answers are text that names the function.
//! Not learnable: set-up that must be sent before a question, counts
//! with a step that is no power of ten, a bar that moves with the value, functions and ranges told by more than 16 bits.

pub mod display;
pub mod bitmap;
pub mod guard;
pub mod cut;
mod hypothesis;
mod text;
mod bits;
mod numbers;
mod segments;
pub mod listen;
pub mod question;
pub mod wish;
pub mod learner;

#[cfg(test)]
mod families;
