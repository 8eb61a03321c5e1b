//! Checksums of frames: sums, exclusive or, and cyclic redundancy checks of sixteen bits by their parameters.
//!
//! The rule inside: places are bytes of the whole frame, counted from its beginning (0 is the first) or from its end
//! (-1 is the last), so that one rule serves frames of any length.

/// How a checksum is worked out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Rule {
    /// Sum of the bytes modulo 256.
    Sum8,
    /// Sum of the bytes modulo 65 536.
    Sum16,
    /// Exclusive or of the bytes.
    Xor8,
    /// What makes the sum of the bytes and itself zero modulo 256.
    TwosComplement8,
    /// A cyclic redundancy check of 8 bits, with the parameters as catalogues print them.
    Crc8 {
        /// The generator polynomial without its highest term, for example 0x07 or 0x31.
        poly: u8,
        /// What the register holds before the first byte.
        init: u8,
        /// Bytes go in and the result comes out with bit 0 first.
        reflected: bool,
        /// What the result is combined with by exclusive or.
        xor_out: u8,
    },
    /// A cyclic redundancy check of 16 bits, with the parameters as catalogues print them.
    Crc16 {
        /// The generator polynomial without its highest term, for example 0x8005 or 0x1021.
        poly: u16,
        /// What the register holds before the first byte.
        init: u16,
        /// Bytes go in and the result comes out with bit 0 first.
        reflected: bool,
        /// What the result is combined with by exclusive or.
        xor_out: u16,
    },
}

impl Rule {
    /// Size of the checksum, 8 or 16 bits.
    pub fn bits(self) -> u32 {
        match self {
            Rule::Sum8 | Rule::Xor8 | Rule::TwosComplement8 | Rule::Crc8 { .. } => 8,
            Rule::Sum16 | Rule::Crc16 { .. } => 16,
        }
    }

    /// The checksum of some bytes.
    ///
    /// ```
    /// use coreproof::meter::decode::checksum::Rule;
    /// assert_eq!(Rule::Sum8.of(&[0xff, 0x02]), 0x01);
    /// ```
    pub fn of(self, bytes: &[u8]) -> u16 {
        let sum = || bytes.iter().fold(0u16, |sum, byte| sum.wrapping_add(u16::from(*byte)));
        match self {
            Rule::Sum8 => sum() & 0xff,
            Rule::Sum16 => sum(),
            Rule::Xor8 => u16::from(bytes.iter().fold(0, |sum, byte| sum ^ byte)),
            Rule::TwosComplement8 => sum().wrapping_neg() & 0xff,
            // eight bits at the upper end of a register of sixteen go the same way
            Rule::Crc8 {
                poly,
                init,
                reflected: false,
                xor_out,
            } => (crc(bytes, u16::from(poly) << 8, u16::from(init) << 8, false) >> 8) ^ u16::from(xor_out),
            Rule::Crc8 {
                poly,
                init,
                reflected: true,
                xor_out,
            } => crc(bytes, u16::from(poly) << 8, u16::from(init) << 8, true) ^ u16::from(xor_out),
            Rule::Crc16 {
                poly,
                init,
                reflected,
                xor_out,
            } => crc(bytes, poly, init, reflected) ^ xor_out,
        }
    }
}

fn crc(bytes: &[u8], poly: u16, init: u16, reflected: bool) -> u16 {
    let poly_reflected = poly.reverse_bits();
    let start = if reflected { init.reverse_bits() } else { init };
    bytes.iter().fold(start, |register, byte| {
        if reflected {
            (0..8).fold(register ^ u16::from(*byte), |r, _| {
                (r >> 1) ^ (poly_reflected * (r & 1))
            })
        } else {
            (0..8).fold(register ^ (u16::from(*byte) << 8), |r, _| (r << 1) ^ (poly * (r >> 15)))
        }
    })
}

