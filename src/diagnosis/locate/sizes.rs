//! The space of the sizes that several faults of a range can have, cut into cells.
//!
//! The rule inside: what all corners of a cell allow, the cell is taken to allow.

/// The parts of the sizes' space: each names the lower corner of a cell.
pub(super) fn cells(steps: &[u8]) -> Vec<Vec<u8>> {
    let mut found = vec![Vec::new()];
    for count in steps {
        let with = |cell: &Vec<u8>| -> Vec<Vec<u8>> {
            (0..(*count).max(1))
                .map(|step| [cell.as_slice(), &[step]].concat())
                .collect()
        };
        found = found.iter().flat_map(with).collect();
    }
    found
}

/// The corners of a cell.
pub(super) fn corners(cell: &[u8], steps: &[u8]) -> Vec<Vec<u8>> {
    let mut found = vec![Vec::new()];
    for (low, count) in cell.iter().zip(steps) {
        let high = if *count == 0 { *low } else { low + 1 };
        let with = |corner: &Vec<u8>| -> Vec<Vec<u8>> {
            (*low..=high)
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
        assert_eq!(cells(&[0, 2]), [[0, 0], [0, 1]]);
        assert_eq!(corners(&[0, 1], &[0, 2]), [[0, 1], [0, 2]]);
        assert_eq!(corners(&[0], &[0]), [[0]]);
        assert_eq!(cells(&[]), [[0_u8; 0]]);
    }
}
