//! Bytes to frames: a state machine fed with whatever the port delivers.
//!
//! The rule inside: half a frame waits, nothing longer than the profile allows is kept, what was dropped is counted so
//! that no byte disappears without a word, and the same bytes give the same pieces however they were split.

use super::{Cut, Framing};

/// What the framer found, in the order it arrived.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Piece<B = Vec<u8>> {
    /// One frame without its terminator.
    Frame {
        /// Its bytes.
        bytes: B,
        /// It may lack its beginning, because listening began in the middle of the stream.
        partial: bool,
    },
    /// A whole frame that the following ones have to confirm: the profile wants several that are the same.
    Unconfirmed,
    /// Bytes that were dropped because they belong to no frame.
    Dropped(usize),
}

/// Where the next frame stands in what has arrived.
enum Found {
    /// More bytes are needed to tell.
    Wait,
    /// So many bytes belong to no frame.
    Skip(usize),
    /// A frame of so many bytes, and of what follows it the bytes that only mark its end.
    Frame { bytes: usize, end: usize },
    /// A line that is too long, so far.
    Flood(usize),
}

/// Cuts a stream of bytes into frames.
///
/// ```
/// use coreproof::meter::decode::frame::{Framer, Piece};
/// use coreproof::meter::decode::Framing;
/// let mut framer = Framer::new(&Framing::line(b"\r\n", 96), false);
/// framer.push(b"VAC;231");
/// assert_eq!(framer.poll(), None);
/// framer.push(b".4;V;-\r\n");
/// assert_eq!(framer.poll(), Some(Piece::Frame { bytes: b"VAC;231.4;V;-".to_vec(), partial: false }));
/// ```
#[derive(Debug, Clone)]
pub struct Framer {
    framing: Framing,
    /// Bytes that have arrived; those before `head` are done with.
    arrived: Vec<u8>,
    head: usize,
    /// How far after `head` a terminator was looked for in vain.
    searched: usize,
    /// The line at `head` was too long: what follows up to its terminator is dropped with it.
    dropping: bool,
    /// Bytes skipped since the last frame.
    skipped: usize,
    partial: bool,
    /// The last frame and how often in a row it came; only where frames have to agree.
    last: Vec<u8>,
    alike: u32,
}

impl Framer {
    /// A framer; `mid_stream` says that the first bytes may be the tail of a frame.
    pub fn new(framing: &Framing, mid_stream: bool) -> Framer {
        Framer {
            framing: framing.clone(),
            arrived: Vec::new(),
            head: 0,
            searched: 0,
            dropping: false,
            skipped: 0,
            partial: mid_stream,
            last: Vec::new(),
            alike: 0,
        }
    }

    /// Takes bytes as they come; call [`Framer::poll`] until it is empty before the next push.
    pub fn push(&mut self, bytes: &[u8]) {
        self.arrived.drain(..std::mem::take(&mut self.head));
        self.arrived.extend_from_slice(bytes);
    }

    /// The next piece that is complete.
    pub fn poll(&mut self) -> Option<Piece> {
        self.poll_borrowed().map(|piece| match piece {
            Piece::Frame { bytes, partial } => Piece::Frame {
                bytes: bytes.to_vec(),
                partial,
            },
            Piece::Unconfirmed => Piece::Unconfirmed,
            Piece::Dropped(count) => Piece::Dropped(count),
        })
    }

    /// The next piece that is complete, in place: nothing is copied.
    pub fn poll_borrowed(&mut self) -> Option<Piece<&[u8]>> {
        loop {
            match self.find() {
                Found::Wait => return None,
                Found::Skip(count) => {
                    self.advance(count);
                    self.skipped += count;
                    if self.framing.bytes_max() <= self.skipped {
                        return Some(self.drop_skipped());
                    }
                }
                Found::Flood(count) => {
                    self.advance(count);
                    self.dropping = true;
                    self.alike = 0;
                    return Some(Piece::Dropped(count));
                }
                Found::Frame { bytes, end } => {
                    // the beginning of a stream may be the tail of a frame, which is nobody's fault
                    if 0 < self.skipped && !self.partial {
                        return Some(self.drop_skipped());
                    }
                    self.skipped = 0;
                    let start = self.head;
                    self.advance(bytes + end);
                    let partial = std::mem::take(&mut self.partial);
                    if std::mem::take(&mut self.dropping) {
                        if bytes != 0 {
                            return Some(Piece::Dropped(bytes));
                        }
                    } else if bytes != 0 {
                        return Some(self.confirmed(start, bytes, partial));
                    }
                }
            }
        }
    }