/// How a checksum stands in the frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Form {
    /// Bytes, the high one first.
    Big,
    /// Bytes, the low one first.
    Little,
    /// Hexadecimal digits, the high one first; capitals are written, both are read.
    Hex,
}

/// A checksum over part of a frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Checksum {
    /// How it is worked out.
    pub rule: Rule,
    /// The first byte that counts; below zero from the end of the frame.
    pub first: i32,
    /// The last byte that counts; below zero from the end of the frame.
    pub last: i32,
    /// Where the checksum begins; below zero from the end of the frame.
    pub at: i32,
    /// How it is written into the frame.
    pub form: Form,
}

impl Checksum {
    /// Bytes that the checksum takes in the frame, 1 to 4.
    pub fn width(&self) -> usize {
        let bytes = self.rule.bits() as usize / 8;
        if self.form == Form::Hex { bytes * 2 } else { bytes }
    }

    /// First and last byte that count, and the checksum's own place, in a frame of this length; `None` where it is too
    /// short for them.
    pub(crate) fn places(&self, bytes: usize) -> Option<(usize, usize, usize)> {
        let place = |at: i32| {
            let size = at.unsigned_abs() as usize;
            if at < 0 {
                bytes.checked_sub(size)
            } else {
                (size < bytes).then_some(size)
            }
        };
        let (first, last, at) = (place(self.first)?, place(self.last)?, place(self.at)?);
        let fits = first <= last && at + self.width() <= bytes;
        // a checksum that counts itself can never be right
        let apart = at + self.width() <= first || last < at;
        (fits && apart).then_some((first, last, at))
    }

    /// What is wrong with a frame; `Ok` where its checksum is right.
    pub fn verify(&self, frame: &[u8]) -> Result<(), String> {
        let (first, last, at) = self
            .places(frame.len())
            .ok_or_else(|| format!("a frame of {} bytes has no room for its checksum", frame.len()))?;
        let right = self.rule.of(&frame[first..=last]);
        let sent = &frame[at..at + self.width()];
        let found = match self.form {
            Form::Big => number(sent.iter()),
            Form::Little => number(sent.iter().rev()),
            Form::Hex => sent
                .iter()
                .try_fold(0u16, |code, digit| {
                    Some(code << 4 | u16::try_from(char::from(*digit).to_digit(16)?).ok()?)
                })
                .ok_or_else(|| "the checksum is not in hexadecimal digits".to_owned())?,
        };
        if found == right {
            Ok(())
        } else {
            let digits = self.rule.bits() as usize / 4;
            Err(format!(
                "the checksum is {found:0digits$x}, the frame adds up to {right:0digits$x}"
            ))
        }
    }

    /// Writes the right checksum into a frame; false where it is too short.
    pub(crate) fn seal(&self, frame: &mut [u8]) -> bool {
        let Some((first, last, at)) = self.places(frame.len()) else {
            return false;
        };
        let right = self.rule.of(&frame[first..=last]);
        let bytes = self.rule.bits() as usize / 8;
        let sealed = match self.form {
            Form::Big => right.to_be_bytes()[2 - bytes..].to_vec(),
            Form::Little => right.to_le_bytes()[..bytes].to_vec(),
            Form::Hex => format!("{right:0width$X}", width = bytes * 2).into_bytes(),
        };
        frame[at..at + sealed.len()].copy_from_slice(&sealed);
        true
    }
}

