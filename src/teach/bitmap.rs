//! Sets of bits of a frame, and their places as profiles write them.
//!
//! The rule inside: a place is written with the bits in the order they are listed, so that codes keep their weight.

/// A bit of a frame: byte from 0, bit 0 weighs 1.
pub type Bit = (usize, u8);

/// Every bit of some bytes, the highest of each first.
pub fn bits_of(bytes: impl IntoIterator<Item = usize>) -> Vec<Bit> {
    bytes
        .into_iter()
        .flat_map(|byte| (0..8).rev().map(move |bit| (byte, bit)))
        .collect()
}

/// True where the bit is set.
pub fn is_set(frame: &[u8], (byte, bit): Bit) -> bool {
    frame[byte] >> bit & 1 == 1
}

/// The number that listed bits make, the first the highest.
pub fn code(frame: &[u8], bits: &[Bit]) -> u64 {
    bits.iter()
        .fold(0, |code, bit| code << 1 | u64::from(is_set(frame, *bit)))
}

/// The place of the bits, neighbours joined.
///
/// ```
/// use coreproof::teach::bitmap::place;
/// assert_eq!(place(&[(0, 7), (0, 6), (2, 1)]), "0.7-6 2.1");
/// ```
pub fn place(bits: &[Bit]) -> String {
    let mut runs: Vec<(usize, u8, u8)> = Vec::new();
    for (byte, bit) in bits {
        match runs.last_mut() {
            Some((last, _, low)) if last == byte && *low == bit + 1 => *low = *bit,
            _ => runs.push((*byte, *bit, *bit)),
        }
    }
    let run = |(byte, high, low): &(usize, u8, u8)| match (high, low) {
        (7, 0) => format!("{byte}"),
        (high, low) if high == low => format!("{byte}.{high}"),
        (high, low) => format!("{byte}.{high}-{low}"),
    };
    runs.iter().map(run).collect::<Vec<_>>().join(" ")
}
