//! What differs from one operating system to the next, each behind a name of ours. Written for Linux; other systems get what
//! they have or a refusal that says so, and `tests/tidy` keeps such names out of every other room.

pub mod clock;
pub mod folder;
pub mod private;
pub mod signals;
pub mod terminal;
