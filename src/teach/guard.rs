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
    let different = different(frames);
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

/// A cyclic redundancy check of any polynomial at the end of each frame. It is linear: what two frames of one length differ in
/// has the check that their checks differ in, whatever the register began with and whatever was combined with it at last,
/// so a polynomial is found first, and the rest from one frame.
pub fn find_any_crc(frames: &[&[u8]]) -> Option<(Checksum, String)> {
    let different = different(frames);
    [
        (1, Form::Big, "big"),
        (2, Form::Little, "little"),
        (2, Form::Big, "big"),
    ]
    .into_iter()
    .find_map(|(width, form, form_name)| {
        let parts: Option<Vec<(&[u8], u16)>> = different
            .iter()
            .map(|frame| {
                let (payload, check) = frame.split_at_checked(frame.len().checked_sub(width)?)?;
                let order: Vec<u8> = if form == Form::Little {
                    check.iter().rev().copied().collect()
                } else {
                    check.to_vec()
                };
                Some((payload, order.iter().fold(0, |code, byte| code << 8 | u16::from(*byte))))
            })
            .collect();
        let (rule, first) = any_crc(&parts?, width)?;
        let bytes = i32::try_from(width).expect("one or two");
        let check = Checksum {
            rule,
            first: i32::try_from(first).expect("at most 4"),
            last: -bytes - 1,
            at: -bytes,
            form,
        };
        let right = different.iter().all(|frame| check.verify(frame).is_ok());
        right.then(|| {
            let name = crc_name(rule);
            (
                check,
                format!(
                    "(rule: {name}, first: {first}, last: {}, at: {}, form: {form_name})",
                    check.last, check.at
                ),
            )
        })
    })
}

fn different<'a>(frames: &[&'a [u8]]) -> Vec<&'a [u8]> {
    let mut different: Vec<&[u8]> = frames.to_vec();
    different.sort_unstable();
    different.dedup();
    different
}

fn crc_rule(width: usize, poly: u16, init: u16, reflected: bool, xor_out: u16) -> Rule {
    let low = |code: u16| code.to_be_bytes()[1];
    match width {
        1 => Rule::Crc8 {
            poly: low(poly),
            init: low(init),
            reflected,
            xor_out: low(xor_out),
        },
        _ => Rule::Crc16 {
            poly,
            init,
            reflected,
            xor_out,
        },
    }
}

fn crc_name(rule: Rule) -> String {
    match rule {
        Rule::Crc8 {
            poly,
            init,
            reflected,
            xor_out,
        } => {
            format!("crc8(poly: {poly:#04x}, init: {init:#04x}, reflected: {reflected}, xor_out: {xor_out:#04x})")
        }
        Rule::Crc16 {
            poly,
            init,
            reflected,
            xor_out,
        } => {
            format!("crc16(poly: {poly:#06x}, init: {init:#06x}, reflected: {reflected}, xor_out: {xor_out:#06x})")
        }
        Rule::Sum8 | Rule::Sum16 | Rule::Xor8 | Rule::TwosComplement8 => unreachable!("asked for a cyclic check"),
    }
}

/// The rule, and how many bytes at the beginning it leaves out, for bytes with the checks that were sent beside them.
fn any_crc(parts: &[(&[u8], u16)], width: usize) -> Option<(Rule, usize)> {
    let (first, first_check) = parts.first()?;
    // each against the first of its length
    let mut differences: Vec<(Vec<u8>, u16)> = parts
        .iter()
        .enumerate()
        .filter_map(|(n, (bytes, check))| {
            let (like, like_check) = parts[..n].iter().find(|(like, _)| like.len() == bytes.len())?;
            let bytes: Vec<u8> = bytes.iter().zip(*like).map(|(a, b)| a ^ b).collect();
            let from = bytes.iter().position(|byte| *byte != 0).unwrap_or(bytes.len());
            Some((bytes[from..].to_vec(), check ^ like_check))
        })
        .collect();
    if differences.len() + 1 < FRAMES_MIN || differences.iter().any(|(bytes, check)| bytes.is_empty() || *check == 0) {
        return None;
    }
    differences.sort_by_key(|(bytes, _)| bytes.len());
    let top = if width == 1 { 0xff } else { 0xffff };
    for reflected in [true, false] {
        // a polynomial always ends in 1
        for poly in (1..=top).step_by(2) {
            let rule = crc_rule(width, poly, 0, reflected, 0);
            if !differences.iter().all(|(bytes, check)| rule.of(bytes) == *check) {
                continue;
            }
            for (init, left_out) in [0, top]
                .into_iter()
                .flat_map(|init| (0..=4).map(move |first| (init, first)))
            {
                let xor_out = crc_rule(width, poly, init, reflected, 0).of(first.get(left_out..)?) ^ first_check;
                let rule = crc_rule(width, poly, init, reflected, xor_out);
                if parts
                    .iter()
                    .all(|(bytes, check)| bytes.get(left_out..).is_some_and(|bytes| rule.of(bytes) == *check))
                {
                    return Some((rule, left_out));
                }
            }
        }
    }
    None
}

/// A checksum in hexadecimal digits at the end of a line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sealed {
    /// How a profile writes it; `None` while too few lines were heard to tell.
    pub check: Option<String>,
    /// The sign before the digits, which the checksum leaves out.
    pub mark: Option<char>,
    /// How many hexadecimal digits it has.
    pub digits: usize,
}

