//! Ports: what a meter hangs on, how it is named, and the meter as its reader sees it.

mod bytes;
mod pipe;
pub mod serial;
pub mod tcp;
#[cfg(feature = "hid")]
pub mod hid;
pub mod recording;
pub mod replay;
pub mod stdin;
pub mod tap;
pub mod spec;
pub mod event;
mod link;
pub mod source;

pub use bytes::{Opener, Opening, Port, PortError};
