//! Places of bits in a frame: `0.7-4` is the upper half of the first byte, `2 1` is a number with its low byte first.
//!
//! The rule inside: the order in which bits are listed is their weight, highest first, so that byte order, nibbles and
//! scattered segments are one and the same thing.

/// Most bits of one number.
pub(crate) const BITS_MAX: u32 = 64;

/// Neighbouring bits of one byte.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Run {
    byte: usize,
    /// The lowest bit of the run, 0 to 7; bit 0 weighs 1.
    low: u8,
    width: u8,
}

/// A list of bits, the highest first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bits(Vec<Run>);

impl Bits {
    /// Reads `BYTE`, `BYTE.BIT` and `BYTE.HIGH-LOW`, separated by blanks; bytes count from 0, bit 0 weighs 1.
    ///
    /// The error says what is wrong with the text.
    ///
    /// ```
    /// use coreproof::meter::decode::bits::Bits;
    /// assert_eq!(Bits::parse("1 0").unwrap().read(&[0x34, 0x12]), 0x1234);
    /// assert_eq!(Bits::parse("0.7-4").unwrap().read(&[0x1b]), 1);
    /// assert_eq!(Bits::parse("0.9").unwrap_err(), "`0.9` is no place of bits");
    /// ```
    pub fn parse(text: &str) -> Result<Bits, String> {
        let runs: Option<Vec<Run>> = text.split_ascii_whitespace().map(run_of).collect();
        let bits = Bits(runs.ok_or_else(|| {
            let wrong = text.split_ascii_whitespace().find(|token| run_of(token).is_none());
            format!("`{}` is no place of bits", wrong.unwrap_or_default())
        })?);
        match bits.width() {
            0 => Err("no bits are named".into()),
            width if BITS_MAX < width => Err(format!("{width} bits, at most {BITS_MAX} are allowed")),
            _ => Ok(bits),
        }
    }

    /// How many bits there are, 1 to 64.
    pub fn width(&self) -> u32 {
        self.0.iter().map(|run| u32::from(run.width)).sum()
    }

    /// The shortest frame that has all of them, in bytes.
    pub fn bytes_min(&self) -> usize {
        self.0.iter().map(|run| run.byte + 1).max().unwrap_or(0)
    }

    /// The number that they make in a frame of at least [`Bits::bytes_min`] bytes.
    pub fn read(&self, frame: &[u8]) -> u64 {
        self.0.iter().fold(0, |code, run| {
            let part = (frame[run.byte] >> run.low) & mask(run.width);
            (code << run.width) | u64::from(part)
        })
    }

    /// True where a number fits into the bits.
    pub fn holds(&self, code: u64) -> bool {
        code.checked_shr(self.width()).unwrap_or(0) == 0
    }

    /// Every bit by itself, as byte and bit.
    pub(crate) fn each(&self) -> impl Iterator<Item = (usize, u8)> + '_ {
        self.0
            .iter()
            .flat_map(|run| (run.low..run.low + run.width).rev().map(|bit| (run.byte, bit)))
    }
}

fn mask(width: u8) -> u8 {
    0xff >> (8 - width)
}

fn run_of(token: &str) -> Option<Run> {
    let number = |text: &str| -> Option<usize> {
        let plain = !text.is_empty() && text.len() <= 4 && text.bytes().all(|b| b.is_ascii_digit());
        if plain { text.parse().ok() } else { None }
    };
    let (byte, bits) = token.split_once('.').unwrap_or((token, "7-0"));
    let (high, low) = bits.split_once('-').unwrap_or((bits, bits));
    let (high, low) = (number(high)?, number(low)?);
    if 7 < high || high < low {
        return None;
    }
    Some(Run {
        byte: number(byte)?,
        low: u8::try_from(low).expect("at most 7"),
        width: u8::try_from(high - low + 1).expect("at most 8"),
    })
}

/// A frame that is being written: which bits are settled already, and what they are.
#[derive(Debug, Clone)]
pub(crate) struct Draft {
    pub(crate) bytes: Vec<u8>,
    settled: Vec<u8>,
}

impl Draft {
    pub(crate) fn new(bytes: usize) -> Draft {
        Draft {
            bytes: vec![0; bytes],
            settled: vec![0; bytes],
        }
    }

    /// The draft with a number in its bits; `None` where they are settled as something else.
    pub(crate) fn with(&self, bits: &Bits, code: u64) -> Option<Draft> {
        let mut draft = self.clone();
        let mut weight = bits.width();
        for run in &bits.0 {
            weight -= u32::from(run.width);
            let mask = mask(run.width) << run.low;
            let part = u8::try_from((code >> weight) & u64::from(mask >> run.low)).expect("masked") << run.low;
            let (byte, settled) = (&mut draft.bytes[run.byte], &mut draft.settled[run.byte]);
            if (*byte ^ part) & mask & *settled != 0 {
                return None;
            }
            *byte = *byte & !mask | part;
            *settled |= mask;
        }
        Some(draft)
    }

    /// The draft with bytes from a place on; `None` where they are settled as something else.
    pub(crate) fn with_bytes(&self, at: usize, bytes: &[u8]) -> Option<Draft> {
        let mut draft = self.clone();
        for (byte, settled, new) in draft
            .bytes
            .iter_mut()
            .zip(&mut draft.settled)
            .skip(at)
            .zip(bytes)
            .map(|((byte, settled), new)| (byte, settled, new))
        {
            if (*byte ^ new) & *settled != 0 {
                return None;
            }
            *byte = *new;
            *settled = 0xff;
        }
        Some(draft)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn places_are_read() {
        let check = |text: &str, expected: Result<u64, &str>| {
            let frame = [0x12, 0x34, 0x56, 0x78, 0x9a];
            let found = Bits::parse(text).map(|bits| bits.read(&frame));
            assert_eq!(found, expected.map_err(str::to_owned), "{text}");
        };
        check("0", Ok(0x12));
        check("0 1", Ok(0x1234));
        check("1 0", Ok(0x3412));
        check("3 2 1 0", Ok(0x7856_3412));
        check("4.7", Ok(1));
        check("4.7-4 0.3-0", Ok(0x92));
        check("1.2 1.1 1.0 2.3", Ok(0b1000));
        check("", Err("no bits are named"));
        check("0.8", Err("`0.8` is no place of bits"));
        check("0.2-4", Err("`0.2-4` is no place of bits"));
        check("1 x", Err("`x` is no place of bits"));
        check("1.", Err("`1.` is no place of bits"));
        check("-1", Err("`-1` is no place of bits"));
        check("12345", Err("`12345` is no place of bits"));
        check("0 1 2 3 4 0 1 2 3", Err("72 bits, at most 64 are allowed"));
    }

    proptest! {
        #[test]
        fn what_is_written_is_read(code in any::<u64>()) {
            let bits = Bits::parse("3.6-1 0 2.7-3 1.0").unwrap();
            let code = code & 0xf_ffff;
            prop_assert!(bits.holds(code) && !bits.holds(0x10_0000));
            let draft = Draft::new(4).with(&bits, code).unwrap();
            prop_assert_eq!(bits.read(&draft.bytes), code);
            prop_assert!(draft.with(&bits, code ^ 1).is_none());
            prop_assert!(draft.with(&bits, code).is_some());
        }
    }
}
