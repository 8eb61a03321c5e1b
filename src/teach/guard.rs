//! Checksums by trial: the rules that every profile may use, against frames that were heard.
//!
//! The rule inside: a checksum is believed only when it is right in every frame, and at least four frames differ.

use crate::meter::decode::checksum::{Checksum, Form, Rule};

/// Frames that must differ before a checksum is believed: one of eight bits is right by chance in one of 256.
pub const FRAMES_MIN: usize = 4;

/// The rules that are tried; the checks of sixteen bits are common ones of public catalogues, from memory.
fn rules() -> Vec<(Rule, &'static str)> {
    let crc = |poly, init, reflected| Rule::Crc16 {
        poly,
        init,
        reflected,
        xor_out: 0,
    };
    vec![
        (Rule::Sum8, "sum8"),
        (Rule::Xor8, "xor8"),
        (Rule::TwosComplement8, "twos_complement8"),
        (Rule::Sum16, "sum16"),
        (
            crc(0x8005, 0xffff, true),
            "crc16(poly: 0x8005, init: 0xffff, reflected: true, xor_out: 0)",
        ),
        (
            crc(0x8005, 0, true),
            "crc16(poly: 0x8005, init: 0, reflected: true, xor_out: 0)",
        ),
        (
            crc(0x1021, 0xffff, false),
            "crc16(poly: 0x1021, init: 0xffff, reflected: false, xor_out: 0)",
        ),
        (
            crc(0x1021, 0, false),
            "crc16(poly: 0x1021, init: 0, reflected: false, xor_out: 0)",
        ),
        (
            crc(0x1021, 0, true),
            "crc16(poly: 0x1021, init: 0, reflected: true, xor_out: 0)",
        ),
    ]
}

/// A checksum that is right in every frame, at the end of each, and how a profile writes it.
pub fn find(frames: &[&[u8]]) -> Option<(Checksum, String)> {
    let mut different: Vec<&[u8]> = frames.to_vec();
    different.sort_unstable();
    different.dedup();
    if different.len() < FRAMES_MIN {
        return None;
    }
    for (rule, name) in rules() {
        let bytes = i32::try_from(rule.bits() / 8).expect("one or two");
        let forms: &[(Form, &str)] = match bytes {
            1 => &[(Form::Big, "big")],
            _ => &[(Form::Little, "little"), (Form::Big, "big")],
        };
        for (form, form_name) in forms {
            for first in 0..=4 {
                let check = Checksum {
                    rule,
                    first,
                    last: -bytes - 1,
                    at: -bytes,
                    form: *form,
                };
                if different.iter().all(|frame| check.verify(frame).is_ok()) {
                    let text = format!(
                        "(rule: {name}, first: {first}, last: {}, at: {}, form: {form_name})",
                        check.last, check.at
                    );
                    return Some((check, text));
                }
            }
        }
    }
    None
}

/// A checksum in hexadecimal digits at the end of a line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sealed {
    /// How a profile writes it.
    pub check: String,
    /// The sign before the digits, which the checksum leaves out.
    pub mark: Option<char>,
    /// How many hexadecimal digits it has.
    pub digits: usize,
}

/// Lines that must differ before such a checksum is tried; a wrong one is found out by the displays that follow.
const LINES_MIN: usize = 2;

/// A checksum that is right in every line, in hexadecimal digits at its end, with or without a sign before them.
pub fn find_in_lines(lines: &[&[u8]]) -> Option<Sealed> {
    let mut different: Vec<&[u8]> = lines.to_vec();
    different.sort_unstable();
    different.dedup();
    if different.len() < LINES_MIN {
        return None;
    }
    for (rule, name) in rules() {
        let digits = rule.bits() as usize / 4;
        let ends = |line: &&[u8]| {
            let (_, end) = line.split_at_checked(line.len().checked_sub(digits)?)?;
            end.iter().all(u8::is_ascii_hexdigit).then_some(())
        };
        if different.iter().any(|line| ends(line).is_none()) {
            continue;
        }
        let before = |line: &[u8]| {
            line.get(line.len().checked_sub(digits + 1)?)
                .map(|byte| char::from(*byte))
        };
        let mark = before(different[0]).filter(|mark| !mark.is_ascii_alphanumeric());
        let mark = mark.filter(|mark| different.iter().all(|line| before(line) == Some(*mark)));
        let width = i32::try_from(digits).expect("two or four");
        for (left_out, mark) in [(1, mark), (0, None)] {
            if left_out == 1 && mark.is_none() {
                continue;
            }
            for first in 0..=1 {
                let check = Checksum {
                    rule,
                    first,
                    last: -width - left_out - 1,
                    at: -width,
                    form: Form::Hex,
                };
                if different.iter().all(|line| check.verify(line).is_ok()) {
                    let check = format!(
                        "(rule: {name}, first: {first}, last: {}, at: {}, form: hex)",
                        check.last, check.at
                    );
                    return Some(Sealed { check, mark, digits });
                }
            }
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sum_is_found_and_is_not_believed_from_three_frames() {
        let frames: Vec<Vec<u8>> = (0..4u8).map(|n| vec![0xa5, n, n * 3, n * 4]).collect();
        let frames: Vec<&[u8]> = frames.iter().map(Vec::as_slice).collect();
        let (_, text) = find(&frames).unwrap();
        assert_eq!(text, "(rule: sum8, first: 1, last: -2, at: -1, form: big)");
        assert_eq!(find(&frames[..3]), None);
    }

    #[test]
    fn a_sum_in_hexadecimal_at_the_end_of_a_line_is_found() {
        // sums worked out by hand: 'A' + ',' + '1' = 0x41 + 0x2c + 0x31 = 0x9e, with '2' 0x9f
        let found = find_in_lines(&[b"A,1*9E", b"A,2*9F"]).unwrap();
        assert_eq!(found.check, "(rule: sum8, first: 0, last: -4, at: -2, form: hex)");
        assert_eq!((found.mark, found.digits), (Some('*'), 2));
        assert_eq!(find_in_lines(&[b"A,1*9E"]), None, "one line proves nothing");
        assert_eq!(find_in_lines(&[b"A,1*9E", b"A,2*90"]), None);
    }
}