    /// True where nothing has arrived that is not done with.
    pub fn is_empty(&self) -> bool {
        self.arrived.len() == self.head && self.skipped == 0 && !self.dropping
    }

    /// Forgets everything that has not been polled, and what the next frame could have confirmed.
    pub fn clear(&mut self, mid_stream: bool) {
        *self = Framer {
            arrived: std::mem::take(&mut self.arrived),
            ..Framer::new(&self.framing, mid_stream)
        };
        self.arrived.clear();
    }

    fn advance(&mut self, count: usize) {
        self.head += count;
        self.searched = 0;
    }

    fn drop_skipped(&mut self) -> Piece<&'static [u8]> {
        // what stood between two frames may have been a third
        self.alike = 0;
        self.partial = false;
        Piece::Dropped(std::mem::take(&mut self.skipped))
    }

    fn confirmed(&mut self, start: usize, bytes: usize, partial: bool) -> Piece<&[u8]> {
        let frame = &self.arrived[start..start + bytes];
        if 1 < self.framing.agree {
            if 0 < self.alike && self.last == frame {
                self.alike = self.alike.saturating_add(1);
            } else {
                self.alike = 1;
                self.last.clear();
                self.last.extend_from_slice(frame);
            }
            if self.alike < self.framing.agree {
                return Piece::Unconfirmed;
            }
        }
        Piece::Frame { bytes: frame, partial }
    }

    fn find(&mut self) -> Found {
        let waiting = &self.arrived[self.head..];
        if waiting.is_empty() {
            return Found::Wait;
        }
        match &self.framing.cut {
            Cut::Line { end, bytes_max } => {
                let window = bytes_max + end.len();
                let within = &waiting[..waiting.len().min(window)];
                match position(within, end, self.searched) {
                    Some(at) => Found::Frame {
                        bytes: at,
                        end: end.len(),
                    },
                    // keep what may be the beginning of a terminator
                    None if waiting.len() >= window => Found::Flood(window + 1 - end.len()),
                    None => {
                        self.searched = (within.len() + 1).saturating_sub(end.len());
                        Found::Wait
                    }
                }
            }
            Cut::Fixed { bytes, sync } => {
                if waiting.len() < *bytes {
                    return Found::Wait;
                }
                let frame = &waiting[..*bytes];
                let marked = sync.iter().all(|(bits, code)| bits.read(frame) == *code);
                if marked && self.framing.check.is_none_or(|check| check.verify(frame).is_ok()) {
                    Found::Frame { bytes: *bytes, end: 0 }
                } else {
                    Found::Skip(1)
                }
            }
            Cut::Delimited { .. } => self.find_delimited(),
        }
    }

    fn find_delimited(&mut self) -> Found {
        let Cut::Delimited {
            start,
            end,
            after,
            bytes_max,
        } = &self.framing.cut
        else {
            unreachable!("asked for delimiters only")
        };
        let waiting = &self.arrived[self.head..];
        let seen = waiting.len().min(start.len());
        if waiting[..seen] != start[..seen] {
            return Found::Skip(1);
        }
        let within = &waiting[..waiting.len().min(bytes_max - after)];
        match position(within, end, self.searched.max(start.len())) {
            None if bytes_max - after <= waiting.len() => Found::Skip(1),
            None => {
                self.searched = (within.len() + 1).saturating_sub(end.len());
                Found::Wait
            }
            Some(at) => {
                let bytes = at + end.len() + after;
                if waiting.len() < bytes {
                    return Found::Wait;
                }
                match &self.framing.check {
                    Some(check) if check.verify(&waiting[..bytes]).is_err() => Found::Skip(1),
                    Some(_) => Found::Frame { bytes, end: 0 },
                    // without a checksum, what was begun twice was broken off the first time
                    None => match last_position(&waiting[1..at], start) {
                        Some(again) => Found::Skip(again + 1),
                        None => Found::Frame { bytes, end: 0 },
                    },
                }
            }
        }
    }
}

