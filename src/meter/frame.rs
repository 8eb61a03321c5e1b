//! Bytes to frames: a state machine fed with whatever the port delivers.
//!
//! The rule inside: half a frame waits, nothing longer than the profile allows is kept, and what was dropped is
//! counted, so that no byte disappears without a word.

use std::collections::VecDeque;

use super::profile::Framing;

/// What the framer found, in the order it arrived.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Piece {
    /// One frame without its terminator.
    Frame {
        bytes: Vec<u8>,
        /// It may lack its beginning, because listening began in the middle of the stream.
        partial: bool,
    },
    /// Bytes that were dropped because no terminator came in time.
    Dropped(usize),
}

/// Cuts a stream of bytes into frames.
///
/// ```
/// use coreproof::meter::frame::{Framer, Piece};
/// use coreproof::meter::profile::Framing;
/// let mut framer = Framer::new(&Framing::Line { end: b"\r\n".to_vec(), bytes_max: 96 }, false);
/// framer.push(b"VAC;231");
/// assert_eq!(framer.poll(), None);
/// framer.push(b".4;V;-\r\n");
/// assert_eq!(framer.poll(), Some(Piece::Frame { bytes: b"VAC;231.4;V;-".to_vec(), partial: false }));
/// ```
#[derive(Debug, Clone)]
pub struct Framer {
    end: Vec<u8>,
    bytes_max: usize,
    /// At most `bytes_max` bytes and one terminator less a byte.
    waiting: Vec<u8>,
    /// The frame in `waiting` was too long: what follows up to its terminator is dropped with it.
    dropping: bool,
    partial: bool,
    found: VecDeque<Piece>,
}

impl Framer {
    /// A framer; `mid_stream` says that the first bytes may be the tail of a frame.
    pub fn new(framing: &Framing, mid_stream: bool) -> Framer {
        let Framing::Line { end, bytes_max } = framing;
        assert!(!end.is_empty(), "a checked profile has a terminator");
        Framer {
            end: end.clone(),
            bytes_max: *bytes_max,
            waiting: Vec::new(),
            dropping: false,
            partial: mid_stream,
            found: VecDeque::new(),
        }
    }

    /// Takes bytes as they come; call [`Framer::poll`] until it is empty before the next push.
    pub fn push(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.waiting.push(*byte);
            if self.waiting.ends_with(&self.end) {
                let length = self.waiting.len() - self.end.len();
                self.finish(length);
            } else if self.bytes_max + self.end.len() <= self.waiting.len() {
                // keep what may be the beginning of a terminator
                let dropped = self.waiting.len() + 1 - self.end.len();
                self.waiting.drain(..dropped);
                self.dropping = true;
                self.found.push_back(Piece::Dropped(dropped));
            }
        }
    }

    fn finish(&mut self, length: usize) {
        let mut bytes = std::mem::take(&mut self.waiting);
        bytes.truncate(length);
        let partial = std::mem::take(&mut self.partial);
        if std::mem::take(&mut self.dropping) {
            if length != 0 {
                self.found.push_back(Piece::Dropped(length));
            }
        } else if length != 0 {
            self.found.push_back(Piece::Frame { bytes, partial });
        }
    }

    /// The next piece that is complete.
    pub fn poll(&mut self) -> Option<Piece> {
        self.found.pop_front()
    }

    /// Forgets everything that has not been polled.
    pub fn clear(&mut self, mid_stream: bool) {
        self.waiting.clear();
        self.found.clear();
        self.dropping = false;
        self.partial = mid_stream;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pieces(end: &[u8], mid_stream: bool, pushes: &[&[u8]]) -> Vec<String> {
        let framing = Framing::Line {
            end: end.to_vec(),
            bytes_max: 8,
        };
        let mut framer = Framer::new(&framing, mid_stream);
        let mut found = Vec::new();
        for bytes in pushes {
            framer.push(bytes);
            while let Some(piece) = framer.poll() {
                found.push(match piece {
                    Piece::Frame { bytes, partial } => {
                        format!("{}{}", String::from_utf8_lossy(&bytes), if partial { "?" } else { "" })
                    }
                    Piece::Dropped(count) => format!("-{count}"),
                });
            }
        }
        found
    }

    #[test]
    fn bytes_become_frames() {
        let check = |end: &[u8], mid_stream, pushes: &[&[u8]], expected: &[&str]| {
            assert_eq!(pieces(end, mid_stream, pushes), expected, "{pushes:?}");
        };
        check(b"\r\n", false, &[b"ab\r\ncd\r\n"], &["ab", "cd"]);
        check(b"\r\n", false, &[b"a", b"b\r", b"\n", b"cd"], &["ab"]);
        check(b"\r\n", true, &[b"b\r\ncd\r\n"], &["b?", "cd"]);
        check(b"\r\n", false, &[b"\r\n\r\na\rb\nc\r\n"], &["a\rb\nc"]);
        check(b"\r\n", false, &[b"12345678\r\n"], &["12345678"]);
        check(b"\r\n", false, &[b"123456789\r\nab\r\n"], &["-9", "ab"]);
        check(
            b"\r\n",
            false,
            &[b"123456789012345678901234\r\nab\r\n"],
            &["-9", "-9", "-6", "ab"],
        );
        check(b"\n", false, &[b"1234567890\nab\n"], &["-9", "-1", "ab"]);
        check(b"\n", true, &[b"\nab\n"], &["ab"]);
    }

    #[test]
    fn clearing_begins_anew() {
        let framing = Framing::Line {
            end: b"\n".to_vec(),
            bytes_max: 8,
        };
        let mut framer = Framer::new(&framing, false);
        framer.push(b"old\nhal");
        framer.clear(true);
        framer.push(b"f\nnew\n");
        assert_eq!(
            framer.poll(),
            Some(Piece::Frame {
                bytes: b"f".to_vec(),
                partial: true
            })
        );
        assert_eq!(
            framer.poll(),
            Some(Piece::Frame {
                bytes: b"new".to_vec(),
                partial: false
            })
        );
        assert_eq!(framer.poll(), None);
    }
}
