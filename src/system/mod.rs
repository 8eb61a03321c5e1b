//! What differs from one operating system to the next, each behind a name of ours. Written for Linux; other systems get what
//! they have or a refusal that says so, and `tests/tidy` keeps such names out of every other room.

pub mod agent;
pub mod browser;
pub mod clock;
pub mod disk;
pub mod devices;
pub mod folder;
pub mod keep_alive;
pub mod lock;
pub mod private;
pub mod pseudo_terminal;
pub mod signals;
pub mod terminal;