fn number<'a>(bytes: impl Iterator<Item = &'a u8>) -> u16 {
    bytes.fold(0, |code, byte| code << 8 | u16::from(*byte))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Check values of the same catalogue, from memory.
    #[test]
    fn checks_of_eight_bits_are_those_of_the_catalogue() {
        for (poly, init, reflected, xor_out, expected) in [
            (0x07, 0x00, false, 0x00, 0xf4),
            (0x31, 0x00, true, 0x00, 0xa1),
            (0x2f, 0xff, false, 0xff, 0xdf),
            (0x07, 0xff, true, 0x00, 0xd0),
        ] {
            let rule = Rule::Crc8 {
                poly,
                init,
                reflected,
                xor_out,
            };
            assert_eq!(rule.of(b"123456789"), expected);
        }
    }

    fn crc16(poly: u16, init: u16, reflected: bool, xor_out: u16) -> Rule {
        Rule::Crc16 {
            poly,
            init,
            reflected,
            xor_out,
        }
    }

    /// The check values of the public catalogue of parametrised CRC algorithms (reveng.sourceforge.io), over the nine
    /// bytes `123456789`, from memory; the two of polynomial 0x1021 that are not reflected also come out of
    /// `binascii.crc_hqx` of Python.
    #[test]
    fn published_check_values_are_met() {
        let check = |rule: Rule, expected: u16| assert_eq!(rule.of(b"123456789"), expected, "{rule:?}");
        check(crc16(0x8005, 0x0000, true, 0x0000), 0xbb3d); // CRC-16/ARC
        check(crc16(0x8005, 0xffff, true, 0x0000), 0x4b37); // CRC-16/MODBUS
        check(crc16(0x8005, 0xffff, true, 0xffff), 0xb4c8); // CRC-16/USB
        check(crc16(0x1021, 0x0000, false, 0x0000), 0x31c3); // CRC-16/XMODEM
        check(crc16(0x1021, 0xffff, false, 0x0000), 0x29b1); // CRC-16/IBM-3740
        check(crc16(0x1021, 0x0000, true, 0x0000), 0x2189); // CRC-16/KERMIT
        check(crc16(0x1021, 0xffff, true, 0xffff), 0x906e); // CRC-16/IBM-SDLC
        check(crc16(0x3d65, 0x0000, true, 0xffff), 0xea82); // CRC-16/DNP
        // plain arithmetic: 0x31 + ... + 0x39 = 0x1dd
        check(Rule::Sum8, 0xdd);
        check(Rule::Sum16, 0x1dd);
        check(Rule::TwosComplement8, 0x23);
        check(Rule::Xor8, 0x31);
    }

    #[test]
    fn frames_are_verified_and_sealed() {
        let check = |rule, first, last, at, form, frame: &[u8], expected: &str| {
            let sum = Checksum {
                rule,
                first,
                last,
                at,
                form,
            };
            let found = sum.verify(frame).map_or_else(|what| what, |()| "right".into());
            assert_eq!(found, expected);
            if expected != "right" && !expected.starts_with("a frame") {
                let mut frame = frame.to_vec();
                assert!(sum.seal(&mut frame));
                assert_eq!(sum.verify(&frame), Ok(()));
            }
        };
        check(Rule::Sum8, 0, -2, -1, Form::Big, &[1, 2, 3], "right");
        check(
            Rule::Sum8,
            0,
            -2,
            -1,
            Form::Big,
            &[1, 2, 4],
            "the checksum is 04, the frame adds up to 03",
        );
        check(Rule::Sum16, 0, -3, -2, Form::Little, &[0xff, 0x01, 0x00, 0x01], "right");
        check(Rule::Xor8, 1, 2, 3, Form::Big, &[9, 0x0f, 0xf0, 0xff, 7], "right");
        check(Rule::Sum8, 0, -3, -2, Form::Hex, b"zz\x01F5", "right");
        check(
            Rule::Sum8,
            0,
            -3,
            -2,
            Form::Hex,
            b"zzx5",
            "the checksum is not in hexadecimal digits",
        );
        check(
            Rule::Sum16,
            0,
            -3,
            -2,
            Form::Big,
            &[1, 2],
            "a frame of 2 bytes has no room for its checksum",
        );
        check(
            Rule::Sum8,
            0,
            -1,
            -1,
            Form::Big,
            &[1, 2],
            "a frame of 2 bytes has no room for its checksum",
        );
    }
}
