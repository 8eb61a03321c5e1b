//! The checks of framing: where frames begin and end, their checksum, and how many must agree.
//!
//! The rule inside: whatever can be compared with the length of a frame is compared with it before a byte arrives.

use std::ops::Range;

use super::check::Check;
use super::raw::{Map, RawBytes, RawCheck, RawDecode, RawFraming};
use crate::located::Located;
use crate::meter::decode::bits::Bits;
use crate::meter::decode::checksum::Checksum;
use crate::meter::decode::{Cut, Framing};

/// Longest frame, in bytes.
pub(super) const FRAME_BYTES_MAX: usize = 4096;

/// What is known about a frame's length.
#[derive(Debug, Clone, Copy)]
enum Length {
    Exactly(usize),
    AtMost(usize),
}

impl Check {
    /// Checks the framing; the decoder is asked for the length of its frames alone.
    pub(super) fn framing(
        &mut self,
        raw: RawFraming,
        checksum: Option<RawCheck>,
        agree: Option<Located<u32>>,
        decode: &RawDecode,
    ) -> Option<Framing> {
        let faults = self.problems.total();
        let cut = self.cut(raw);
        if let Some(agree) = &agree {
            self.number(agree, 1, 16);
        }
        let length = match (&cut, decode) {
            (Some(Cut::Fixed { bytes, .. }), _) => Length::Exactly(*bytes),
            (_, RawDecode::Fields { bytes: Some(bytes), .. }) => Length::Exactly(bytes.value),
            (Some(Cut::Line { bytes_max, .. } | Cut::Delimited { bytes_max, .. }), _) => Length::AtMost(*bytes_max),
            (None, _) => Length::AtMost(FRAME_BYTES_MAX),
        };
        let check = checksum.map(|raw| self.checksum(&raw, length));
        if faults < self.problems.total() {
            return None;
        }
        Some(Framing {
            cut: cut?,
            check,
            agree: agree.map_or(1, |agree| agree.value),
        })
    }

    fn cut(&mut self, raw: RawFraming) -> Option<Cut> {
        match raw {
            RawFraming::Line { end, bytes_max } => {
                self.mark(&end);
                self.number(&bytes_max, 2, FRAME_BYTES_MAX);
                Some(Cut::Line {
                    end: end.value.0,
                    bytes_max: bytes_max.value,
                })
            }
            RawFraming::Fixed { bytes, sync } => {
                self.number(&bytes, 2, FRAME_BYTES_MAX);
                if sync.0.is_empty() {
                    self.add_with_hint(
                        &bytes.span,
                        "frames of one length need something that always stands in them",
                        "name the bytes or the halves of bytes that are always the same in `sync: {...}`",
                    );
                }
                Some(Cut::Fixed {
                    bytes: bytes.value,
                    sync: self.always("sync", sync, bytes.value)?,
                })
            }
            RawFraming::Delimited {
                start,
                end,
                after,
                bytes_max,
            } => {
                self.mark(&start);
                self.mark(&end);
                self.number(&bytes_max, 2, FRAME_BYTES_MAX);
                if start.value.0 == end.value.0 {
                    self.add_with_hint(
                        &end.span,
                        "the end of a frame is the same as its start",
                        "where one mark stands between frames, use `Line(end: ...)`",
                    );
                }
                let marks = start.value.0.len() + end.value.0.len();
                if let Some(after) = &after {
                    self.number(after, 0, 8);
                }
                let after = after.map_or(0, |after| after.value);
                if bytes_max.value <= marks.saturating_add(after) {
                    self.add(
                        &bytes_max.span,
                        "the longest frame has no room for anything but its ends",
                    );
                }
                Some(Cut::Delimited {
                    start: start.value.0,
                    end: end.value.0,
                    after,
                    bytes_max: bytes_max.value,
                })
            }
        }
    }

    fn mark(&mut self, bytes: &Located<RawBytes>) {
        let length = bytes.value.0.len();
        if !(1..=8).contains(&length) {
            self.add(&bytes.span, format!("this holds {length} bytes, 1 to 8 are allowed"));
        }
    }

    /// What always stands at some bits of frames of one length; `None` where a place is wrong.
    pub(super) fn always(&mut self, name: &str, map: Map<u64>, bytes: usize) -> Option<Vec<(Bits, u64)>> {
        if let Some((key, _)) = map.0.first() {
            self.entries(&key.span, map.0.len());
        }
        let mut places = Vec::new();
        let mut taken: Vec<(usize, u8)> = Vec::new();
        let mut whole = true;
        for (place, code) in map.0 {
            let Some(bits) = self.bits(&place, bytes) else {
                whole = false;
                continue;
            };
            self.code_fits(&code, &bits);
            for bit in bits.each() {
                if taken.contains(&bit) {
                    self.add(
                        &place.span,
                        format!("byte {}, bit {} stands twice in `{name}`", bit.0, bit.1),
                    );
                    break;
                }
                taken.push(bit);
            }
            places.push((bits, code.value));
        }
        whole.then_some(places)
    }

    pub(super) fn bits(&mut self, place: &Located<String>, bytes: usize) -> Option<Bits> {
        match Bits::parse(place) {
            Err(what) => {
                self.add_with_hint(
                    &place.span,
                    what,
                    "write `BYTE`, `BYTE.BIT` or `BYTE.HIGH-LOW` with blanks between, the highest bits first, for example `2.3-0 3`",
                );
                None
            }
            Ok(bits) if bytes < bits.bytes_min() => {
                self.add(
                    &place.span,
                    format!("byte {} is beyond a frame of {bytes} bytes", bits.bytes_min() - 1),
                );
                None
            }
            Ok(bits) => Some(bits),
        }
    }

