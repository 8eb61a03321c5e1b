//! Noticing that the other end of a connection is gone, though nobody said goodbye.
//!
//! The rule inside: the system asks while nothing is heard; a connection that is in use costs nothing.

use std::io;
use std::time::Duration;

use rustix::net::sockopt;
use tokio::net::TcpStream;

/// When the other end is asked whether it is still there.
#[derive(Debug, Clone, Copy)]
pub struct Probing {
    /// The silence before the first question; whole seconds, at least one.
    pub after: Duration,
    /// Between two questions; whole seconds, at least one.
    pub every: Duration,
    /// Questions without an answer after which the connection is taken for lost.
    pub count: u32,
}

/// Lets a connection be probed.
///
/// # Errors
/// What the system says.
pub fn probe(stream: &TcpStream, probing: Probing) -> io::Result<()> {
    sockopt::set_socket_keepalive(stream, true)?;
    sockopt::set_tcp_keepidle(stream, probing.after)?;
    sockopt::set_tcp_keepintvl(stream, probing.every)?;
    sockopt::set_tcp_keepcnt(stream, probing.count)?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn a_connection_is_probed_as_asked() {
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
        let stream = TcpStream::connect(listener.local_addr().unwrap()).await.unwrap();
        let [after, every] = [5, 2].map(Duration::from_secs);
        let probing = Probing { after, every, count: 3 };
        assert!(!sockopt::socket_keepalive(&stream).unwrap());
        probe(&stream, probing).unwrap();
        assert!(sockopt::socket_keepalive(&stream).unwrap());
        assert_eq!(sockopt::tcp_keepidle(&stream).unwrap(), after);
        assert_eq!(sockopt::tcp_keepintvl(&stream).unwrap(), every);
        assert_eq!(sockopt::tcp_keepcnt(&stream).unwrap(), 3);
    }
}
