//! Up to eight bytes in one number, so that short words and numbers are handled at once and not byte by byte.
//!
//! The rule inside: the first byte is the lowest, bytes that are not there are zero, and every answer is exact.

/// The most bytes that one number holds.
pub const BYTES_MAX: usize = 8;

const ONES: u64 = 0x0101_0101_0101_0101;
const LOW_BITS: u64 = 0x7f7f_7f7f_7f7f_7f7f;

/// Packs a text of at most eight bytes.
///
/// ```
/// use coreproof::value::packed::pack;
/// assert_eq!(pack(b"OL"), Some(0x4c4f));
/// assert_eq!(pack(b"123456789"), None);
/// ```
#[inline]
pub fn pack(bytes: &[u8]) -> Option<u64> {
    let length = bytes.len();
    Some(match length {
        // two halves that overlap where the length is odd
        4..=BYTES_MAX => {
            let low = u32::from_le_bytes(*bytes.first_chunk()?);
            let high = u32::from_le_bytes(*bytes.last_chunk()?);
            u64::from(low) | u64::from(high) << (8 * (length - 4))
        }
        2..=3 => {
            let low = u16::from_le_bytes(*bytes.first_chunk()?);
            let high = u16::from_le_bytes(*bytes.last_chunk()?);
            u64::from(low) | u64::from(high) << (8 * (length - 2))
        }
        1 => u64::from(bytes[0]),
        0 => 0,
        _ => return None,
    })
}

/// The highest bit of each byte that is this one, all others clear.
#[inline]
pub fn places(packed: u64, byte: u8) -> u64 {
    let other = packed ^ (ONES * u64::from(byte));
    !(((other & LOW_BITS) + LOW_BITS) | other | LOW_BITS)
}

/// The number that eight decimal digits make; `None` where a byte is no digit.
#[inline]
pub fn decimal(digits: u64) -> Option<u32> {
    let high_halves = ONES * 0xf0;
    let is_digits =
        (digits & high_halves) == ONES * 0x30 && (digits.wrapping_add(ONES * 6) & high_halves) == ONES * 0x30;
    // neighbours are joined to pairs, pairs to fours, and those to eight
    let pairs = (digits & (ONES * 0xf)).wrapping_mul(10 * 256 + 1) >> 8;
    let fours = (pairs & 0x00ff_00ff_00ff_00ff).wrapping_mul(100 * 65_536 + 1) >> 16;
    let eight = (fours & 0x0000_ffff_0000_ffff).wrapping_mul(10_000 * (1 << 32) + 1) >> 32;
    is_digits.then(|| u32::try_from(eight).expect("shifted to 32 bits"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_length_is_packed() {
        let bytes = [0x11, 0x22, 0x33, 0x44, 0x55, 0x66, 0x77, 0x88, 0x99];
        for length in 0..=8 {
            let mut all = [0; 8];
            all[..length].copy_from_slice(&bytes[..length]);
            assert_eq!(pack(&bytes[..length]), Some(u64::from_le_bytes(all)), "{length}");
        }
        assert_eq!(pack(&bytes), None);
    }

    #[test]
    fn places_of_a_byte_are_exact() {
        // neighbours that a carry could reach, and the byte with its highest bit turned
        for (bytes, expected) in [
            (b"..../-\xae\xad", [0x80, 0x80, 0x80, 0x80, 0, 0, 0, 0]),
            (b"/./.\x2f\x2e\x00\xff", [0, 0x80, 0, 0x80, 0, 0x80, 0, 0]),
        ] {
            let found = places(u64::from_le_bytes(*bytes), b'.');
            assert_eq!(found.to_le_bytes(), expected, "{bytes:?}");
        }
    }

    #[test]
    fn eight_digits_make_their_number_and_nothing_else_does() {
        for number in [0, 1, 9, 10, 12_345_678, 99_999_999, 90_000_009] {
            let text = format!("{number:08}");
            let packed = pack(text.as_bytes()).unwrap();
            assert_eq!(decimal(packed), Some(number), "{text}");
        }
        for at in 0..8 {
            for byte in (0..=255_u8).filter(|byte| !byte.is_ascii_digit()) {
                let mut text = *b"12345678";
                text[at] = byte;
                assert_eq!(decimal(u64::from_le_bytes(text)), None, "{byte:#x} at {at}");
            }
        }
    }
}
