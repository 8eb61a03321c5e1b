//! The page: the second face of a run, served to a browser on the same machine, or to a phone on the same network.

mod about;
mod caller;
mod chosen;
mod door;
mod error;
mod face;
mod guard;
mod picture;
mod reply;
mod seats;
mod secret;
mod serve;
mod server_certificate;
mod shared;
mod state;
mod told;
mod upload;

pub use about::About;
pub use door::{Door, Shown};
pub use error::Error;
pub use face::{PageFace, Served};
pub use server_certificate::Anew;
pub use told::Told;