/// Lines that must differ before such a checksum is tried; a wrong one is found out by the displays that follow.
const LINES_MIN: usize = 2;

/// A checksum that is right in every line, in hexadecimal digits at its end, with or without a sign before them.
pub fn find_in_lines(lines: &[&[u8]]) -> Option<Sealed> {
    let different = different(lines);
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
        let mark = mark_before(&different, digits);
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
                    return Some(Sealed {
                        check: Some(check),
                        mark,
                        digits,
                    });
                }
            }
        }
    }
    find_any_in_lines(&different).or_else(|| unknown_in_lines(&different))
}

/// Lines that must differ before hexadecimal digits at their end that no rule makes are taken for words.
const UNKNOWN_MAX: usize = 12;

/// What looks like a checksum and cannot be told yet: hexadecimal digits after a sign that differ in all lines.
fn unknown_in_lines(lines: &[&[u8]]) -> Option<Sealed> {
    [4, 2]
        .into_iter()
        .filter(|_| lines.len() < UNKNOWN_MAX)
        .find_map(|digits| {
            let mark = mark_before(lines, digits)?;
            let mut ends: Vec<&[u8]> = lines.iter().map(|line| &line[line.len() - digits..]).collect();
            let hexadecimal = ends.iter().all(|end| end.iter().all(u8::is_ascii_hexdigit));
            let letters = ends.iter().any(|end| end.iter().any(u8::is_ascii_alphabetic));
            ends.sort_unstable();
            ends.dedup();
            let sealed = Sealed {
                check: None,
                mark: Some(mark),
                digits,
            };
            (mark != ' ' && mark != '.' && hexadecimal && letters && ends.len() == lines.len()).then_some(sealed)
        })
}

/// The sign that stands before so many hexadecimal digits at the end of every line.
fn mark_before(lines: &[&[u8]], digits: usize) -> Option<char> {
    let before = |line: &[u8]| {
        line.get(line.len().checked_sub(digits + 1)?)
            .map(|byte| char::from(*byte))
    };
    let mark = before(lines[0]).filter(|mark| !mark.is_ascii_alphanumeric())?;
    lines.iter().all(|line| before(line) == Some(mark)).then_some(mark)
}

fn find_any_in_lines(lines: &[&[u8]]) -> Option<Sealed> {
    [2, 4].into_iter().find_map(|digits| {
        let mark = mark_before(lines, digits)?;
        let parts: Option<Vec<(&[u8], u16)>> = lines
            .iter()
            .map(|line| {
                let (payload, check) = line.split_at_checked(line.len().checked_sub(digits)?)?;
                let check = u16::from_str_radix(std::str::from_utf8(check).ok()?, 16).ok()?;
                Some((&payload[..payload.len() - 1], check))
            })
            .collect();
        let (rule, first) = any_crc(&parts?, digits / 2)?;
        let width = i32::try_from(digits).expect("two or four");
        Some(Sealed {
            check: Some(format!(
                "(rule: {}, first: {first}, last: {}, at: {}, form: hex)",
                crc_name(rule),
                -width - 2,
                -width
            )),
            mark: Some(mark),
            digits,
        })
    })
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
    fn a_cyclic_check_of_any_polynomial_is_found() {
        for rule in [
            crc_rule(1, 0x31, 0xff, false, 0),
            crc_rule(1, 0x9b, 0, true, 0x5a),
            crc_rule(2, 0x3d65, 0, true, 0xffff),
            crc_rule(2, 0xc867, 0xffff, false, 0),
        ] {
            let width = rule.bits() as usize / 8;
            let frames: Vec<Vec<u8>> = (0..6u8)
                .map(|n| {
                    let mut frame = vec![0xa5, 0x10, n.wrapping_mul(37), n ^ 9, n * 3, 7];
                    frame.extend(&rule.of(&frame).to_be_bytes()[2 - width..]);
                    frame
                })
                .collect();
            let frames: Vec<&[u8]> = frames.iter().map(Vec::as_slice).collect();
            let (found, _) = find_any_crc(&frames).unwrap();
            let mut other = vec![0xa5, 0x10, 0x55, 0x66, 0x77, 7];
            other.extend(&rule.of(&other).to_be_bytes()[2 - width..]);
            assert!(found.verify(&other).is_ok(), "{rule:?}");
            assert_eq!(find_any_crc(&frames[..3]), None);
        }
    }

    #[test]
    fn a_sum_in_hexadecimal_at_the_end_of_a_line_is_found() {
        // sums worked out by hand: 'A' + ',' + '1' = 0x41 + 0x2c + 0x31 = 0x9e, with '2' 0x9f
        let found = find_in_lines(&[b"A,1*9E", b"A,2*9F"]).unwrap();
        let rule = "(rule: sum8, first: 0, last: -4, at: -2, form: hex)";
        assert_eq!(found.check.as_deref(), Some(rule));
        assert_eq!((found.mark, found.digits), (Some('*'), 2));
        assert_eq!(find_in_lines(&[b"A,1*9E"]), None, "one line proves nothing");
        let unknown = find_in_lines(&[b"A,1*9E", b"A,2*90"]).unwrap();
        assert_eq!(unknown.check, None, "no rule makes it, yet");
    }
}
