//! A port whose bytes come from a thread or a task, piece by piece.
//!
//! The rule inside: a piece is never joined with the next, so that a report stays a report; where nothing can be sent
//! back, what is sent is dropped.

use std::io;
use std::pin::Pin;
use std::task::{Context, Poll, ready};

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::sync::mpsc::{Receiver, Sender, UnboundedSender, channel};

/// Pieces on their way; whoever sends more waits.
const PIECES_MAX: usize = 16;

/// The port's end of a pipe. It is at its end when the feeding end is dropped.
#[derive(Debug)]
pub(super) struct Pipe {
    pieces: Receiver<Vec<u8>>,
    /// What did not fit into the last read.
    rest: Vec<u8>,
    back: Option<UnboundedSender<Vec<u8>>>,
}

impl Pipe {
    /// A pipe and its feeding end; `back` takes what is written to the port.
    pub(super) fn new(back: Option<UnboundedSender<Vec<u8>>>) -> (Sender<Vec<u8>>, Pipe) {
        let (feed, pieces) = channel(PIECES_MAX);
        let rest = Vec::new();
        (feed, Pipe { pieces, rest, back })
    }
}

impl AsyncRead for Pipe {
    fn poll_read(self: Pin<&mut Self>, context: &mut Context<'_>, into: &mut ReadBuf<'_>) -> Poll<io::Result<()>> {
        let pipe = self.get_mut();
        while pipe.rest.is_empty() {
            match ready!(pipe.pieces.poll_recv(context)) {
                Some(piece) => pipe.rest = piece,
                None => return Poll::Ready(Ok(())),
            }
        }
        let count = pipe.rest.len().min(into.remaining());
        into.put_slice(&pipe.rest[..count]);
        pipe.rest.drain(..count);
        Poll::Ready(Ok(()))
    }
}

impl AsyncWrite for Pipe {
    fn poll_write(self: Pin<&mut Self>, _: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        if let Some(back) = &self.back
            && back.send(bytes.to_vec()).is_err()
        {
            return Poll::Ready(Err(io::ErrorKind::BrokenPipe.into()));
        }
        Poll::Ready(Ok(bytes.len()))
    }

    fn poll_flush(self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<io::Result<()>> {
        Poll::Ready(Ok(()))
    }

    fn poll_shutdown(self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<io::Result<()>> {
        Poll::Ready(Ok(()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tokio::io::{AsyncReadExt, AsyncWriteExt};

    #[tokio::test]
    async fn pieces_stay_apart_and_the_end_stays_the_end() {
        let (feed, mut pipe) = Pipe::new(None);
        for piece in [&b"abc"[..], b"", b"defghi"] {
            feed.send(piece.to_vec()).await.unwrap();
        }
        drop(feed);
        let mut bytes = [0; 4];
        for expected in [&b"abc"[..], b"defg", b"hi", b"", b""] {
            let count = pipe.read(&mut bytes).await.unwrap();
            assert_eq!(&bytes[..count], expected);
        }
        pipe.write_all(b"into the void").await.unwrap();
    }

    #[tokio::test]
    async fn what_is_written_goes_back() {
        let (back, mut written) = tokio::sync::mpsc::unbounded_channel();
        let (_feed, mut pipe) = Pipe::new(Some(back));
        pipe.write_all(b"READ?").await.unwrap();
        assert_eq!(written.recv().await.unwrap(), b"READ?");
        drop(written);
        assert_eq!(
            pipe.write_all(b"READ?").await.unwrap_err().kind(),
            io::ErrorKind::BrokenPipe
        );
    }
}
