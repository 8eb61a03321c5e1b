//! The checks that turn lists of places into [`Fields`].
//!
//! The rule inside: every bit of the frame gets one owner; only codes for function, unit and step may share theirs, and
//! bits without an owner must be dark in every frame.

use std::ops::Range;

use super::check::Check;
use super::frame::FRAME_BYTES_MAX;
use super::owners::{Owner, Owners};
use super::raw::{Map, RawField, RawFields, RawSign};
use crate::located::Located;
use crate::meter::decode::bits::Bits;
use crate::meter::decode::fields::{Field, Fields};
use crate::meter::decode::meaning::Part;
use crate::meter::decode::number::Form;
use crate::meter::decode::segment::{Glyphs, Segment};
use crate::meter::decode::{Cut, Framing};

impl Check {
    pub(super) fn fields(&mut self, raw: RawFields, frame: &Framing) -> Option<Fields> {
        let bytes = self.frame_bytes(raw.bytes.as_ref(), &raw.value.span, frame)?;
        let mut map = Owners::new(bytes);
        self.claim_frame(frame, &raw.value.span, &mut map);
        let spans: Vec<_> = raw.constant.0.iter().map(|(place, _)| place.span.clone()).collect();
        let mut constant = self.always("constant", raw.constant, bytes)?;
        for (span, (bits, _)) in spans.iter().zip(&constant) {
            self.claim(bits, span, Owner::Frame, &mut map);
        }
        if let Some(ignored) = &raw.ignored {
            for token in ignored.split_ascii_whitespace() {
                let place = Located {
                    value: token.to_owned(),
                    span: ignored.span.clone(),
                };
                if let Some(bits) = self.bits(&place, bytes) {
                    self.claim(&bits, &ignored.span, Owner::Frame, &mut map);
                }
            }
        }
        let glyphs = self.glyphs(raw.segments.as_ref(), &raw.glyphs);
        let digits = raw.segments.is_some();
        let words = [
            self.list(Part::Function, raw.function, digits, &mut map),
            self.list(Part::Unit, raw.unit, digits, &mut map),
            self.list(Part::Flags, raw.marks, digits, &mut map),
            self.list(Part::Value, raw.value.value, digits, &mut map),
        ];
        if words[Part::Value as usize].is_empty() && self.problems.is_empty() {
            self.add(&raw.value.span, "the value is made of nothing");
        }
        if let Cut::Delimited { start, end, after, .. } = &frame.cut {
            let ends = [(0, start), (bytes - after - end.len(), end)];
            for (from, mark) in ends {
                constant.extend(mark.iter().enumerate().map(|(n, byte)| {
                    let place = Bits::parse(&(from + n).to_string()).expect("a byte of the frame");
                    (place, u64::from(*byte))
                }));
            }
        }
        if let Cut::Fixed { sync, .. } = &frame.cut {
            constant.extend(sync.iter().cloned());
        }
        Some(Fields {
            bytes,
            words,
            constant,
            undescribed: map.dark(),
            glyphs,
        })
    }

    /// The length of the frames, which the framing knows or the decoder has to say.
    fn frame_bytes(&mut self, given: Option<&Located<usize>>, value: &Range<usize>, frame: &Framing) -> Option<usize> {
        let low = match &frame.cut {
            Cut::Fixed { bytes, .. } => {
                if let Some(given) = given.filter(|given| given.value != *bytes) {
                    self.add(&given.span, format!("the framing says that a frame has {bytes} bytes"));
                }
                return Some(*bytes);
            }
            Cut::Line { .. } => 1,
            Cut::Delimited { start, end, after, .. } => start.len() + end.len() + after + 1,
        };
        let Some(given) = given else {
            self.add_with_hint(
                value,
                "places are counted in frames of one length, which is not given",
                "say how many bytes a frame has in `bytes: ...`",
            );
            return None;
        };
        let high = frame.bytes_max().min(FRAME_BYTES_MAX);
        self.number(given, low, high);
        (low..=high).contains(&given.value).then_some(given.value)
    }