    pub(super) fn code_fits(&mut self, code: &Located<u64>, bits: &Bits) {
        if !bits.holds(code.value) {
            self.add(
                &code.span,
                format!("{:#x} does not fit into {} bits", code.value, bits.width()),
            );
        }
    }

    fn checksum(&mut self, raw: &RawCheck, length: Length) -> Checksum {
        let checksum = Checksum {
            rule: raw.rule,
            first: raw.first.value,
            last: raw.last.value,
            at: raw.at.value,
            form: raw.form,
        };
        let bytes = match length {
            Length::Exactly(bytes) | Length::AtMost(bytes) => bytes,
        };
        let size = i64::try_from(bytes).unwrap_or(i64::MAX);
        let mut outside = false;
        for place in [&raw.first, &raw.last, &raw.at] {
            if !(-size..size).contains(&i64::from(place.value)) {
                outside = true;
                self.add(&place.span, beyond(place.value, length));
            }
        }
        if !outside && checksum.places(bytes).is_none() {
            let (what, span): (&str, &Range<usize>) = misplaced(&checksum, bytes, raw);
            self.add_with_hint(
                span,
                what,
                "count bytes from the beginning (0 is the first) or from the end (-1 is the last)",
            );
        }
        checksum
    }
}

fn beyond(place: i32, length: Length) -> String {
    match length {
        Length::Exactly(bytes) => format!("byte {place} is beyond a frame of {bytes} bytes"),
        Length::AtMost(bytes) => format!("byte {place} is beyond a frame of at most {bytes} bytes"),
    }
}

/// Why a checksum whose places are all inside the frame has no room there.
fn misplaced<'a>(checksum: &Checksum, bytes: usize, raw: &'a RawCheck) -> (&'static str, &'a Range<usize>) {
    let place = |at: i32| {
        i64::from(at)
            + if at < 0 {
                i64::try_from(bytes).expect("capped")
            } else {
                0
            }
    };
    let width = i64::try_from(checksum.width()).expect("at most 4");
    if place(checksum.last) < place(checksum.first) {
        ("the last byte that counts stands before the first", &raw.last.span)
    } else if i64::try_from(bytes).expect("capped") < place(checksum.at) + width {
        ("the checksum reaches beyond the end of the frame", &raw.at.span)
    } else {
        ("the checksum counts itself", &raw.at.span)
    }
}

#[cfg(test)]
mod tests {
    use crate::meter::profile::file::tests::faults;

    fn check(profile: &str, old: &str, new: &str, expected: &str) {
        assert_eq!(faults(profile, &[(old, new)]), [expected], "{new}");
    }

    #[test]
    fn faults_of_the_framing_are_named_at_their_place() {
        let bits = "(write `BYTE`, `BYTE.BIT` or `BYTE.HIGH-LOW` with blanks between, the highest bits first, for \
                    example `2.3-0 3`)";
        check(
            "bcd-sync",
            "\"1\": 0x5a",
            "\"x\": 0x5a",
            &format!("\"x\": `x` is no place of bits {bits}"),
        );
        check(
            "bcd-sync",
            "\"1\": 0x5a",
            "\"11\": 0x5a",
            "\"11\": byte 11 is beyond a frame of 9 bytes",
        );
        check(
            "bcd-sync",
            "\"1\": 0x5a",
            "\"1\": 0x15a",
            "0x15a: 0x15a does not fit into 8 bits",
        );
        check(
            "bcd-sync",
            "\"1\": 0x5a",
            "\"1\": 0x5a, \"1.3\": 1",
            "\"1.3\": byte 1, bit 3 stands twice in `sync`",
        );
        check(
            "bcd-sync",
            "sync: {\"0\": 0xa5, \"1\": 0x5a}",
            "sync: {}",
            "9: frames of one length need something that always stands in them (name the bytes or the halves of bytes \
             that are always the same in `sync: {...}`)",
        );
        check("segment-14", "agree: 2", "agree: 0", "0: 0 is outside 1 to 16");
        check(
            "ascii-delimited",
            "end: \"\\x03\"",
            "end: \"\\x02\"",
            "\"\\x02\": the end of a frame is the same as its start (where one mark stands between frames, use \
             `Line(end: ...)`)",
        );
        check(
            "ascii-delimited",
            "start: \"\\x02\"",
            "start: b\"\"",
            "b\"\": this holds 0 bytes, 1 to 8 are allowed",
        );
        check("ascii-delimited", "after: 1", "after: 9", "9: 9 is outside 0 to 8");
    }

    #[test]
    fn faults_of_the_checksum_are_named_at_their_place() {
        let from = "(count bytes from the beginning (0 is the first) or from the end (-1 is the last))";
        check(
            "bcd-sync",
            "first: 2",
            "first: 12",
            "12: byte 12 is beyond a frame of 9 bytes",
        );
        check(
            "bcd-sync",
            "first: 2",
            "first: -10",
            "-10: byte -10 is beyond a frame of 9 bytes",
        );
        check(
            "bcd-sync",
            "last: -2",
            "last: 1",
            &format!("1: the last byte that counts stands before the first {from}"),
        );
        check(
            "bcd-sync",
            "last: -2",
            "last: -1",
            &format!("-1: the checksum counts itself {from}"),
        );
        check(
            "bcd-sync",
            "form: big",
            "form: hex",
            &format!("-1: the checksum reaches beyond the end of the frame {from}"),
        );
        check(
            "ascii-delimited",
            "first: 1",
            "first: 99",
            "99: byte 99 is beyond a frame of at most 40 bytes",
        );
    }
}
