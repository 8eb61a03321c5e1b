//! The space of the sizes that several faults of a range can have, cut into cells.
//!
//! The rule inside: what all corners of a cell allow, the cell is taken to allow.

use crate::model::fault::{Fault, Size};

/// Steps of a cell in a first look; a closer one goes step by step.
pub(super) const COARSE: i16 = 8;

/// The sizes of one fault, from least to greatest in steps of [`Size`]; equal where it has only one.
pub(super) type Span = (i16, i16);

/// The sizes that the library takes.
pub(super) fn within(fault: &Fault) -> Span {
    (0, if fault.has_range() { Size::STEPS } else { 0 })
}

/// As far again beyond either end; what brings in no resistance of its own (a smaller cable, a low supply) only beyond the greater one, since
/// the words of that fault say so.
pub(super) fn beyond(fault: &Fault) -> Span {
    match (fault.has_range(), fault.ohms(Size::LEAST)) {
        (false, _) => (0, 0),
        (true, Some(_)) => (-Size::STEPS, 2 * Size::STEPS),
        (true, None) => (0, 2 * Size::STEPS),
    }
}

/// The parts of the sizes' space of at most so many steps each way: each names the lower corner of a cell.
pub(super) fn cells(spans: &[Span], steps: i16) -> Vec<Vec<i16>> {
    let mut found = vec![Vec::new()];
    for (low, high) in spans {
        let with = |cell: &Vec<i16>| -> Vec<Vec<i16>> {
            (*low..(*high).max(low + 1))
                .step_by(usize::try_from(steps).expect("steps go forward"))
                .map(|step| [cell.as_slice(), &[step]].concat())
                .collect()
        };
        found = found.iter().flat_map(with).collect();
    }
    found
}

/// The corners of a cell.
pub(super) fn corners(cell: &[i16], spans: &[Span], steps: i16) -> Vec<Vec<i16>> {
    let mut found = vec![Vec::new()];
    for (low, (_, most)) in cell.iter().zip(spans) {
        let high = (low + steps).min(*most).max(*low);
        let with = |corner: &Vec<i16>| -> Vec<Vec<i16>> {
            let both = if high == *low { vec![*low] } else { vec![*low, high] };
            both.into_iter()
                .map(|step| [corner.as_slice(), &[step]].concat())
                .collect()
        };
        found = found.iter().flat_map(with).collect();
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_have_all_their_corners() {
        assert_eq!(cells(&[(0, 0), (0, 16)], 8), [[0, 0], [0, 8]]);
        assert_eq!(corners(&[0, 8], &[(0, 0), (0, 16)], 8), [[0, 8], [0, 16]]);
        assert_eq!(corners(&[0], &[(0, 0)], 8), [[0]]);
        // the last cell ends with the range
        assert_eq!(corners(&[8], &[(0, 12)], 8), [[8], [12]]);
        assert_eq!(cells(&[], 8), [[0_i16; 0]]);
    }
}