    fn claim_frame(&mut self, frame: &Framing, value: &Range<usize>, map: &mut Owners) {
        let bytes = map.bytes;
        let mut taken: Vec<(usize, u8)> = Vec::new();
        let whole = |range: Range<usize>| range.flat_map(|byte| (0..8).map(move |bit| (byte, bit)));
        match &frame.cut {
            Cut::Line { .. } => {}
            Cut::Fixed { sync, .. } => taken.extend(sync.iter().flat_map(|(bits, _)| bits.each())),
            Cut::Delimited { start, end, after, .. } => {
                taken.extend(whole(0..start.len()));
                taken.extend(whole(bytes - after - end.len()..bytes - after));
            }
        }
        if let Some(check) = &frame.check
            && let Some((_, _, at)) = check.places(bytes)
        {
            taken.extend(whole(at..at + check.width()));
        }
        for bit in taken {
            if !map.take(bit, Owner::Frame) {
                self.add(
                    value,
                    format!("byte {} is a mark of the frame and its checksum at once", bit.0),
                );
                return;
            }
        }
    }

    fn claim(&mut self, bits: &Bits, span: &Range<usize>, owner: Owner, map: &mut Owners) {
        let twice: Vec<_> = bits.each().filter(|bit| !map.take(*bit, owner)).collect();
        if let Some((byte, bit)) = twice.first() {
            self.add_with_hint(
                span,
                format!("byte {byte}, bit {bit} is described twice"),
                "only codes for function, unit and step may share their bits",
            );
        }
    }

    fn glyphs(&mut self, order: Option<&Located<Vec<Segment>>>, more: &Map<Vec<Segment>>) -> Option<Glyphs> {
        let Some(order) = order else {
            if let Some((key, _)) = more.0.first() {
                self.add(&key.span, "`glyphs` is given, and there is no `segments`");
            }
            return None;
        };
        let mut seen = order.value.clone();
        seen.sort_by_key(|segment| *segment as u8);
        seen.dedup();
        let (Ok(order), 7) = (<[Segment; 7]>::try_from(order.value.clone()), seen.len()) else {
            self.add_with_hint(
                &order.span,
                "the order of the segments names each of the seven once",
                "they are `top`, `upper_left`, `upper_right`, `middle`, `lower_left`, `lower_right` and `bottom`",
            );
            return None;
        };
        let mut own = Vec::new();
        for (key, shape) in &more.0 {
            let mut characters = key.chars();
            match (characters.next(), characters.next()) {
                (Some(character), None) => own.push((character, shape.value.clone())),
                _ => self.add(&key.span, format!("`{}` is not one character", key.value)),
            }
        }
        Some(Glyphs::new(&order, &own))
    }

    fn list(&mut self, part: Part, raw: Vec<Located<RawField>>, digits: bool, map: &mut Owners) -> Vec<Field> {
        if let Some(first) = raw.first() {
            self.entries(&first.span, raw.len());
        }
        let fields = raw.into_iter().filter_map(|field| self.field(part, field, digits, map));
        fields.collect()
    }

    fn field(&mut self, part: Part, raw: Located<RawField>, digits: bool, map: &mut Owners) -> Option<Field> {
        let owner = Owner::Word(part);
        match raw.value {
            RawField::Word(word) => Some(Field::Word(word)),
            RawField::Text { at, bytes } => self.text(&at, &bytes, owner, map),
            RawField::Sign { bit, word } => {
                self.length(&word, 1, 32);
                let bit = self.place(&bit, owner, map, |width| width == 1, "one bit")?;
                Some(Field::Sign { bit, word: word.value })
            }
            RawField::Code { bits, words } => {
                let bits = self.place(&bits, owner, map, |width| width <= 16, "1 to 16 bits")?;
                for (_, word) in &words.0 {
                    self.length(word, 0, 32);
                }
                let words = self.codes(words, &bits, &raw.span);
                Some(Field::Code { bits, words })
            }
            RawField::Digit { bits, blank } => {
                if !digits {
                    self.add_with_hint(
                        &bits.span,
                        "a digit is made of segments, and `segments` is not given",
                        "say in which order the bits of a digit are listed: `segments: [top, ...]`",
                    );
                }
                let bits = self.place(&bits, owner, map, |width| width == 7, "seven bits")?;
                Some(Field::Digit { bits, blank })
            }
            RawField::Bcd { bits, step, special } => {
                let bits = self.place(&bits, owner, map, |width| width.is_multiple_of(4), "four bits a digit")?;
                self.a_number(bits, Form::Bcd, step, special, map, &raw.span)
            }
            RawField::Integer {
                bits,
                sign,
                step,
                special,
            } => {
                let form = match sign {
                    RawSign::Unsigned => Form::Unsigned,
                    RawSign::TwosComplement => Form::TwosComplement,
                    RawSign::SignBit => Form::SignBit,
                };
                let bits = self.place(&bits, owner, map, |width| 2 <= width, "2 to 64 bits")?;
                self.a_number(bits, form, step, special, map, &raw.span)
            }
            RawField::Float { bits, step, special } => {
                let bits = self.place(&bits, owner, map, |width| width == 32 || width == 64, "32 or 64 bits")?;
                self.a_number(bits, Form::Float, step, special, map, &raw.span)
            }
        }
    }

