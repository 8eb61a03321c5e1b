//! Two ends of a line without a cable: what a program writes at one, another reads at a path, as from a serial port.
//!
//! The rule inside: whoever reads opens the path, as a cable would be opened; a port is held alone, so nobody here holds it too.

use std::io;

use tokio_serial::SerialStream;

/// A pseudo-terminal.
#[derive(Debug)]
pub struct PseudoTerminal {
    /// The end that is ours.
    pub line: SerialStream,
    /// The path at which the other end is opened.
    pub path: String,
}

impl PseudoTerminal {
    /// Makes one; called inside a Tokio runtime.
    ///
    /// # Errors
    /// What the system says where it gives none; [`io::ErrorKind::Unsupported`] on a system that has none to give.
    #[cfg(unix)]
    pub fn open() -> io::Result<PseudoTerminal> {
        let (line, other_end) = SerialStream::pair()?;
        let path = tokio_serial::SerialPort::name(&other_end).ok_or_else(|| io::Error::other("it has no name"))?;
        Ok(PseudoTerminal { line, path })
    }

    /// Makes one, which is not supported on this system.
    ///
    /// # Errors
    /// Always [`io::ErrorKind::Unsupported`].
    #[cfg(not(unix))]
    pub fn open() -> io::Result<PseudoTerminal> {
        let why = "pseudo-terminals are not supported on this system";
        Err(io::Error::new(io::ErrorKind::Unsupported, why))
    }
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use tokio::io::{AsyncReadExt, AsyncWriteExt};
    use tokio_serial::SerialPortBuilderExt;

    #[tokio::test]
    async fn what_is_written_at_one_end_is_read_at_the_path() {
        let mut ours = PseudoTerminal::open().unwrap();
        let mut theirs = tokio_serial::new(&ours.path, 9600).open_native_async().unwrap();
        ours.line.write_all(b"0.42 ohm\r\n").await.unwrap();
        let mut bytes = [0; 10];
        theirs.read_exact(&mut bytes).await.unwrap();
        assert_eq!(&bytes, b"0.42 ohm\r\n");
    }
}
