//! Short byte strings that stand where they are kept, so that a reading is made without asking for memory.
//!
//! The rule inside: any length is held, and how it is held shows in nothing but speed.

/// Bytes; up to `N` of them stand in place, at most 255.
#[derive(Clone, PartialEq, Eq)]
pub struct InPlace<const N: usize>(Place<N>);

#[derive(Clone, PartialEq, Eq)]
enum Place<const N: usize> {
    /// So many bytes, then zeros.
    Here(u8, [u8; N]),
    Elsewhere(Box<[u8]>),
}

impl<const N: usize> InPlace<N> {
    /// Keeps a copy.
    ///
    /// ```
    /// use coreproof::value::in_place::InPlace;
    /// let [short, long] = [b"VAC;".as_slice(), b"VAC;231.4"].map(InPlace::<4>::new);
    /// assert_eq!((short.bytes(), long.bytes()), (b"VAC;".as_slice(), b"VAC;231.4".as_slice()));
    /// ```
    #[inline]
    pub fn new(bytes: &[u8]) -> InPlace<N> {
        let mut here = [0; N];
        let room = u8::try_from(bytes.len()).ok().zip(here.get_mut(..bytes.len()));
        InPlace(match room {
            Some((length, room)) => {
                room.copy_from_slice(bytes);
                Place::Here(length, here)
            }
            None => Place::Elsewhere(bytes.into()),
        })
    }

    /// The bytes.
    #[inline]
    pub fn bytes(&self) -> &[u8] {
        match &self.0 {
            Place::Here(length, bytes) => &bytes[..usize::from(*length)],
            Place::Elsewhere(bytes) => bytes,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_length_is_kept() {
        for length in [0, 1, 45, 46, 47, 255, 256, 4096] {
            let bytes: Vec<u8> = (0..length).map(|n| (n % 251) as u8).collect();
            assert_eq!(InPlace::<46>::new(&bytes).bytes(), bytes, "{length} bytes");
            assert_eq!(InPlace::<300>::new(&bytes).bytes(), bytes, "{length} bytes");
        }
    }
}