/// Where a text stands first, at or after a place.
fn position(bytes: &[u8], text: &[u8], from: usize) -> Option<usize> {
    let (first, rest) = text.split_first().expect("a checked profile has a terminator");
    let mut at = from;
    while let Some(step) = bytes.get(at..)?.iter().position(|byte| byte == first) {
        at += step;
        let follows = match rest {
            [] => true,
            // the usual line end, without a call for one byte
            [second] => bytes.get(at + 1) == Some(second),
            _ => bytes[at + 1..].starts_with(rest),
        };
        if follows {
            return Some(at);
        }
        at += 1;
    }
    None
}

fn last_position(bytes: &[u8], text: &[u8]) -> Option<usize> {
    bytes.windows(text.len()).rposition(|window| window == text)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::decode::bits::Bits;
    use crate::meter::decode::checksum::{Checksum, Form, Rule};

    fn pieces(framing: &Framing, mid_stream: bool, pushes: &[&[u8]]) -> Vec<String> {
        let mut framer = Framer::new(framing, mid_stream);
        let mut found = Vec::new();
        for bytes in pushes {
            framer.push(bytes);
            while let Some(piece) = framer.poll() {
                found.push(match piece {
                    Piece::Frame { bytes, partial } => {
                        let shown = String::from_utf8_lossy(&bytes).escape_debug().to_string();
                        format!("{shown}{}", if partial { "?" } else { "" })
                    }
                    Piece::Unconfirmed => "~".into(),
                    Piece::Dropped(count) => format!("-{count}"),
                });
            }
        }
        found
    }

    /// The pieces of a stream, which must not depend on how it is split.
    fn check(framing: &Framing, mid_stream: bool, stream: &[u8], expected: &[&str]) {
        for size in 1..=stream.len() {
            let pushes: Vec<&[u8]> = stream.chunks(size).collect();
            assert_eq!(pieces(framing, mid_stream, &pushes), expected, "split by {size}");
        }
    }

    #[test]
    fn lines_end_with_their_terminator() {
        let line = |end: &[u8]| Framing::line(end, 8);
        check(&line(b"\r\n"), false, b"ab\r\ncd\r\n", &["ab", "cd"]);
        check(&line(b"\r\n"), false, b"ab\r\ncd", &["ab"]);
        check(&line(b"\r\n"), true, b"b\r\ncd\r\n", &["b?", "cd"]);
        check(&line(b"\r\n"), false, b"\r\n\r\na\rb\nc\r\n", &["a\\rb\\nc"]);
        check(&line(b"\r\n"), false, b"12345678\r\n", &["12345678"]);
        check(&line(b"\r\n"), false, b"123456789\r\nab\r\n", &["-9", "ab"]);
        check(
            &line(b"\r\n"),
            false,
            b"123456789012345678901234\r\nab\r\n",
            &["-9", "-9", "-6", "ab"],
        );
        check(&line(b"\n"), false, b"1234567890\nab\n", &["-9", "-1", "ab"]);
        check(&line(b"\n"), true, b"\nab\n", &["ab"]);
        check(&line(b"<end>"), false, b"ab<en<end>c<end>", &["ab<en", "c"]);
    }

    fn fixed(bytes: usize, marks: &[(&str, u64)]) -> Framing {
        let marks = marks.iter().map(|(bits, code)| (Bits::parse(bits).unwrap(), *code));
        Framing {
            cut: Cut::Fixed {
                bytes,
                sync: marks.collect(),
            },
            check: None,
            agree: 1,
        }
    }

    #[test]
    fn sync_bytes_and_index_nibbles_find_their_frame_again() {
        let sync = fixed(3, &[("0", u64::from(b'#'))]);
        check(&sync, false, b"#ab#cd", &["#ab", "#cd"]);
        check(&sync, true, b"b#cd#ef", &["#cd?", "#ef"]);
        check(&sync, false, b"xy#cd#ef", &["-2", "#cd", "#ef"]);
        check(&sync, false, b"#ab-#cd", &["#ab", "-1", "#cd"]);
        check(&sync, false, b"......#ab", &["-3", "-3", "#ab"]);
        // bytes 1, 2 and 3 carry their number in the upper half: `0x1.`, `0x2.`, `0x3.`
        let index = fixed(3, &[("0.7-4", 1), ("1.7-4", 2), ("2.7-4", 3)]);
        check(
            &index,
            true,
            &[0x25, 0x34, 0x12, 0x22, 0x32],
            &["\\u{12}\"2?".replace('"', "\\\"").as_str()],
        );
        // a byte was lost in the middle
        check(&index, false, &[0x12, 0x32, 0x12, 0x22, 0x32], &["-2", "\\u{12}\\\"2"]);
    }

    #[test]
    fn a_wrong_checksum_is_no_frame_and_the_right_one_is_found_inside() {
        let sum = Checksum {
            rule: Rule::Xor8,
            first: 0,
            last: 1,
            at: 2,
            form: Form::Big,
        };
        let framing = Framing {
            check: Some(sum),
            ..fixed(3, &[("0", u64::from(b'#'))])
        };
        check(&framing, false, b"#aB#a!#aB", &["#aB", "-3", "#aB"]);
        // the first `#` is noise
        check(&framing, false, b"##aB", &["-1", "#aB"]);
    }

    #[test]
    fn delimiters_are_part_of_their_frame() {
        let delimited = |after, check| Framing {
            cut: Cut::Delimited {
                start: b"<".to_vec(),
                end: b">".to_vec(),
                after,
                bytes_max: 8,
            },
            check,
            agree: 1,
        };
        let plain = delimited(0, None);
        check(&plain, false, b"<ab><cd>", &["<ab>", "<cd>"]);
        check(&plain, true, b"b>\n<cd>", &["<cd>?"]);
        check(&plain, false, b"<ab>\r\n<cd>", &["<ab>", "-2", "<cd>"]);
        check(&plain, false, b"<ab<cd>", &["-3", "<cd>"]);
        check(&plain, false, b"<234567890<cd>", &["-8", "-2", "<cd>"]);
        let sum = Checksum {
            rule: Rule::Xor8,
            first: 1,
            last: -3,
            at: -1,
            form: Form::Big,
        };
        // `a` xor `b` is 3
        check(
            &delimited(1, Some(sum)),
            false,
            b"<ab>\x03<ab>\x04<ab>\x03",
            &["<ab>\\u{3}", "-5", "<ab>\\u{3}"],
        );
    }

    #[test]
    fn frames_must_agree_in_a_row() {
        let framing = Framing {
            agree: 2,
            ..Framing::line(b"\n", 8)
        };
        check(&framing, false, b"a\na\na\nb\na\na\n", &["~", "a", "a", "~", "~", "a"]);
        // what was dropped in between may have been another frame
        check(&framing, false, b"a\n123456789\na\na\n", &["~", "-9", "~", "a"]);
    }

    #[test]
    fn clearing_begins_anew() {
        let mut framer = Framer::new(&Framing::line(b"\n", 8), false);
        framer.push(b"old\nhal");
        framer.clear(true);
        framer.push(b"f\nnew\n");
        let frame = |text: &[u8], partial| {
            Some(Piece::Frame {
                bytes: text.to_vec(),
                partial,
            })
        };
        assert_eq!(framer.poll(), frame(b"f", true));
        assert_eq!(framer.poll(), frame(b"new", false));
        assert_eq!(framer.poll(), None);
    }
}