    fn text(&mut self, at: &Located<usize>, bytes: &Located<usize>, owner: Owner, map: &mut Owners) -> Option<Field> {
        self.number(bytes, 1, map.bytes);
        let end = at.value.saturating_add(bytes.value);
        if map.bytes < end {
            let last = end - 1;
            self.add(
                &at.span,
                format!("byte {last} is beyond a frame of {} bytes", map.bytes),
            );
            return None;
        }
        for byte in at.value..end {
            let place = Bits::parse(&byte.to_string()).expect("a byte of the frame");
            self.claim(&place, &at.span, owner, map);
        }
        Some(Field::Text {
            at: at.value,
            bytes: bytes.value,
        })
    }

    pub(super) fn place(
        &mut self,
        place: &Located<String>,
        owner: Owner,
        map: &mut Owners,
        fits: impl Fn(u32) -> bool,
        needed: &str,
    ) -> Option<Bits> {
        let bits = self.bits(place, map.bytes)?;
        if !fits(bits.width()) {
            self.add(
                &place.span,
                format!("{} bits are named, this takes {needed}", bits.width()),
            );
            return None;
        }
        self.claim(&bits, &place.span, owner, map);
        Some(bits)
    }
}

#[cfg(test)]
mod tests {
    use crate::meter::decode::Profile;
    use crate::meter::decode::{Decoded, decode};
    use crate::meter::profile::file::tests::faults;
    use crate::meter::profile::find;

    fn check(profile: &str, old: &str, new: &str, expected: &str) {
        assert_eq!(faults(profile, &[(old, new)]), [expected], "{new}");
    }

    const SHARE: &str = "(only codes for function, unit and step may share their bits)";

    #[test]
    fn places_outside_the_frame_or_described_twice_are_named() {
        check(
            "bcd-sync",
            "bit: \"3.7\"",
            "bit: \"9.7\"",
            "\"9.7\": byte 9 is beyond a frame of 9 bytes",
        );
        check(
            "bcd-sync",
            "bit: \"3.0\"",
            "bit: \"3.1\"",
            &format!("\"3.1\": byte 3, bit 1 is described twice {SHARE}"),
        );
        // a digit in a mark of synchronisation, in the checksum, and in the unit's code
        for (place, bit) in [("1", "byte 1, bit 7"), ("8", "byte 8, bit 7"), ("2", "byte 2, bit 7")] {
            let all = faults("bcd-sync", &[("bits: \"4 5\"", &format!("bits: \"4 {place}\""))]);
            assert!(
                all.iter()
                    .any(|fault| fault.ends_with(&format!("{bit} is described twice {SHARE}"))),
                "{all:?}"
            );
        }
        check(
            "bcd-sync",
            "ignored: \"6\"",
            "ignored: \"3.3\"",
            &format!("\"3.3\": byte 3, bit 3 is described twice {SHARE}"),
        );
        check(
            "ascii-columns-fixed",
            "Text(at: 12, bytes: 4)",
            "Text(at: 13, bytes: 4)",
            "13: byte 16 is beyond a frame of 16 bytes",
        );
        check(
            "ascii-columns-fixed",
            "bytes: 16",
            "bytes: 33",
            "33: 33 is outside 1 to 32",
        );
        check(
            "bcd-sync",
            "ignored: \"6\"",
            "bytes: 8, ignored: \"6\"",
            "8: the framing says that a frame has 9 bytes",
        );
        let none = faults("ascii-columns-fixed", &[("bytes: 16,", "")]);
        assert_eq!(
            none,
            [
                "[Text(at: 4, bytes: 7)]: places are counted in frames of one length, which is not given (say how many \
              bytes a frame has in `bytes: ...`)"
            ]
        );
    }

