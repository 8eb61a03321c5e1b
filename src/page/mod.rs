//! The page: the second face of a run, served to a browser on the same machine.

mod about;
mod caller;
mod chosen;
mod face;
mod guard;
mod picture;
mod reply;
mod secret;
mod serve;
mod shared;
mod state;
mod upload;

pub use about::About;
pub use face::{PageFace, Served};
