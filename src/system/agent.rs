//! The way to an SSH agent, which holds keys and signs with them.
//!
//! The rule inside: where the agent listens is the system's matter; what is said to it is told in `evidence/keys`.

use std::io::{self, Read, Write};
use std::time::Duration;

/// How long an agent may take: it may ask its owner first.
const ANSWER_WAIT_MAX: Duration = Duration::from_secs(120);

/// A connection to an agent.
pub trait Connection: Read + Write {}

impl<T: Read + Write> Connection for T {}

/// Calls the agent of this session.
///
/// # Errors
/// [`io::ErrorKind::NotFound`] where there is none; what the system says.
#[cfg(unix)]
pub fn call() -> io::Result<Box<dyn Connection>> {
    let socket = std::env::var_os("SSH_AUTH_SOCK").filter(|path| !path.is_empty());
    let socket = socket.ok_or_else(|| io::Error::new(io::ErrorKind::NotFound, "SSH_AUTH_SOCK names none"))?;
    let stream = std::os::unix::net::UnixStream::connect(socket)?;
    stream.set_read_timeout(Some(ANSWER_WAIT_MAX))?;
    stream.set_write_timeout(Some(ANSWER_WAIT_MAX))?;
    Ok(Box::new(stream))
}

/// Calls the agent of this session.
///
/// # Errors
/// That this is not known here.
#[cfg(not(unix))]
pub fn call() -> io::Result<Box<dyn Connection>> {
    let _ = ANSWER_WAIT_MAX;
    Err(io::Error::new(
        io::ErrorKind::Unsupported,
        "SSH agents are not known on this system",
    ))
}
