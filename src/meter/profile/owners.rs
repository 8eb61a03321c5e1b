//! Who describes each bit of a frame.
//!
//! The rule inside: a bit has one owner; only codes for function, unit and step may share theirs.

use crate::meter::decode::meaning::Part;

/// Who describes a bit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Owner {
    /// Framing, checksum, constants and bits that do not matter.
    Frame,
    Word(Part),
    Step,
}

impl Owner {
    fn shares_with(self, other: Owner) -> bool {
        let code = |owner| matches!(owner, Owner::Word(Part::Function | Part::Unit) | Owner::Step);
        code(self) && code(other) && (self != other || self == Owner::Step)
    }
}

/// The owners of all bits of a frame, eight a byte.
pub(super) struct Owners {
    pub(super) bytes: usize,
    owners: Vec<Vec<Owner>>,
}

impl Owners {
    pub(super) fn new(bytes: usize) -> Owners {
        Owners {
            bytes,
            owners: vec![Vec::new(); bytes * 8],
        }
    }

    /// Takes a bit; false where somebody has it who does not share.
    pub(super) fn take(&mut self, (byte, bit): (usize, u8), owner: Owner) -> bool {
        let owners = &mut self.owners[byte * 8 + usize::from(bit)];
        let free = owners.iter().all(|other| owner.shares_with(*other));
        owners.push(owner);
        free
    }

    pub(super) fn dark(&self) -> Vec<u8> {
        let dark = |byte: &[Vec<Owner>]| {
            byte.iter()
                .enumerate()
                .fold(0, |mask, (bit, owners)| mask | u8::from(owners.is_empty()) << bit)
        };
        self.owners.chunks(8).map(dark).collect()
    }
}