    #[test]
    fn numbers_codes_and_digits_take_so_many_bits() {
        check(
            "bcd-sync",
            "bits: \"4 5\"",
            "bits: \"4 5.7-1\"",
            "\"4 5.7-1\": 15 bits are named, this takes four bits a digit",
        );
        check(
            "float-le-checksum",
            "bits: \"7 6 5 4\"",
            "bits: \"7 6 5\"",
            "\"7 6 5\": 24 bits are named, this takes 32 or 64 bits",
        );
        check(
            "segment-14",
            "Digit(bits: \"1.2-0 2.3-0\")",
            "Digit(bits: \"1.2-0 2.3-1\")",
            "\"1.2-0 2.3-1\": 6 bits are named, this takes seven bits",
        );
        check(
            "segment-14",
            "Sign(bit: \"1.3\"",
            "Sign(bit: \"13.3-2\"",
            "\"13.3-2\": 2 bits are named, this takes one bit",
        );
        check("bcd-sync", "4: \"LOWOHM\"", "3: \"LOWOHM\"", "3: code 0x3 stands twice");
        check(
            "bcd-sync",
            "4: \"LOWOHM\"",
            "16: \"LOWOHM\"",
            "16: 0x10 does not fit into 4 bits",
        );
        check(
            "bcd-sync",
            "8: \"0.1\"",
            "8: \".1\"",
            "\".1\": `.1` is not a step (for example `0.01`, `1` or `0.05`: at most nine decimals, above 0, and six \
             figures)",
        );
        check(
            "float-le-checksum",
            "1: \"0.1\"",
            "1: \"0.5\"",
            "\"0.5\": `0.5` is not the weight of a digit, as a float needs",
        );
    }

    #[test]
    fn segments_are_named_once_each() {
        check(
            "segment-14",
            "segments: [lower_left, upper_left,",
            "segments: [lower_left, lower_left,",
            "[lower_left, lower_left, top, bottom, lower_right, middle, upper_right]: the order of the segments names \
             each of the seven once (they are `top`, `upper_left`, `upper_right`, `middle`, `lower_left`, \
             `lower_right` and `bottom`)",
        );
        check(
            "segment-sync",
            "glyphs: {\"7\"",
            "glyphs: {\"77\"",
            "\"77\": `77` is not one character",
        );
    }

    #[test]
    fn examples_in_bytes_must_be_readings() {
        check(
            "bcd-sync",
            "\"a5 5a 28",
            "\"A5 5a 28",
            "\"A5 5a 28 00 23 14 00 00 5f\": an example is bytes in lower-case hexadecimal, with blanks between as you \
             like",
        );
        check(
            "bcd-sync",
            "00 5f\"",
            "00 5e\"",
            "\"a5 5a 28 00 23 14 00 00 5e\": this example is no reading: the checksum is 5e, the frame adds up to 5f",
        );
    }

    #[test]
    fn a_bit_that_nothing_describes_refuses_the_reading() {
        let raw = "13 20 35 4d 5b 61 7f 82 97 a0 b2 c4 d0 e1";
        let bytes = |hex: &str| -> Vec<u8> {
            hex.split(' ')
                .map(|pair| u8::from_str_radix(pair, 16).unwrap())
                .collect()
        };
        let refusal = "the meter shows a mark that its profile does not explain (byte 13, bit 0): read the display, and \
                       type what it shows";
        let known = find("segment-14").unwrap();
        assert_eq!(decode(known, &bytes(raw)), Decoded::Refused(refusal.into()));
        // and so does one that is listed as not explained
        let listed = known
            .text
            .replace("marks: [", "marks: [Sign(bit: \"13.0\", word: \"corner\"),")
            .replace("flags: {", "flags: {\"corner\": unknown, ");
        let listed = Profile::read(&listed).unwrap();
        let refusal = refusal.replace("byte 13, bit 0", "`corner`");
        assert_eq!(decode(&listed, &bytes(raw)), Decoded::Refused(refusal));
    }
}
