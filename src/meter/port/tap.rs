//! Listens in on a port.
//!
//! The rule inside: whoever listens gets every byte that was read, as it was read, and changes none.

use std::io;
use std::pin::Pin;
use std::sync::{Arc, Mutex};
use std::task::{Context, Poll, ready};

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};

use super::{Opener, Opening, Port};

/// Called with what each read gave, 1 byte or more.
pub type Listener = Box<dyn FnMut(&[u8]) + Send>;

/// A port with a listener, who stays through losses.
pub struct Tap {
    port: Box<dyn Opener>,
    listener: Arc<Mutex<Listener>>,
}

impl Tap {
    /// Puts a listener on a port.
    pub fn new(port: Box<dyn Opener>, listener: Listener) -> Tap {
        Tap {
            port,
            listener: Arc::new(Mutex::new(listener)),
        }
    }
}

impl Opener for Tap {
    fn open(&self) -> Opening {
        let (opening, listener) = (self.port.open(), self.listener.clone());
        Box::pin(async move {
            let port = opening.await?;
            Ok(Box::new(Tapped { port, listener }) as Box<dyn Port>)
        })
    }

    fn name(&self) -> &str {
        self.port.name()
    }

    fn is_one_way(&self) -> bool {
        self.port.is_one_way()
    }
}

struct Tapped {
    port: Box<dyn Port>,
    listener: Arc<Mutex<Listener>>,
}

impl AsyncRead for Tapped {
    fn poll_read(mut self: Pin<&mut Self>, context: &mut Context<'_>, into: &mut ReadBuf<'_>) -> Poll<io::Result<()>> {
        let before = into.filled().len();
        let read = ready!(Pin::new(&mut self.port).poll_read(context, into));
        let bytes = &into.filled()[before..];
        if !bytes.is_empty() {
            (self.listener.lock().expect("no listener panics"))(bytes);
        }
        Poll::Ready(read)
    }
}

impl AsyncWrite for Tapped {
    fn poll_write(mut self: Pin<&mut Self>, context: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.port).poll_write(context, bytes)
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.port).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.port).poll_shutdown(context)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::port::recording::{Piece, Recording};
    use crate::meter::port::replay::Replay;
    use tokio::io::AsyncReadExt;

    #[tokio::test]
    async fn the_listener_hears_each_read_and_the_reader_loses_nothing() {
        let piece = |bytes: &[u8]| Piece {
            ms: 0,
            bytes: bytes.to_vec(),
        };
        let recording = Recording {
            profile: None,
            pieces: vec![piece(b"abc"), piece(b"de")],
        };
        let heard = Arc::new(Mutex::new(Vec::new()));
        let ear = heard.clone();
        let tap = Tap::new(
            Box::new(Replay::new("replay:x", recording, false)),
            Box::new(move |bytes| ear.lock().unwrap().push(bytes.to_vec())),
        );
        assert_eq!((tap.name(), tap.is_one_way()), ("replay:x", true));
        let mut read = Vec::new();
        tap.open().await.unwrap().read_to_end(&mut read).await.unwrap();
        assert_eq!(read, b"abcde");
        assert_eq!(*heard.lock().unwrap(), [b"abc".to_vec(), b"de".to_vec()]);
    }
}
